"""Antifreeze into circuits: which product, how much of it, and the step that brings it in."""

from collections.abc import Collection, Sequence

from monitor.craft.circuit import Way
from monitor.craft.layup import Act
from monitor.craft.mixture import GLYCOLS
from monitor.craft.plan.draining import MINUTES
from monitor.craft.plan.shelf import Dose, Passage, ShelfProduct, dose_for
from monitor.craft.plan.start import PlanStart, hose_order
from monitor.craft.plan.step import Ask, Care, Instead, JobStep, StepKind
from monitor.craft.profile import CircuitKind, CircuitProfile, Proof

# Of what a drained engine holds, behind a scaled drain: 0.5 to 4 of 6 to 12 L, yard practice, no
# published source.
_STAYS_BEHIND_DRAINS = 1.0 / 3.0


def dose_for_flow(
    start: PlanStart,
    group: list[CircuitProfile],
    shelf: Sequence[ShelfProduct],
    drained: Collection[CircuitProfile] = (),
    *,
    wet: bool = False,
) -> Dose | None:
    """Product and quantity for circuits that one flow passes; None where no mix can be read there.

    ``drained``: those emptied before it; ``wet``: water is run through all of them before.
    """
    holds = sum(one.circuit.volume_l for one in group)
    drinking = any(one.kind is CircuitKind.PLUMBING for one in group)
    before = start.went_in(one for one in group if one not in drained)
    if len(before) > 1 or before - GLYCOLS:
        return None  # whatever comes on top, no scale reads the mix
    kind = next(iter(before), None)
    if wet or any(one in drained for one in group):
        behind = sum(
            one.circuit.volume_l * (_STAYS_BEHIND_DRAINS if one in drained else 1.0)
            for one in group
        )
        passage = Passage(holds_l=holds, water_l=behind, liquid=kind)
    else:
        fraction, _ = start.glycol_in(group)
        passage = Passage(
            holds_l=start.water_l(group),
            water_l=start.water_l(group),
            held_fraction=fraction,
            liquid=kind,
        )
    return dose_for(shelf, start.goal_c, passage, drinking=drinking)


def needs_hot_engine(one: CircuitProfile) -> bool:
    """Whether antifreeze run through it counts only from a hot engine."""
    run = one.treatment(Way.RUN_THROUGH)
    return run is not None and Proof.HOT_ENGINE in run.needs


def fill_step(start: PlanStart, kind: StepKind, group: list[CircuitProfile], dose: Dose) -> JobStep:
    """The step that brings a dose into circuits, by hand, pump or running engine."""
    run = kind is StepKind.RUN_ANTIFREEZE
    fumes = (Care.CARBON_MONOXIDE, Care.FUEL_VAPOUR) if run else ()
    hot = (Ask.HOT_ENGINE,) if run and any(needs_hot_engine(one) for one in group) else ()
    return JobStep(
        kind=kind,
        circuits=tuple(one.circuit.id for one in group),
        minutes=MINUTES[kind],
        product=dose.product,
        quantity_l=dose.litres,
        reading_c=start.goal_c,
        asks=(*hot, Ask.OUTFLOW, Ask.READING),
        cautions=(Care.GLYCOL, *fumes),
        instead=_alternatives_to_filling(group, run=run),
        notes=hose_order(start.profile) if run else (),
        act=Act.ANTIFREEZE_POURED if kind is StepKind.FILL_BY_HAND else Act.ANTIFREEZE_RUN_THROUGH,
    )


def _alternatives_to_filling(group: list[CircuitProfile], *, run: bool) -> tuple[Instead, ...]:
    """What would do in place of filling circuits; ``run``: the engine was to do it."""

    def accepts(way: Way) -> bool:
        return all(one.treatment(way) for one in group)

    dry = accepts(Way.DRAIN)
    return (
        *((Instead.PROBE_DRY,) if dry else ()),
        *((Instead.POUR,) if run and accepts(Way.POUR_IN) else ()),
        *((Instead.BLOW_OUT,) if accepts(Way.BLOW_OUT) and not dry else ()),
    )
