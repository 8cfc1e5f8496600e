"""The autumn plan: its order, its quantities, and what it asks to be seen."""

import math
from dataclasses import replace

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.admission import faults as refusals
from monitor.craft.asking import acts_that_fit
from monitor.craft.circuit_events import Iced
from monitor.craft.layup import FOGGING, Act, Liquid, OilAppearance, Outflow, Product, Seen
from monitor.craft.mixture import mass_fraction
from monitor.craft.plan.shelf import USUAL_SHELF, Passage, ShelfProduct, dose_for
from monitor.craft.plan.start import NEW_MARGIN_K, STANDING_MARGIN_K
from monitor.craft.plan.step import Ask, JobStep, StepKind
from monitor.craft.profile import composed
from monitor.craft.rules.examine import examine
from monitor.craft.spring import spring_plan
from monitor.phrases.plan import step_sentence
from monitor.wording import Wording
from monitor.yard.assessment import Caution
from tests.craft.plan.entered import entries_for
from tests.craft.plan.follow import followed, plan
from tests.craft.scene import (
    EVE,
    NOON,
    PINK,
    SHELTERS,
    STRONG,
    TWO_STROKE,
    library,
    record,
    twelve,
    work,
)

LOW_C = -12.0
RUN = (StepKind.STABILISE_FUEL, StepKind.RUN_TREATED_FUEL, StepKind.RUN_ANTIFREEZE, StepKind.FOG)


def kinds(steps) -> list[StepKind]:
    return [step.kind for step in steps]


def the(kind: StepKind, steps) -> JobStep:
    [found] = [step for step in steps if step.kind is kind]
    return found


def shelf_product(percent: int, liquid: Liquid = Liquid.PROPYLENE) -> ShelfProduct:
    return ShelfProduct(
        id=f"p{percent}", name=f"jug {percent}", liquid=liquid, strength=percent / 100
    )


@pytest.mark.parametrize("craft", ["k1", "k6"])
def test_a_good_lay_up_leaves_nothing_to_do(craft):
    assert plan(twelve()[craft]).steps == ()


def test_fuel_is_treated_and_run_before_the_antifreeze_and_fog_comes_as_the_last_run_ends():
    found = kinds(plan(record()).steps)
    assert [one for one in found if one in RUN] == list(RUN)


def test_one_flow_path_is_one_step_with_one_quantity():
    [run] = [step for step in plan(twelve()["k12"]).steps if step.quantity_l]
    assert set(run.circuits) == set(TWO_STROKE)


def test_nothing_that_holds_is_washed_out_for_the_sake_of_the_fuel():
    """Laid up with antifreeze, and stabiliser forgotten: a run on water would undo it."""
    through = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=STRONG, ice_point_c=-30.0, quantity_l=9.0
    )
    found = kinds(plan(record(through)).steps)
    assert StepKind.RUN_TREATED_FUEL not in found
    assert StepKind.DRAIN_FUEL in found


def test_an_antifreeze_run_that_is_due_anyway_brings_the_treated_fuel_through():
    """Half of the path holds: no run on water, and the fuel goes in before the antifreeze."""
    half = work(
        "antifreeze-run-through",
        0,
        "raw-side",
        "hoses",
        product=STRONG,
        ice_point_c=-30.0,
        quantity_l=9.0,
    )
    profile = replace(
        library()["pwc-four-stroke"],
        circuits=tuple(
            replace(one, treatments=tuple(t for t in one.treatments if t.way != "pour in"))
            for one in library()["pwc-four-stroke"].circuits
        ),
    )
    found = kinds(plan(replace(record(half, profile="pwc-four-stroke"), profile=profile)).steps)
    assert StepKind.RUN_TREATED_FUEL not in found
    assert found.index(StepKind.STABILISE_FUEL) < found.index(StepKind.RUN_ANTIFREEZE)


def test_a_blocked_passage_is_found_and_drained_and_nothing_is_run_through_it():
    steps = plan(twelve()["k2"]).frost_steps
    first = the(StepKind.CLEAR_BLOCKAGE, steps)
    assert (first.circuits, first.quantity_l) == (("cylinder-passages",), None)
    assert Ask.DRY in first.asks
    assert [step for step in steps if "cylinder-passages" in step.circuits] == [first]
    assert StepKind.RUN_ANTIFREEZE not in kinds(steps)


def test_a_blocked_water_box_is_cleared_before_anything_is_put_in():
    """It cannot be drained: the blockage is opened, and then it is filled."""
    held = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=STRONG, ice_point_c=-30.0, quantity_l=9.0
    )
    stuck = work("antifreeze-poured", 1, "water-box", product=STRONG, outflow=Outflow.NONE)
    steps = plan(record(held, stuck)).frost_steps
    found = [(step.kind, step.circuits) for step in steps if "water-box" in step.circuits]
    assert found == [
        (StepKind.CLEAR_BLOCKAGE, ("water-box",)),
        (StepKind.FILL_BY_HAND, ("water-box",)),
    ]


def test_ballast_is_pumped_out_before_the_engine_runs_and_never_filled():
    steps = plan(record(profile="tow-boat")).steps
    found = kinds(steps)
    assert the(StepKind.EMPTY_TANK, steps).circuits == ("ballast-bags",)
    assert found.index(StepKind.EMPTY_TANK) < found.index(StepKind.STABILISE_FUEL)
    assert sum(step.quantity_l for step in steps if "ballast-pumps" in step.circuits) < 2.0


def test_an_iron_block_is_drained_and_probed_and_then_filled_by_hand():
    """A closed thermostat sends a run past it (TRADE, rule 8): nobody is told to run it through."""
    steps = plan(record(profile="sterndrive-raw-water")).frost_steps
    found = kinds(steps)
    assert found.index(StepKind.DRAIN_ENGINE) < found.index(StepKind.FILL_BY_HAND)
    assert StepKind.RUN_ANTIFREEZE not in found
    # Drained first, so no more than the passages hold: 12 L and 3 L.
    assert the(StepKind.FILL_BY_HAND, steps).quantity_l == pytest.approx(15.0)


@pytest.mark.parametrize("profile", sorted(library()))
def test_what_is_filled_behind_a_drain_has_its_drain_back_and_is_not_emptied_again(profile):
    open_drains, filled = set(), set()
    for step in plan(record(profile=profile)).steps:
        circuits = set(step.circuits)
        if step.act is Act.DRAINED:
            assert not circuits & filled, f"{step.kind} empties {circuits & filled}"
            open_drains |= circuits
        elif step.kind is StepKind.REFIT_DRAINS:
            open_drains -= circuits
        elif step.quantity_l:
            assert not circuits & open_drains, f"{circuits & open_drains} runs out again"
            filled |= circuits


def test_each_of_two_engines_is_fogged_as_its_own_run_ends():
    steps = plan(record(profile="jet-boat-twin")).steps
    found = [
        (step.kind, step.circuits[0].split("-")[0])
        for step in steps
        if step.kind in {StepKind.RUN_ANTIFREEZE, StepKind.FOG}
    ]
    run, fog = StepKind.RUN_ANTIFREEZE, StepKind.FOG
    assert found == [(run, "port"), (fog, "port"), (run, "starboard"), (fog, "starboard")]
    assert [step.act for step in steps if step.kind is fog] == [Act.FOGGED_RUNNING] * 2


def test_an_engine_that_holds_already_is_fogged_beside_the_one_that_runs():
    held = [f"port-{name}" for name in TWO_STROKE]
    through = work(
        "antifreeze-run-through", 0, *held, product=STRONG, ice_point_c=-30.0, quantity_l=9.0
    )
    steps = plan(record(through, profile="jet-boat-twin")).steps
    fogs = [step for step in steps if step.kind is StepKind.FOG]
    assert [step.circuits[0].split("-")[0] for step in fogs] == ["starboard", "port"]
    assert fogs[0].minutes == fogs[1].minutes > 0


@pytest.mark.parametrize("fogged", [(), ("port-water-box",)], ids=["both", "port"])
def test_an_engine_that_was_fogged_and_has_not_run_since_is_not_fogged_again(fogged):
    fog = work("fogged-plug-holes", 0, *fogged)
    ran = work("run-on-water", 24, "starboard-water-box")
    before = record(fog, ran, profile="jet-boat-twin")
    fogs = [step for step in plan(before).steps if step.kind is StepKind.FOG]
    # Both engines run on antifreeze in this plan, so both films go.
    assert len(fogs) == 2
    through = [
        work(
            "antifreeze-run-through",
            hours,
            *(f"{side}-{name}" for name in TWO_STROKE),
            product=STRONG,
            ice_point_c=-30.0,
            quantity_l=9.0,
        )
        for hours, side in ((-2, "port"), (25, "starboard"))
    ]
    steps = plan(record(*through, fog, ran, profile="jet-boat-twin")).steps
    [left] = [step for step in steps if step.kind is StepKind.FOG]
    assert {name.split("-")[0] for name in left.circuits} == {"starboard"}


def fuel_steps(*entries) -> list[tuple[StepKind, set[str]]]:
    """Steps on the fuel of the boat with two engines, and which of these each names."""
    kinds_of_fuel = {StepKind.STABILISE_FUEL, StepKind.RUN_TREATED_FUEL, StepKind.DRAIN_FUEL}
    return [
        (step.kind, {name.split("-")[0] for name in step.circuits})
        for step in plan(record(*entries, profile="jet-boat-twin")).steps
        if step.kind in kinds_of_fuel
    ]


PORT_RUN = work(
    "antifreeze-run-through",
    0,
    *(f"port-{name}" for name in TWO_STROKE),
    product=STRONG,
    ice_point_c=-30.0,
    quantity_l=9.0,
)


def test_treated_fuel_that_ran_through_one_engine_is_run_through_the_other():
    treated = work("fuel-stabilised", 0)
    port = work("fuel-run-through", 1, "port-water-box")
    assert fuel_steps(treated, port) == [(StepKind.RUN_TREATED_FUEL, {"starboard"})]
    starboard = work("fuel-run-through", 2, "starboard-hoses")
    assert fuel_steps(treated, port, starboard) == []
    assert fuel_steps(treated, work("fuel-run-through", 1)) == []


def test_an_engine_whose_fuel_was_let_out_leaves_the_other_to_be_run():
    drained = work("fuel-drained", 0, "port-water-box")
    assert fuel_steps(drained) == [
        (StepKind.STABILISE_FUEL, set()),
        (StepKind.RUN_TREATED_FUEL, {"starboard"}),
    ]
    assert fuel_steps(work("fuel-drained", 0)) == [(StepKind.STABILISE_FUEL, set())]


def test_a_tank_wants_stabiliser_or_to_be_emptied_whatever_becomes_of_the_bowls():
    """Bowls, filter and lines hold a cup; what turns to gum by spring is in the tank."""
    drained = work("fuel-drained", 0)
    for done in (work("fuel-stabilised", 1), work("fuel-tank-emptied", 1)):
        assert fuel_steps(drained, done) == []
    # What runs antifreeze through needs fuel, and then treated fuel; nothing runs on water for it.
    assert fuel_steps(work("fuel-tank-emptied", 0)) == [(StepKind.STABILISE_FUEL, set())]


def test_an_engine_that_is_not_to_run_any_more_is_emptied_beside_the_one_that_runs():
    """Laid up before its stabiliser: nothing runs treated fuel through it without undoing that."""
    drain = (StepKind.DRAIN_FUEL, {"port"})
    assert fuel_steps(PORT_RUN) == [
        (StepKind.STABILISE_FUEL, set()),
        (StepKind.RUN_TREATED_FUEL, {"starboard"}),
        drain,
    ]
    emptied = work("fuel-drained", 1, "port-hoses")
    assert drain not in fuel_steps(PORT_RUN, emptied)


def oil_step(*entries, profile="sterndrive-raw-water"):
    steps = plan(record(*entries, profile=profile)).steps
    places = [n for n, step in enumerate(steps) if step.kind is StepKind.CHANGE_ENGINE_OIL]
    assert len(places) < 2
    return steps, places


def test_the_engines_oil_is_changed_after_its_last_run_and_before_it_is_covered():
    steps, [place] = oil_step()
    runs = {StepKind.RUN_TREATED_FUEL, StepKind.RUN_ANTIFREEZE, StepKind.FLUSH}
    assert all(n < place for n, step in enumerate(steps) if step.kind in runs)
    assert all(n > place for n, step in enumerate(steps) if step.kind is StepKind.COVER)
    assert steps[place].act is Act.OIL_CHANGED
    assert not steps[place].circuits


def test_oil_of_the_drive_is_not_the_engines_and_a_day_on_the_water_uses_fresh_oil():
    drive = work("oil-changed", 0, "drive-lube", oil=OilAppearance.CLEAR)
    engine = work("oil-changed", 1, oil=OilAppearance.CLEAR)
    laid_up = work("fuel-run-through", 2)
    assert oil_step(drive)[1]
    assert not oil_step(drive, engine)[1]
    assert not oil_step(drive, engine, laid_up)[1]
    assert oil_step(drive, engine, work("run-on-water", 2))[1]
    assert not oil_step(profile="pwc-two-stroke")[1]  # its oil burns with the fuel


def test_a_tray_is_drained_and_nothing_else_would_do():
    [tray] = [
        step
        for step in plan(record(profile="jet-boat")).steps
        if step.circuits == ("clean-out-tray",)
    ]
    assert (tray.kind, tray.instead) == (StepKind.DRAIN, ())


def test_no_run_takes_the_place_of_a_drain_where_the_rest_of_the_engine_is_dry():
    dry = work("drained", 0, "block", "manifolds", "raw-pump", dry=True)
    steps = plan(record(dry, profile="sterndrive-raw-water")).steps
    [drain] = [step for step in steps if step.circuits == ("drive-passages",)]
    assert (drain.kind, drain.instead) == (StepKind.DRAIN, ())


def test_an_outboard_is_stood_upright_once():
    drains = [s for s in plan(record(profile="outboard")).steps if s.kind is StepKind.DRAIN]
    assert [step.circuits for step in drains] == [("powerhead", "propeller-hub")]


def test_an_outboard_is_run_and_fogged_first_and_then_stands_upright_and_drains():
    found = kinds(plan(record(profile="outboard")).steps)
    assert found.index(StepKind.FOG) < found.index(StepKind.DRAIN)
    assert StepKind.RUN_ANTIFREEZE not in found


def test_the_quantity_makes_the_mix_that_is_asked_for():
    # Worked back with CoolProp's density and freezing point of propylene glycol (MPG).
    [step] = [one for one in plan(twelve()["k12"]).steps if one.quantity_l]
    volume = sum(twelve()["k12"].profile.find(name).circuit.volume_l for name in step.circuits)
    strength = step.product.strength
    fluid = f"INCOMP::MPG[{strength}]"
    product_kg = PropsSI("D", "T", 293.15, "P", 101325, fluid) / 1000 * step.quantity_l
    mixed = strength * product_kg / (product_kg + 0.9982 * volume)
    ice_c = PropsSI("T_freeze", "T", 293.15, "P", 101325, f"INCOMP::MPG[{mixed}]") - 273.15
    assert ice_c == pytest.approx(LOW_C - NEW_MARGIN_K, abs=0.4)
    assert ice_c <= LOW_C - NEW_MARGIN_K


def test_what_stands_in_there_already_is_built_on():
    thin = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=STRONG, ice_point_c=-5.0, quantity_l=9.0
    )
    from_thin = the(StepKind.RUN_ANTIFREEZE, plan(record(thin)).steps)
    from_water = the(StepKind.RUN_ANTIFREEZE, plan(record()).steps)
    assert from_thin.product.strength == from_water.product.strength == 0.5
    assert from_thin.quantity_l < 0.8 * from_water.quantity_l


def test_a_measured_residual_takes_the_place_of_the_profiles_volume():
    """Of 3 L that stay after ordinary draining somebody found 1.5: half of the product does."""
    poured = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=PINK, quantity_l=1.0, residual_l=1.5
    )
    fuel = work("fuel-drained", -1)
    drained = work("drained", -2, "cylinder-passages", "exhaust-jacket", "hoses")
    opened = work("circuit-opened", -2, "water-box")
    measured = the(StepKind.RUN_ANTIFREEZE, plan(record(fuel, drained, opened, poured)).steps)
    usual = the(StepKind.RUN_ANTIFREEZE, plan(record(fuel)).steps)
    assert measured.quantity_l == pytest.approx(usual.quantity_l / 2, abs=0.5)
    unshown = the(StepKind.RUN_ANTIFREEZE, plan(record(fuel, poured)).steps)
    assert unshown.quantity_l == usual.quantity_l


def test_a_residual_from_before_a_run_on_water_no_longer_counts():
    poured = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=PINK, quantity_l=1.0, residual_l=1.5
    )
    fuel, run = work("fuel-drained", -1), work("run-on-water", 2)
    again = the(StepKind.RUN_ANTIFREEZE, plan(record(fuel, poured, run)).steps)
    assert again.quantity_l == the(StepKind.RUN_ANTIFREEZE, plan(record(fuel)).steps).quantity_l


def test_no_sample_is_asked_to_read_what_its_product_cannot():
    """30 % product ices at −12.7 °C undiluted: it can never read −14 °C, so it is put in anew."""
    through = work(
        "antifreeze-run-through", 0, *TWO_STROKE,
        product=PINK, quantity_l=60.0, outflow=Outflow.FULL_COLOUR,
    )  # fmt: skip
    found = kinds(plan(record(through)).frost_steps)
    assert StepKind.READ_SAMPLE not in found
    assert StepKind.RUN_ANTIFREEZE in found or StepKind.FILL_BY_HAND in found


def test_a_reading_is_asked_of_what_may_hold_and_was_never_read():
    through = work(
        "antifreeze-run-through", 0, *TWO_STROKE,
        product=STRONG, quantity_l=4.5, outflow=Outflow.FULL_COLOUR,
    )  # fmt: skip
    step = the(StepKind.READ_SAMPLE, plan(record(through)).frost_steps)
    assert step.reading_c == LOW_C - STANDING_MARGIN_K


def test_a_mix_that_was_part_ice_is_read_again():
    through = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=STRONG, ice_point_c=-30.0, quantity_l=9.0
    )
    iced = (Iced(circuit="water-box", at=NOON.replace(day=9)),)
    step = the(StepKind.READ_SAMPLE, plan(record(through, iced=iced)).frost_steps)
    assert step.circuits == ("water-box",)


def test_the_shelf_decides_what_is_poured_and_more_than_60_percent_never_is():
    strong = plan(record(), -12.0, shelf=(shelf_product(60),))
    assert the(StepKind.RUN_ANTIFREEZE, strong.steps).product.id == "p60"
    with pytest.raises(ValueError, match="dilute a concentrate first"):
        shelf_product(95)


def test_a_product_that_cannot_reach_the_low_is_not_poured_and_the_right_one_is_to_be_bought():
    step = the(StepKind.RUN_ANTIFREEZE, plan(record(), shelf=(shelf_product(30),)).steps)
    assert step.product.to_buy
    assert step.product.ice_point_c <= LOW_C - NEW_MARGIN_K


def test_where_no_mix_holds_what_drains_is_drained_and_the_rest_stays_warm():
    found = {
        name: step.kind
        for step in plan(twelve()["k12"], -60.0).frost_steps
        for name in step.circuits
    }
    assert found["water-box"] is StepKind.WARM
    assert found["cylinder-passages"] in {StepKind.DRAIN, StepKind.DRAIN_ENGINE}


def test_ethylene_never_goes_into_drinking_water():
    shelf = (shelf_product(50, Liquid.ETHYLENE),)
    [head] = [step for step in plan(record(profile="head"), shelf=shelf).steps if step.product]
    assert (head.product.liquid, head.product.to_buy) == (Liquid.PROPYLENE, True)


def test_what_can_be_blown_out_needs_no_product_that_would_have_to_be_bought():
    shelf = (shelf_product(50, Liquid.ETHYLENE),)
    taps = the(StepKind.BLOW_OUT, plan(record(profile="fresh-water"), shelf=shelf).steps)
    assert taps.circuits == ("taps",)


def test_a_drained_engine_that_is_seen_dry_is_not_filled_with_what_would_have_to_be_bought():
    shelf = (shelf_product(30),)
    steps = plan(record(profile="sterndrive-raw-water"), -22.0, shelf=shelf).frost_steps
    assert StepKind.DRAIN_ENGINE in kinds(steps)
    assert StepKind.FILL_BY_HAND not in kinds(steps)


def test_a_closed_cooled_inboard_is_drained_before_antifreeze_is_run_through():
    found = kinds(plan(record(profile="inboard-closed-cooled")).steps)
    assert found.index(StepKind.DRAIN_ENGINE) < found.index(StepKind.RUN_ANTIFREEZE)


@given(
    strength=st.sampled_from([0.3, 0.4, 0.5, 0.6]),
    lows=st.tuples(st.floats(-40.0, -1.0), st.floats(-40.0, -1.0)).map(sorted),
    holds_l=st.floats(0.05, 20.0),
    share=st.floats(0.0, 1.0),
)
def test_a_colder_low_never_takes_less_of_a_product(strength, lows, holds_l, share):
    shelf = (shelf_product(round(strength * 100)),)
    passage = Passage(holds_l=holds_l, water_l=holds_l * share)
    colder, milder = (dose_for(shelf, low_c, passage) for low_c in lows)
    if colder is not None and not colder.product.to_buy:
        assert milder is not None
        assert milder.litres <= colder.litres


def test_what_runs_out_at_the_far_end_is_reckoned_with_where_mixing_alone_would_flood_the_yard():
    """−27 °C from 50 % product: mixed in a closed vessel 12 fillings, run through less than 3."""
    dose = dose_for(USUAL_SHELF[:1], -27.0, Passage(holds_l=10.0, water_l=10.0))
    target = mass_fraction(-27.0, Liquid.PROPYLENE)
    # A full, well-stirred passage: 1 - exp(-q / v) of the product is in it after q litres.
    stirred_l = -10.0 * math.log(1.0 - target / 0.5)
    assert stirred_l <= dose.litres <= 30.5


def test_the_battery_aboard_is_a_step_of_its_own():
    oil = StepKind.CHANGE_ENGINE_OIL  # none is on its record
    assert kinds(plan(twelve()["k4"]).steps) == [oil, StepKind.BENCH_BATTERY]


def test_above_freezing_no_circuit_needs_work():
    assert plan(twelve()["k5"], 1.0).frost_steps == ()


def test_findings_are_mended_before_the_last_run():
    seen = work("inspected", 0, findings=(Seen(id="seal", part="pump", words="seal weeps"),))
    found = kinds(plan(record(seen)).steps)
    assert found.index(StepKind.MEND_FINDING) < found.index(StepKind.STABILISE_FUEL)


@pytest.mark.parametrize("craft", sorted(twelve()))
def test_no_step_of_the_frost_can_be_spared(craft):
    before = twelve()[craft]
    steps = plan(before).frost_steps
    filled = {name for one in steps if one.quantity_l for name in one.circuits}
    for spared in steps:
        if spared.kind is StepKind.FILL_BY_HAND or set(spared.circuits) & filled:
            continue  # either of draining dry and filling would do
        job = replace(plan(before), steps=tuple(one for one in steps if one is not spared))
        after, _, at = followed(before, job)[-1] if job.steps else (before, {}, EVE)
        assert plan(after, at=at).frost_steps, spared.kind


@pytest.mark.parametrize("profile", sorted(library()))
def test_every_entry_that_a_plan_asks_for_may_go_into_the_record(profile):
    before = record(profile=profile)
    for step in plan(before).steps:
        for entry in entries_for(step, "k1", EVE, "Ines Aldaz", bench="bench", rested_v=12.7):
            now = replace(before, entries=(*before.entries, entry))
            assert refusals(entry, now, "plan", "") == []


@pytest.mark.parametrize("profile", sorted(library()))
def test_a_plan_that_was_followed_keeps_every_rule_of_the_trade(profile):
    before = record(profile=profile)
    job = plan(before)
    after, _, at = followed(before, job)[-1]
    broken = {one.rule for one in examine(after, SHELTERS, at)}
    assert broken == set()


@pytest.mark.parametrize("profile", sorted(library()))
def test_every_care_is_a_caution_with_words(profile):
    known = {one.value for one in Caution}
    for step in plan(record(profile=profile)).steps:
        assert {str(care) for care in step.cautions} <= known
        assert Act.WITHDRAWN is not step.act


def test_runs_carry_the_exhausts_caution_and_antifreeze_its_own():
    step = the(StepKind.RUN_ANTIFREEZE, plan(record()).steps)
    assert {str(care) for care in step.cautions} >= {"glycol", "carbon monoxide"}


def test_an_unknown_product_is_no_reason_to_read_a_sample():
    through = work(
        "antifreeze-run-through", 0, *TWO_STROKE,
        product=Product(name="what was there"), outflow=Outflow.FULL_COLOUR,
    )  # fmt: skip
    assert StepKind.READ_SAMPLE not in kinds(plan(record(through)).frost_steps)


def test_the_usual_shelf_is_of_readable_glycols():
    assert {one.liquid for one in USUAL_SHELF} == {Liquid.PROPYLENE}


def test_a_box_that_was_opened_to_clear_it_is_filled_by_the_one_run_through_the_path():
    blocked = work("antifreeze-poured", 0, "water-box", product=STRONG, outflow=Outflow.NONE)
    job = plan(record(blocked))
    [fill] = [step for step in job.steps if step.product is not None]
    assert fill.kind is StepKind.RUN_ANTIFREEZE
    assert "water-box" in fill.circuits


@pytest.mark.parametrize("profile", ["inboard-diesel", "inboard-diesel-raw-water"])
def test_a_diesel_is_never_fogged_and_has_no_plugs(profile):
    diesel = library()[profile]
    one = record(profile=profile, places=("long-shed",))
    steps = plan(one).steps
    assert StepKind.FOG not in kinds(steps)
    told = [step_sentence(step, diesel, Wording()) for step in steps]
    assert any("biocide into the diesel" in each for each in told)
    spring = [
        step_sentence(step, diesel, Wording()) for step in spring_plan(one, SHELTERS, EVE).steps
    ]
    assert any("decompressed" in each for each in spring)
    assert not any("the plug" in each for each in [*told, *spring])
    offered = {row.act for row in acts_that_fit(diesel)}
    assert not offered & FOGGING
    assert Act.FUEL_STABILISED in offered


def test_a_trailer_is_not_stood_upright_with_the_outboard_that_it_carries():
    bare = record(profile="outboard", places=("long-shed",))
    steps = plan(replace(bare, profile=composed("outboard", ("trailer",), library()))).steps
    drains = [step for step in steps if step.kind is StepKind.DRAIN]
    upright = [step for step in drains if step.posture is not None]
    assert [set(step.circuits) for step in upright] == [{"powerhead", "propeller-hub"}]
    [trailer] = [step for step in drains if step not in upright]
    assert set(trailer.circuits) == {"trailer-hubs", "trailer-frame"}
