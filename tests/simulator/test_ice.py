"""Freezing by enthalpy against Plank's formula, a fine grid, and the books of heat."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from simulator.antifreeze import ice_point, ice_share
from simulator.building import Space, Spaces
from simulator.craft import Circuit, Craft, Fleet
from simulator.ice import FUSION_J_KG, Liquids
from simulator.network import Network, Plan
from tests.tried import tried


def one(metal_j_k=10e3, mass_kg=0.4, fraction=0.0, start_c=4.0, supercooling_k=0.0):
    return Liquids(
        *(np.array([x]) for x in (metal_j_k, mass_kg, fraction, start_c, supercooling_k))
    )


def freeze(air_c, diameter_m, mass_kg, wall_w_k):
    """Hours from first ice to 97 % ice of a round water body outside in steady cold air."""
    plan = Plan()
    outdoors = plan.boundary(air_c)
    rack = Space(id="rack", open_air=True, start_c=0.2)
    spaces = Spaces([rack], [0], [outdoors], plan)
    capacity_kj_k = 0.05 + mass_kg * 4.19
    box = Circuit(
        id="box", liquid_kg=mass_kg, metal_kj_k=0.05, lag_h=capacity_kj_k / wall_w_k / 3.6,
        outside=True, diameter_m=diameter_m, supercooling_k=0.0,
    )  # fmt: skip
    craft = Craft(id="K", name="K", space="rack", circuits=(box,))
    fleet = Fleet([craft], [0], [0], spaces, [outdoors], plan)
    network = Network(plan, step_s=60.0)
    hours, first = 0.0, None
    while hours < 300.0:
        network.temp_c[spaces.air] = air_c
        flows = network.flows_w()
        fleet.insulate_with_ice(flows, network.temp_c)
        circuit_c = fleet.liquids.warm(flows[fleet.node], 60.0)
        network.advance(flows)
        network.temp_c[fleet.node] = circuit_c
        hours += 1.0 / 60.0
        share = fleet.liquids.ice_shares()[0]
        if first is None and share > 0:
            first = hours
        if share > 0.97:
            return hours - first
    raise AssertionError("it never froze")


@pytest.mark.parametrize(
    ("air_c", "diameter_m", "coefficient"),
    [(-5.0, 0.05, 8.0), (-10.0, 0.12, 6.4), (-20.0, 0.12, 15)],
)
def test_a_round_water_body_freezes_in_planks_time(air_c, diameter_m, coefficient):
    # Plank 1941 for a long cylinder: t = rho L / dT (D / 4h + D^2 / 16k), k of ice 2.2 W/(m K).
    # Plank takes no sensible heat; the share left at 97 % and the ice's own cooling are in the
    # 10 %.
    mass_kg = 2.0
    area_m2 = 4.0 * mass_kg / (1000.0 * diameter_m)
    inner = diameter_m / (4.0 * coefficient) + diameter_m**2 / (16.0 * 2.2)
    expected_h = 1000.0 * FUSION_J_KG / -air_c * inner / 3600.0
    found_h = freeze(air_c, diameter_m, mass_kg, coefficient * area_m2)
    assert found_h == pytest.approx(expected_h, rel=0.10)


def test_a_round_water_body_freezes_as_on_a_fine_grid():
    # A cylinder of 0.12 m in air of -10 °C under 6.4 W/(m2 K): finite volumes in the radius,
    # enthalpy in each ring, no formula of ours in it.
    rings, radius, outer_w_m2_k, air_c, step_s = 24, 0.06, 6.4, -10.0, 1.2
    edge = np.linspace(0.0, radius, rings + 1)
    volume = np.pi * np.diff(edge**2)
    middle = 0.5 * (edge[1:] + edge[:-1])
    heat = np.zeros(rings)  # J/m, 0 = water at 0 °C
    latent, solid = 1000.0 * FUSION_J_KG * volume, 1000.0 * 2100.0 * volume
    between = 2.0 * np.pi * edge[1:-1] * 2.2 / np.diff(middle)
    skin = 2.0 * np.pi * radius / (1.0 / outer_w_m2_k + (radius - middle[-1]) / 2.2)
    hours = 0.0
    while (np.minimum(-heat / latent, 1.0) * volume).sum() < 0.97 * volume.sum():
        temp = np.minimum((heat + latent) / solid, 0.0)
        inward = between * np.diff(temp)
        heat[:-1] += inward * step_s
        heat[1:] -= inward * step_s
        heat[-1] += skin * (air_c - temp[-1]) * step_s
        hours += step_s / 3600.0
        assert hours < 100.0
    area_m2 = 4.0 * 2.0 / (1000.0 * 0.12)
    assert freeze(air_c, 0.12, 2.0, outer_w_m2_k * area_m2) == pytest.approx(hours, rel=0.10)


def test_a_block_holds_at_zero_until_its_latent_heat_is_gone():
    block = one(metal_j_k=22e3, mass_kg=0.4, start_c=1.0)
    power_w, hours_at_zero = -20.0, 0.0
    for _ in range(6000):
        temp = block.warm(np.array([power_w]), 10.0)
        hours_at_zero += 10.0 / 3600.0 if abs(temp[0]) < 0.01 else 0.0
        if temp[0] < -0.5:
            break
    # 0.4 kg x 333.5 kJ/kg at 20 W is 1.85 h; the table's cells blur each end a little.
    assert hours_at_zero == pytest.approx(0.4 * FUSION_J_KG / 20.0 / 3600.0, rel=0.03)


@settings(max_examples=tried(40), deadline=None)
@given(fraction=st.floats(0.05, 0.45), below_k=st.floats(0.5, 20.0))
def test_a_mix_is_as_icy_as_the_lever_rule_says(fraction, below_k):
    liquid = one(fraction=fraction, start_c=5.0)
    goal_c = float(ice_point(fraction)) - below_k
    for _ in range(200_000):
        temp = liquid.warm(np.array([-25.0]), 60.0)
        if temp[0] <= goal_c:
            break
    # A cell of the table is a 256th of the cooling.
    assert_allclose(liquid.ice_shares()[0], ice_share(fraction, temp[0]), atol=0.02)


def test_still_water_supercools_and_then_jumps_back_to_its_ice_point():
    still = one(supercooling_k=3.0)
    coldest = 0.0
    while not still.icing[0]:
        coldest = min(coldest, float(still.warm(np.array([-10.0]), 60.0)[0]))
    after = float(still.warm(np.array([-10.0]), 60.0)[0])
    assert coldest < -2.9
    assert after == pytest.approx(0.0, abs=0.05)
    # The heat of the jump became ice: c dT / L of the water and the metal's share.
    assert still.ice_shares()[0] == pytest.approx(-still.heat_j[0] / (0.4 * FUSION_J_KG), rel=0.02)


def test_thawing_takes_the_same_heat_as_freezing():
    block = one()
    started_j = block.heat_j[0]
    for _ in range(600):
        block.warm(np.array([-30.0]), 60.0)
    assert block.ice_shares()[0] == pytest.approx(1.0)
    for _ in range(600):
        temp = block.warm(np.array([30.0]), 60.0)
    assert block.heat_j[0] == pytest.approx(started_j, abs=1e-3)
    assert temp[0] == pytest.approx(4.0)
    assert not block.icing[0]
