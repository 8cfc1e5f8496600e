"""Steps that make circuits stand a low: each flow path once, with one quantity."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from monitor.craft.circuit import Way
from monitor.craft.layup import Act, OilAppearance
from monitor.craft.mixture import GLYCOLS
from monitor.craft.plan.dosing import dose_for_flow, fill_step
from monitor.craft.plan.draining import (
    MINUTES,
    alternatives_to_draining,
    drain_steps,
    steps_on,
    unblock_steps,
)
from monitor.craft.plan.engine import Flow, FlowJob, blow_out_or_warm, engine_job
from monitor.craft.plan.flushing import (
    circuits_left_to_heat,
    flush_steps,
    paths_left_to_heat,
    poisoned_paths,
)
from monitor.craft.plan.shelf import ShelfProduct, can_read
from monitor.craft.plan.start import PlanStart, is_engine, is_tank
from monitor.craft.plan.step import Ask, Care, JobStep, Note, StepKind
from monitor.craft.profile import CircuitKind, CircuitProfile
from monitor.craft.protection import Basis, LayupState


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitSteps:
    """All that the circuits of a craft need, by when it is done."""

    first: tuple[JobStep, ...]  # inspect, read, flush plumbing, test, empty tanks
    engine: tuple[FlowJob, ...]
    then: tuple[JobStep, ...]  # small drains, pumps, oils

    @property
    def every_step(self) -> tuple[JobStep, ...]:
        """All of them, in no order of working."""
        return (*self.first, *(step for job in self.engine for step in job.steps), *self.then)


def steps_for_circuits(start: PlanStart, shelf: Sequence[ShelfProduct]) -> CircuitSteps:
    """Work out what each weak circuit of a craft needs; a path is flushed where that saves heat.

    Parameters
    ----------
    start : PlanStart
        The craft's record at one time, and the low.
    shelf : sequence of ShelfProduct
        What the yard has.
    """
    for path in poisoned_paths(start):
        start = start.after_flush(path)
    steps = _steps_from(start, shelf)
    for path in paths_left_to_heat(start, steps.every_step):
        flushed = start.after_flush(path)
        then = _steps_from(flushed, shelf)
        left = circuits_left_to_heat(then.every_step)
        if not left.intersection(one.circuit.id for one in path):
            start, steps = flushed, then
    return steps


def _steps_from(start: PlanStart, shelf: Sequence[ShelfProduct]) -> CircuitSteps:
    weak = start.weak_circuits()
    unread = [one for one in weak if _wants_reading(start, one)]
    read = [one for one in unread if not is_engine(one)]
    engine: list[FlowJob] = []
    for group in _by_flow(start, weak, is_engine):
        if all(one in unread for one in group.weak):
            read.extend(group.weak)
        else:
            engine.append(engine_job(start, group, shelf))
    rest = [one for one in weak if not is_engine(one) and one not in read]
    return CircuitSteps(
        first=(
            *_look_first(start, weak, read),
            *_flushed_plumbing(start, rest),
            *_coolants_and_tanks(start, rest),
        ),
        engine=tuple(engine),
        then=(*_pockets(start, rest, shelf), *_plumbing(start, rest, shelf), *_oils(start, rest)),
    )


def _look_first(
    start: PlanStart, weak: list[CircuitProfile], read: list[CircuitProfile]
) -> Iterator[JobStep]:
    suspect = [one for one in weak if _is_ice_suspect(start, one)]
    yield from steps_on(StepKind.INSPECT_AFTER_ICE, suspect, act=Act.INSPECTED)
    yield from reading_steps(start, read)


def _flushed_plumbing(start: PlanStart, rest: list[CircuitProfile]) -> Iterator[JobStep]:
    """Flush before tanks of the same path are emptied: their pumps draw from them."""
    for group in _by_flow(start, rest, lambda one: not is_engine(one)):
        yield from flush_steps(start, group.weak)


def _coolants_and_tanks(start: PlanStart, rest: list[CircuitProfile]) -> Iterator[JobStep]:
    for one in rest:
        if one.kind is CircuitKind.COOLANT:
            yield from _coolant_steps(start, one)
    tanks = [one for one in rest if is_tank(one)]
    yield from steps_on(
        StepKind.EMPTY_TANK,
        tanks,
        act=Act.DRAINED,
        asks=(Ask.DRY,),
        instead=alternatives_to_draining(tanks),
    )


def _plumbing(
    start: PlanStart, rest: list[CircuitProfile], shelf: Sequence[ShelfProduct]
) -> Iterator[JobStep]:
    def is_pumped(one: CircuitProfile) -> bool:
        return one.kind is CircuitKind.PLUMBING and not is_tank(one)

    for group in _by_flow(start, rest, is_pumped):
        yield from _pumped(start, group, shelf)


def _oils(start: PlanStart, rest: list[CircuitProfile]) -> Iterator[JobStep]:
    yield from steps_on(
        StepKind.CHANGE_OIL,
        [one for one in rest if one.kind is CircuitKind.OIL],
        act=Act.OIL_CHANGED,
        asks=(Ask.CLEAR_OIL,),
        notes=_seals(start),
    )


def _by_flow(
    start: PlanStart, weak: list[CircuitProfile], is_kind: Callable[[CircuitProfile], bool]
) -> Iterable[Flow]:
    groups: dict[str, list[CircuitProfile]] = {}
    for one in start.profile.circuits:
        if is_kind(one):
            groups.setdefault(one.flow or one.circuit.id, []).append(one)
    for group in groups.values():
        if of_group := [one for one in group if one in weak]:
            yield Flow(group, of_group)


def _is_ice_suspect(start: PlanStart, one: CircuitProfile) -> bool:
    held = start.held[one.circuit.id]
    return held.suspect_since is not None and held.state is not LayupState.PROVEN


def _wants_reading(start: PlanStart, one: CircuitProfile) -> bool:
    """By its computed or stated ice point it holds, but without the room that a guess needs.

    A sample is asked for only where the product that went in can give the reading.
    """
    held = start.held[one.circuit.id]
    if start.was_part_ice(one.circuit.id):
        return held.ice_point_c <= start.standing_goal_c  # a mix too weak is not read but replaced
    guessed = held.basis in {Basis.COMPUTED, Basis.LABEL}
    near = guessed and held.ice_point_c <= start.low_c and len(held.went_in) == 1
    return near and can_read(start.product_last_in(one.circuit.id), start.standing_goal_c)


def _seals(start: PlanStart) -> tuple[Note, ...]:
    wet = {OilAppearance.MILKY, OilAppearance.WATER}
    return (Note.WATER_IN_OIL,) if any(e.evidence.oil in wet for e in start.entries) else ()


def reading_steps(start: PlanStart, group: list[CircuitProfile]) -> Iterator[JobStep]:
    """Read a sample of these circuits; none where there are none."""
    named = [one for one in group if start.held[one.circuit.id].went_in <= GLYCOLS]
    unnamed = [one for one in group if one not in named]
    for some, notes in ((named, ()), (unnamed, (Note.GLYCOL_UNNAMED,))):
        yield from steps_on(
            StepKind.READ_SAMPLE,
            some,
            act=Act.INSPECTED,
            asks=(Ask.READING,),
            reading_c=start.standing_goal_c,
            cautions=(Care.GLYCOL,),
            notes=notes,
        )


def _coolant_steps(start: PlanStart, one: CircuitProfile) -> Iterator[JobStep]:
    """Read what stays in; what was read too weak is strengthened before, which is work of its own.

    Until that is entered, the warmer of both readings would count.
    """
    held = start.held[one.circuit.id]
    names, too_weak = (one.circuit.id,), held.basis is Basis.MEASURED
    if too_weak:
        yield JobStep(
            kind=StepKind.RENEW_COOLANT,
            circuits=names,
            minutes=MINUTES[StepKind.RENEW_COOLANT],
            act=Act.CIRCUIT_OPENED,
            cautions=(Care.GLYCOL,),
        )
    yield JobStep(
        kind=StepKind.TEST_COOLANT,
        circuits=names,
        minutes=MINUTES[StepKind.TEST_COOLANT],
        act=Act.INSPECTED,
        asks=(Ask.READING,),
        # Filled anew it can reach what any new mix has to.
        reading_c=start.goal_c
        if too_weak or held.state is LayupState.VOID
        else start.standing_goal_c,
        cautions=(Care.GLYCOL,),
    )


def _pockets(
    start: PlanStart, rest: list[CircuitProfile], shelf: Sequence[ShelfProduct]
) -> Iterator[JobStep]:
    pockets = [one for one in rest if one.kind is CircuitKind.POCKET]
    yield from drain_steps(StepKind.DRAIN, [one for one in pockets if one.treatment(Way.DRAIN)])
    for one in pockets:
        if not one.treatment(Way.DRAIN):
            yield from _pumped(start, Flow([one], [one]), shelf)


def _pumped(start: PlanStart, group: Flow, shelf: Sequence[ShelfProduct]) -> Iterator[JobStep]:
    """Antifreeze by the circuit's own pump or poured in by hand; blown out where no mix holds."""
    left = group.weak
    blocked = [one for one in left if start.is_blocked(one.circuit.id)]
    yield from unblock_steps(blocked)
    for kind, way in (
        (StepKind.PUMP_ANTIFREEZE, Way.RUN_THROUGH),
        (StepKind.FILL_BY_HAND, Way.POUR_IN),
    ):
        through = [one for one in left if one.treatment(way)]
        dose = dose_for_flow(start, through, shelf) if through else None
        blow = all(one.treatment(Way.BLOW_OUT) for one in through)
        if dose is not None and not (blow and dose.product.to_buy):
            yield fill_step(start, kind, through, dose)
            left = [one for one in left if one not in through]
    yield from blow_out_or_warm(left)
