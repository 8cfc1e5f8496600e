"""Numbers of the trade, and mixes in fluid ounces, as the record adds them up."""

import pytest
from CoolProp.CoolProp import PropsSI

from monitor.craft.layup import Act, Liquid, Outflow, Product
from monitor.craft.protection import Basis, LayupState
from tests.craft.scene import FLOZ, PINK, held, record, work

WATER_DENSITY = 998.2  # kg/m³ at 20 °C, IAPWS-95


def poured(product: Product, floz: float, residual_floz: float):
    entry = work(
        Act.ANTIFREEZE_POURED,
        0,
        "cylinder-passages",
        product=product,
        quantity_l=floz * FLOZ,
        residual_l=residual_floz * FLOZ,
        outflow=Outflow.SEEN,
    )
    drained = work(Act.DRAINED, -1, "cylinder-passages")  # a residual needs a drain on record
    return held(record(drained, entry))["cylinder-passages"]


def coolprop_mix(strength: float, poured_floz: float, water_floz: float, fluid: str):
    density = PropsSI("D", "T", 293.15, "P", 101325, f"INCOMP::{fluid}[{strength}]")
    product_kg = density * poured_floz
    mixed = strength * product_kg / (product_kg + WATER_DENSITY * water_floz)
    ice = PropsSI("T_freeze", "T", 293.15, "P", 101325, f"INCOMP::{fluid}[{mixed}]") - 273.15
    return mixed, ice


@pytest.mark.parametrize("water_floz", [0, 2, 4, 8, 14])
@pytest.mark.parametrize("strength", [0.25, 0.30, 0.35, 0.50])
def test_propylene_mixes_agree_with_coolprop(strength, water_floz):
    product = Product(name="pink", liquid=Liquid.PROPYLENE, strength=strength)
    mixed, ice_c = coolprop_mix(strength, 14, water_floz, "MPG")
    one = poured(product, 14, water_floz)
    assert one.basis is Basis.COMPUTED
    assert one.glycol_mass_fraction == pytest.approx(mixed, abs=0.002)
    # Straight lines between rows, on the warm side of the correlation by at most 0.3 K.
    assert ice_c - 0.01 <= one.ice_point_c <= ice_c + 0.45


@pytest.mark.parametrize("water_floz", [0, 4, 8, 14])
@pytest.mark.parametrize("strength", [0.25, 0.30])
def test_ethylene_mixes_agree_with_coolprop(strength, water_floz):
    product = Product(name="green", liquid=Liquid.ETHYLENE, strength=strength)
    mixed, ice_c = coolprop_mix(strength, 14, water_floz, "MEG")
    one = poured(product, 14, water_floz)
    assert one.glycol_mass_fraction == pytest.approx(mixed, abs=0.002)
    # The ASHRAE table and CoolProp's correlation part by up to 0.5 K below 30 %.
    assert one.ice_point_c == pytest.approx(ice_c, abs=0.6)


# ASHRAE Handbook Fundamentals, secondary coolants, freezing points by mass (from memory).
@pytest.mark.parametrize(
    ("liquid", "strength", "ice_c", "tolerance_k"),
    [
        (Liquid.PROPYLENE, 0.10, -3.3, 0.6),
        (Liquid.PROPYLENE, 0.20, -7.1, 0.6),
        (Liquid.PROPYLENE, 0.30, -12.7, 0.6),
        (Liquid.PROPYLENE, 0.40, -21.1, 0.7),
        (Liquid.PROPYLENE, 0.50, -33.5, 1.6),
        (Liquid.ETHYLENE, 0.20, -7.8, 0.1),
        (Liquid.ETHYLENE, 0.30, -14.1, 0.1),
        (Liquid.ETHYLENE, 0.50, -33.8, 0.1),
    ],
)
def test_undiluted_product_ices_where_the_ashrae_table_says(liquid, strength, ice_c, tolerance_k):
    product = Product(name="jug", liquid=liquid, strength=strength)
    assert poured(product, 14, 0).ice_point_c == pytest.approx(ice_c, abs=tolerance_k)


@pytest.mark.parametrize(("water_floz", "ice_c"), [(4, -8.9), (8, -6.8), (14, -5.0)])
def test_fourteen_ounces_of_pink_into_what_was_left(water_floz, ice_c):
    # Common practice pours 14 fl oz; the ice points are CoolProp's, worked for this pour.
    assert poured(PINK, 14, water_floz).ice_point_c == pytest.approx(ice_c, abs=0.2)


def test_a_burst_rating_is_never_an_ice_point():
    # A published storage note of a watermaker's maker: sold as "-50 F", about a quarter of
    # glycol, slush from about -10 °C (15 F), burst protection to about -18 °C (0 F).
    rated = Product(name="-50 F", liquid=Liquid.PROPYLENE, label_burst_c=-45.6)
    one = poured(rated, 14, 0)
    assert one.ice_point_c == pytest.approx(-10, abs=1.0)
    assert one.burst_point_c == pytest.approx(-18, abs=1.0)


def test_one_pour_onto_as_much_water_halves_the_rating_and_more():
    # The same note: cut in half by water left behind it holds only to about -4 °C (25 F).
    rated = Product(name="-50 F", liquid=Liquid.PROPYLENE, label_burst_c=-45.6)
    assert poured(rated, 14, 14).ice_point_c == pytest.approx(-4, abs=0.5)


def test_unmeasured_slush_gets_no_burst_credit_below_minus_eighteen():
    strong = Product(name="35 %", liquid=Liquid.PROPYLENE, strength=0.35)
    assert poured(strong, 14, 0).burst_point_c == -18.0


def test_an_ethanol_blend_has_no_ice_point_on_record():
    # A sailing magazine's test found that refractometers cannot read them.
    blend = Product(name="blend", liquid=Liquid.ETHANOL, strength=0.30)
    assert poured(blend, 14, 0).state is LayupState.UNPROVEN
