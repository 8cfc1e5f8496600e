"""A plan that is followed to the letter, from any record: it ends proven, and undoes nothing."""

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.act_table import WAY_OF, circuits_within_reach
from monitor.craft.circuit import Way
from monitor.craft.circuit_events import Iced
from monitor.craft.layup import (
    Act,
    LayupEntry,
    Liquid,
    OilAppearance,
    Outflow,
    Posture,
    Product,
    ReadyStep,
    Seen,
)
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.start import STANDING_MARGIN_K
from monitor.craft.plan.step import JobPlan, StepKind
from monitor.craft.protection import Basis, Protection
from monitor.craft.record import CraftRecord
from monitor.phrases.plan import step_sentence
from monitor.wording import Wording
from tests.craft.plan.follow import followed, plan
from tests.craft.scene import EVE, NOON, held, library, record, work
from tests.tried import tried

WEAK = ShelfProduct(id="pink-30", name="pink, 30 %", liquid=Liquid.PROPYLENE, strength=0.30)
GREEN = ShelfProduct(id="green-50", name="green, 50 %", liquid=Liquid.ETHYLENE, strength=0.50)
WORDS = Wording()
Shelf = tuple[ShelfProduct, ...]
SHELVES = st.sampled_from([USUAL_SHELF, (WEAK,), (GREEN,), (GREEN, WEAK)])
POURED = [
    Product(name="pink", liquid=Liquid.PROPYLENE, strength=0.30),
    Product(name="strong pink", liquid=Liquid.PROPYLENE, strength=0.50),
    Product(name="green", liquid=Liquid.ETHYLENE, strength=0.50),
    Product(name="blend", liquid=Liquid.ETHANOL),
    Product(name="rated", liquid=Liquid.PROPYLENE, label_burst_c=-45.0),
    None,
]
NAMING = {
    Act.DRAINED,
    Act.BLOWN_OUT,
    Act.ANTIFREEZE_RUN_THROUGH,
    Act.ANTIFREEZE_POURED,
    Act.CIRCUIT_OPENED,
    Act.PORT_LEFT_OPEN,
}
ACTS = sorted(set(Act) - {Act.WITHDRAWN, Act.COMMISSIONED, Act.WORK_BEGUN, Act.WORK_ENDED})


@st.composite
def entries(draw: st.DrawFn, profile: str) -> LayupEntry:
    act = draw(st.sampled_from(ACTS))
    circuits: tuple[str, ...] = ()
    ids = library()[profile].circuit_ids
    if act in WAY_OF:  # other circuits are refused at the door
        ids = circuits_within_reach(act, library()[profile]) or ids
    if act in NAMING or act in {Act.OIL_CHANGED, Act.INSPECTED}:
        circuits = tuple(draw(st.lists(st.sampled_from(ids), min_size=1, unique=True)))
    said = {
        "outflow": draw(st.sampled_from(Outflow)),
        "dry": draw(st.sampled_from([None, True, False])),
        "ice_point_c": draw(st.sampled_from([None, -3.0, -14.0, -32.0])),
        "engine_hot": draw(st.sampled_from([None, True, False])),
        "oil": draw(st.sampled_from([None, *OilAppearance])),
    }
    if act in {Act.ANTIFREEZE_RUN_THROUGH, Act.ANTIFREEZE_POURED}:
        said |= {
            "product": draw(st.sampled_from(POURED)),
            "quantity_l": draw(st.sampled_from([None, 0.4, 6.0])),
            "residual_l": draw(st.sampled_from([None, 0.0, 1.0])),
            "scale": draw(st.sampled_from([None, Liquid.PROPYLENE, Liquid.ETHYLENE])),
        }
    if act is Act.STOOD:
        said["posture"] = draw(st.sampled_from(Posture))
    if act is Act.READIED:
        said["readied"] = draw(st.sampled_from(ReadyStep))
    if act is Act.BATTERY_REMOVED:
        said["space"] = draw(st.sampled_from(["bench", ""]))
    hours = draw(st.integers(0, 24 * 12))
    if act is Act.INSPECTED and draw(st.booleans()):
        said["findings"] = (Seen(id=f"seen-{hours}", part="hull", words="seal weeps"),)
    return work(act, hours, *circuits, **said)


@st.composite
def records(draw: st.DrawFn, profile: str) -> CraftRecord:
    work_done = draw(st.lists(entries(profile), max_size=8, unique_by=lambda one: one.at))
    ids = library()[profile].circuit_ids
    iced = draw(st.lists(st.sampled_from(ids), max_size=2, unique=True))
    return record(
        *work_done,
        profile=profile,
        places=draw(st.sampled_from([("long-shed",), ("stove-barn",), ("stove-barn", "lee-rack")])),
        iced=tuple(Iced(circuit=name, at=NOON + timedelta(days=10)) for name in iced),
    )


def holding(protections: dict[str, Protection], low_c: float) -> set[str]:
    limit_c = low_c - STANDING_MARGIN_K
    return {name for name, one in protections.items() if one.ice_point_c <= limit_c}


def faults(before: CraftRecord, job: JobPlan, low_c: float, shelf: Shelf) -> list[str]:
    """What goes wrong for a person who follows the plan to the letter; empty if nothing."""
    found = []
    after, at, safe, done = before, EVE, holding(held(before), low_c), set()
    for step, (then, now, done_at) in zip(job.steps, followed(before, job), strict=True):
        stands = holding(now, low_c)
        # A flush rinses its whole path, and what stood there before the job goes with it; what a
        # step of this job has done, no later one takes away.
        kept = safe & done if step.kind is StepKind.FLUSH else safe
        found += [f"{step.kind} undid {name}: {now[name].why}" for name in kept - stands]
        after, at, safe, done = then, done_at, stands, done.union(step.circuits)
    found += [f"{name} does not hold" for name in set(before.profile.circuit_ids) - safe]
    left = plan(after, low_c, at, shelf).steps
    return found + [f"still to do: {step.kind} {step.circuits}" for step in left]


@pytest.mark.parametrize("profile", sorted(library()))
@given(data=st.data(), low_c=st.sampled_from([-1.0, -9.5, -12.0, -26.0, -40.0]), shelf=SHELVES)
@settings(max_examples=tried(12), deadline=None)
def test_a_plan_followed_to_the_letter_ends_proven_and_undoes_nothing(profile, data, low_c, shelf):
    before = data.draw(records(profile))
    job = plan(before, low_c, shelf=shelf)
    wrong = faults(before, job, low_c, shelf)
    assert not wrong, (wrong, [(str(step.kind), step.circuits) for step in job.steps])


def test_two_kinds_of_glycol_where_nothing_drains_are_flushed_filled_and_read():
    poured = [
        work(
            Act.ANTIFREEZE_POURED,
            hours,
            "water-box",
            product=product,
            quantity_l=1.5,
            outflow=Outflow.FULL_COLOUR,
        )
        for hours, product in enumerate([POURED[2], POURED[1]])
    ]
    before = record(*poured)
    job = plan(before)
    flush = next(step for step in job.steps if step.kind is StepKind.FLUSH)
    assert "water-box" in flush.circuits
    said = " ".join(step_sentence(step, before.profile, WORDS) for step in job.steps)
    assert "until clear water comes out" in said
    assert "in heat" not in said
    *_, (_, now, _) = followed(before, job)
    assert now["water-box"].went_in == {Liquid.PROPYLENE}
    assert now["water-box"].basis is Basis.MEASURED
    assert faults(before, job, -12.0, ()) == []


def test_a_path_is_flushed_only_where_nothing_else_makes_it_safe():
    green = work(
        Act.ANTIFREEZE_POURED,
        0,
        "cylinder-passages",
        product=POURED[2],
        quantity_l=1.5,
        outflow=Outflow.FULL_COLOUR,
    )
    kinds = [step.kind for step in plan(record(green)).steps]
    assert StepKind.FLUSH not in kinds


@pytest.mark.parametrize(
    "none", [{"act": Act.FLUSHED}, {"act": Act.ANTIFREEZE_POURED, "product": POURED[2]}]
)
@pytest.mark.parametrize("profile", ["inboard-raw-water", "pwc-four-stroke"])
def test_a_path_that_is_blocked_and_flushed_is_opened_first_and_nothing_is_undone(profile, none):
    raw = [one for one in library()[profile].circuits if one.flow]
    fills = [one.circuit.id for one in raw if one.treatment(Way.POUR_IN)]
    green = work(Act.ANTIFREEZE_POURED, 0, *fills, product=POURED[2], outflow=Outflow.SEEN)
    pink = work(Act.ANTIFREEZE_POURED, 1, *fills, product=POURED[0], outflow=Outflow.SEEN)
    blocked = work(none["act"], 2, fills[0], outflow=Outflow.NONE, product=none.get("product"))
    before = record(green, pink, blocked, profile=profile)
    job = plan(before)
    kinds = [step.kind for step in job.steps]
    assert kinds.index(StepKind.CLEAR_BLOCKAGE) < kinds.index(StepKind.FLUSH)
    assert faults(before, job, -12.0, ()) == []
