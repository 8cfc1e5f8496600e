"""Public forecasts in a store on a file: every issue as it was known then."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from monitor.clock import to_ms
from monitor.yard.forecast import ForecastAsking, PublicForecast

ISSUED = datetime(2026, 1, 9, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)


def issue(hours_later=0, air_c=(1.1, 0.0, -3.3), source="met-norway"):
    issued = ISSUED + hours_later * HOUR
    return PublicForecast(
        source=source,
        issued=issued,
        fetched=issued + timedelta(minutes=30),
        at_ms=to_ms(issued) + np.arange(len(air_c), dtype=np.int64) * 3_600_000,
        air_c=np.array(air_c),
        dew_point_c=np.full(len(air_c), np.nan),
    )


def test_an_issue_comes_back_as_it_was_kept(store):
    with store.transaction() as tx:
        assert tx.forecasts.keep_issue(issue()) == 3
    with store.snapshot() as tx:
        back = tx.forecasts.newest_issue("met-norway", ISSUED + HOUR)
    assert back.issued == ISSUED
    assert back.fetched == ISSUED + timedelta(minutes=30)
    assert back.air_c == pytest.approx([1.1, 0.0, -3.3])
    assert np.isnan(back.dew_point_c).all()


def test_the_same_issue_again_adds_nothing(store):
    with store.transaction() as tx:
        tx.forecasts.keep_issue(issue())
        assert tx.forecasts.keep_issue(issue(air_c=(9.0, 9.0, 9.0))) == 0
    with store.snapshot() as tx:
        assert tx.forecasts.newest_issue("met-norway", ISSUED + HOUR).air_c[0] == pytest.approx(1.1)


def test_an_hour_without_a_temperature_is_left_out(store):
    with store.transaction() as tx:
        assert tx.forecasts.keep_issue(issue(air_c=(1.0, np.nan, -3.0))) == 2


def test_what_was_known_at_a_time_leaves_out_what_came_later(store):
    with store.transaction() as tx:
        for hours in (0, 6, 12):
            tx.forecasts.keep_issue(issue(hours))
    with store.snapshot() as tx:
        assert tx.forecasts.newest_issue("met-norway", ISSUED) is None
        assert (
            tx.forecasts.newest_issue("met-norway", ISSUED + 7 * HOUR).issued == ISSUED + 6 * HOUR
        )
        known = tx.forecasts.known_between(ISSUED + HOUR, ISSUED + 12.5 * HOUR)
    assert [one.issued for one in known] == [ISSUED + 6 * HOUR, ISSUED + 12 * HOUR]


def test_thinning_keeps_the_newest_whole_and_the_first_hours_of_those_before(store):
    with store.transaction() as tx:
        for hours in (0, 24, 48):
            tx.forecasts.keep_issue(issue(hours, air_c=tuple(range(10))))
        tx.forecasts.thin_issues("met-norway", ISSUED + 48 * HOUR, keep=30 * HOUR, ahead=3 * HOUR)
        known = tx.forecasts.known_between(ISSUED, ISSUED + 99 * HOUR)
    assert [(one.issued - ISSUED, one.air_c.size) for one in known] == [
        (24 * HOUR, 4),
        (48 * HOUR, 10),
    ]


def test_sources_are_kept_apart_and_one_can_be_forgotten(store):
    with store.transaction() as tx:
        tx.forecasts.keep_issue(issue())
        tx.forecasts.keep_issue(issue(source="us-weather-service"))
        tx.forecasts.forget_source("met-norway")
        known = tx.forecasts.known_between(ISSUED - HOUR, ISSUED + HOUR)
    assert [one.source for one in known] == ["us-weather-service"]


def test_how_asking_went_outlives_the_program(store):
    asking = ForecastAsking(
        source="met-norway",
        place="https://forecast.example/compact?lat=45&lon=-97.5",
        confirmed=ISSUED,
        not_before=ISSUED + HOUR,
        last_modified="Fri, 09 Jan 2026 19:40:00 GMT",
        links=("a", "b"),
        failures=2,
        problem="503",
    )
    with store.transaction() as tx:
        tx.forecasts.set_asking(ForecastAsking(source="met-norway"))
        tx.forecasts.set_asking(asking)
    with store.snapshot() as tx:
        assert tx.forecasts.asking_of("met-norway") == asking
        assert tx.forecasts.asking_of("us-weather-service") == ForecastAsking(
            source="us-weather-service"
        )


def test_a_forecast_is_stale_after_half_a_day():
    asking = ForecastAsking(source="met-norway", confirmed=ISSUED)
    assert not asking.stale(ISSUED + 12 * HOUR)
    assert asking.stale(ISSUED + 12.1 * HOUR)
    assert ForecastAsking(source="met-norway").stale(ISSUED)


def test_times_that_do_not_rise_are_refused():
    with pytest.raises(ValueError, match="must rise"):
        PublicForecast(
            source="met-norway",
            issued=ISSUED,
            fetched=ISSUED,
            at_ms=np.array([2, 1], dtype=np.int64),
            air_c=np.zeros(2),
            dew_point_c=np.zeros(2),
        )
