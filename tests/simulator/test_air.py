"""The simulator's moist air against psychrolib, which carries the same published form."""

import numpy as np
import psychrolib
import pytest
from numpy.testing import assert_allclose

from simulator.air import (
    density_of,
    dew_point,
    relative_humidity,
    saturation_over_ice,
    saturation_over_water,
    surface_density,
)


@pytest.fixture(autouse=True)
def _si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("air_c", [0.5, 5.0, 20.0, 45.0])
def test_saturation_over_water_agrees_with_psychrolib(air_c):
    # psychrolib 2.5, GetSatVapPres: Hyland and Wexler; it rounds its constants alike.
    assert_allclose(saturation_over_water(air_c), psychrolib.GetSatVapPres(air_c), rtol=2e-4)


@pytest.mark.parametrize("air_c", [-40.0, -20.0, -5.0, -0.5])
def test_saturation_over_ice_agrees_with_psychrolib(air_c):
    assert_allclose(saturation_over_ice(air_c), psychrolib.GetSatVapPres(air_c), rtol=2e-4)


def test_supercooled_saturation_agrees_with_a_form_made_for_it():
    # Murphy and Koop 2005, equation 10 (coefficients from memory), valid 123 to 332 K. 2 % is
    # what Hyland and Wexler are off when carried below their range.
    kelvin = np.array([243.15, 253.15, 263.15, 273.15])
    ln = np.log(kelvin)
    first = 54.842763 - 6763.22 / kelvin - 4.210 * ln + 0.000367 * kelvin
    second = 53.878 - 1331.22 / kelvin - 9.44523 * ln + 0.014025 * kelvin
    expected = np.exp(first + np.tanh(0.0415 * (kelvin - 218.8)) * second)
    assert_allclose(saturation_over_water(kelvin - 273.15), expected, rtol=0.02)


def test_humid_air_that_a_handbook_chart_shows():
    # psychrolib: 20 °C, 50 % RH has its dew point at 9.27 °C.
    vapour_pa = 0.5 * saturation_over_water(20.0)
    expected = psychrolib.GetTDewPointFromRelHum(20.0, 0.5)
    assert_allclose(dew_point(vapour_pa), expected, atol=0.01)
    assert_allclose(relative_humidity(density_of(vapour_pa), 20.0), 50.0, rtol=1e-9)


def test_a_cold_surface_has_ice_and_a_warm_one_water():
    surface_c = np.array([-10.0, 10.0])
    vapour_pa = np.array([saturation_over_ice(-10.0), saturation_over_water(10.0)])
    # The table is straight within 0.05 K.
    assert_allclose(surface_density(surface_c), density_of(vapour_pa), rtol=1e-5)
