"""A public forecast beside the yard's own: believed as far as it has proved right, no further."""

from datetime import UTC, datetime, timedelta
from math import isnan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import ReadingsClock, to_ms
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.public_forecast import Outlook
from monitor.judgement.air.tonight import forecast_nights
from monitor.judgement.round import Round
from monitor.phrases.air import low_basis
from monitor.phrases.figures import figures_of
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.assessment import Hazard
from monitor.yard.forecast import PublicForecast
from monitor.yard.reading import Channel
from tests.judgement import scene
from tests.judgement.air.test_tonight import greensboro_winter
from tests.tried import tried

ISSUED = datetime(2026, 1, 9, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)


def issue(air_c, issued=ISSUED, step_h=1.0, source="met-norway", fetched=None):
    air_c = np.asarray(air_c, dtype=float)
    return PublicForecast(
        source=source,
        issued=issued,
        fetched=issued if fetched is None else fetched,
        at_ms=to_ms(issued) + np.arange(air_c.size, dtype=np.int64) * int(step_h * 3_600_000),
        air_c=air_c,
        dew_point_c=np.full(air_c.size, np.nan),
    )


def outlook_of(*issues):
    outlook = Outlook()
    outlook.add_issues(issues)
    return outlook


def test_the_low_of_a_stretch_is_that_of_its_own_hours():
    outlook = outlook_of(issue([5, 1, -3, -7, 2, -20]))
    assert outlook.low_c(ISSUED, ISSUED, ISSUED + 4 * HOUR) == -7.0
    assert outlook.low_c(ISSUED, ISSUED, ISSUED + 1.5 * HOUR) == 1.0


def test_only_what_was_known_then_counts():
    outlook = outlook_of(issue([1.0] * 30), issue([-9.0] * 30, ISSUED + 6 * HOUR))
    span = (ISSUED + 8 * HOUR, ISSUED + 20 * HOUR)
    assert outlook.low_c(ISSUED + 5 * HOUR, *span) == 1.0
    assert outlook.low_c(ISSUED + 7 * HOUR, *span) == -9.0
    assert isnan(outlook.low_c(ISSUED - HOUR, *span))


def test_a_stale_forecast_is_none():
    outlook = outlook_of(issue([1.0] * 60))
    assert outlook.low_c(ISSUED + 12 * HOUR, ISSUED + 12 * HOUR, ISSUED + 20 * HOUR) == 1.0
    later = ISSUED + 12.1 * HOUR
    assert isnan(outlook.low_c(later, later, ISSUED + 20 * HOUR))


@pytest.mark.parametrize(
    "expected",
    [
        issue([1.0] * 10),
        issue([1.0] * 40, ISSUED + 2 * HOUR, fetched=ISSUED),
        issue([1, 2, 3], step_h=8),
    ],
)
def test_a_forecast_that_does_not_cover_the_night_is_none(expected):
    assert isnan(outlook_of(expected).low_c(ISSUED, ISSUED, ISSUED + 16 * HOUR))


def test_order_and_repeats_do_not_matter_and_another_agency_begins_afresh():
    first, second = issue([1.0] * 30), issue([-2.0] * 30, ISSUED + HOUR)
    span = (ISSUED + HOUR, ISSUED + 9 * HOUR)
    outlook = outlook_of(second, first, second, first)
    assert outlook.low_c(ISSUED + HOUR, *span) == -2.0
    assert outlook.low_c(ISSUED + 0.5 * HOUR, *span) == 1.0
    outlook.add_issues([issue([4.0] * 30, source="us-weather-service")])
    assert outlook.low_c(ISSUED + HOUR, *span) == 4.0


@pytest.fixture(scope="module")
def winter():
    """Each evening's forecast of the low on an open record, as an agency of given skill helps."""
    # Greensboro NC, TMY3 station 723170 (US government laboratory, carried by pvlib), two months.
    air_c, _ = greensboro_winter()[: 62 * 24].T
    start = datetime(2026, 11, 1, 5, tzinfo=UTC)
    yard = scene.yard_of(scene.RACK, latitude=36.1, longitude=-79.95, zone="America/New_York")

    def run(bias_k, noise_k, seed=3, until=None):
        chance, memory, rows = np.random.default_rng(seed), Memory(), []
        for day in range(4, 60):
            at = day * 24 + 19
            now, window = start + timedelta(hours=at), slice(max(at - 97, 0), at + 1)
            since = start + timedelta(hours=window.start)
            readings = scene.trace(
                f"air-{scene.RACK.id}",
                Channel.TEMPERATURE,
                lambda _, part=window: air_c[part],
                since,
                now,
                3600.0,
            )
            if noise_k is not None and (until is None or day < until):
                wrong = bias_k + chance.normal(0.0, noise_k)
                memory.outlook.add_issues([issue(air_c[at - 2 : at + 30] + wrong, now - 2 * HOUR)])
            air = scene.space_air(scene.RACK, yard.sensors, readings, now)
            memory.add_air(air)
            tonight = forecast_nights({scene.RACK.id: air}, yard, memory)[scene.RACK.id]
            rows.append((tonight, air_c[at : (day + 1) * 24 + 13].min()))
        return rows

    return run


def error_k(rows, after=16):
    return float(np.mean([abs(each.expected_low_c - came) for each, came in rows[after:]]))


def test_a_good_agency_makes_the_low_much_better_even_if_it_is_always_too_warm(winter):
    alone, helped = winter(0.0, None), winter(3.0, 1.0)
    assert error_k(helped) < 0.7 * error_k(alone)
    assert helped[-1][0].forecast.public_share > 0.5
    assert helped[-1][0].forecast.error_k < 0.8 * alone[-1][0].forecast.error_k
    # The cold end of the stated range comes nearer to what comes, and stays honest.
    edges = np.array([each.band_c[0] for each, _ in helped[16:]])
    came = np.array([low for _, low in helped[16:]])
    assert 0.0 <= (came < edges).mean() < 0.25
    assert (came - edges).mean() < (np.mean([low - each.band_c[0] for each, low in alone[16:]]))


def test_a_bad_agency_does_little_harm(winter):
    alone, misled = winter(0.0, None), winter(0.0, 8.0)
    assert error_k(misled) < 1.1 * error_k(alone)
    assert misled[-1][0].forecast.public_share < 0.25


def test_when_the_agency_falls_silent_the_yard_s_own_forecast_stands_as_ever(winter):
    alone, silent = winter(0.0, None), winter(1.0, 1.0, until=40)
    for (own, _), (after, _) in zip(alone[-15:], silent[-15:], strict=True):
        assert after.low_c == own.low_c
        assert after.basis == own.basis


def test_the_reason_says_who_was_counted_and_for_how_much(winter):
    tonight, _ = winter(1.0, 1.0)[-1]
    said = low_basis(tonight.basis, Wording())
    share = f"{tonight.forecast.public_share:.0%}"
    assert f"with the forecast of met-norway counted for {share}" in said


@given(public_c=st.floats(-40.0, 30.0), colder_k=st.floats(0.0, 20.0))
@settings(max_examples=tried(25), deadline=None)
def test_a_colder_forecast_never_promises_a_warmer_night(public_c, colder_k):
    now = scene.local(14, 20)
    since = now - timedelta(hours=90)
    readings = scene.trace("air-lee-rack", Channel.TEMPERATURE, 4.0, since, now)
    yard = scene.yard_of(scene.RACK)

    def low(expected_c):
        memory = Memory()
        memory.outlook.add_issues([issue([expected_c] * 30, now)])
        air = scene.space_air(scene.RACK, yard.sensors, readings, now)
        memory.add_air(air)
        return forecast_nights({"lee-rack": air}, yard, memory)["lee-rack"].low_c

    assert low(public_c - colder_k) <= low(public_c) + 1e-9


def test_a_round_takes_in_what_came_since_the_last_one(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    store, now = Store(url, "kettlemoss"), scene.local(14, 20)
    yard = scene.yard_of(scene.RACK)
    clock = ReadingsClock(now)
    judging = Round(store, yard, clock)

    def judged():
        readings = scene.trace(
            "air-lee-rack", Channel.TEMPERATURE, 4.0, now - 90 * HOUR, clock.now()
        )
        with store.transaction() as tx:
            series = tx.series.series_ids([("air-lee-rack", Channel.TEMPERATURE)])
            [trace] = readings.values()
            tx.reading_writer.append_rows(
                [(*series.values(), int(at), 400, None, 1) for at in trace.at_ms]
            )  # fmt: skip
        judging.run([])
        with store.snapshot() as tx:
            return scene.pick(tx.assessments.latest_judgements(), Hazard.AIR)

    before = judged()
    assert figures_of(before)["public_share"] == 0.0
    # Known from a moment before the round just judged, but stored only after it.
    with store.transaction() as tx:
        tx.forecasts.keep_issue(issue([-15.0] * 40, now - timedelta(minutes=1)))
    clock.advance_to(now + timedelta(minutes=10))
    after = judged()
    store.close()
    assert figures_of(after)["public_share"] > 0.0
    assert after.low_c < before.low_c
