"""What the evening page gathers: work that is left stands beside the cold that it stands before."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest
from bs4 import BeautifulSoup

from monitor.clock import to_ms
from monitor.judgement.judge import judge_yard
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.web.pages.alarm_rows import told_elsewhere
from monitor.web.pages.evening import read_evening_page
from monitor.web.pages.space_rows import not_holding_words
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.forecast import PublicForecast
from monitor.yard.reading import Channel
from tests.judgement import scene
from tests.reports import kettlemoss as yard_of
from tests.reports.test_standing_work import NOW, YARD, undone
from tests.web.pages.looks import opened

AGENCY = "the agency"


def undone_line(tmp_path, forecast=None, heard=True):
    """The page's line of one craft that is not laid up, in a shed at 9 °C."""
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    store = Store(url, YARD.id)
    readings = {}
    if heard:
        for space in YARD.spaces:
            name, since = f"air-{space.id}", NOW - timedelta(hours=90)
            readings |= scene.trace(name, Channel.TEMPERATURE, 9.0, since, NOW)
    craft = [replace(undone(), name="Whimbrel")]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(
            [one for one in judge_yard(YARD, craft, readings, NOW) if not one.subject.craft]
        )
        if forecast is not None:
            tx.forecasts.keep_issue(forecast)
    try:
        (line,) = read_evening_page(store, YARD, craft, NOW, timedelta(hours=1)).undone
    finally:
        store.close()
    assert line.startswith("Whimbrel, ")
    return line


def agency(low_c, fetched=NOW):
    hours = np.arange(60)
    return PublicForecast(
        source=AGENCY, issued=fetched, fetched=fetched,
        at_ms=to_ms(fetched) + hours.astype(np.int64) * 3_600_000,
        air_c=np.where(hours == 38, low_c, 12.0), dew_point_c=np.full(60, np.nan),
    )  # fmt: skip


def test_work_that_is_left_tells_the_cold_end_of_tonights_range(tmp_path):
    line = undone_line(tmp_path)
    assert "Tonight may bring it to " in line
    assert AGENCY not in line


def test_a_colder_night_that_an_agency_expects_is_told_by_its_name(tmp_path):
    line = undone_line(tmp_path, agency(-7.0))
    assert line.endswith(
        f"Down to −7\N{NO-BREAK SPACE}°C outdoors in the nights ahead, by {AGENCY}."
    )


def test_a_stale_forecast_is_not_told(tmp_path):
    assert AGENCY not in undone_line(tmp_path, agency(-7.0, NOW - timedelta(hours=13)))


def test_where_nobody_measures_nobody_knows(tmp_path):
    assert undone_line(tmp_path, heard=False).endswith("Nobody knows how cold Long Shed will get.")


def frost_of(standing, count):
    (one, *_) = (a for a in yard_of.assessments() if a.hazard is Hazard.FROST)
    return [replace(one, standing=standing)] * count


@pytest.mark.parametrize(
    ("iced", "exposed", "said"),
    [
        (1, 0, "1 of 2 craft has ice inside"),
        (2, 1, "2 of 4 craft have ice inside, 1 more does not hold"),
        (0, 1, "1 of 2 craft does not hold"),
        (0, 0, ""),
    ],
)
def test_what_has_ice_inside_is_told_apart_from_what_does_not_hold(iced, exposed, said):
    worst = [
        *frost_of(Standing.SOLID, iced),
        *frost_of(Standing.EXPOSED, exposed),
        *frost_of(Standing.HOLDING, 1),
    ]
    assert not_holding_words(worst) == said


@pytest.mark.parametrize(
    ("cause", "why"),
    [
        ("frost", "told already, as "),
        ("silence", "or for the whole space"),
        ("damp", "no alarm"),
    ],
)
def test_an_alarm_that_is_not_told_says_why(cause, why):
    said = told_elsewhere(29, cause)
    assert said.startswith("29 ")
    assert why in said
    assert told_elsewhere(0, cause) == ""


def test_the_foot_leads_to_last_night_and_to_people_where_the_visitor_may(browse):
    page = BeautifulSoup(browse.get("/").text, "html.parser")
    links = [each["href"] for each in page.select("footer nav a")]
    assert links[0] == "history/2026-11-13"  # the played evening is of 14 November
    assert all(browse.get(f"/{each}").status_code == 200 for each in links)


def test_on_its_side_a_phone_shows_the_evening_in_five_screens_with_whole_targets(
    address, chromium
):
    page, _ = opened(chromium, address, (844, 390))
    assert page.evaluate("document.documentElement.scrollHeight") <= 5 * 390
    heights = page.eval_on_selector_all(
        "main button, main a.button, main a.onward, main summary",
        "all => all.filter(e => e.offsetParent).map(e => e.getBoundingClientRect().height)",
    )
    assert min(heights) >= 44
    page.close()


def test_buttons_beside_what_is_left_alone_stand_in_one_line_apart_from_each_other(
    address, chromium
):
    page, _ = opened(chromium, address)
    boxes = page.eval_on_selector_all(
        "#leave ~ .lines button",
        "all => all.map(e => e.getBoundingClientRect()).map(b => [b.right, b.top, b.bottom])",
    )
    for (right, _, bottom), (also, top, _) in pairwise(boxes):
        assert right == pytest.approx(also, abs=1)
        assert top - bottom >= 8
    page.close()
