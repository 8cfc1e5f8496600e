"""Steps that make circuits stand a low: each flow path once, with one quantity."""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from monitor.craft.circuit import Drainage, Way
from monitor.craft.layup import Act, OilLook, Posture
from monitor.craft.mixture import GLYCOLS
from monitor.craft.plan.shelf import Dose, Passage, ShelfProduct, can_read, dose_for
from monitor.craft.plan.start import PlanStart, hose_order, is_engine, is_tank
from monitor.craft.plan.step import Ask, Care, Instead, JobStep, Note, StepKind
from monitor.craft.profile import CircuitKind, CircuitProfile, Proof
from monitor.craft.protection import Basis, LayupState

# Minutes of one person (common practice, no source).
_MINUTES = {
    StepKind.INSPECT_AFTER_ICE: 45.0,
    StepKind.EMPTY_TANK: 20.0,
    StepKind.CLEAR_BLOCKAGE: 40.0,
    StepKind.DRAIN_ENGINE: 40.0,
    StepKind.FILL_BY_HAND: 30.0,
    StepKind.RUN_ANTIFREEZE: 40.0,
    StepKind.DRAIN: 15.0,
    StepKind.PUMP_ANTIFREEZE: 15.0,
    StepKind.BLOW_OUT: 15.0,
    StepKind.READ_SAMPLE: 10.0,
    StepKind.TEST_COOLANT: 10.0,
    StepKind.RENEW_COOLANT: 45.0,
    StepKind.CHANGE_OIL: 20.0,
    StepKind.WARM: 20.0,
}
_EACH = frozenset(
    {StepKind.EMPTY_TANK, StepKind.CHANGE_OIL, StepKind.READ_SAMPLE}
)  # so long for each circuit
# So little is drained and probed, where all of it drains, and antifreeze is not worth its bother;
# where more of a path drains, it is drained before anything goes in.
_SMALL_L = 1.0
# Of what a drained engine holds, behind a scaled drain: 0.5 to 4 of 6 to 12 L, yard practice, no
# published source.
_STAYS_BEHIND_DRAINS = 1.0 / 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowJob:
    """The steps on one flow path of an engine."""

    flow: tuple[str, ...]  # every circuit that the path passes
    steps: tuple[JobStep, ...]
    runs_through: bool  # the engine runs on antifreeze
    may_run_on_water: bool  # nothing in it holds, and nothing blocks it: a run takes nothing away


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitSteps:
    """All that the circuits of a craft need, by when it is done."""

    first: tuple[JobStep, ...]  # inspect, read, test, empty tanks
    engine: tuple[FlowJob, ...]
    then: tuple[JobStep, ...]  # small drains, pumps, oils


def steps_for_circuits(start: PlanStart, shelf: Sequence[ShelfProduct]) -> CircuitSteps:
    """StepKind out what each weak circuit of a craft needs.

    Parameters
    ----------
    start : PlanStart
        The craft's record at one time, and the low.
    shelf : sequence of ShelfProduct
        What the yard has.
    """
    weak = start.weak()
    suspect = [one for one in weak if _is_ice_suspect(start, one)]
    unread = [one for one in weak if _wants_reading(start, one)]
    raw = [group for group in _by_flow(start, weak, is_engine) if group.weak]
    read = [one for one in unread if not is_engine(one)]
    engine: list[FlowJob] = []
    for group in raw:
        if all(one in unread for one in group.weak):
            read.extend(group.weak)
        else:
            engine.append(_engine_job(start, group, shelf))
    rest = [one for one in weak if not is_engine(one) and one not in read]
    tanks = [one for one in rest if is_tank(one)]
    pumps = [
        group
        for group in _by_flow(
            start, rest, lambda one: one.kind is CircuitKind.PLUMBING and not is_tank(one)
        )
        if group.weak
    ]
    coolant = [one for one in rest if one.kind is CircuitKind.COOLANT]
    return CircuitSteps(
        first=(
            *_one(StepKind.INSPECT_AFTER_ICE, suspect, act=Act.INSPECTED),
            *_reading(start, read),
            *(_coolant(start, one) for one in coolant),
            *_one(
                StepKind.EMPTY_TANK,
                tanks,
                act=Act.DRAINED,
                asks=(Ask.DRY,),
                instead=_instead(tanks),
            ),
        ),
        engine=tuple(engine),
        then=(
            *_pockets(start, [one for one in rest if one.kind is CircuitKind.POCKET], shelf),
            *(step for group in pumps for step in _pumped(start, group, shelf)),
            *_one(
                StepKind.CHANGE_OIL,
                [one for one in rest if one.kind is CircuitKind.OIL],
                act=Act.OIL_CHANGED,
                asks=(Ask.CLEAR_OIL,),
                notes=_seals(start),
            ),
        ),
    )


@dataclass(frozen=True, slots=True)
class _Flow:
    all: list[CircuitProfile]
    weak: list[CircuitProfile]


def _by_flow(
    start: PlanStart, weak: list[CircuitProfile], is_kind: Callable[[CircuitProfile], bool]
) -> Iterable[_Flow]:
    groups: dict[str, list[CircuitProfile]] = {}
    for one in start.profile.circuits:
        if is_kind(one):
            groups.setdefault(one.flow or one.circuit.id, []).append(one)
    for group in groups.values():
        yield _Flow(group, [one for one in group if one in weak])


def _is_ice_suspect(start: PlanStart, one: CircuitProfile) -> bool:
    held = start.held[one.circuit.id]
    return held.suspect_since is not None and held.state is not LayupState.PROVEN


def _wants_reading(start: PlanStart, one: CircuitProfile) -> bool:
    """By its computed or stated ice point it holds, but without the room that a guess needs.

    A sample is asked for only where the product that went in can give the reading.
    """
    held = start.held[one.circuit.id]
    if start.was_part_ice(one.circuit.id):
        return True
    guessed = held.basis in {Basis.COMPUTED, Basis.LABEL}
    near = guessed and held.ice_point_c <= start.low_c and len(held.went_in) == 1
    return near and can_read(start.poured(one.circuit.id), start.standing_goal_c)


def _seals(start: PlanStart) -> tuple[Note, ...]:
    wet = {OilLook.MILKY, OilLook.WATER}
    return (Note.WATER_IN_OIL,) if any(e.evidence.oil in wet for e in start.entries) else ()


def _reading(start: PlanStart, group: list[CircuitProfile]) -> Iterator[JobStep]:
    yield from _one(
        StepKind.READ_SAMPLE,
        group,
        act=Act.INSPECTED,
        asks=(Ask.READING,),
        reading_c=start.standing_goal_c,
        cautions=(Care.GLYCOL,),
    )


def _coolant(start: PlanStart, one: CircuitProfile) -> JobStep:
    read = start.held[one.circuit.id].basis is Basis.MEASURED
    kind = StepKind.RENEW_COOLANT if read else StepKind.TEST_COOLANT
    return JobStep(
        kind=kind,
        circuits=(one.circuit.id,),
        minutes=_MINUTES[kind],
        act=Act.INSPECTED,
        asks=(Ask.READING,),
        reading_c=start.standing_goal_c if kind is StepKind.TEST_COOLANT else start.goal_c,
        cautions=(Care.GLYCOL,),
    )


def _engine_job(start: PlanStart, group: _Flow, shelf: Sequence[ShelfProduct]) -> FlowJob:
    blocked = [one for one in group.weak if start.is_blocked(one.circuit.id)]
    steps = [*_unblocked(blocked)]
    weak = [one for one in group.weak if one not in blocked or not one.treatment(Way.DRAIN)]
    unproven = all(start.held[one.circuit.id].state is not LayupState.PROVEN for one in group.all)
    may_run = len(weak) == len(group.all) and not blocked and unproven
    if weak:
        wet = may_run and start.needs_fuel_run
        steps.extend(_treated(start, _Flow(group.all, weak), shelf, wet=wet))
    return FlowJob(
        flow=tuple(one.circuit.id for one in group.all),
        steps=tuple(steps),
        runs_through=any(step.kind is StepKind.RUN_ANTIFREEZE for step in steps),
        may_run_on_water=may_run,
    )


def _unblocked(blocked: list[CircuitProfile]) -> Iterator[JobStep]:
    drained = [one for one in blocked if one.treatment(Way.DRAIN)]
    opened = [one for one in blocked if not one.treatment(Way.DRAIN)]
    yield from _drained(StepKind.CLEAR_BLOCKAGE, drained)
    yield from _one(StepKind.CLEAR_BLOCKAGE, opened, act=Act.CIRCUIT_OPENED)


def _treated(
    start: PlanStart, group: _Flow, shelf: Sequence[ShelfProduct], *, wet: bool
) -> Iterator[JobStep]:
    """Drain what empties itself; else antifreeze, into a drained engine where it can be.

    ``wet``: it is run on water before, whatever stood in it.
    """
    weak = group.weak
    volume = sum(one.circuit.volume_l for one in weak)
    drains = [one for one in weak if one.treatment(Way.DRAIN)]
    if len(drains) == len(weak) and (
        volume <= _SMALL_L or all(one.circuit.drainage is Drainage.SELF for one in weak)
    ):
        yield from _drained(StepKind.DRAIN, drains)
        return
    hot = any(_needs_hot_engine(one) for one in weak)
    first = hot or sum(one.circuit.volume_l for one in drains) > _SMALL_L
    left = weak
    if first and drains:
        yield from _drained(StepKind.DRAIN_ENGINE, drains)
    partly = len(weak) < len(group.all)
    for kind, way in _ways(by_hand=hot or partly):
        through = [one for one in left if one.treatment(way)]
        if hot and way is Way.RUN_THROUGH:
            through = [one for one in through if one not in drains]
        if not through:
            continue
        if kind is StepKind.RUN_ANTIFREEZE and not first:
            through = [one for one in group.all if one.treatment(way) and _not_blocked(start, one)]
        dose = _dose(start, through, shelf, drains if first else (), wet=wet)
        if dose is None and way is Way.POUR_IN:
            # Only what cannot be drained: a kind of glycol in the rest may stand in the way.
            through = [one for one in through if one not in drains]
            dose = _dose(start, through, shelf, wet=wet) if through else None
        if dose is None:
            continue
        if dose.product.to_buy and first and all(one in drains for one in through):
            continue  # seen dry they hold any low, and nothing on the shelf would be better
        yield _filled(start, kind, through, dose)
        left = [one for one in left if one not in through]
    if not first:
        yield from _drained(StepKind.DRAIN, [one for one in left if one in drains])
    left = [one for one in left if one not in drains]
    blown = [one for one in left if one.treatment(Way.BLOW_OUT)]
    yield from _one(StepKind.BLOW_OUT, blown, act=Act.BLOWN_OUT, asks=(Ask.DRY,))
    yield from _one(StepKind.WARM, [one for one in left if one not in blown])


def _ways(*, by_hand: bool) -> tuple[tuple[StepKind, Way], ...]:
    run, pour = (StepKind.RUN_ANTIFREEZE, Way.RUN_THROUGH), (StepKind.FILL_BY_HAND, Way.POUR_IN)
    return (pour, run) if by_hand else (run, pour)


def _not_blocked(start: PlanStart, one: CircuitProfile) -> bool:
    return not start.is_blocked(one.circuit.id)


def _needs_hot_engine(one: CircuitProfile) -> bool:
    run = one.treatment(Way.RUN_THROUGH)
    return run is not None and Proof.HOT_ENGINE in run.needs


def _dose(
    start: PlanStart,
    group: list[CircuitProfile],
    shelf: Sequence[ShelfProduct],
    drained: Collection[CircuitProfile] = (),
    *,
    wet: bool = False,
) -> Dose | None:
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


def _filled(start: PlanStart, kind: StepKind, group: list[CircuitProfile], dose: Dose) -> JobStep:
    run = kind is StepKind.RUN_ANTIFREEZE
    fumes = (Care.CARBON_MONOXIDE, Care.FUEL_VAPOUR) if run else ()
    way = Way.POUR_IN if kind is StepKind.FILL_BY_HAND else Way.RUN_THROUGH
    hot = (Ask.HOT_ENGINE,) if run and any(_needs_hot_engine(one) for one in group) else ()
    dry = all(one.treatment(Way.DRAIN) for one in group)
    pour = run and all(one.treatment(Way.POUR_IN) for one in group)
    blow = all(one.treatment(Way.BLOW_OUT) for one in group)
    instead = (
        *((Instead.PROBE_DRY,) if dry else ()),
        *((Instead.POUR,) if pour else ()),
        *((Instead.BLOW_OUT,) if blow and not dry else ()),
    )
    return JobStep(
        kind=kind,
        circuits=tuple(one.circuit.id for one in group),
        minutes=_MINUTES[kind],
        product=dose.product,
        quantity_l=dose.litres,
        reading_c=start.goal_c,
        asks=(*hot, Ask.OUTFLOW, Ask.READING),
        cautions=(Care.GLYCOL, *fumes),
        instead=instead,
        notes=hose_order(start.profile) if run else (),
        act=Act.ANTIFREEZE_POURED if way is Way.POUR_IN else Act.ANTIFREEZE_RUN_THROUGH,
    )


def _drained(kind: StepKind, group: list[CircuitProfile]) -> Iterator[JobStep]:
    """One step for all that stand alike: a second posture would undo the first."""
    postures: dict[Posture | None, list[CircuitProfile]] = {}
    for one in group:
        postures.setdefault(one.posture, []).append(one)
    known = [posture for posture in postures if posture is not None]
    if len(known) == 1:
        postures = {known[0]: group}
    for posture, alike in postures.items():
        yield from _one(
            kind,
            alike,
            act=Act.DRAINED,
            asks=(Ask.DRY,),
            posture=posture,
            instead=_instead(alike) if kind is StepKind.DRAIN else (),
        )


def _instead(group: list[CircuitProfile]) -> tuple[Instead, ...]:
    if group and all(one.treatment(Way.RUN_THROUGH) for one in group):
        return (Instead.RUN_ANTIFREEZE,)
    if group and all(one.treatment(Way.POUR_IN) for one in group):
        return (Instead.POUR,)
    return ()


def _pockets(
    start: PlanStart, group: list[CircuitProfile], shelf: Sequence[ShelfProduct]
) -> Iterator[JobStep]:
    yield from _drained(StepKind.DRAIN, [one for one in group if one.treatment(Way.DRAIN)])
    for one in group:
        if not one.treatment(Way.DRAIN):
            yield from _pumped(start, _Flow([one], [one]), shelf)


def _pumped(start: PlanStart, group: _Flow, shelf: Sequence[ShelfProduct]) -> Iterator[JobStep]:
    """Antifreeze by the circuit's own pump or poured in by hand; blown out where no mix holds."""
    left = group.weak
    blocked = [one for one in left if start.is_blocked(one.circuit.id)]
    yield from _unblocked(blocked)
    for kind, way in (
        (StepKind.PUMP_ANTIFREEZE, Way.RUN_THROUGH),
        (StepKind.FILL_BY_HAND, Way.POUR_IN),
    ):
        through = [one for one in left if one.treatment(way)]
        dose = _dose(start, through, shelf) if through else None
        blow = all(one.treatment(Way.BLOW_OUT) for one in through)
        if dose is not None and not (blow and dose.product.to_buy):
            yield _filled(start, kind, through, dose)
            left = [one for one in left if one not in through]
    blown = [one for one in left if one.treatment(Way.BLOW_OUT)]
    yield from _one(StepKind.BLOW_OUT, blown, act=Act.BLOWN_OUT, asks=(Ask.DRY,))
    yield from _one(StepKind.WARM, [one for one in left if one not in blown])


def _one(
    kind: StepKind,
    group: list[CircuitProfile],
    *,
    act: Act | None = None,
    asks: tuple[Ask, ...] = (),
    reading_c: float | None = None,
    posture: Posture | None = None,
    cautions: tuple[Care, ...] = (),
    instead: tuple[Instead, ...] = (),
    notes: tuple[Note, ...] = (),
) -> Iterator[JobStep]:
    if group:
        yield JobStep(
            kind=kind,
            circuits=tuple(one.circuit.id for one in group),
            minutes=_MINUTES[kind] * (len(group) if kind in _EACH else 1),
            act=act,
            asks=asks,
            reading_c=reading_c,
            posture=posture,
            cautions=cautions,
            instead=instead,
            notes=notes,
        )
