"""Trapped liquid along a series: against a fine integration, and its energy balance."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.physics import ice
from monitor.physics.freezing import freezing_series
from tests.tried import tried

BODY = {"lag_h": 2.4, "heat_capacity_kj_k": 24.0, "liquid_kg": 0.4}


def weather(seed: int, n: int = 60, mean_c: float = -1.0) -> tuple[np.ndarray, np.ndarray]:
    dice = np.random.default_rng(seed)
    hours = np.cumsum(dice.uniform(0.2, 1.5, n))
    return hours, 6 * np.sin(hours / 24 * 2 * np.pi) + dice.normal(0, 2, n) + mean_c


def test_agrees_with_a_fine_integration_of_enthalpy():
    hours, air = weather(3)
    lag, mass, capacity = (
        np.array([0.5, 2.4, 6.0]),
        np.array([0.1, 0.4, 2.0]),
        np.array([2, 24, 12.0]),
    )
    course = freezing_series(
        hours, air, lag_h=lag, heat_capacity_kj_k=capacity, liquid_kg=mass, start_c=3.0
    )
    latent = mass * 333.5
    solid_capacity = np.maximum(capacity - mass * (4.19 - 2.1), capacity / 2)
    loss = capacity / lag
    heat = capacity * 3.0
    for i in range(1, hours.size):
        n = 1000
        step = (hours[i] - hours[i - 1]) / n
        for k in range(n):
            now = air[i - 1] + (air[i] - air[i - 1]) * (k + 0.5) / n
            solid = (heat + latent) / solid_capacity
            body = np.where(heat > 0, heat / capacity, np.where(heat < -latent, solid, 0.0))
            heat = heat + step * loss * (now - body)
        fraction = np.clip(-heat / latent, 0, 1)
        # 2e-3: what a thousand Euler steps an hour leave.
        np.testing.assert_allclose(course.ice_fraction[:, i], fraction, atol=2e-3)


@settings(max_examples=tried(15), deadline=None)
@given(st.integers(0, 10_000), st.floats(-8, 4), st.floats(0.3, 8), st.floats(0.05, 2))
def test_energy_balance_of_freezing_and_thawing_closes(seed, mean_c, lag_h, liquid_kg):
    hours, air = weather(seed, 30, mean_c)
    capacity = 12.0
    fine = np.unique(np.concatenate([np.linspace(hours[0], hours[-1], 1500), hours]))
    course = freezing_series(
        fine,
        np.interp(fine, hours, air),
        lag_h=lag_h,
        heat_capacity_kj_k=capacity,
        liquid_kg=liquid_kg,
        start_c=2.0,
    )
    body, share = course.body_c[0], course.ice_fraction[0]
    solid_capacity = max(capacity - liquid_kg * (4.19 - 2.1), capacity / 2)
    held = np.where(body > 0, capacity * body, solid_capacity * body) - 333.5 * liquid_kg * share
    flow = capacity / lag_h * (np.interp(fine, hours, air) - body)
    gained = np.concatenate([[0], np.cumsum(0.5 * (flow[1:] + flow[:-1]) * np.diff(fine))])
    scale = 333.5 * liquid_kg + capacity
    assert np.abs(held - held[0] - gained).max() < 2e-3 * scale


@settings(max_examples=tried(60), deadline=None)
@given(st.integers(0, 10_000), st.floats(-8, 4))
def test_ice_stays_between_none_and_all_and_only_at_the_ice_point(seed, mean_c):
    hours, air = weather(seed, 80, mean_c)
    course = freezing_series(hours, air, **BODY, start_c=5.0)
    body, share = course.body_c[0], course.ice_fraction[0]
    assert np.all((share >= 0) & (share <= 1))
    assert np.all(body[(share > 0) & (share < 1)] == 0.0)
    assert np.all(body[share == 0] >= 0.0)
    assert np.all(body[share == 1] <= 0.0)


@settings(max_examples=tried(20), deadline=None)
@given(st.floats(1, 10), st.floats(-20, -1))
def test_steady_air_gives_the_closed_forms(start_c, air_c):
    needed = ice.degree_hours_to_solid(0.4, ice.conductance(24.0, 2.4))
    hours = np.arange(0, 60, 1.0)
    course = freezing_series(hours, np.full(hours.size, air_c), **BODY, start_c=start_c)
    first = ice.first_ice_hours(start_c, air_c, 2.4)
    assert course.first_ice_h[0] == pytest.approx(first, abs=1e-6)
    solid = ice.frozen_through_hours(start_c, air_c, 2.4, needed)
    assert course.frozen_through_h[0] == pytest.approx(solid, abs=1e-6)


def test_thaw_takes_the_degree_hours_that_froze_it():
    needed = float(ice.degree_hours_to_solid(0.4, ice.conductance(24.0, 2.4)))
    hours = np.linspace(0, needed / 5, 50)
    course = freezing_series(hours, np.full(50, 5.0), **BODY, start_c=0.0, start_ice=1.0)
    assert course.ice_fraction[0, -2] > 0.0
    assert course.ice_fraction[0, -1] == pytest.approx(0.0, abs=1e-9)
    assert ice.thaw_hours(1.0, 5.0, needed) == pytest.approx(hours[-1])


def test_dipping_below_the_ice_point_between_two_warm_readings_cannot_be_missed():
    # Air straight from 1 to -6 to 1 °C at three readings: the times are inside the steps.
    course = freezing_series(
        [0, 2, 4], [1, -6, 1], lag_h=0.2, heat_capacity_kj_k=2.0, liquid_kg=0.1
    )
    assert 0 < course.first_ice_h[0] < 2


def test_no_credit_for_supercooling():
    course = freezing_series([0, 1], [-3, -3], **BODY)  # starts as the air's own
    assert course.body_c[0, 0] == 0.0
    assert course.first_ice_h[0] == 0.0


def test_after_a_gap_nothing_is_known():
    course = freezing_series([0, 1, 2, 9, 10], [3, 2, 1, -9, -9], **BODY)
    assert np.all(np.isnan(course.ice_fraction[0, 3:]))
    assert np.isnan(course.first_ice_h[0])


def test_no_frost_within_the_series_is_told_from_not_knowing():
    course = freezing_series([0, 1, 2], [3, 2, 1], **BODY)
    assert np.isinf(course.first_ice_h[0])


def test_parameters_of_nothing_are_refused():
    with pytest.raises(ValueError, match="above 0"):
        freezing_series([0, 1], [0, 0], lag_h=1.0, heat_capacity_kj_k=0.0, liquid_kg=1.0)
