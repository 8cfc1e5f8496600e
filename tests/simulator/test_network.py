"""Heat between lumps: it cools as calculus says, and none of it gets lost."""

from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from simulator.ice import FUSION_J_KG, LIQUID_J_KG_K, Liquids
from simulator.network import Network, Plan


def test_a_building_of_one_node_cools_exponentially():
    # T(t) = To + (T0 - To) exp(-t/tau): 7 °C inside, -10 °C outside, tau 12 h reaches 0 °C in
    # 12 ln(17/10) = 6.37 h.
    plan = Plan()
    outside = plan.boundary(-10.0)
    inside = plan.node(12.0 * 3600.0 * 100.0, 7.0)
    plan.connect(inside, outside, 100.0)
    network = Network(plan, step_s=60.0)
    hours = 0.0
    while network.temp_c[inside] > 0.0:
        network.advance(network.flows_w())
        hours += 1.0 / 60.0
    # One step is 1/60 h; explicit steps of tau/720 are 0.07 % quick.
    assert hours == pytest.approx(12.0 * np.log(1.7), abs=0.03)


def test_two_coupled_nodes_follow_the_matrix_exponential():
    from scipy.linalg import expm

    plan = Plan()
    outside = plan.boundary(0.0)
    air, slab = plan.node(4e6, 10.0), plan.node(30e6, 8.0)
    plan.connect(air, outside, 300.0)
    plan.connect(air, slab, 400.0)
    network = Network(plan, step_s=30.0)
    for _ in range(10 * 120):
        network.advance(network.flows_w())
    rates = np.array([[-700.0 / 4e6, 400.0 / 4e6], [400.0 / 30e6, -400.0 / 30e6]])
    expected = expm(rates * 36000.0) @ np.array([10.0, 8.0])
    assert_allclose(network.temp_c[[air, slab]], expected, atol=0.02)


def test_all_heat_that_leaves_is_found_outside_even_while_water_freezes():
    rng = np.random.default_rng(5)
    plan = Plan()
    outside = plan.boundary(-12.0)
    metal = [plan.node(float(c), 4.0) for c in rng.uniform(2e4, 1e5, 6)]
    metal_j_k, mass_kg = rng.uniform(2e3, 2e4, 3), np.array([0.2, 0.5, 1.0])
    fraction = np.array([0.0, 0.15, 0.3])
    water = [
        plan.node(float(m + kg * LIQUID_J_KG_K), 4.0)
        for m, kg in zip(metal_j_k, mass_kg, strict=True)
    ]
    for one, other in pairwise(metal):
        plan.connect(one, other, float(rng.uniform(1.0, 5.0)))
    plan.connect(metal[0], outside, 8.0)
    for node, neighbour in zip(water, metal[3:], strict=True):
        plan.connect(node, neighbour, 2.0)
    network = Network(plan, step_s=60.0)
    liquids = Liquids(metal_j_k, mass_kg, fraction, np.full(3, 4.0), np.zeros(3))
    start_j = liquids.heat_j.sum() + (network.capacity_j_k[metal] * network.temp_c[metal]).sum()
    gone_j = 0.0
    for _ in range(3 * 1440):
        flows = network.flows_w()
        gone_j += flows[outside] * 60.0
        temp = liquids.warm(flows[water], 60.0)
        network.advance(flows)
        network.temp_c[water] = temp
    end_j = liquids.heat_j.sum() + (network.capacity_j_k[metal] * network.temp_c[metal]).sum()
    assert liquids.ice_shares()[0] > 0.9
    assert start_j - end_j == pytest.approx(gone_j, rel=1e-9)
    # And the latent part of it is really in there: more left than sensible heat could explain.
    assert gone_j > 0.2 * FUSION_J_KG


def test_a_step_too_long_for_the_quickest_node_is_refused():
    plan = Plan()
    outside = plan.boundary(0.0)
    plan.connect(plan.node(100.0, 5.0), outside, 10.0)
    with pytest.raises(ValueError, match="needs steps of 5 s or less"):
        Network(plan, step_s=60.0)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_a_node_without_capacity_is_refused(bad):
    with pytest.raises(ValueError, match="not > 0"):
        Plan().node(bad, 0.0)
