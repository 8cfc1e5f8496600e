"""The spring list and the findings that it must not forget."""

from datetime import UTC, datetime, timedelta

import pytest

from monitor.craft.circuit_events import Iced
from monitor.craft.findings import findings, open_findings
from monitor.craft.layup import Seen
from monitor.craft.plan.step import Note, StepKind
from monitor.craft.spring import spring_plan
from monitor.phrases.plan import step_sentence, step_title
from monitor.wording import Wording
from monitor.yard.assessment import Caution
from tests.craft.scene import NOON, SHELTERS, STRONG, TWO_STROKE, library, record, twelve, work

APRIL = datetime(2027, 4, 20, 15, 0, tzinfo=UTC)
PROFILE = library()["pwc-two-stroke"]
SEAL = Seen(id="k1-seal", part="pump", words="seal weeps")


def titles(one, at=APRIL):
    steps = spring_plan(one, SHELTERS, at).steps
    return [step_title(step, one.profile, Wording()) for step in steps]


def said(craft, kind):
    """Words of the one step of that kind."""
    one = twelve()[craft]
    [step] = [each for each in spring_plan(one, SHELTERS, APRIL).steps if each.kind is kind]
    return step_sentence(step, one.profile, Wording()), step


@pytest.mark.parametrize("craft", [f"k{n}" for n in range(1, 13)])
def test_the_start_comes_last_and_outdoors_whatever_the_craft(craft):
    steps = spring_plan(twelve()[craft], SHELTERS, APRIL).steps
    assert [step.kind for step in steps[-2:]] == [StepKind.FIRST_START, StepKind.COMMISSION]
    assert "carbon monoxide" in {str(care) for care in steps[-2].cautions}
    assert {str(care) for step in steps for care in step.cautions} <= {one.value for one in Caution}


def test_antifreeze_is_caught_from_the_circuits_that_hold_it():
    [drain] = [
        step
        for step in spring_plan(twelve()["k5"], SHELTERS, APRIL).steps
        if step.kind is StepKind.CATCH_ANTIFREEZE
    ]
    assert all(name.startswith("starboard") for name in drain.circuits)
    assert [str(care) for care in drain.cautions] == ["glycol"]


def test_coolant_that_stays_in_is_not_drained():
    drained = {
        name
        for step in spring_plan(twelve()["k9"], SHELTERS, APRIL).steps
        for name in step.circuits
        if step.kind is StepKind.CATCH_ANTIFREEZE
    }
    assert "coolant" not in drained
    assert "raw-side" in drained


def test_drained_circuits_are_closed_before_water_comes():
    assert "Close what was opened to drain" in titles(twelve()["k6"])


def test_a_suspect_circuit_is_inspected_before_anything_runs():
    iced = (Iced(circuit="water-box", at=NOON + timedelta(days=3)),)
    steps = titles(record(iced=iced))
    assert steps.index("Inspect exhaust water box") < steps.index("First start, outdoors")


def test_water_first_or_engine_first_as_the_pump_wants_it():
    start = StepKind.FIRST_START
    assert "engine on, water on; water off, engine off" in said("k1", start)[0]
    assert "water on, engine on; engine off, water off" in said("k8", start)[0]


def test_a_battery_left_aboard_is_looked_at_for_frost_first():
    words, step = said("k4", StepKind.FIT_BATTERY)
    assert "bulges" in words
    assert "frozen battery" in {str(care) for care in step.cautions}


def test_open_findings_stand_on_the_list_and_settled_ones_do_not():
    seen = work("inspected", 0, findings=(SEAL,))
    mended = work("repaired", 48, settles=("k1-seal",))
    assert "Settle finding k1-seal" in titles(record(seen))
    assert "Settle finding k1-seal" not in titles(record(seen, mended))


def test_a_finding_keeps_its_date_and_finder_after_it_is_settled():
    seen = work("inspected", 0, findings=(SEAL,))
    mended = work("repaired", 48, settles=("k1-seal",))
    [one] = findings((seen, mended), APRIL, PROFILE)
    assert (one.found_at, one.by, one.settled_at) == (seen.at, "Ines Aldaz", mended.at)
    assert open_findings((seen, mended), APRIL, PROFILE) == []
    assert open_findings((seen, mended), NOON + timedelta(hours=1), PROFILE) == [
        findings((seen,), APRIL, PROFILE)[0]
    ]


def test_commissioned_craft_have_nothing_left_to_drain():
    run = work(
        "antifreeze-run-through", 0, "water-box", product=STRONG, ice_point_c=-30.0, quantity_l=9.0
    )
    one = record(run, work("commissioned", 24 * 160))
    assert "Drain and catch the antifreeze" not in titles(one)


def test_after_commissioning_the_list_speaks_of_the_winter_and_not_of_the_moment():
    """Commissioning voids every circuit; what was proven all winter is not called unproven."""
    through = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=STRONG, ice_point_c=-30.0, quantity_l=9.0
    )
    one = record(through, work("commissioned", 24 * 160))
    [unproven] = spring_plan(one, SHELTERS, APRIL).steps
    assert (unproven.kind, unproven.circuits) == (StepKind.LOOK_AT_UNPROVEN, ("pump-housing",))


def test_antifreeze_that_proves_nothing_is_caught_too():
    unseen = work("antifreeze-poured", 0, "water-box", product=STRONG)
    [drain] = [
        step
        for step in spring_plan(record(unseen), SHELTERS, APRIL).steps
        if step.kind is StepKind.CATCH_ANTIFREEZE
    ]
    assert drain.circuits == ("water-box",)


@pytest.mark.parametrize("craft", [f"k{n}" for n in range(1, 13)])
def test_bilge_plugs_go_in_and_engine_oil_is_looked_at_whatever_was_drained(craft):
    assert "ilge plugs in" in said(craft, StepKind.CLOSE_DRAINS)[0]
    assert "engine: milky means water" in said(craft, StepKind.LOOK_AT_OILS)[0]


def test_what_is_opened_to_catch_antifreeze_is_closed_again():
    through = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=STRONG, ice_point_c=-30.0, quantity_l=9.0
    )
    steps = spring_plan(record(through), SHELTERS, APRIL).steps
    kinds = [step.kind for step in steps]
    catch, close = kinds.index(StepKind.CATCH_ANTIFREEZE), kinds.index(StepKind.CLOSE_DRAINS)
    assert catch < close
    assert set(steps[catch].circuits) <= set(steps[close].circuits)


@pytest.mark.parametrize("craft", ["k1", "k8", "k9"])
def test_leaking_fuel_is_looked_for_before_a_clamp_can_make_a_spark(craft):
    kinds = [step.kind for step in spring_plan(twelve()[craft], SHELTERS, APRIL).steps]
    assert kinds.index(StepKind.LOOK_AT_FUEL) < kinds.index(StepKind.FIT_BATTERY)


def test_fuel_and_fog_of_another_winter_say_nothing_of_this_one():
    old = (
        work("fuel-stabilised", -24 * 365),
        work("fogged-running", -24 * 365, flow_order="engine first"),
        work("rodent-care", -24 * 365),
    )
    steps = {step.kind: step for step in spring_plan(record(*old), SHELTERS, APRIL).steps}
    assert steps[StepKind.LOOK_AT_FUEL].notes == (Note.FUEL_UNTREATED,)
    assert Note.FOGGED not in steps[StepKind.CLEAR_CYLINDERS].notes
    assert Note.SCREENED not in steps[StepKind.UNCOVER].notes


def test_a_tank_is_not_empty_because_the_bowls_of_one_engine_are():
    """Whoever is told to fill a tank that is full of old fuel uses that fuel unlooked at."""
    treated, bowls = work("fuel-stabilised", 0), work("fuel-drained", 2, "port-hoses")

    def note_on_fuel(*entries):
        steps = spring_plan(record(*entries, profile="jet-boat-twin"), SHELTERS, APRIL).steps
        [look] = [step for step in steps if step.kind is StepKind.LOOK_AT_FUEL]
        return look.notes

    assert note_on_fuel(treated, bowls) == (Note.FUEL_TREATED,)
    assert note_on_fuel(bowls) == (Note.FUEL_UNTREATED,)
    assert note_on_fuel(work("fuel-drained", 2)) == (Note.FUEL_DRAINED,)
    emptied = work("fuel-tank-emptied", 3)
    assert note_on_fuel(treated, bowls, emptied) == (Note.TANK_EMPTIED,)
    assert note_on_fuel(emptied, work("fuel-stabilised", 4)) == (Note.FUEL_TREATED,)


def test_a_bypassed_water_heater_is_filled_before_it_is_switched_on():
    one = record(work("drained", 0, "water-heater", dry=True), profile="fresh-water")
    [close] = [
        step
        for step in spring_plan(one, SHELTERS, APRIL).steps
        if step.kind is StepKind.CLOSE_DRAINS
    ]
    assert "fill it before it is switched on" in step_sentence(close, one.profile, Wording())
