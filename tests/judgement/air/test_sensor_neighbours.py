"""A sensor in the sun and one whose dew point nobody shares are named; weather is not."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.judgement.air.sensor_neighbours import judge_sun_by_forecast
from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Standing
from monitor.yard.facts import SensorFault
from monitor.yard.reading import Channel
from tests.judgement import scene

NOW = scene.local(14, 22)
SINCE = NOW - timedelta(hours=100)
SECOND = scene.air_sensor(scene.RACK, "rack-post")
YARD = scene.yard_of(scene.RACK, sensors=(SECOND,))


def daily(hours):
    """Clear autumn days: coldest about 05:00, warmest about 15:00 (SINCE is 18:00)."""
    return 4.0 + 5.0 * np.cos(2 * np.pi * (hours + 3.0) / 24.0)


def sunlit(more_k, days=4):
    """More by so much between 10:00 and 14:00 of the last days."""

    def course(hours):
        clock = (hours + 18.0) % 24.0
        lit = (clock >= 10.0) & (clock <= 14.0) & (hours > 100.0 - 24.0 * days)
        return daily(hours) + np.where(lit, more_k, 0.0)

    return course


def doubts(first, second, rh=(70.0, 70.0), yard=YARD):
    readings = {}
    for name, air, humidity in (("air-lee-rack", first, rh[0]), ("rack-post", second, rh[1])):
        wavy = lambda hours, at=humidity: at + 4.0 * np.sin(hours / 3.8)  # noqa: E731
        readings |= scene.trace(name, Channel.TEMPERATURE, air, SINCE, NOW)
        readings |= scene.trace(name, Channel.HUMIDITY, wavy, SINCE, NOW)
    return [
        each for each in judge_yard(yard, [], readings, NOW) if each.standing is Standing.DOUBTED
    ]


def test_a_sensor_that_is_warm_by_day_and_not_at_night_hangs_in_the_sun():
    (named,) = doubts(sunlit(8.0), daily)
    assert named.facts.fault is SensorFault.IN_SUN
    assert named.subject.part == "air-lee-rack"
    assert named.facts.apart_k == pytest.approx(8.0, abs=0.5)
    assert "the sun shines on it" in scene.basis_words(named)
    assert "shade" in scene.act_words(named)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (daily, daily),
        (sunlit(3.0), daily),  # a shield lets so much through
        (sunlit(8.0, days=1), daily),  # one bright noon
        (lambda hours: daily(hours) + 4.5, daily),  # off by day and night: no sun does that
    ],
)
def test_what_the_sun_does_not_do_is_not_laid_to_it(first, second):
    assert all(each.facts.fault is not SensorFault.IN_SUN for each in doubts(first, second))


def test_under_film_every_noon_is_warm():
    yard = scene.yard_of(scene.ROW, sensors=(scene.air_sensor(scene.ROW, "row-post"),))
    readings = scene.trace("air-north-row", Channel.TEMPERATURE, sunlit(15.0), SINCE, NOW)
    readings |= scene.trace("row-post", Channel.TEMPERATURE, daily, SINCE, NOW)
    assert not [
        each for each in judge_yard(yard, [], readings, NOW) if each.standing is Standing.DOUBTED
    ]


def test_a_dew_point_far_from_its_neighbours_for_a_day_is_named():
    # At 4 °C 50 points of RH are 8 K of dew point (psychrometric tables: 92 % 2.8, 42 % -7.7 °C).
    (named,) = doubts(daily, daily, rh=(92.0, 42.0))
    assert named.facts.fault is SensorFault.DEW_APART
    assert named.subject.part == "air-lee-rack"
    assert "over salt" in scene.act_words(named)
    assert not doubts(daily, daily, rh=(78.0, 70.0))


@pytest.mark.parametrize(("more_k", "named"), [(8.0, 1), (3.0, 0)])
def test_the_only_sensor_outdoors_is_held_against_the_forecast(more_k, named):
    yard = scene.yard_of(scene.RACK)
    readings = scene.trace("air-lee-rack", Channel.TEMPERATURE, sunlit(more_k), SINCE, NOW)
    air = scene.space_air(scene.RACK, yard.sensors, readings, NOW)
    hourly = np.arange(4.0, 101.0)
    off_k = sunlit(more_k)(hourly) - daily(hourly) + 0.5
    found = judge_sun_by_forecast(air, off_k, "agency", yard)
    assert len(found) == named
    assert all("agency" in scene.basis_words(each) for each in found)
