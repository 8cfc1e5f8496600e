"""Sensors in each other's place, far from a forecast or refused are named; weather is not."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.judgement.air.sensor_doubt import judge_doubts, judge_off_forecast
from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.facts import SensorFault
from monitor.yard.reading import Channel, Flag
from tests.judgement import scene

NOW = scene.local(14, 22)
SINCE = NOW - timedelta(hours=100)
YARD = scene.yard_of(scene.BARN, scene.RACK)


def weather(hours):
    return 1.0 + 4.0 * np.sin(2 * np.pi * hours / 24.0)


def heated(hours):
    return 9.0 + 0.5 * np.sin(2 * np.pi * hours / 24.0)


def read(barn, rack):
    readings = scene.trace("air-stove-barn", Channel.TEMPERATURE, barn, SINCE, NOW)
    return readings | scene.trace("air-lee-rack", Channel.TEMPERATURE, rack, SINCE, NOW)


def doubted(readings):
    judged = judge_yard(YARD, [], readings, NOW)
    return [each for each in judged if each.standing is Standing.DOUBTED]


def test_a_heated_room_that_is_colder_than_the_weather_has_the_wrong_sensor():
    (named,) = doubted(read(weather, heated))
    assert named.facts.fault is SensorFault.EXCHANGED
    assert (named.subject.space, named.subject.part) == ("stove-barn", "air-stove-barn")
    assert "Lee Rack" in scene.basis_words(named)
    assert "air-lee-rack" in scene.act_words(named)


@pytest.mark.parametrize(
    ("barn", "rack"),
    [
        (heated, weather),
        # Its heat is off: it lags behind the weather, and by day it is the colder of the two.
        (lambda hours: 1.0 + 2.5 * np.sin(2 * np.pi * (hours - 4.0) / 24.0), weather),
        # A warm spell over a cold-soaked barn: colder throughout, but it hardly moves.
        (lambda hours: 2.0 + 0.0 * hours, lambda hours: 12.0 + weather(hours)),
    ],
)
def test_a_building_that_is_only_cold_is_none(barn, rack):
    assert doubted(read(barn, rack)) == []


def test_a_temperature_that_is_refused_for_hours_is_named_as_well_as_missed():
    readings = read(heated, weather)
    key = ("air-stove-barn", Channel.TEMPERATURE)
    late = readings[key].at_ms >= readings[key].at_ms[-1] - 4 * 3_600_000
    readings[key].flag[late] = Flag.SUSPECT
    (named,) = doubted(readings)
    assert named.facts.fault is SensorFault.AIR_REFUSED
    assert "Nothing is judged on it" in scene.basis_words(named)
    barn = scene.pick(
        [
            each
            for each in judge_yard(YARD, [], readings, NOW)
            if each.subject.space == "stove-barn"
        ],
        Hazard.AIR,
    )
    assert barn.standing is Standing.NOT_KNOWN


def rack():
    return scene.space_air(scene.RACK, (scene.air_sensor(scene.RACK),), read(heated, weather), NOW)


@pytest.mark.parametrize(
    ("off_k", "told"),
    [
        (np.full(96, 7.0), True),
        (np.full(96, -7.0), True),
        (np.full(96, 4.0), False),
        (np.where(np.arange(96) % 24 < 12, 9.0, -9.0), False),  # by turns: the agency's error
        (np.where(np.arange(96) < 70, 0.5, 9.0), False),  # a front that it missed, a day ago
        (np.full(96, np.nan), False),
        (np.empty(0), False),
    ],
)
def test_two_days_on_one_side_of_a_forecast_are_told_and_a_missed_front_is_not(off_k, told):
    found = judge_off_forecast(rack(), off_k.astype(float), "agency", NOW)
    assert bool(found) is told
    for each in found:
        assert "agency" in scene.basis_words(each)
        assert ("above" if off_k[-1] > 0 else "below") in scene.basis_words(each)


def test_a_space_alone_is_held_against_nothing():
    air = rack()
    assert judge_doubts(air, [], NOW) == []
