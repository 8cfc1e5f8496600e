"""Batteries at rest: safe-side errors, and values that say nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics import battery
from monitor.physics.battery import charge_from_rested_voltage, freezing_point_of_charge

LEAD = pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel"])


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel", "lifepo4"])
def test_charge_rises_with_voltage_and_stays_inside_its_range(chemistry):
    volts = np.linspace(9.0, 12.6, 200)
    fraction, low, high = charge_from_rested_voltage(volts, chemistry)
    assert np.all(np.diff(fraction) >= 0)
    assert np.all((low <= fraction) & (fraction <= high) & (low >= 0) & (high <= 1))


@LEAD
def test_a_voltage_that_no_rested_battery_has_says_nothing(chemistry):
    assert np.isnan(charge_from_rested_voltage(13.6, chemistry).fraction)


def test_flooded_table_agrees_with_the_rule_of_gravity():
    # Cell voltage = specific gravity + 0.845 (from memory), within 0.1 V.
    for charge, volts in zip([0, 0.25, 0.5, 0.75, 1.0], battery._RESTED_V["flooded"], strict=True):
        gravity = battery.EMPTY_GRAVITY + charge * (battery.FULL_GRAVITY - battery.EMPTY_GRAVITY)
        assert 6 * (gravity + 0.845) == pytest.approx(volts, abs=0.1)


def test_charge_by_gravity_agrees_with_the_trades_hydrometer_card():
    # Trade's card, 80 °F (common practice, no source): 1.265, 1.225, 1.190, 1.155, 1.120.
    charged = battery.charge_from_gravity([1.265, 1.225, 1.190, 1.155, 1.120])
    np.testing.assert_allclose(charged.fraction, [1.0, 0.75, 0.5, 0.25, 0.0], atol=0.03)
    assert np.all((charged.low <= charged.fraction) & (charged.fraction <= charged.high))


def test_a_gravity_that_no_acid_of_a_battery_has_says_nothing():
    assert np.isnan(battery.charge_from_gravity([1.0, 1.3, np.nan])).all()


@given(st.floats(1.05, 1.28), st.floats(-30, 26))
def test_cold_acid_is_never_taken_for_fuller_than_it_reads(reading, electrolyte_c):
    assert battery.specific_gravity_at_27c(reading, electrolyte_c) <= reading


@given(st.floats(11.8, 12.6), st.floats(-30, 40))
def test_temperature_never_makes_a_battery_look_fuller(volts, temperature):
    at_25 = charge_from_rested_voltage(volts, "flooded").fraction
    assert charge_from_rested_voltage(volts, "flooded", temperature).fraction <= at_25


def test_lithium_in_its_flat_middle_says_next_to_nothing():
    charge = charge_from_rested_voltage(13.15, "lifepo4")
    assert charge.high - charge.low > 0.6


@given(st.floats(0, 0.99), st.floats(0.001, 0.01))
def test_an_emptier_battery_freezes_sooner(charge, more):
    assert freezing_point_of_charge(charge) > freezing_point_of_charge(charge + more)


def test_lithium_never_freezes_and_charges_beyond_full_are_not_known():
    assert np.isneginf(freezing_point_of_charge(0.0, "lifepo4"))
    assert np.isnan(freezing_point_of_charge(1.1))
    assert np.isnan(freezing_point_of_charge(-0.1, "lifepo4"))


def test_gravity_beyond_the_table_is_not_known():
    assert np.isnan(battery.electrolyte_freezing_point([1.04, 1.29])).all()


def test_a_small_load_empties_a_battery_faster_than_it_does_itself():
    # 20 mA of 14 Ah a month (arithmetic): a whole small battery.
    alone = battery.hours_until_charge(1.0, 0.0, 25.0, 0.03)
    loaded = battery.hours_until_charge(1.0, 0.0, 25.0, 0.03, 0.020, 14.0)
    assert loaded == pytest.approx(battery.HOURS_A_MONTH * 14.0 / (14.61 + 0.42), rel=1e-3)
    assert loaded < alone / 30


def test_a_limit_already_passed_takes_no_time_and_no_loss_takes_for_ever():
    assert battery.hours_until_charge(0.5, 0.75, 5.0, 0.05) == 0.0
    assert np.isinf(battery.hours_until_charge(1.0, 0.75, 5.0, 0.0))


def test_float_band_agrees_with_a_published_page():
    # One published page: 2.30 V a cell at 25 °C, 2.27 at 35, 2.33 at 15; that is 3 mV/K.
    found = battery.float_voltage([15.0, 25.0, 35.0], 2.30, -3.0, cells=1)
    np.testing.assert_allclose(found, [2.33, 2.30, 2.27], atol=1e-9)
