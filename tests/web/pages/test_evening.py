"""What the evening page gathers: work that is left stands beside the cold that it stands before."""

from dataclasses import replace
from datetime import timedelta

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.judge import judge_yard
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.web.pages.evening import read_evening_page
from monitor.yard.forecast import PublicForecast
from monitor.yard.reading import Channel
from tests.judgement import scene
from tests.reports.test_standing_work import NOW, YARD, undone

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
