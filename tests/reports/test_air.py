from dataclasses import replace
from datetime import timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from monitor.clock import to_ms
from monitor.reports.air import on_grid, read_air, read_hourly_air
from monitor.yard.reading import Channel, Flag, Reading, Trace
from monitor.yard.space import earlier_name
from tests.reports import kettlemoss as yard_of

START = yard_of.MONDAY
HOUR_MS = 3_600_000


def trace(at_ms, value):
    return Trace(
        sensor="s",
        channel=Channel.TEMPERATURE,
        at_ms=np.asarray(at_ms, dtype=np.int64),
        value=np.asarray(value, dtype=np.float64),
        flag=np.ones(len(at_ms), dtype=np.int8),
    )


def readings(sensor, values_c, *, rh_pct=50.0, step_min=10, flag=Flag.PASS, start=START):
    for n, value in enumerate(values_c):
        at_ms = to_ms(start) + n * step_min * 60_000
        pairs = ((Channel.TEMPERATURE, value), (Channel.HUMIDITY, rh_pct))
        for channel, what in pairs:
            yield Reading(
                sensor=sensor, channel=channel, at_ms=at_ms, value=what, raw=what, flag=flag
            )


def test_between_two_readings_lies_a_straight_line():
    assert_allclose(on_grid(trace([0, 600], [1.0, 3.0]), np.array([0, 300, 600]), 1000), [1, 2, 3])


def test_inside_a_gap_nothing_is_known_but_its_ends_are():
    found = on_grid(trace([0, 5000], [1.0, 3.0]), np.array([0, 2500, 5000]), 1000)
    assert_allclose(found, [1.0, np.nan, 3.0])


def test_before_the_first_and_after_the_last_reading_nothing_is_known():
    found = on_grid(trace([100, 200], [1.0, 1.0]), np.array([0, 150, 300]), 1000)
    assert_allclose(found, [np.nan, 1.0, np.nan])


def test_a_trace_without_readings_gives_nothing_known():
    assert np.isnan(on_grid(trace([], []), np.array([0, 1]), 1000)).all()


@given(
    st.lists(st.integers(0, 10_000), min_size=1, max_size=20, unique=True).map(sorted),
    st.integers(1, 5_000),
)
def test_the_grid_never_leaves_the_range_of_the_readings(at_ms, gap_ms):
    value = np.sin(np.arange(len(at_ms)))
    found = on_grid(trace(at_ms, value), np.arange(0, 10_001, 50), gap_ms)
    seen = found[~np.isnan(found)]
    assert ((seen >= value.min() - 1e-9) & (seen <= value.max() + 1e-9)).all()


def two_sensors():
    yard = yard_of.yard()
    sensor = next(one for one in yard.sensors if one.space == "long-shed")
    corner = replace(sensor, name="urn:dev:ops:corner")
    return replace(yard, sensors=(sensor, corner)), sensor.name, corner.name


def test_of_two_sensors_the_coldest_air_counts(empty_store):
    yard, middle, corner = two_sensors()
    with empty_store.transaction() as tx:
        tx.reading_writer.add(readings(middle, [4.0] * 12))
        tx.reading_writer.add(readings(corner, [-1.0] * 12))
    with empty_store.snapshot() as tx:
        air = read_air(tx, yard, START, START + timedelta(hours=1), 10)["long-shed"]
    assert_allclose(air.coldest_c, -1.0)
    assert_allclose(air.warmest_c, 4.0)
    assert (air.low.value_c, air.high.value_c) == (-1.0, 4.0)


def test_what_a_sensor_read_counts_to_the_space_in_which_it_hung_then(empty_store):
    plain = yard_of.yard()
    sensor = next(one for one in plain.sensors if one.space == "long-shed")
    moved_at = START + timedelta(hours=6)
    yard = replace(
        plain,
        sensors=(replace(sensor, space="stove-barn", since=moved_at),),
        earlier_sensors=(
            replace(sensor, name=earlier_name(sensor.name, moved_at), until=moved_at),
        ),
    )
    with empty_store.transaction() as tx:
        # An hour of ten-minute readings has six.
        tx.reading_writer.add(readings(sensor.name, [-5.0] * 36 + [9.0] * 36))
    until = START + timedelta(hours=12)
    with empty_store.snapshot() as tx:
        by_reading = read_air(tx, yard, START, until, 10)
        by_hour = read_hourly_air(tx, yard, START, until)
    for air in (by_reading, by_hour):
        assert (air["long-shed"].low.value_c, air["long-shed"].high.value_c) == (-5.0, -5.0)
        assert (air["stove-barn"].low.value_c, air["stove-barn"].high.value_c) == (9.0, 9.0)
    assert by_hour["long-shed"].unseen_h >= 6.0  # the rest of the day nobody saw it
    assert by_hour["stove-barn"].below_zero_h == 0.0


def test_a_reading_that_failed_its_quality_test_does_not_count(empty_store):
    yard, middle, corner = two_sensors()
    with empty_store.transaction() as tx:
        tx.reading_writer.add(readings(middle, [4.0] * 12))
        tx.reading_writer.add(readings(corner, [-40.0] * 12, flag=Flag.FAIL))
    with empty_store.snapshot() as tx:
        air = read_air(tx, yard, START, START + timedelta(hours=1), 10)["long-shed"]
    assert_allclose(air.coldest_c, 4.0)


def test_the_dew_point_of_the_plot_is_that_of_the_handbook(empty_store):
    # 20 °C and 50 % RH: dew point 9.3 °C, ASHRAE psychrometric chart (from memory).
    yard, middle, _ = two_sensors()
    with empty_store.transaction() as tx:
        tx.reading_writer.add(readings(middle, [20.0] * 12, rh_pct=50.0))
    with empty_store.snapshot() as tx:
        air = read_air(tx, yard, START, START + timedelta(hours=1), 10)["long-shed"]
    assert_allclose(air.dew_point_c, 9.3, atol=0.05)


def test_a_space_without_sensors_is_there_and_unseen(empty_store):
    yard = replace(yard_of.yard(), sensors=())
    with empty_store.snapshot() as tx:
        airs = read_air(tx, yard, START, START + timedelta(hours=1), 10)
    assert set(airs) == {space.id for space in yard.spaces}
    assert not any(air.seen.any() for air in airs.values())
