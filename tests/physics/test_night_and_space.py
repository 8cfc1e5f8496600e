"""The night's low, a space without heat, opening up, and a humidity sensor's check."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics import building, humidity_check, night_low, ventilation
from monitor.physics.lag import lag_response


def nights(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    dice = np.random.default_rng(n)
    air, dew = dice.normal(3, 3, n), dice.normal(-4, 3, n)
    return air, dew, 0.6 * air - 5 + dice.normal(0, 0.8, n)


def test_fit_tells_its_own_error_and_its_low_edge():
    fit = night_low.fit_lows(*nights(400))
    assert fit.error_k == pytest.approx(0.8, abs=0.1)
    assert fit.low_edge_k == pytest.approx(-1.28 * 0.8, abs=0.15)  # tenth percentile of a normal
    assert fit.nights == 400


def test_fit_leaves_out_nights_with_holes_and_refuses_too_few():
    air, dew, low = nights(12)
    air[:3] = np.nan
    assert np.isnan(night_low.fit_lows(air, dew, low).slope_air)
    assert night_low.fit_lows(air, dew, low).nights == 9


@given(st.floats(-10, 15), st.floats(0.5, 20), st.floats(4, 18), st.floats(0.05, 0.95))
def test_trend_passes_a_threshold_when_it_is_said_to(air_c, fall_k, night_h, share):
    low, threshold = air_c - fall_k, air_c - share * fall_k
    hour = night_low.hour_of_passing(threshold, air_c, low, night_h)
    assert night_low.night_trend(hour, air_c, low, night_h) == pytest.approx(threshold, abs=1e-9)


def test_trend_outside_its_hours_is_not_known():
    assert np.isnan(night_low.night_trend([1.9, 15.1], 5.0, -5.0, 15.0)).all()
    assert np.isinf(night_low.hour_of_passing(-9.0, 5.0, -5.0, 15.0))


def test_course_of_the_night_gives_its_low_but_not_too_early():
    # Parton & Logan's own curve, put back.
    hours = np.array([4.0, 7.0, 12.0])
    now = -4.0 + (6.0 + 4.0) * np.exp(-2.2 * hours / 14.0)
    np.testing.assert_allclose(
        night_low.low_from_fall_so_far(6.0, now, hours, 14.0), -4.0, atol=1e-9
    )
    assert np.isnan(night_low.low_from_fall_so_far(6.0, 5.0, 2.0, 14.0))


@given(st.floats(1, 20), st.floats(-20, -0.5), st.floats(0.5, 60))
def test_steady_forecast_gives_the_closed_form(inside_c, outside_c, lag_h):
    hours = np.arange(0, 400, 1.0)
    reached = building.time_of_reaching(0.0, hours, np.full(400, outside_c), inside_c, lag_h)
    closed = float(building.hours_to_reach(0.0, inside_c, outside_c, lag_h))
    assert reached == (pytest.approx(closed, abs=1e-6) if closed <= 399 else np.inf)


def test_a_forecast_with_a_gap_is_not_trusted_beyond_it():
    reached = building.time_of_reaching(0.0, [0, 1, 9, 10], [-5, -5, -5, -5], 8.0, 12.0)
    assert np.isnan(reached)


def test_short_and_long_time_constant_give_a_range():
    hours = np.arange(0, 48.0)
    early, late = building.time_of_reaching(0.0, hours, np.full(48, -6.0), 8.0, [6.0, 12.0])
    assert late == pytest.approx(2 * early)


def test_heat_that_keeps_running_can_hold_a_space():
    assert np.isinf(building.hours_to_reach(0.0, 8.0, -6.0, 12.0, lift_k=7.0))
    assert building.cooled_to(8.0, -6.0, 1000.0, 12.0, 7.0) == pytest.approx(1.0)


def test_space_is_fitted_from_changing_weather():
    hours = np.arange(0, 40, 0.5)
    outside = -5 + 3 * np.sin(hours / 4)
    inside = lag_response(hours, outside, 11.0, start_c=8.0).body_c
    assert building.fit_space(hours, outside, inside).lag_h == pytest.approx(11.0, rel=1e-3)


def test_readings_that_did_not_cool_tell_no_time_constant():
    assert np.isnan(building.lag_of_two_readings(6.0, 10.0, -2.0, 5.0))


def test_opening_up_by_water_content_even_where_relative_humidity_says_otherwise():
    # Trade rule with numbers: 5 °C 85 % inside; a warm spell of 12 °C 60 % wets though its RH
    # is lower; -2 °C 95 % dries though its RH is higher.
    effect = ventilation.vent_effect(5.0, 85.0, [12.0, -2.0], [60.0, 95.0], metal_c=4.0)
    assert list(effect.drying) == [-1.0, 1.0]
    assert np.all(np.sign(effect.dew_point_k) == [1, -1])
    assert np.all(np.sign(effect.removed_g_m3) == [-1, 1])
    assert list(effect.wets_metal) == [True, False]


def test_a_difference_within_the_sensors_error_is_none():
    assert ventilation.vent_effect(8.0, 75.0, 8.0, 73.0).drying == 0.0


def test_unknown_air_gives_no_verdict():
    assert np.isnan(ventilation.vent_effect([np.nan], [75.0], [8.0], [73.0]).drying[0])


@pytest.mark.parametrize(
    ("salt", "coefficients"),
    [
        # Greenspan 1977, polynomials in °C (from memory).
        ("MgCl2", (33.6686, -0.797397e-2, -0.108988e-2, 0.0)),
        ("NaCl", (75.5164, 0.0398321, -0.265459e-2, 0.2848e-4)),
        ("KCl", (88.6190, -0.193340, 0.899706e-3, 0.0)),
        ("K2SO4", (98.7792, -0.0590502, 0.0, 0.0)),
    ],
)
def test_salts_agree_with_greenspans_polynomials(salt, coefficients):
    t = np.linspace(0, 30, 31)
    fitted = sum(a * t**power for power, a in enumerate(coefficients))
    np.testing.assert_allclose(humidity_check.salt_humidity(salt, t), fitted, atol=0.2)


def test_salts_outside_their_table_are_not_known():
    assert np.isnan(humidity_check.salt_humidity("NaCl", 35.0))
    assert np.isnan(humidity_check.salt_humidity("K2CO3", 2.0))
