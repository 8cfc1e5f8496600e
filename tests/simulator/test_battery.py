"""Batteries: freezing against published tables, charge in and out, a maintainer's stages."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from simulator.battery import (
    FLOAT,
    OFF,
    Bank,
    Battery,
    freezing_point,
    gravity_of,
    ice_share,
    rested_voltage,
)

DAY_S = 86400.0


def run(bank, days, battery_c=25.0, start_s=0.0):
    temp = np.full(len(bank.batteries), battery_c)
    steps = round(days * DAY_S / 300.0)
    for step in range(steps):
        bank.step(start_s + step * 300.0, temp, 300.0)
    return start_s + steps * 300.0


@pytest.mark.parametrize(
    ("charge", "freezes_c"), [(0.2069, -15.0), (0.5517, -27.2), (0.724, -37.2)]
)
def test_freezing_points_agree_with_another_published_table(charge, freezes_c):
    # Storage table of a powersports owner's manual: gravity 1.150, 1.200, 1.225. 2.5 K: between
    # its rows the table the simulator uses is a straight line over a bent curve.
    assert_allclose(freezing_point(charge), freezes_c, atol=2.5)


def test_a_flat_battery_freezes_in_a_common_winter_and_a_full_one_does_not():
    assert -12.0 < freezing_point(0.0) < -8.0
    assert freezing_point(1.0) < -50.0
    assert ice_share(0.0, -9.0) == 0.0
    assert ice_share(0.0, -14.0) > 0.0


def test_charge_and_gravity_go_with_the_rested_voltage():
    # Common check of flooded cells: open voltage is gravity + 0.845 a cell (from memory), 0.1 V.
    for charge in (0.0, 0.5, 1.0):
        assert rested_voltage(charge) == pytest.approx(6 * (gravity_of(charge) + 0.845), abs=0.15)


def test_self_discharge_halves_with_each_ten_kelvin():
    batteries = [Battery(maintained=False, loss_month=0.05)] * 1
    warm, cold = Bank(batteries), Bank(batteries)
    run(warm, 30, 25.0)
    run(cold, 30, 15.0)
    assert 1.0 - warm.charge[0] == pytest.approx(0.05, rel=1e-6)
    assert 1.0 - cold.charge[0] == pytest.approx(0.025, rel=1e-6)


def test_a_load_left_on_empties_a_small_battery_in_a_month():
    # 20 mA for 30 days is 14.4 Ah of 18.
    bank = Bank([Battery(capacity_ah=18.0, maintained=False, parasitic_a=0.02, loss_month=0.0)])
    run(bank, 30)
    assert bank.charge[0] == pytest.approx(1.0 - 14.4 / 18.0, abs=1e-6)


def test_a_maintainer_fills_a_half_empty_battery_and_floats_in_its_band():
    bank = Bank([Battery(charge=0.5)])
    run(bank, 4, 5.0)
    assert bank.stage[0] == FLOAT
    assert bank.charge[0] > 0.98
    # Float 13.6 V at 25 °C, 3 mV a cell and K: about 13.96 V at 5 °C (common practice).
    assert bank.voltage_v[0] == pytest.approx(13.6 + 0.018 * 20.0, abs=0.1)
    assert 0.0 < bank.current_a[0] < 0.1


def test_lost_mains_stop_the_current_and_the_voltage_falls_to_rest():
    bank = Bank([Battery(charge=1.0, mains_lost=((DAY_S, 3 * DAY_S),))])
    now = run(bank, 1, 5.0)
    floating = bank.voltage_v[0]
    now = run(bank, 1, 5.0, now)
    assert bank.stage[0] == OFF
    assert not bank.mains[0]
    assert bank.current_a[0] == 0.0
    assert bank.voltage_v[0] < 12.7 < floating
    run(bank, 2, 5.0, now)
    assert bank.mains[0]
    assert bank.voltage_v[0] > 13.0


def test_charge_that_goes_in_is_the_current_that_is_told():
    bank = Bank([Battery(charge=0.2, loss_month=0.0)])
    told_ah = 0.0
    for step in range(200):
        bank.step(step * 300.0, np.array([20.0]), 300.0)
        told_ah += bank.current_a[0] * 300.0 / 3600.0
    # 3 % is lost to heat on the way.
    assert (bank.charge[0] - 0.2) * 18.0 == pytest.approx(0.97 * told_ah, rel=1e-6)
