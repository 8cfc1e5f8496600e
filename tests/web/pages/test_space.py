"""A space's page over a real store: its air, the coming night, its season and its sensors."""

import json
from dataclasses import replace
from datetime import date, timedelta
from math import isnan

import numpy as np
import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.store.reading_rows import ReadingRow
from monitor.web.chart_contents import Chart, ChartLimit, ChartLine, ChartLow
from monitor.web.night_chart import draw_chart
from monitor.web.pages.space import read_space_page
from monitor.web.season_chart import DayOfAir, draw_season
from monitor.wording import Units, Wording
from monitor.yard.calibration import Calibration, Point
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Mount
from tests.reports import kettlemoss as yard_of
from tests.web.pages.conftest import NASTY, app_of
from tests.web.pages.looks import check_axe, check_fits, opened, reads_without_scripts
from tests.web.played_night import copy_night

NOW = yard_of.KETTLEMOSS_NOW
WORDS = Wording(zone=yard_of.ZONE, now=NOW, units=Units())


def soup(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    return BeautifulSoup(answer.text, "html.parser")


def chart_of(values_c, *, limits=(), low=None, hours=1.0):
    at_ms = to_ms(NOW) - (np.arange(len(values_c))[::-1] * hours * 3.6e6).astype(np.int64)
    line = ChartLine(key="air", name="air", at_ms=at_ms, value_c=np.asarray(values_c, float))
    return Chart(
        lines=(line,), lows=() if low is None else (low,),
        limits=tuple(ChartLimit(name=f"limit {c}", value_c=c) for c in limits),
        since=NOW - timedelta(days=3), until=NOW + timedelta(hours=18),
    )  # fmt: skip


def test_every_space_has_a_page_that_names_all_who_stand_there(evening, browse):
    craft = evening.craft.read_now()
    for space in evening.settings.yard.spaces:
        page = soup(browse, f"/spaces/{space.id}")
        assert page.h1.text == space.name
        shown = {each.text for each in page.select("#craft ~ ul a, #craft ~ details a")}
        assert shown == {one.name for one in craft if one.space == space.id}


def test_the_coming_night_is_told_as_a_median_in_its_range(evening, browse):
    page = soup(browse, "/spaces/long-shed")
    with evening.store.snapshot() as tx:
        (air,) = [
            a for a in tx.assessments.latest_in(["long-shed"], "")
            if a.hazard == "air" and not a.subject.part
        ]  # fmt: skip
    facts = air.facts
    for value_c in (facts.low_band_low_c, facts.low_expected_c, facts.low_band_high_c):
        assert f"{value_c:.1f}".replace("-", "−") in page.select_one("#lead").text


def test_the_chart_s_limits_are_those_of_the_circuits_that_stand_there(evening):
    here = evening.craft.read_now()
    page = read_space_page(
        evening.store, evening.settings.yard, here, "long-shed", evening.clock.now()
    )
    with evening.store.snapshot() as tx:
        limits = {
            one.limit_c for one in tx.assessments.latest_in(["long-shed"]) if one.hazard == "frost"
        }
    drawn = [each["value"] for each in json.loads(page.chart.data)["limits"]]
    assert drawn
    assert all(any(abs(value - limit) < 0.01 for limit in limits) for value in drawn)
    assert 0.0 in drawn  # Heron's block and Plover's head hold plain water


def test_sensors_say_where_they_hang_and_how_they_do(evening):
    yard = evening.settings.yard
    compared = Calibration(
        channel=Channel.TEMPERATURE, made_on=date(2025, 10, 1), standard="ice bath",
        points=(Point(read=0.2, true=0.0),),
    )  # fmt: skip
    sensors = tuple(
        replace(one, calibrations=(compared,)) if one.name.endswith("shed-corner") else one
        for one in yard.sensors
    )
    page = read_space_page(
        evening.store, replace(yard, sensors=sensors), evening.craft.read_now(), "long-shed",
        evening.clock.now(),
    )  # fmt: skip
    corner, centre = page.sensors
    assert corner.place == "North corner, two metres from the door, 0.8 m up"
    assert corner.calibration == "temperature: ice bath, 1 Oct 2025; due now"
    assert "never compared" in centre.calibration
    assert "all good" in corner.quality
    assert corner.heard.startswith("heard 18:")


def test_refused_readings_are_counted_by_their_flag(own_evening):
    with own_evening.store.transaction() as tx:
        name = "urn:dev:ops:kettlemoss-long-shed-corner"
        (series,) = tx.series.series_ids([(name, Channel.TEMPERATURE)]).values()
        at_ms = to_ms(own_evening.clock.now()) - 61_000
        tx.reading_writer.append_rows([ReadingRow(series, at_ms, 9900, None, Flag.FAIL)])
    page = read_space_page(
        own_evening.store, own_evening.settings.yard, (), "long-shed", own_evening.clock.now()
    )
    assert "of them 1 fail" in page.sensors[0].quality


def test_a_space_in_which_nothing_was_read_says_so(evening):
    yard = evening.settings.yard
    mute = replace(yard, sensors=tuple(one for one in yard.sensors if one.space != "lee-rack"))
    page = read_space_page(
        evening.store, mute, (), "lee-rack", evening.clock.now() - timedelta(days=30)
    )
    assert page.chart is None or page.sensors == ()
    assert page.season == ()


def test_an_odd_name_is_shown_as_text(evening, tmp_path):
    own = copy_night(evening, tmp_path)
    yard = evening.settings.yard
    spaces = tuple(replace(s, name=NASTY) if s.id == "bench" else s for s in yard.spaces)
    named = replace(own, settings=replace(own.settings, yard=replace(yard, spaces=spaces)))
    with TestClient(app_of(named), base_url="http://127.0.0.1") as client:
        page = soup(client, "/spaces/bench")
    own.store.close()
    assert page.h1.text == NASTY
    assert all("alert" not in each.text for each in page.select("script[src]"))


@pytest.mark.parametrize("space", ["none", "Long Shed", "a%2Fb", "k8"])
def test_unknown_spaces_are_not_there(browse, space):
    assert browse.get(f"/spaces/{space}").status_code in {404, 422}


@given(st.lists(st.floats(-50, 40) | st.just(float("nan")), min_size=1, max_size=60))
def test_every_line_lies_inside_its_frame_and_breaks_where_nothing_is_known(values_c):
    drawn = draw_chart(chart_of(values_c), "air", WORDS)
    for drawing in drawn.drawings:
        path = dict(drawing.paths)["air"]
        known = [isnan(v) for v in values_c]
        begins = sum(not k and (n == 0 or known[n - 1]) for n, k in enumerate(known))
        assert path.count("M") == begins
        for place in path.replace("M", "L").split("L")[1:]:
            x, y = map(float, place.split())
            assert drawing.left <= x <= drawing.right
            assert drawing.top <= y <= drawing.bottom


@given(
    st.lists(st.floats(-30, 20), min_size=2, max_size=9),
    st.floats(-25, 5), st.floats(0, 8), st.floats(0, 8), st.floats(0.1, 40),
)  # fmt: skip
def test_a_low_is_marked_whenever_it_comes_with_the_cold_end_below(
    values_c, median_c, down_k, up_k, hours
):
    low = ChartLow(
        key="air", name="low", at=NOW + timedelta(hours=hours), median_c=median_c,
        cold_c=median_c - down_k, warm_c=median_c + up_k, now_c=values_c[-1],
    )  # fmt: skip
    for drawing in draw_chart(chart_of(values_c, low=low), "air", WORDS).drawings:
        (mark,) = drawing.lows
        assert drawing.left < mark.x <= drawing.right
        assert mark.top <= mark.y <= mark.bottom


def test_names_of_limits_never_stand_on_each_other():
    drawn = draw_chart(chart_of([1.0, 2.0], limits=(0.0, -0.2, -0.4, -9.0)), "air", WORDS)
    for drawing in drawn.drawings:
        places = [each.label_y for each in drawing.limits if each.label]
        assert all(abs(a - b) >= 15.0 for n, a in enumerate(places) for b in places[:n])
        assert len(drawing.limits) == 4


def test_the_chart_is_in_the_reader_s_units():
    words = replace(WORDS, units=Units(temperature="F"))
    drawn = draw_chart(chart_of([0.0, 10.0], limits=(0.0,)), "air", words)
    told = json.loads(drawn.data)
    assert told["unit"] == "°F"
    assert told["lines"][0]["value"] == [32.0, 50.0]
    assert "32" in drawn.description


@given(st.lists(st.tuples(st.integers(0, 300), st.floats(-40, 30), st.floats(0, 20)), min_size=1,
                unique_by=lambda each: each[0]))  # fmt: skip
def test_the_season_has_a_bar_for_each_day_that_was_read_and_none_for_others(days):
    first = date(2026, 7, 1)
    read = [
        DayOfAir(day=first + timedelta(days=n), low_c=low, high_c=low + more)
        for n, low, more in sorted(days)
    ]
    for drawing in draw_season(read, first + timedelta(days=300), WORDS):
        assert len(drawing.bars) == len(read)
        xs = [bar.x for bar in drawing.bars]
        assert xs == sorted(xs)
        assert all(drawing.left <= x <= drawing.right for x in xs)
        assert [bar.is_frost for bar in drawing.bars] == [day.low_c < 0.0 for day in read]


def test_a_maintainer_s_space_shows_each_of_its_sensors(evening):
    page = read_space_page(
        evening.store, evening.settings.yard, evening.craft.read_now(), "bench",
        evening.clock.now(),
    )  # fmt: skip
    hung = [s for s in evening.settings.yard.sensors if s.space == "bench"]
    assert len(page.sensors) == len(hung)
    assert any(s.mount is Mount.BATTERY for s in hung)


@pytest.mark.parametrize("space", ["long-shed", "bench"])
def test_it_fits_at_three_sizes_and_its_targets_can_be_hit(address, chromium, space):
    check_fits(chromium, f"{address}spaces/{space}")


@pytest.mark.parametrize(
    "path", ["", "craft/k8", "craft/k11", "spaces/long-shed", "history/2026-11-13"]
)
@pytest.mark.parametrize("width", [833, 844, 900])
def test_on_its_side_a_phone_shows_no_page_longer_than_upright(address, chromium, path, width):
    # Between these widths the list was once 9,000 px high: the table had neither of its two forms.
    page, _ = opened(chromium, f"{address}{path}", (width, 390))
    assert page.evaluate("document.documentElement.scrollHeight") < 2900
    page.close()


def test_axe_finds_nothing(address, chromium):
    check_axe(chromium, f"{address}spaces/long-shed")


def test_without_scripts_everything_is_there(address, chromium):
    text = reads_without_scripts(chromium, f"{address}spaces/long-shed")
    for part in ("Tonight", "Open up, or keep shut", "Who stands here", "The season", "Sensors"):
        assert part in text


def test_a_reader_looks_closer(address, chromium):
    page, said = opened(chromium, f"{address}spaces/long-shed")
    page.get_by_role("button", name="Look closer").click()
    page.locator(".closer canvas").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert said == []
