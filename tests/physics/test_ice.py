"""Closed forms of freezing and thawing at their edges."""

import numpy as np

from monitor.physics import ice


def test_warm_air_never_makes_ice_and_cold_air_never_melts_it():
    assert np.isinf(ice.first_ice_hours(5.0, 1.0, 4.0))
    assert np.isinf(ice.frozen_through_hours(5.0, 1.0, 4.0, 10.0))
    assert np.isinf(ice.thaw_hours(0.5, -1.0, 10.0))
    assert ice.thaw_hours(0.0, -1.0, 10.0) == 0.0


def test_a_body_at_its_ice_point_ices_at_once():
    assert ice.first_ice_hours(0.0, -1.0, 4.0) == 0.0
    assert ice.first_ice_hours(-3.0, -5.0, 4.0, -2.0) == 0.0


def test_an_unknown_temperature_gives_an_unknown_time():
    assert np.isnan(ice.first_ice_hours(np.nan, -5.0, 4.0))
    assert np.isnan(ice.frozen_through_hours(5.0, np.nan, 4.0, 10.0))
    assert np.isnan(ice.thaw_hours(0.5, np.nan, 10.0))


def test_circuits_are_broadcast():
    assert ice.first_ice_hours([5.0, 2.0], -5.0, np.array([[1.0], [4.0], [9.0]])).shape == (3, 2)
