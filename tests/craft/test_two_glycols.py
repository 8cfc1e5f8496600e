"""Two glycols in one water: no table is of such a mix, so the worse of both counts."""

from dataclasses import replace

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.layup import Liquid, Product
from monitor.craft.mixture import mix_of
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.reasons import Because
from tests.craft.scene import STRONG, held, library, record, work
from tests.craft.test_less_never_more import FEW

GREEN = Product(name="green, 50 %", liquid=Liquid.ETHYLENE, strength=0.50)
SEEN = {"outflow": "full colour"}
FLUIDS = {Liquid.ETHYLENE: "MEG", Liquid.PROPYLENE: "MPG"}
PURE = {Liquid.ETHYLENE: 1113.2, Liquid.PROPYLENE: 1036.1}  # kg/m³ at 20 °C, handbook of chemistry
WATER = 998.2  # kg/m³ at 20 °C


def box(*entries):
    return held(record(*entries))["water-box"]


def poured(product, hours, litres):
    return work("antifreeze-poured", hours, "water-box", product=product, quantity_l=litres, **SEEN)


def freezes_c(share, liquid):
    """Freezing point by the correlation of an outside library, for a share of the volume."""
    glycol = share * PURE[liquid]
    mass = glycol / (glycol + (1.0 - share) * WATER)
    fluid = f"INCOMP::{FLUIDS[liquid]}[{mass}]"
    return PropsSI("T_FREEZE", "T", 293.15, "P", 101325, fluid) - 273.15


def share_after(product, litres, stood_l):
    """Share of the volume that a product's own glycol has over what stood there as water."""
    fluid = f"INCOMP::{FLUIDS[product.liquid]}[{product.strength}]"
    product_kg = litres / 1000.0 * PropsSI("D", "T", 293.15, "P", 101325, fluid)
    glycol = product_kg * product.strength / PURE[product.liquid]
    water = (product_kg * (1.0 - product.strength) + stood_l / 1000.0 * WATER) / WATER
    return glycol / (glycol + water)


@pytest.mark.parametrize("litres", [1.0, 2.0, 3.0, 8.0])
@pytest.mark.parametrize(("first", "second"), [(STRONG, GREEN), (GREEN, STRONG)])
def test_it_holds_what_the_worse_of_both_holds_at_the_share_of_the_last(first, second, litres):
    stood_l = library()["pwc-two-stroke"].find("water-box").circuit.volume_l
    both = box(poured(first, 0, 1.0), poured(second, 24, litres))
    share = share_after(second, litres, stood_l)
    worse_c = max(freezes_c(share, one) for one in FLUIDS)
    # CoolProp's MEG and MPG: our tables lie up to 0.6 K to the warm side below 30 %, and up to
    # 3 K above that (tests/outside/AGREEMENT.md); colder by no more than its densities differ.
    assert -0.1 <= both.ice_point_c - worse_c <= 3.0
    assert both.burst_point_c <= both.ice_point_c


def test_it_is_named_for_what_it_is_and_says_why_it_counts_so():
    both = box(poured(STRONG, 0, 1.0), poured(GREEN, 24, 3.0))
    assert both.state is LayupState.PROVEN
    assert (both.basis, both.confidence) == (Basis.COMPUTED, Confidence.LOW)
    assert both.liquid == "a mix of ethylene and propylene glycol, and water"
    assert Because.WORSE_GLYCOL in {one.because for one in both.reasons}
    assert "the one that ices and bursts sooner" in both.why


def test_a_glycol_that_nobody_named_is_still_told_so():
    bare = Product(name="jug", strength=0.5)
    some = work("antifreeze-poured", 0, "water-box", product=bare, quantity_l=1.0, **SEEN)
    both = box(some, replace(poured(GREEN, 24, 3.0), again=True))
    assert both.liquid == "glycol of a kind not on record, and water"


@FEW
@given(
    litres=st.floats(0.2, 20.0),
    before=st.floats(0.1, 5.0),
    strengths=st.tuples(st.floats(0.1, 0.6), st.floats(0.1, 0.6)),
    ethylene_last=st.booleans(),
    label_c=st.none() | st.floats(-60.0, -10.0),
)
def test_two_never_hold_more_than_either_alone(litres, before, strengths, ethylene_last, label_c):
    order = [Liquid.PROPYLENE, Liquid.ETHYLENE]
    if not ethylene_last:
        order.reverse()
    first, second = (
        Product(name=f"{one}", liquid=one, strength=share, label_burst_c=label_c)
        for one, share in zip(order, strengths, strict=True)
    )
    both = box(poured(first, 0, before), poured(second, 24, litres))
    alone = box(poured(second, 24, litres))
    assert both.ice_point_c >= alone.ice_point_c - 1e-9
    assert both.burst_point_c >= alone.burst_point_c - 1e-9


@FEW
@given(share=st.floats(0.0, 0.6), liquid=st.sampled_from(sorted(FLUIDS)))
def test_at_one_share_the_mix_is_no_better_than_either(share, liquid):
    mixed = mix_of(liquid, share, label_burst_c=None, more_kinds=True)
    alone = mix_of(liquid, share, label_burst_c=None)
    assert mixed.ice_c >= alone.ice_c
    assert mixed.burst_c >= alone.burst_c
    assert mixed.fraction <= alone.fraction + 1e-12
