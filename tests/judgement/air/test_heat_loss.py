"""A heater that is lost, told from a shop that only cools down to where its heat holds it."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.judgement.air.heat_loss import heat_lost, heating_level
from monitor.yard.reading import Channel
from tests.judgement import scene

NOW = scene.local(15, 3)
BEGIN = NOW - timedelta(hours=97)
LAG_H = 12.0


def air(course):
    readings = scene.trace("air-stove-barn", Channel.TEMPERATURE, course, BEGIN, NOW, 300.0)
    return scene.space_air(scene.BARN, (scene.air_sensor(scene.BARN),), readings, NOW)


def cooling(hours, since_h, from_c, outside_c):
    """First-order heat loss from an hour on."""
    gone = np.maximum(hours - since_h, 0.0)
    return outside_c + (from_c - outside_c) * np.exp(-gone / LAG_H)


def test_a_cold_corner_is_expected_to_be_colder_when_it_is_colder_outdoors():
    # A corner 14 % of the way to the outdoor air, in a shop held at 8 °C.
    outside = -5.0 + 6.0 * np.sin(np.arange(400) / 30.0)
    corner = 8.0 + 0.14 * (outside - 8.0)
    assert heating_level(corner, outside, -20.0) == pytest.approx(8.0 - 0.14 * 28.0, abs=0.3)


def test_without_cold_weeks_nothing_is_known_of_the_level():
    assert np.isnan(heating_level(np.full(400, 12.0), np.full(400, 11.0), -5.0))
    assert np.isnan(heating_level(np.full(3, 8.0), np.full(3, -5.0), -5.0))


def test_a_shop_that_mild_days_warmed_falls_back_to_its_level_and_has_lost_nothing():
    falling = air(lambda h: cooling(h, 94.0, 12.0, -6.0))
    assert 7.0 < falling.now_c < 9.0
    assert not heat_lost(falling, -6.0, LAG_H, level_c=7.0)
    assert heat_lost(falling, -6.0, LAG_H, level_c=11.5)


def test_a_heater_that_fails_again_within_days_is_missed_again():
    """Two days near 0 °C, a day of heat, then it fails once more."""

    def course(hours):
        cold = (hours > 20.0) & (hours < 68.0)
        return np.where(cold, 0.5, cooling(hours, 95.0, 8.0, -15.0))

    assert heat_lost(air(course), -15.0, LAG_H, level_c=7.5)


def test_steady_heat_is_not_lost_at_whatever_level():
    for level_c in (6.0, 8.0, 15.0):
        steady = air(lambda h, c=level_c: c + 0.2 * np.sin(h * 9.0))
        assert not heat_lost(steady, -15.0, LAG_H, level_c=level_c - 0.3)
