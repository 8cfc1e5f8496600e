"""Moist air: what must hold for every air, and what happens to values that cannot be."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics import moist_air

TEMPERATURES = st.floats(-50, 60)
HUMIDITIES = st.floats(1, 100)


@given(TEMPERATURES, HUMIDITIES)
def test_dew_point_is_never_above_the_air(temperature, humidity):
    assert moist_air.dew_point(temperature, humidity) <= temperature


@given(TEMPERATURES, HUMIDITIES, st.floats(0.01, 10), st.floats(0.01, 10))
def test_dew_point_rises_with_temperature_and_with_humidity(temperature, humidity, warmer, damper):
    here = moist_air.dew_point(temperature, humidity)
    assert moist_air.dew_point(min(temperature + warmer, 60.0), humidity) >= here
    assert moist_air.dew_point(temperature, min(humidity + damper, 100.0)) >= here


@given(TEMPERATURES, HUMIDITIES)
def test_dew_point_gives_back_the_humidity_it_came_from(temperature, humidity):
    dew_c = moist_air.dew_point(temperature, humidity)
    assert moist_air.relative_humidity(temperature, dew_c) == pytest.approx(humidity, rel=1e-6)


@given(st.floats(-50, -0.1), HUMIDITIES)
def test_frost_point_lies_above_the_dew_point_below_zero(temperature, humidity):
    dew_c = moist_air.dew_point(temperature, humidity)
    frost_c = moist_air.frost_point(temperature, humidity)
    assert dew_c <= frost_c <= 0.01


@given(TEMPERATURES, HUMIDITIES)
def test_wet_bulb_lies_between_dew_or_frost_point_and_air(temperature, humidity):
    bulb_c = moist_air.wet_bulb(temperature, humidity)
    # 2e-3: the two equations' latent heats do not quite meet the saturation formula's.
    assert moist_air.dew_point(temperature, humidity) - 2e-3 <= bulb_c <= temperature


def test_wet_bulb_solves_its_equation_everywhere():
    # The published equations put back with the answer: what is left over is not heat.
    t, rh = np.meshgrid(np.linspace(-50, 60, 111), np.linspace(0.5, 100, 100))
    bulb = moist_air.wet_bulb(t, rh)
    content = moist_air.humidity_ratio(t, rh)
    saturated = np.where(
        bulb >= 0.0,
        moist_air.humidity_ratio(np.maximum(bulb, 0.0), 100.0),
        0.621945
        * moist_air.saturation_pressure_ice(np.minimum(bulb, 0.0))
        / (101325.0 - moist_air.saturation_pressure_ice(np.minimum(bulb, 0.0))),
    )
    water = (2501 - 2.326 * bulb) * saturated - 1.006 * (t - bulb)
    water -= content * (2501 + 1.86 * t - 4.186 * bulb)
    ice = (2830 - 0.24 * bulb) * saturated - 1.006 * (t - bulb)
    ice -= content * (2830 + 1.86 * t - 2.1 * bulb)
    left_kj_kg = np.where(bulb >= 0.0, water, ice)
    free = bulb < t  # saturated air below 0 °C is over-saturated over ice: held at the air's own
    assert np.abs(left_kj_kg[free]).max() < 1e-6


def test_condensation_point_is_dew_above_zero_and_frost_below():
    warm, cold = moist_air.condensation_point([20.0, -10.0], [50.0, 80.0])
    assert warm == moist_air.dew_point(20.0, 50.0)
    assert cold == moist_air.frost_point(-10.0, 80.0)


def test_condensation_point_has_no_step_where_dew_turns_to_frost():
    air_c = np.linspace(-1, 1, 20001)
    assert np.abs(np.diff(moist_air.condensation_point(air_c, 99.0))).max() < 0.005


@pytest.mark.parametrize("humidity", [140.0, -1.0, 100.01])
@pytest.mark.parametrize(
    "function",
    [moist_air.dew_point, moist_air.frost_point, moist_air.wet_bulb, moist_air.absolute_humidity],
)
def test_one_impossible_humidity_is_an_error(function, humidity):
    with pytest.raises(ValueError, match="between 0 and 100"):
        function(20.0, humidity)


def test_impossible_values_in_an_array_become_nan_and_no_other():
    # The formulas run from -100 to 60 °C, and humidity from 0 to 100 %.
    air_c = np.array([20.0, np.nan, 20.0, 20.0, 70.0, -120.0, 20.0])
    rh = np.array([50.0, 50.0, 140.0, -1.0, 50.0, 50.0, np.nan])
    dew_c = moist_air.dew_point(air_c, rh)
    assert np.isfinite(dew_c).tolist() == [True, False, False, False, False, False, False]
    assert dew_c[0] == moist_air.dew_point(20.0, 50.0)


def test_perfectly_dry_air_has_no_dew_point():
    assert np.isnan(moist_air.dew_point(20.0, 0.0))
    assert moist_air.absolute_humidity(20.0, 0.0) == 0.0


def test_there_is_no_ice_above_the_triple_point():
    assert np.isnan(moist_air.saturation_pressure_ice(1.0))
    assert np.isnan(moist_air.frost_point(20.0, 50.0))


def test_water_and_ice_agree_at_the_triple_point():
    # IAPWS: 611.657 Pa at 0.01 °C.
    water = moist_air.saturation_pressure_water(0.01)
    ice = moist_air.saturation_pressure_ice(0.01)
    assert water == pytest.approx(611.657, rel=2e-4)
    assert ice == pytest.approx(611.657, rel=2e-4)


def test_height_changes_the_water_content_but_not_the_dew_point():
    sea, hill = moist_air.humidity_ratio(20.0, 50.0, [101325.0, 95461.0])  # 0 and 500 m, ISO 2533
    assert hill / sea == pytest.approx(1.06, abs=0.005)
