"""A run of antifreeze and the circuits that it passed unnamed: they may lose, and never gain."""

from dataclasses import replace

import pytest

from monitor.craft.layup import Act, Liquid, Outflow, Product
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.reasons import Because
from tests.craft.scene import NOON, STRONG, TWO_STROKE, held, record, work

GREEN = Product(name="green, 50 %", liquid=Liquid.ETHYLENE, strength=0.5)
SEEN = {"product": STRONG, "outflow": Outflow.FULL_COLOUR}
DRY = {"dry": True}


def run(*circuits, hours=1.0, **said):
    return work(Act.ANTIFREEZE_RUN_THROUGH, hours, *circuits, **{**SEEN, **said})


def mixed(*entries, profile="pwc-two-stroke"):
    return held(record(*entries, profile=profile))


@pytest.mark.parametrize(
    ("profile", "part", "rest"),
    [
        ("head", "head-pump", "holding-tank"),
        ("fresh-water", "taps", "water-tank"),
        ("ballast", "ballast-pumps", "ballast-bags"),
    ],
)
def test_a_pump_is_mixed_with_the_water_of_its_tank_whether_the_tank_is_named_or_not(
    profile, part, rest
):
    # The tank has no such treatment of its own, and stands on the path all the same.
    alone = mixed(run(part, quantity_l=3.0), profile=profile)
    both = mixed(run(part, rest, quantity_l=3.0), profile=profile)
    assert alone[part].ice_point_c >= both[part].ice_point_c
    emptied = mixed(work("drained", 0, rest, **DRY), run(part, quantity_l=3.0), profile=profile)
    assert emptied[part].ice_point_c < alone[part].ice_point_c


def test_a_cold_engine_makes_no_mix_stronger_than_one_of_which_nobody_noted_the_heat():
    # A thermostat that does not shut lets the block's 12 L into it, named or not.
    parts = ("manifolds", "raw-pump", "lift-muffler")
    for names in (parts, ("block", *parts)):
        found = [
            mixed(run(*names, quantity_l=30.0, engine_hot=hot), profile="inboard-raw-water")
            for hot in (True, None, False)
        ]
        for name in parts:
            hot, untold, cold = (each[name].ice_point_c for each in found)
            assert cold >= untold >= hot, name


def test_a_stronger_mix_in_a_part_that_nobody_named_does_not_make_the_run_stronger():
    stood = work("antifreeze-poured", 0, "water-box", quantity_l=12.0, **SEEN)
    weak = replace(STRONG, strength=0.2)
    thin = run("hoses", quantity_l=2.0, product=weak)
    with_strong, with_water = (mixed(*done)["hoses"] for done in ((stood, thin), (thin,)))
    # 2 L of 20 % on 1 L of water in the three other circuits, and on 3 L where the box is water.
    assert with_strong.ice_point_c == pytest.approx(-4.0, abs=1.5)
    assert with_water.ice_point_c >= with_strong.ice_point_c
    weaker_box = work("antifreeze-poured", 0, "water-box", quantity_l=2.0, **SEEN)
    assert mixed(weaker_box, thin)["hoses"].ice_point_c >= with_strong.ice_point_c


def test_a_mix_that_a_run_passed_unnamed_is_thinned_and_never_made_stronger():
    full = work("antifreeze-poured", 0, "water-box", quantity_l=12.0, **SEEN)
    before = mixed(full)["water-box"]
    for litres, product in ((2.0, replace(STRONG, strength=0.2)), (2.0, STRONG), (30.0, STRONG)):
        entry = run("hoses", quantity_l=litres, product=product, again=True)
        after = mixed(full, entry)["water-box"]
        named = mixed(full, replace(entry, circuits=TWO_STROKE))["water-box"]
        assert after.ice_point_c >= before.ice_point_c
        assert after.ice_point_c >= named.ice_point_c or named.ice_point_c < before.ice_point_c
        assert after.confidence is Confidence.LOW
    thinned = mixed(full, run("hoses", quantity_l=2.0, product=replace(STRONG, strength=0.2)))
    assert thinned["water-box"].ice_point_c > before.ice_point_c + 5.0
    assert thinned["water-box"].reasons[0].because is Because.PASSED_UNNAMED
    assert "nobody named this part" in thinned["water-box"].why
    unmeasured = mixed(full, run("hoses"))["water-box"]
    # Of its 2 L the 1 L of water that stood in the rest of the path may have taken the place.
    half = before.glycol_mass_fraction / 2.0
    assert unmeasured.glycol_mass_fraction == pytest.approx(half, rel=1e-3)


def test_what_was_seen_dry_holds_what_ran_past_it():
    dry = work("drained", 0, "exhaust-jacket", **DRY)
    entry = run("cylinder-passages", "water-box", "hoses", quantity_l=12.0)
    passed = mixed(dry, entry)["exhaust-jacket"]
    assert passed.basis is Basis.COMPUTED
    assert passed.ice_point_c == mixed(dry, entry)["hoses"].ice_point_c
    assert passed.confidence is Confidence.LOW
    assert mixed(dry, run("hoses"))["exhaust-jacket"].state is LayupState.UNPROVEN
    read = mixed(dry, replace_reading(entry, -18.0))["exhaust-jacket"]
    assert (read.ice_point_c, read.basis) == (-18.0, Basis.MEASURED)


def replace_reading(entry, ice_c):
    evidence = replace(
        entry.evidence, ice_point_c=ice_c, scale=Liquid.PROPYLENE, zeroed_on=NOON.date()
    )
    return replace(entry, evidence=evidence)


def test_a_block_seen_dry_is_passed_by_only_if_nobody_noted_a_cold_engine():
    dry = work("drained", 0, "block", **DRY)
    rest = ("manifolds", "raw-pump", "lift-muffler")
    for hot in (True, None, False):
        block = mixed(
            dry, run(*rest, quantity_l=30.0, engine_hot=hot), profile="inboard-raw-water"
        )["block"]
        assert (block.basis is Basis.DRAINED) == (hot is False)


def test_a_second_glycol_that_ran_past_unnamed_spoils_what_stood_there():
    pink = work("antifreeze-poured", 0, "water-box", quantity_l=12.0, **SEEN)
    box = mixed(pink, run("hoses", quantity_l=12.0, product=GREEN))["water-box"]
    assert box.went_in == {Liquid.PROPYLENE, Liquid.ETHYLENE}
    assert box.state is LayupState.UNPROVEN
    assert "two kinds of glycol" in box.why


def test_ethylene_run_through_the_taps_makes_poison_of_the_tank_too():
    green = run("taps", quantity_l=6.0, product=GREEN)
    assert mixed(green, profile="fresh-water")["water-tank"].poison is Liquid.ETHYLENE


def test_nothing_came_out_leaves_nothing_proven_on_the_path():
    pink = work("antifreeze-poured", 0, "water-box", quantity_l=12.0, **SEEN)
    box = mixed(pink, run("hoses", quantity_l=12.0, outflow=Outflow.NONE))["water-box"]
    assert box.state is LayupState.UNPROVEN
    assert not box.blocked  # it is where somebody said that nothing came


def test_a_warm_reading_at_the_outlet_speaks_against_all_that_it_passed():
    full = work("antifreeze-poured", 0, "water-box", quantity_l=12.0, **SEEN)
    thin = replace_reading(run("hoses", quantity_l=12.0), -3.0)
    assert mixed(full, thin)["water-box"].ice_point_c == -3.0


def test_a_tank_is_thinned_by_no_more_water_than_the_rest_of_its_path_holds():
    # Poured into the tank, then pumped until it came at every tap: nobody measures that.
    poured = work("antifreeze-poured", 0, "water-tank", quantity_l=40.0, **SEEN)
    pumped = run("taps")
    before = mixed(poured, profile="fresh-water")["water-tank"]
    after = mixed(poured, pumped, profile="fresh-water")["water-tank"]
    # The taps' 1 L of water in the tank's 20 L: a twentieth of the glycol is lost at the most.
    assert after.state is LayupState.PROVEN
    share = before.glycol_mass_fraction * 19.0 / 20.0
    assert after.glycol_mass_fraction == pytest.approx(share, rel=1e-3)
    small = mixed(work("antifreeze-poured", 0, "hoses", quantity_l=2.0, **SEEN), run("water-box"))
    assert small["hoses"].state is LayupState.UNPROVEN  # its 0.2 L may be water of the rest
