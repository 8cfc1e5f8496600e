"""Steps on one flow path of an engine: drained where it drains, else antifreeze in one quantity."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from monitor.craft.circuit import Drainage, Way
from monitor.craft.layup import Act
from monitor.craft.plan.dosing import dose_for_flow, fill_step, needs_hot_engine
from monitor.craft.plan.draining import drain_steps, steps_on, unblock_steps
from monitor.craft.plan.flushing import flush_steps
from monitor.craft.plan.shelf import Dose, ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import Ask, JobStep, StepKind
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import LayupState

# So little is drained and probed, where all of it drains, and antifreeze is not worth its bother;
# where more of a path drains, it is drained before anything goes in.
_SMALL_L = 1.0


@dataclass(frozen=True, slots=True)
class Flow:
    """Circuits that one flow passes."""

    all: list[CircuitProfile]
    weak: list[CircuitProfile]  # those of them that do not hold


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowJob:
    """The steps on one flow path of an engine."""

    flow: tuple[str, ...]  # every circuit that the path passes
    steps: tuple[JobStep, ...]
    runs_through: bool  # the engine runs on antifreeze
    may_run_on_water: bool  # nothing in it holds, and nothing blocks it: a run takes nothing away
    flushed: bool  # with the engine running, before anything goes in


def engine_job(start: PlanStart, group: Flow, shelf: Sequence[ShelfProduct]) -> FlowJob:
    """The steps on one flow path of an engine: blockages first, then what keeps frost out."""
    blocked = [one for one in group.weak if start.is_blocked(one.circuit.id)]
    flush = tuple(flush_steps(start, group.all))
    steps = [*unblock_steps(blocked), *flush]
    weak = [one for one in group.weak if one not in blocked or not one.treatment(Way.DRAIN)]
    unproven = all(start.held[one.circuit.id].state is not LayupState.PROVEN for one in group.all)
    flow = tuple(one.circuit.id for one in group.all)
    may_run = len(weak) == len(group.all) and not blocked and unproven
    if weak:
        wet = may_run and (start.needs_fuel_run(flow) or bool(flush))
        steps.extend(_treat_flow(start, Flow(group.all, weak), shelf, wet=wet))
    return FlowJob(
        flow=flow,
        steps=tuple(steps),
        runs_through=any(step.kind is StepKind.RUN_ANTIFREEZE for step in steps),
        may_run_on_water=may_run,
        flushed=bool(flush),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Treatment:
    """What decides how the weak circuits of a flow are treated."""

    start: PlanStart
    group: Flow
    shelf: Sequence[ShelfProduct]
    drains: list[CircuitProfile]  # weak circuits that can be drained
    hot: bool  # antifreeze counts only from a hot engine
    drained_first: bool  # before any antifreeze goes in
    wet: bool  # water is run through before, whatever stood in it


def _treat_flow(
    start: PlanStart, group: Flow, shelf: Sequence[ShelfProduct], *, wet: bool
) -> Iterator[JobStep]:
    """Drain what empties itself; else antifreeze, into a drained engine where it can be."""
    weak = group.weak
    drains = [one for one in weak if one.treatment(Way.DRAIN)]
    if _drains_suffice(weak, drains):
        yield from _drain_only(group)
        return
    hot = any(needs_hot_engine(one) for one in weak)
    drained_first = hot or _volume_l(drains) > _SMALL_L
    treatment = _Treatment(
        start=start,
        group=group,
        shelf=shelf,
        drains=drains,
        hot=hot,
        drained_first=drained_first,
        wet=wet,
    )
    fills, left = _fills(treatment)
    if drained_first:
        yield from _drain_before(fills, drains)
    yield from fills
    if not drained_first:
        yield from drain_steps(StepKind.DRAIN, [one for one in left if one in drains])
    yield from blow_out_or_warm([one for one in left if one not in drains])


def _drain_only(group: Flow) -> Iterator[JobStep]:
    """Drain what is weak; a run in its place would go through the rest, which holds as it is."""
    for step in drain_steps(StepKind.DRAIN, group.weak):
        yield step if len(group.weak) == len(group.all) else replace(step, instead=())


def _fills(treatment: _Treatment) -> tuple[list[JobStep], list[CircuitProfile]]:
    """Steps that bring antifreeze into a flow, and the weak circuits that none of them protects."""
    group = treatment.group
    left = group.weak
    fills: list[JobStep] = []
    for kind, way in _ways(by_hand=treatment.hot or len(left) < len(group.all)):
        if (filling := _filling(treatment, left, kind, way)) is not None:
            through, dose = filling
            fills.append(fill_step(treatment.start, kind, through, dose))
            left = [one for one in left if one not in through]
    return fills, left


def _drain_before(fills: list[JobStep], drains: list[CircuitProfile]) -> Iterator[JobStep]:
    """Drain an engine, and close what is filled then: behind an open drain it runs out again."""
    yield from drain_steps(StepKind.DRAIN_ENGINE, drains)
    filled = {name for step in fills for name in step.circuits}
    yield from steps_on(StepKind.REFIT_DRAINS, [one for one in drains if one.circuit.id in filled])


def _volume_l(group: list[CircuitProfile]) -> float:
    return sum(one.circuit.volume_l for one in group)


def _drains_suffice(weak: list[CircuitProfile], drains: list[CircuitProfile]) -> bool:
    """Whether all of it drains, and antifreeze is not worth its bother."""
    return len(drains) == len(weak) and (
        _volume_l(weak) <= _SMALL_L or all(one.circuit.drainage is Drainage.SELF for one in weak)
    )


def _ways(*, by_hand: bool) -> tuple[tuple[StepKind, Way], ...]:
    run, pour = (StepKind.RUN_ANTIFREEZE, Way.RUN_THROUGH), (StepKind.FILL_BY_HAND, Way.POUR_IN)
    return (pour, run) if by_hand else (run, pour)


def _filling(
    treatment: _Treatment, left: list[CircuitProfile], kind: StepKind, way: Way
) -> tuple[list[CircuitProfile], Dose] | None:
    """Circuits that one way of filling protects, and the dose; None where it protects nothing."""
    start, shelf, wet = treatment.start, treatment.shelf, treatment.wet
    through = _reached(treatment, left, kind, way)
    if not through:
        return None
    drained = treatment.drains if treatment.drained_first else ()
    dose = dose_for_flow(start, through, shelf, drained, wet=wet)
    if dose is None and way is Way.POUR_IN:
        # Only what cannot be drained: a kind of glycol in the rest may stand in the way.
        through = [one for one in through if one not in treatment.drains]
        dose = dose_for_flow(start, through, shelf, wet=wet) if through else None
    if dose is None:
        return None
    if dose.product.to_buy and all(one in drained for one in through):
        return None  # seen dry they hold any low, and nothing on the shelf would be better
    return through, dose


def _reached(
    treatment: _Treatment, left: list[CircuitProfile], kind: StepKind, way: Way
) -> list[CircuitProfile]:
    """Circuits that this way of filling can protect."""
    through = [one for one in left if one.treatment(way)]
    if treatment.hot and way is Way.RUN_THROUGH:
        through = [one for one in through if one not in treatment.drains]
    if through and kind is StepKind.RUN_ANTIFREEZE and not treatment.drained_first:
        # It runs through the whole path, past what holds already, and what was opened to clear it;
        # what was cleared by its drain is left dry.
        return [
            one
            for one in treatment.group.all
            if one.treatment(way)
            and not (treatment.start.is_blocked(one.circuit.id) and one.treatment(Way.DRAIN))
        ]
    return through


def blow_out_or_warm(group: list[CircuitProfile]) -> Iterator[JobStep]:
    """What is left where no antifreeze protects circuits: blow them out, or keep them in heat."""
    blown = [one for one in group if one.treatment(Way.BLOW_OUT)]
    yield from steps_on(StepKind.BLOW_OUT, blown, act=Act.BLOWN_OUT, asks=(Ask.DRY,))
    yield from steps_on(StepKind.WARM, [one for one in group if one not in blown])
