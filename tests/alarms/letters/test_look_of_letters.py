"""Letters as a telephone shows them: they fit 390 pixels, and can be read in the dark as by day."""

from dataclasses import replace
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe

from monitor.alarms.letters.rehearsal import rehearse
from monitor.yard.assessment import Standing
from monitor.yard.message import MessageKind
from tests.alarms.scene import FOUR, Scene, craft, frost

# WCAG 2.2, 1.4.3: text stands out from its ground by 4.5 to 1, large text by 3 to 1.
CONTRAST = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}


@pytest.fixture
def letters(tmp_path):
    """Every kind of letter to the yard's people: a warning, ice, an all clear, a rehearsal."""
    scene = Scene(tmp_path)
    boats = [craft("K1", "Wren", "row"), craft("K2", "Plover", "shed")]
    scene.craft = {each.id: each for each in boats}
    ahead = [
        frost(each, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=5)) for each in boats
    ]
    scene.judge(*ahead)
    scene.after(hours=6)
    ice = replace(frost(boats[0], Standing.ICING, FOUR), calls_for_act=True)
    for _ in range(10):
        scene.judge(ice, ahead[1])
        scene.after(hours=1)
    holding = [frost(each, Standing.HOLDING, FOUR, low_c=8.0) for each in boats]
    for _ in range(40):
        scene.judge(*holding)
        scene.after(hours=1)
    rehearse(scene.store, scene.yard, scene.clock, "maren")
    written = scene.messages("maren")
    kinds = {each.kind for each in written}
    assert {MessageKind.ALARM, MessageKind.UPDATE, MessageKind.ALL_CLEAR, MessageKind.TEST} <= kinds
    return written


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_kind_of_letter_fits_a_phone_and_stands_out_from_its_ground(
    letters, chromium, scheme
):
    page = chromium.new_page(viewport={"width": 390, "height": 844}, color_scheme=scheme)
    for letter in letters:
        page.set_content(letter.html)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, letter.subject
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        shade = sum(int(part) for part in ground.strip("rgb()").split(",")[:3]) / 3
        assert (shade < 64) == (scheme == "dark"), letter.subject
        found = Axe().run(page, options=CONTRAST).response["violations"]
        assert found == [], f"{letter.subject}: {found}"
