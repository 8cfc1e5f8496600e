import base64
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from io import BytesIO

import pytest
from axe_playwright_python.sync_playwright import Axe
from bs4 import BeautifulSoup
from PIL import Image, ImageColor

from monitor.reports.letter import PLOT_ID, letter, readers
from monitor.reports.week import compose
from monitor.yard.message import MessageKind
from monitor.yard.space import Person, Role
from tests.bench.letters import WEEK_WORDS, words_of
from tests.reports import kettlemoss as yard_of

PNG = b"\x89PNG\r\n\x1a\n"  # W3C PNG specification, section 5.2
OTHERS = ("Plover", "Grebe", "Sora", "Pintail", "Coot", "Dipper", "Heron", "Bittern", "Loon")


def report_of(store, yard=None, craft=None):
    return compose(
        store,
        yard or yard_of.yard(),
        yard_of.craft() if craft is None else craft,
        date(2026, 11, 9),
        yard_of.KETTLEMOSS_NOW,
    )


def written(store, person="ines", **changes):
    report = report_of(store, **changes)
    return letter(report, report.picture.yard.person(person))


@pytest.fixture
def operators(store):
    return written(store)


@pytest.fixture
def owners(store):
    return written(store, "tobin")


def words(html):
    return " ".join(BeautifulSoup(html, "html.parser").get_text(" ").split())


def test_the_letter_is_a_report_by_mail_that_can_be_sent_only_once(operators):
    assert operators.key == "weekly/kettlemoss/2026-W46/ines"
    assert (operators.kind, operators.channel) == (MessageKind.REPORT, "mail")
    assert operators.address == "ines@kettlemoss.example"


def test_a_subject_ends_in_no_full_stop(operators, owners):
    for message in (operators, owners):
        assert message.subject
        assert message.subject[-1] != "."


def test_the_operator_reads_of_every_craft_that_frost_can_reach_in_both_parts(operators):
    for name in ("Loon", *(name for name in OTHERS if name != "Coot"), "Osprey"):
        assert name in operators.text
        assert name in words(operators.html)


@pytest.mark.parametrize(
    "said",
    [
        "first Osprey, by 18:15",
        "−2.6 °C",  # North Row's low
        "ISO 9223",
        "Half of the answers came within 30 min",
        "0 of 1; by heat alone Loon",
        "not a life-safety device",
    ],
)
def test_what_matters_is_said_in_both_parts(operators, said):
    assert said in operators.text.replace("\N{NO-BREAK SPACE}", " ").replace("\n", " ")
    assert said in words(operators.html)


def test_a_week_of_twelve_craft_takes_no_more_than_600_words(operators):
    assert words_of(operators.text) <= WEEK_WORDS


def test_the_plot_is_a_png_inside_the_mail(operators):
    by_day, by_night = operators.attachments
    images = BeautifulSoup(operators.html, "html.parser").find_all("img")
    for plot, image, content_id in zip(
        (by_day, by_night), images, (PLOT_ID, f"{PLOT_ID}-dark"), strict=True
    ):
        assert plot.content.startswith(PNG)
        assert (plot.media_type, plot.content_id) == ("image/png", content_id)
        assert image["src"] == f"cid:{content_id}"
        assert "Long Shed" in image["alt"]


def test_an_owner_reads_of_own_craft_and_of_nobody_elses(owners):
    for part in (owners.text, words(owners.html)):
        assert "Osprey" in part
        assert "Teal" in part
        assert not [name for name in OTHERS if name in part]


def test_a_reader_of_fahrenheit_gets_fahrenheit(owners):
    # −4.5 °C is 23.9 °F.
    text = owners.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "Coldest air around it: 23.9 °F" in " ".join(text.split())
    assert "°C" not in text


def test_the_letter_promises_nothing(owners):
    assert "guarantee" not in owners.text.lower()
    assert "promises nothing" in owners.text.replace("\n", " ")


def test_letters_go_to_the_yards_people_and_to_owners_of_craft_that_are_here(store):
    yard = yard_of.yard()
    gone = Person(id="gone", name="Gone", mail="gone@lake.example", roles=frozenset({Role.OWNER}))
    report = report_of(store, replace(yard, people=(*yard.people, gone)))
    assert [person.id for person in readers(report)] == ["ines", "tobin", "wren"]


HOSTILE = "<img src=x onerror=alert(1)>{{ 7*7 }}\r\nBcc: all@lake.example"


def test_a_hostile_name_is_shown_as_text_and_forges_no_header(store):
    craft = [replace(one, name=HOSTILE) if one.id == "K11" else one for one in yard_of.craft()]
    yard = replace(yard_of.yard(), name=f"Kettlemoss\r\nBcc: x@lake.example {HOSTILE}")
    message = written(store, yard=yard, craft=craft)
    page = BeautifulSoup(message.html, "html.parser")
    plots = [f"cid:{PLOT_ID}", f"cid:{PLOT_ID}-dark"]
    assert [each["src"] for each in page.find_all("img")] == plots
    assert "49" not in page.h1.get_text()
    assert "\n" not in message.subject
    assert "\r" not in message.subject


def test_many_alarms_of_one_cause_are_one_line_and_still_only_text(store):
    frost = yard_of.alarms()[0]
    with store.transaction() as tx:
        tx.alarms.put([replace(frost, id=f"a{n}", craft="K5") for n in range(30)])
    craft = [replace(one, name=HOSTILE) if one.id == "K5" else one for one in yard_of.craft()]
    message = written(store, craft=craft)
    page = BeautifulSoup(message.html, "html.parser")
    assert all(each["src"].startswith(f"cid:{PLOT_ID}") for each in page.find_all("img"))
    assert message.text.count("Frost ahead") == 1
    assert words(message.html).count("Frost ahead") == 1
    assert message.text.count("galley fittings freeze") == 0


def test_no_letter_waits_for_a_plot_that_cannot_be_drawn(store, monkeypatch, caplog):
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    yard = replace(yard_of.yard(), spaces=yard_of.yard().spaces[:4])  # not a figure of before
    craft = [replace(one, battery=None) for one in yard_of.craft()]
    message = written(store, yard=yard, craft=craft)
    assert message.attachments == ()
    assert "could not be drawn" in words(message.html)
    assert "cid:" not in message.html
    assert "could not be drawn" in caplog.text


def test_a_yard_without_craft_or_readings_gets_an_honest_letter(empty_store):
    message = written(empty_store, craft=[])
    assert "take nothing as safe" in message.text.replace("\n", " ")
    assert "nothing was read: not known" in words(message.html)


def test_the_program_that_writes_letters_does_not_load_the_plotting_library():
    # The daemon must stay small: the plot is a child's work.
    seen = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, monitor.reports.weekly; print(*{m.split('.')[0] for m in sys.modules})",
        ],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "monitor" in seen
    assert "matplotlib" not in seen
    assert "pandas" not in seen


def test_the_mail_fits_a_phone(operators, chromium):
    page = chromium.new_page(viewport={"width": 360, "height": 800})
    plot = base64.b64encode(operators.attachments[0].content).decode()
    page.set_content(operators.html.replace(f"cid:{PLOT_ID}", f"data:image/png;base64,{plot}"))
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert page.evaluate("document.images[0].naturalWidth") > 600


@pytest.mark.parametrize(("scheme", "ground"), [("light", "#fbfaf6"), ("dark", "#12181a")])
def test_one_picture_is_shown_and_its_ground_is_that_of_the_screen(
    operators, chromium, scheme, ground
):
    page = chromium.new_page(viewport={"width": 390, "height": 844}, color_scheme=scheme)
    html = operators.html
    for each in operators.attachments:
        plot = base64.b64encode(each.content).decode()
        html = html.replace(f'"cid:{each.content_id}"', f'"data:image/png;base64,{plot}"')
    page.set_content(html)
    shown = page.evaluate("[...document.images].filter(i => i.offsetParent).map(i => i.src)")
    assert len(shown) == 1
    picture = Image.open(BytesIO(base64.b64decode(shown[0].partition(",")[2]))).convert("RGB")
    assert picture.getpixel((2, 2)) == pytest.approx(ImageColor.getrgb(ground), abs=4)


def test_a_screen_that_knows_no_dark_form_gets_the_light_picture_alone(operators, chromium):
    page = chromium.new_page(viewport={"width": 390, "height": 844}, color_scheme="dark")
    page.set_content(re.sub("<style>.*?</style>", "", operators.html, flags=re.DOTALL))
    shown = "[...document.images].filter(i => i.offsetParent).map(i => i.getAttribute('src'))"
    assert page.evaluate(shown) == [f"cid:{PLOT_ID}"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_week_can_be_read_by_day_and_in_the_dark(operators, chromium, scheme):
    # WCAG 2.2, success criterion 1.4.3: contrast of 4.5 to 1.
    page = chromium.new_page(viewport={"width": 390, "height": 844}, color_scheme=scheme)
    page.set_content(operators.html)
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    shade = sum(int(part) for part in ground.strip("rgb()").split(",")[:3]) / 3
    assert (shade < 64) == (scheme == "dark")
    rule = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}
    assert Axe().run(page, options=rule).response["violations"] == []


def test_a_report_in_another_zone_is_dated_by_the_yards_clock(store):
    report = report_of(store)
    assert report.since == datetime(2026, 11, 9, 6, tzinfo=UTC)  # midnight CST is 06:00 UTC


def test_staff_read_how_the_alarms_behaved_and_owners_do_not(store):
    report = report_of(store)
    by_id = {person.id: letter(report, person) for person in readers(report)}
    own = {p.id for p in report.picture.yard.people if p.roles == {Role.OWNER}}
    staff = [message for who, message in by_id.items() if who not in own]
    owners = [message for who, message in by_id.items() if who in own]
    assert staff
    assert owners
    for message in staff:
        assert "EEMUA 191" in message.text
        assert "EEMUA 191" in message.html
    for message in owners:
        assert "EEMUA" not in message.text + message.html
