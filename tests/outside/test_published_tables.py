"""Published tables and worked examples, typed in with their origin."""

import numpy as np
import pytest

from monitor.physics import antifreeze, battery, mould, night_low, wetness
from monitor.physics.ice import FILL_LIMIT
from monitor.physics.moist_air import (
    dew_point,
    humidity_ratio,
    saturation_pressure_ice,
    saturation_pressure_water,
)


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa", "content"),
    [
        # ASHRAE Handbook of Fundamentals, table of moist air at saturation, 101.325 kPa: vapour
        # pressure and humidity ratio (from memory, as several libraries' tests carry it). The
        # humidity ratio there has the enhancement factor, 0.5 %, which we leave out.
        (-20.0, 103.24, 0.0006373),
        (-5.0, 401.74, 0.0024863),
        (5.0, 872.6, 0.005425),
        (25.0, 3169.7, 0.020173),
        (50.0, 12351.3, 0.086863),
    ],
)
def test_ashrae_table_of_saturated_moist_air(temperature_c, pressure_pa, content):
    if temperature_c < 0:
        ours = saturation_pressure_ice(temperature_c)
        ratio = 0.621945 * ours / (101325 - ours)
    else:
        ours = saturation_pressure_water(temperature_c)
        ratio = humidity_ratio(temperature_c, 100.0)
    assert ours == pytest.approx(pressure_pa, rel=1e-3)
    assert ratio == pytest.approx(content, rel=7e-3)


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa"),
    [
        # WMO-No. 8, Guide to Instruments and Methods of Observation: its Magnus form over water,
        # 611.2 exp(17.62 t / (243.12 + t)) Pa, good to 0.3 % from 0 to 60 °C.
        (t, 611.2 * np.exp(17.62 * t / (243.12 + t)))
        for t in (-30.0, -10.0, 0.0, 20.0, 40.0)
    ],
)
def test_wmo_magnus_form(temperature_c, pressure_pa):
    assert saturation_pressure_water(temperature_c) == pytest.approx(pressure_pa, rel=4e-3)


def test_ashrae_ice_points_of_ethylene_glycol():
    # ASHRAE Fundamentals, physical properties of secondary coolants (from memory).
    mass = np.array([0.10, 0.20, 0.30, 0.40, 0.50])
    found = antifreeze.ice_point(mass, "ethylene")
    np.testing.assert_allclose(found, [-3.2, -7.8, -14.1, -22.3, -33.8], atol=0.05)


def test_ashrae_ice_points_of_propylene_glycol():
    # ASHRAE Fundamentals (from memory): within 0.6 K to 40 %, 1.5 K above, ours the warmer.
    mass = np.arange(0.05, 0.601, 0.05)
    table = [-1.6, -3.3, -5.1, -7.1, -9.6, -12.7, -16.4, -21.1, -26.7, -33.5, -41.6, -51.1]
    difference = antifreeze.ice_point(mass) - table
    assert np.all(difference >= -0.01)
    assert np.all(difference[mass <= 0.4] <= 0.61)
    assert np.all(difference <= 1.61)


def test_dilute_mixes_obey_the_freezing_point_law():
    # 1.86 K for each mole in a kilogram of water; propylene glycol has 76.09 g/mol. 0.15 K is
    # what the table's warm side and the first curvature take.
    mass = np.array([0.025, 0.05, 0.075, 0.10])
    law = -1.86 * mass / (1 - mass) / 0.07609
    np.testing.assert_allclose(antifreeze.ice_point(mass), law, atol=0.2)


@pytest.mark.parametrize(
    ("residual_floz", "strength", "ice_point_f"),
    [(0, 0.30, 9), (4, 0.235, 16), (8, 0.193, 20), (14, 0.152, 23)],
)
def test_fourteen_ounces_of_30_percent_product_meet_water(residual_floz, strength, ice_point_f):
    # Mass balance with CoolProp's densities; the trade's own pour is 14 US fl oz.
    found = antifreeze.mix(0.30, 14 * 0.0295735, residual_floz * 0.0295735)
    assert found == pytest.approx(strength, abs=0.001)
    assert antifreeze.ice_point(found) * 1.8 + 32 == pytest.approx(ice_point_f, abs=0.6)


@pytest.mark.parametrize(
    ("gravity", "freezes_f"),
    [(1.100, 19), (1.150, 5), (1.200, -16), (1.250, -62), (1.280, -90)],
)
def test_electrolyte_table_of_the_army(gravity, freezes_f):
    # US Army ordnance course OD1002, in °F. 1.5 K is the spread between the two tables.
    found = battery.electrolyte_freezing_point(gravity)
    assert found == pytest.approx((freezes_f - 32) / 1.8, abs=1.5)


def test_fao_worked_example():
    # FAO Environment and Natural Resources Series 10 (2005), sample nights as carried by the R
    # package frost, whose documentation prints the prediction for 10 and 2 °C.
    air = [3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6]
    dew = [-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1]
    low = [-3.1, -5.0, -6.3, -5.4, -4.0, -2.5, -4.8, -5.0, -4.4, -3.3]
    fit = night_low.fit_lows(air, dew, low)
    assert fit.low(10.0, 2.0) == pytest.approx(-0.7409219, abs=1e-6)
    assert fit.r_squared == pytest.approx(0.67, abs=0.01)
    assert fit.error_k == pytest.approx(0.63, abs=0.01)


@pytest.mark.parametrize(
    ("temperature", "humidity", "wet"),
    [(0.1, 80.1, True), (0.0, 95.0, False), (10.0, 80.0, False), (25.0, 95.0, True)],
)
def test_iso_9223_wet_hour(temperature, humidity, wet):
    # ISO 9223: RH above 80 % and temperature above 0 °C, both strict.
    assert bool(wetness.is_wet(temperature, humidity)) is wet


@pytest.mark.parametrize(
    ("temperature", "critical"), [(1, 97.0), (5, 88.0), (10, 82.0), (15, 80.0), (20, 80.0)]
)
def test_hukka_and_viitanens_critical_humidity(temperature, critical):
    # Hukka & Viitanen 1999, Wood Sci. Technol. 33, 475-485, as read in two open implementations.
    assert mould.critical_humidity(temperature) == pytest.approx(critical, abs=0.1)


def test_mould_on_pine_at_20_degrees_and_97_percent_takes_ten_days():
    # Hukka & Viitanen 1999: 1.48 weeks.
    assert 7 * mould.weeks_to_first_growth(20.0, 97.0) == pytest.approx(10.4, abs=0.1)


def test_painters_example_of_dew_point():
    # ISO 8502-4 tabulates the dew point for painters; 20 °C and 50 % give 9.3 °C there (from
    # memory).
    assert dew_point(20.0, 50.0) == pytest.approx(9.3, abs=0.05)


def test_a_closed_pocket_more_than_nine_tenths_full_loads_its_walls():
    # Densities of water (999.84) and ice (916.7 kg/m³) at 0 °C: 91.7 %.
    assert pytest.approx(916.7 / 999.84, abs=0.0005) == FILL_LIMIT
