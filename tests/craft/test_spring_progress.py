"""Steps before the first start: what does them, what opens them again, what a sign-off is worth."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.circuit_events import Iced
from monitor.craft.label_figures import gather_label
from monitor.craft.layup import Act, FindingKind, OilAppearance, Outflow, ReadyStep, Seen
from monitor.craft.plan.step import Ask, StepKind
from monitor.craft.protection import LayupState
from monitor.craft.record import protections_on_record
from monitor.craft.spring import READY_STEPS
from monitor.craft.spring_progress import spring_progress
from monitor.phrases.spring_progress import done_words, state_words
from monitor.wording import Wording
from tests.craft.scene import NOON, SHELTERS, STRONG, TWO_STROKE, record, twelve, work
from tests.tried import tried

APRIL = datetime(2027, 4, 10, 9, 0, tzinfo=UTC)
LATER = APRIL + timedelta(days=20)


def laid_up(**more):
    """A personal watercraft with antifreeze run through, fogged, its battery on the bench."""
    return record(
        work(
            "antifreeze-run-through",
            0,
            *TWO_STROKE,
            product=STRONG,
            ice_point_c=-30.0,
            quantity_l=9.0,
        ),
        work("fogged-running", 1, flow_order="engine first"),
        work("battery-removed", 2, space="bench", rested_v=12.7),
        **more,
    )


def tick(step, hours, **said):
    """The entry that ticks a step off, with all that it asks for."""
    if Ask.CLEAR_OIL in step.asks:
        said.setdefault("oil", OilAppearance.CLEAR)
    if Ask.CLEAR_WATER in step.asks:
        said.setdefault("outflow", Outflow.CLEAR_WATER)
    if Ask.RESTED_VOLTAGE in step.asks:
        said.setdefault("rested_v", 12.7)
    circuits = () if step.finding else step.circuits
    settles = (step.finding.seen.id,) if step.finding else ()
    return work(
        step.act, hours, *circuits, at=APRIL, readied=READY_STEPS.get(step.kind), settles=settles,
        **said,
    )  # fmt: skip


def with_ticks(one, *kinds):
    """The record with steps of these kinds ticked off; without a kind, all before the start."""
    done = []
    for number, each in enumerate(spring_progress(one, SHELTERS, APRIL).steps):
        if each.step.kind in kinds or (not kinds and each.is_before_start):
            done.append(tick(each.step, number))
    return more(one, *done)


def more(one, *entries):
    return type(one)(
        **{
            name: getattr(one, name) for name in one.__dataclass_fields__ if name not in {"entries"}
        },
        entries=(*one.entries, *entries),
    )


def signed(one, hours=48, **said):
    return more(one, work("signed-off", hours, at=APRIL, **said))


def progress(one, at=LATER):
    return spring_progress(one, SHELTERS, at)


def open_kinds(one, at=LATER):
    return [each.step.kind for each in progress(one, at).open_before_start]


def test_nothing_is_done_before_anybody_begins():
    found = progress(laid_up())
    assert found.begun_at is None
    assert not found.may_be_started
    assert state_words(found).startswith("DO NOT START")
    assert found.open_before_start == found.before_start


def test_a_tick_keeps_the_list_that_the_winter_left():
    """Antifreeze that was let out is no longer in the craft, and its step stays on the list."""
    one = with_ticks(laid_up(), StepKind.CATCH_ANTIFREEZE)
    found = progress(one)
    kinds = [each.step.kind for each in found.steps]
    assert kinds == [each.step.kind for each in progress(laid_up()).steps]
    assert done_words(found) == f"1 of {len(found.before_start)} steps before the sign-off done"


def test_what_was_let_out_holds_no_frost_any_more():
    held = protections_on_record(with_ticks(laid_up(), StepKind.CATCH_ANTIFREEZE), SHELTERS, LATER)
    assert {held[name].state for name in TWO_STROKE} == {LayupState.VOID}


@pytest.mark.parametrize("craft", [f"k{n}" for n in range(1, 13)])
def test_all_steps_and_a_signature_free_a_craft(craft):
    one = with_ticks(twelve()[craft])
    assert not progress(one).may_be_started
    assert "nobody has signed off" in state_words(progress(one))
    assert progress(signed(one)).may_be_started


def test_a_signature_before_the_last_step_is_worth_nothing():
    one = with_ticks(signed(laid_up(), hours=-1))
    assert not progress(one).may_be_started


@given(left_out=st.sets(st.integers(0, 20), min_size=1))
@settings(max_examples=tried(15), deadline=None)
def test_no_signature_frees_a_craft_with_a_step_open(left_out):
    before = progress(laid_up(), APRIL).before_start
    missing = {number % len(before) for number in left_out}
    done = [tick(one.step, n) for n, one in enumerate(before) if n not in missing]
    found = progress(signed(more(laid_up(), *done)))
    assert len(found.open_before_start) == len(missing)
    assert not found.may_be_started
    assert found.signed_off is None


@pytest.mark.parametrize(
    ("again", "opened"),
    [
        (work("cover-fitted", 60, at=APRIL), {StepKind.UNCOVER}),
        (work("battery-removed", 60, at=APRIL, space="bench"), {StepKind.FIT_BATTERY}),
        (work("drained", 60, "water-box", at=APRIL), {StepKind.CLOSE_DRAINS}),
        (
            work("antifreeze-poured", 60, "water-box", at=APRIL, product=STRONG),
            {StepKind.CATCH_ANTIFREEZE, StepKind.CLOSE_DRAINS},
        ),
        (work("fogged-plug-holes", 60, at=APRIL), {StepKind.CLEAR_CYLINDERS}),
        (work("fuel-drained", 60, at=APRIL), {StepKind.LOOK_AT_FUEL}),
    ],
)
def test_later_work_opens_the_step_that_it_undoes(again, opened):
    one = more(signed(with_ticks(laid_up())), again)
    assert set(open_kinds(one)) == opened
    assert not progress(one).may_be_started


def test_a_tick_that_is_taken_back_counts_no_more():
    one = with_ticks(laid_up(), StepKind.LOOK_AT_FUEL)
    [ticked] = [each for each in one.entries if each.readied is ReadyStep.FUEL_LOOKED_AT]
    back = work("withdrawn", 30, at=APRIL, replaces=ticked.id)
    assert progress(more(one, back)).begun_at is None
    assert StepKind.LOOK_AT_FUEL in open_kinds(more(one, back))


def test_milky_oil_ticks_off_nothing():
    one = laid_up()
    [oils] = [e for e in progress(one).steps if e.step.kind is StepKind.LOOK_AT_OILS]
    milky = more(one, tick(oils.step, 1, oil=OilAppearance.MILKY))
    assert StepKind.LOOK_AT_OILS in open_kinds(milky)
    assert StepKind.LOOK_AT_OILS not in open_kinds(more(one, tick(oils.step, 1)))


def test_a_look_in_winter_stands_for_no_test_under_pressure():
    """Trade reference, part 1: damage shows only at thaw; no leak at -10 °C proves nothing."""
    january = NOON + timedelta(days=70)
    iced = (Iced(circuit="water-box", at=NOON + timedelta(days=60)),)
    looked = record(work("inspected", 0, "water-box", at=january), iced=iced)
    assert StepKind.LOOK_AFTER_ICE in open_kinds(looked)
    mended = more(looked, work("repaired", 1, "water-box", at=january))
    assert StepKind.LOOK_AFTER_ICE not in open_kinds(mended)


def test_warmth_alone_never_frees_what_was_in_ice():
    iced = (Iced(circuit="water-box", at=NOON + timedelta(days=60)),)
    one = record(iced=iced, places=("long-shed", "stove-barn"))
    kinds = {StepKind(k) for k in open_kinds(one)} - {StepKind.LOOK_AFTER_ICE}
    assert not progress(signed(with_ticks(one, *kinds))).may_be_started
    assert progress(signed(with_ticks(one))).may_be_started


def test_ice_after_the_first_tick_is_tested_too():
    one = with_ticks(laid_up())
    late = Iced(circuit="water-box", at=APRIL + timedelta(days=3))
    again = type(one)(
        **{n: getattr(one, n) for n in one.__dataclass_fields__ if n != "iced"}, iced=(late,)
    )
    assert StepKind.LOOK_AFTER_ICE in open_kinds(again)
    assert not progress(signed(again)).may_be_started


def test_something_found_on_the_way_has_to_be_settled():
    crack = Seen(id="k1-box", part="water-box", words="cracked", kind=FindingKind.CRACK)
    found = more(signed(with_ticks(laid_up())), work("inspected", 60, at=APRIL, findings=(crack,)))
    assert open_kinds(found) == [StepKind.SETTLE_FINDING]
    mended = more(found, work("repaired", 61, "water-box", at=APRIL, settles=("k1-box",)))
    assert not progress(mended).may_be_started  # whoever signed had not seen the repair
    assert progress(signed(mended, hours=62)).may_be_started


def test_of_a_record_that_nobody_can_read_nothing_is_done():
    one = signed(with_ticks(laid_up()))
    spoilt = type(one)(
        **{
            n: getattr(one, n)
            for n in one.__dataclass_fields__
            if n not in {"entries", "set_aside", "unreadable"}
        },
        set_aside=one.entries,
        unreadable="a row is damaged",
    )
    assert not progress(spoilt).may_be_started


def test_the_label_drops_its_warning_with_the_signature_and_not_before():
    def label(one):
        return gather_label(one, SHELTERS, LATER, -20.0, Wording()).signed_off

    ready = with_ticks(laid_up())
    assert label(ready) is None
    assert label(signed(laid_up())) is None
    assert label(signed(ready)).act is Act.SIGNED_OFF


def test_a_run_on_the_hose_voids_the_winter_protection():
    one = signed(with_ticks(laid_up()))
    [start] = [e for e in progress(one).steps if e.step.kind is StepKind.FIRST_START]
    held = protections_on_record(more(one, tick(start.step, 50)), SHELTERS, LATER)
    assert held["cylinder-passages"].state is LayupState.VOID
