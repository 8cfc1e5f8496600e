"""Humidity that is not the air's is named and withheld; fog, sea coasts and fronts are not."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.clock import to_ms
from monitor.judgement.judge import judge_yard
from monitor.physics.moist_air import dew_point
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.facts import SensorFault
from monitor.yard.reading import Channel, Flag, Trace
from tests.bench.winters.places import winter_of
from tests.judgement import scene

NOW = scene.local(14, 22)
SENSOR = scene.air_sensor(scene.RACK)
YARD = scene.yard_of(scene.RACK)
SINCE = NOW - timedelta(hours=100)


def swing(hours):
    """Air between 0 and 8 °C, day by day."""
    return 4.0 + 4.0 * np.sin(2 * np.pi * hours / 24.0)


def read(rh, air=swing, every_s=600.0, until=NOW):
    readings = scene.trace(SENSOR.name, Channel.TEMPERATURE, air, SINCE, NOW, every_s)
    return readings | scene.trace(SENSOR.name, Channel.HUMIDITY, rh, SINCE, until, every_s)


def doubts(readings):
    return scene.space_air(scene.RACK, (SENSOR,), readings, NOW).doubts


def iced(hours):
    """A head under ice: at saturation, with the noise of its converter."""
    return 98.5 + 1.2 * np.sin(37.0 * hours)


def same_water(hours):
    """Air that keeps its water: drier as it warms, as the air of a fair day is."""
    e = np.exp(17.62 * 1.0 / (243.12 + 1.0))
    air = swing(hours)
    return np.minimum(100.0 * e / np.exp(17.62 * air / (243.12 + air)), 100.0)


@pytest.mark.parametrize(
    ("rh", "fault"),
    [
        (iced, SensorFault.SATURATED),
        (lambda hours: 71.0 + 0.9 * np.sin(11.0 * hours), SensorFault.UNMOVED),
        (same_water, None),
        (lambda hours: np.where(hours < 70.0, 99.0, 80.0), None),  # it has dried again
    ],
)
def test_a_head_that_no_air_moves_is_found_and_named(rh, fault):
    found = doubts(read(rh))
    assert {name: each.fault for name, each in found.items()} == (
        {} if fault is None else {SENSOR.name: fault}
    )


def test_days_of_fog_whose_air_stays_as_it_is_are_believed():
    assert doubts(read(iced, lambda hours: 2.0 + 0.9 * np.sin(2 * np.pi * hours / 24.0))) == {}


def test_a_warm_damp_front_after_cold_damp_air_is_believed():
    assert doubts(read(iced, lambda hours: np.where(hours < 80.0, 1.0, 11.0))) == {}


def test_what_rests_on_it_is_not_known_and_its_temperature_still_counts():
    readings = read(iced)
    judged = judge_yard(YARD, [], readings, NOW)
    (named,) = [each for each in judged if each.standing is Standing.DOUBTED]
    assert (named.hazard, named.subject.part) == (Hazard.SENSING, SENSOR.name)
    assert named.calls_for_act
    assert "not judged on" in scene.basis_words(named)
    assert "salt" in scene.act_words(named)
    air = scene.pick(judged, Hazard.AIR)
    assert np.isfinite(air.now_c)
    assert np.isnan(air.facts.dew_point_c)
    assert np.isnan(air.facts.rh_pct)


def test_a_sound_sensor_beside_it_goes_on_telling_the_dew_point():
    second = scene.air_sensor(scene.RACK, "second")
    readings = read(iced)
    readings |= scene.trace("second", Channel.TEMPERATURE, swing, SINCE, NOW)
    readings |= scene.trace("second", Channel.HUMIDITY, same_water, SINCE, NOW)
    air = scene.space_air(scene.RACK, (SENSOR, second), readings, NOW)
    assert set(air.doubts) == {SENSOR.name}
    assert air.dew_point_c[-1] == pytest.approx(dew_point(swing(100.0), same_water(100.0)), abs=0.1)


def flagged(trace: Trace, since, flag=Flag.SUSPECT) -> Trace:
    late = trace.at_ms >= to_ms(since)
    return Trace(
        sensor=trace.sensor,
        channel=trace.channel,
        at_ms=trace.at_ms,
        value=trace.value,
        flag=np.where(late, int(flag), trace.flag).astype(np.int8),
    )


def refused(readings, since):
    key = (SENSOR.name, Channel.HUMIDITY)
    return readings | {key: flagged(readings[key], since)}


def test_humidity_that_is_refused_for_hours_is_named_and_for_minutes_is_not():
    for hours, named in ((4.0, True), (0.5, False)):
        found = doubts(refused(read(same_water), NOW - timedelta(hours=hours)))
        assert [each.fault for each in found.values()] == [SensorFault.REFUSED] * named


def front(hours):
    """Twelve degrees until an hour ago, then 10 K in an hour."""
    return 12.0 - 10.0 * np.clip(hours - 99.0, 0.0, 1.0)


def test_a_refused_humidity_leaves_no_old_one_beside_a_new_temperature():
    readings = refused(read(lambda hours: 90.0 - hours / 20.0, front), NOW - timedelta(hours=1))
    air = scene.space_air(scene.RACK, (SENSOR,), readings, NOW)
    assert air.air_c[-1] == pytest.approx(2.0, abs=0.05)
    assert np.isnan(air.dew_point_c[-1])
    # Before the front passed, what was known stays known.
    assert air.dew_point_c[-8] == pytest.approx(float(dew_point(12.0, 85.1)), abs=0.1)


def test_a_humidity_that_is_only_late_carries_its_water_to_the_new_temperature():
    """By relative humidity held instead, the dew point would fall with the air: 2.0 less 2.2 K."""
    cool = read(50.0, lambda hours: 12.0 - 4.0 * np.clip(hours - 99.0, 0.0, 1.0))
    late = read(50.0, until=NOW - timedelta(hours=1))
    readings = cool | {(SENSOR.name, Channel.HUMIDITY): late[SENSOR.name, Channel.HUMIDITY]}
    air = scene.space_air(scene.RACK, (SENSOR,), readings, NOW)
    assert air.dew_point_c[-1] == pytest.approx(float(dew_point(12.0, 50.0)), abs=0.05)
    assert air.rh_pct[-1] > 60.0


@pytest.mark.parametrize("place", ["kennedy", "port-angeles", "newark", "greensboro"])
def test_real_winters_of_coasts_fog_and_fronts_are_believed(place):
    winter = winter_of(place)
    hours = np.arange(winter.air_c.size)
    readings = {
        (SENSOR.name, channel): Trace(
            sensor=SENSOR.name,
            channel=channel,
            at_ms=to_ms(winter.begin) + hours[np.isfinite(values)] * 3_600_000,
            value=values[np.isfinite(values)],
            flag=np.full(int(np.isfinite(values).sum()), Flag.PASS, dtype=np.int8),
        )
        for channel, values in (
            (Channel.TEMPERATURE, winter.air_c), (Channel.HUMIDITY, winter.rh_pct),
        )
    }  # fmt: skip
    looks = [winter.begin + timedelta(hours=n) for n in range(100, winter.air_c.size, 3)]
    named = [at for at in looks if scene.space_air(scene.RACK, (SENSOR,), readings, at).doubts]
    assert named == []
