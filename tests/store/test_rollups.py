"""Hourly rollups: what the readings give, in whatever order and however often they came."""

from datetime import UTC, datetime, timedelta
from itertools import count, pairwise
from statistics import median

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.store.rolling_up import make_all_anew, make_due_hours
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag, Reading
from tests.tried import tried

AIR, DAMP = Channel.TEMPERATURE, Channel.HUMIDITY
BEGIN = datetime(2026, 11, 14, 0, tzinfo=UTC)
BEGIN_MS, HOUR_MS, MINUTE_MS = to_ms(BEGIN), 3_600_000, 60_000
LATER = BEGIN + timedelta(days=2)


def reading(minute, value, channel=AIR, flag=Flag.PASS, sensor="post"):
    at_ms = BEGIN_MS + round(minute * MINUTE_MS)
    return Reading(sensor=sensor, channel=channel, at_ms=at_ms, value=value, raw=value, flag=flag)


def put(store, *new):
    with store.transaction() as tx:
        tx.reading_writer.add(new)


def told(store, channel=AIR, hours=24):
    with store.snapshot() as tx:
        return tx.rollups.hours_between(["post"], BEGIN_MS, BEGIN_MS + hours * HOUR_MS)[
            "post", channel
        ]


def line_through(minutes_and_values):
    """A time's value on the lines between readings, as an hour sees them; None in gaps."""

    def value(at_min, hour_min):
        near = [(m, v) for m, v in minutes_and_values if hour_min - 120 <= m < hour_min + 180]
        apart = [b[0] - a[0] for a, b in pairwise(near)]
        if not apart:
            return None
        most = min(max(20.0, 3.5 * median(apart)), 90.0)
        for (m, v), (after_m, after_v) in pairwise(near):
            if m <= at_min <= after_m and after_m - m <= most:
                return v + (after_v - v) * (at_min - m) / (after_m - m)
        return None

    return value


def hours_by_hand(readings, channel):
    """Each hour worked out minute by minute of the readings that stayed, in plain Python."""
    first = {}
    for one in readings:
        first.setdefault((one.channel, one.at_ms), one)
    usable = sorted(
        (one for one in first.values() if one.flag in {Flag.PASS, Flag.NOT_EVALUATED}),
        key=lambda one: one.at_ms,
    )
    points = {
        each: [((o.at_ms - BEGIN_MS) / MINUTE_MS, o.value) for o in usable if o.channel is each]
        for each in (AIR, DAMP)
    }
    air, damp, own = (line_through(points[each]) for each in (AIR, DAMP, channel))
    for hour in range(24):
        middles = [60 * hour + n + 0.5 for n in range(60)]
        values = [v for m in middles if (v := own(m, 60 * hour)) is not None]
        read = [v for m, v in points[channel] if 60 * hour <= m < 60 * hour + 60]
        if not values and not read:
            continue
        pairs = [(air(m, 60 * hour), damp(m, 60 * hour)) for m in middles]
        yield (
            BEGIN_MS + hour * HOUR_MS,
            len(read),
            min(read, default=None),
            max(read, default=None),
            sum(values or read) / len(values or read),
            len(values) / 60.0,
            sum(1 for a, d in pairs if a is not None and d is not None and a > 0.0 and d > 80.0)
            if channel is DAMP
            else None,
            sum(max(-v, 0.0) for v in values) / 60.0 if channel is AIR else None,
        )


def rows_of(trace):
    return zip(
        trace.hour_ms,
        trace.readings,
        trace.low,
        trace.high,
        trace.mean,
        trace.seen,
        trace.wet_min,
        trace.frost_kh,
        strict=True,
    )


def assert_same_hours(trace, expected):
    found, expected = list(rows_of(trace)), list(expected)
    assert [row[:2] for row in found] == [row[:2] for row in expected]
    as_numbers = [[np.nan if v is None else v for v in row[2:]] for row in expected]
    np.testing.assert_allclose(
        np.array([row[2:] for row in found]).reshape(-1, 6),
        np.array(as_numbers, dtype=float).reshape(-1, 6),
        atol=1e-6,
    )


def test_an_hour_of_damp_air_that_thaws_is_counted_by_the_standard(store):
    # −1 °C at its beginning, +1 °C at its end, a straight line; 85 % RH all along. ISO 9223: wet
    # where RH is above 80 % and the air above 0 °C, so half of it. Degree-hours: a triangle of
    # half an hour by 1 K, 0.25 K·h.
    put(
        store,
        *(reading(m, -1.0 + m / 30.0) for m in range(0, 61, 10)),
        *(reading(m, 85.0, DAMP) for m in range(0, 61, 10)),
    )
    make_due_hours(store, LATER)
    air, damp = told(store, AIR, 1), told(store, DAMP, 1)
    assert (air.low[0], air.high[0], air.readings[0]) == (-1.0, pytest.approx(0.67), 6)
    assert air.mean[0] == pytest.approx(0.0, abs=0.01)
    assert air.frost_kh[0] == pytest.approx(0.25, abs=0.01)
    assert (air.seen[0], air.frost_min[0]) == (1.0, 30.0)
    assert damp.wet_min[0] == 30.0


@pytest.fixture(scope="module")
def new_store(module_stores):
    """Stores of ever other yards in one database."""
    url = module_stores.new_url()
    opened, number = [], count()

    def make():
        opened.append(Store(url, f"yard-{next(number)}"))
        return opened[-1]

    yield make
    for one in opened:
        one.close()


a_reading = st.builds(
    reading,
    minute=st.integers(0, 24 * 60 - 1),
    value=st.integers(-500, 9_500).map(lambda n: n / 100.0),
    channel=st.sampled_from([AIR, DAMP]),
    flag=st.sampled_from([Flag.PASS, Flag.PASS, Flag.NOT_EVALUATED, Flag.SUSPECT, Flag.FAIL]),
)
dense = st.builds(
    lambda begin, every, values, channel: [
        reading(begin + n * every, v / 100.0, channel) for n, v in enumerate(values)
    ],
    st.integers(0, 1000),
    st.integers(1, 30),
    st.lists(st.integers(-500, 9_500), max_size=30),
    st.sampled_from([AIR, DAMP]),
)
packs = st.lists(st.one_of(st.lists(a_reading, max_size=6), dense), min_size=1, max_size=6)


@given(data=st.data(), packs=packs)
@settings(max_examples=tried(12), suppress_health_check=[HealthCheck.too_slow])
def test_hours_are_those_of_the_rows_for_any_order_and_repetition_of_packs(new_store, data, packs):
    store = new_store()
    order = data.draw(st.permutations([*packs, *data.draw(st.lists(st.sampled_from(packs)))]))
    for pack in order:
        put(store, *pack)
        # The clock may stand anywhere, and be set back.
        now = BEGIN + timedelta(hours=data.draw(st.sampled_from([48, 48, 30, 12, 4])))
        make_due_hours(store, now, at_most=data.draw(st.sampled_from([None, None, 2, 1, 0])))
    everything = [one for pack in order for one in pack]
    for channel in (AIR, DAMP):
        assert_same_hours(told(store, channel), hours_by_hand(everything, channel))
    make_due_hours(store, LATER)
    for channel in (AIR, DAMP):
        assert_same_hours(told(store, channel), hours_by_hand(everything, channel))


def test_what_is_late_makes_its_hour_anew(store):
    put(store, *(reading(m, 4.0) for m in range(0, 600, 10)))
    make_due_hours(store, LATER)
    put(store, reading(125, -3.0))
    assert told(store).low[2] == -3.0, "before it is made"
    make_due_hours(store, LATER)
    assert told(store).low[2] == -3.0
    assert told(store).readings.tolist() == [6, 6, 7, 6, 6, 6, 6, 6, 6, 6]


def test_what_is_late_changes_the_hour_beside_it_too(store):
    put(store, *(reading(m, 4.0) for m in range(0, 600, 10) if m != 60))
    make_due_hours(store, LATER)
    put(store, reading(59, -5.0))
    make_due_hours(store, LATER)
    # Down through zero at 00:54, up to the reading of 01:10 through zero at 01:05.1: the middles of
    # six minutes lie between the two in the first hour, of five in the next.
    assert told(store).frost_min[:3].tolist() == [6.0, 5.0, 0.0]


def test_a_reading_that_fails_its_test_later_leaves_its_hour(store):
    put(store, *(reading(m, 4.0) for m in range(0, 600, 10)), reading(125, -30.0))
    make_due_hours(store, LATER)
    assert told(store).low[2] == -30.0
    with store.transaction() as tx:
        series_id = tx.series.series_of("post")[AIR]
        tx.reading_writer.amend_flags([(series_id, reading(125, 0.0).at_ms, int(Flag.FAIL))])
    make_due_hours(store, LATER)
    assert told(store).low[2] == 4.0


def test_readings_that_get_another_time_leave_no_hour_behind(store):
    put(store, *(reading(m, 4.0) for m in range(0, 60, 10)))
    make_due_hours(store, LATER)
    with store.transaction() as tx:
        series_id = tx.series.series_of("post")[AIR]
        times = [reading(m, 4.0).at_ms for m in range(0, 60, 10)]
        tx.reading_writer.move_in_time(series_id, times, 12 * HOUR_MS)
    for _ in range(2):
        assert told(store).hour_ms.tolist() == [BEGIN_MS + 12 * HOUR_MS]
        make_due_hours(store, LATER)


def test_readings_of_now_make_each_hour_once(store):
    made = []
    for hour in range(12):
        put(store, *(reading(60 * hour + m, 4.0) for m in range(0, 60, 10)))
        make_due_hours(store, BEGIN + timedelta(hours=hour + 1))
        with store.snapshot() as tx:
            made.append(tx.rollups.count_hours())
    # The last two hours may still change: what is not over is told of the readings themselves.
    assert made == [max(0, hour - 2) for hour in range(12)]
    assert len(told(store).hour_ms) == 12


def test_hours_that_were_thrown_away_come_back_the_same(store):
    put(store, *(reading(m, 4.0 + m % 7) for m in range(0, 600, 10)))
    make_due_hours(store, LATER)
    before = list(rows_of(told(store)))
    assert make_all_anew(store, LATER) == len(before)
    np.testing.assert_equal(list(rows_of(told(store))), before)


def test_a_history_is_made_in_small_steps_and_every_step_reads_the_same(store):
    put(store, *(reading(m, 4.0 + m % 7) for m in range(0, 100 * 24 * 60, 55)))
    now, steps = BEGIN + timedelta(days=200), 0
    expected = list(rows_of(told(store, hours=2400)))
    while not make_due_hours(store, now, at_most=5):
        steps += 1
        np.testing.assert_equal(list(rows_of(told(store, hours=2400))), expected)
    assert steps > 1
    np.testing.assert_equal(list(rows_of(told(store, hours=2400))), expected)


def test_hours_may_begin_where_a_zone_has_its_midnight(store):
    put(store, *(reading(m, 4.0 if m < 90 else 6.0) for m in range(0, 600, 10)))
    make_due_hours(store, LATER)
    with store.snapshot() as tx:
        half_past = BEGIN_MS + HOUR_MS // 2
        found = tx.rollups.hours_between(["post"], half_past, half_past + 3 * HOUR_MS)["post", AIR]
    assert found.hour_ms.tolist() == [half_past + n * HOUR_MS for n in range(3)]
    assert (found.high[0], found.low[1]) == (4.0, 6.0)
