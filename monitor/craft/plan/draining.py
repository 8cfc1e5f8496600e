"""Steps on circuits by hand: what a step takes, and how drains are pulled and blockages cleared."""

from collections.abc import Iterator

from monitor.craft.circuit import Way
from monitor.craft.layup import Act, Posture
from monitor.craft.plan.step import Ask, Care, Instead, JobStep, Note, StepKind
from monitor.craft.profile import CircuitKind, CircuitProfile

# Minutes of one person (common practice, no source).
MINUTES = {
    StepKind.THAW: 20.0,
    StepKind.INSPECT_AFTER_ICE: 45.0,
    StepKind.EMPTY_TANK: 20.0,
    StepKind.CLEAR_BLOCKAGE: 40.0,
    StepKind.FLUSH: 20.0,
    StepKind.DRAIN_ENGINE: 40.0,
    StepKind.REFIT_DRAINS: 10.0,
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


def steps_on(
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
    """One step on these circuits; none where there are none."""
    if group:
        yield JobStep(
            kind=kind,
            circuits=tuple(one.circuit.id for one in group),
            minutes=MINUTES[kind] * (len(group) if kind in _EACH else 1),
            act=act,
            asks=asks,
            reading_c=reading_c,
            posture=posture,
            cautions=cautions,
            instead=instead,
            notes=notes,
        )


def drain_steps(kind: StepKind, group: list[CircuitProfile]) -> Iterator[JobStep]:
    """Drain circuits: one step for all that stand alike, a second posture would undo the first."""
    postures: dict[Posture | None, list[CircuitProfile]] = {}
    for one in group:
        postures.setdefault(one.posture, []).append(one)
    known = [posture for posture in postures if posture is not None]
    if len(known) == 1:
        # Pockets of another body, such as a trailer's hubs, do not run empty with the engine.
        apart = [one for one in postures.get(None, []) if one.kind is CircuitKind.POCKET]
        postures = {known[0]: [one for one in group if one not in apart]}
        if apart:
            postures[None] = apart
    for posture, alike in postures.items():
        yield from steps_on(
            kind,
            alike,
            act=Act.DRAINED,
            asks=(Ask.DRY,),
            posture=posture,
            instead=alternatives_to_draining(alike) if kind is StepKind.DRAIN else (),
        )


def unblock_steps(blocked: list[CircuitProfile]) -> Iterator[JobStep]:
    """Find and clear what blocks circuits: by their drains, or by opening them."""
    drained = [one for one in blocked if one.treatment(Way.DRAIN)]
    opened = [one for one in blocked if not one.treatment(Way.DRAIN)]
    yield from drain_steps(StepKind.CLEAR_BLOCKAGE, drained)
    yield from steps_on(StepKind.CLEAR_BLOCKAGE, opened, act=Act.CIRCUIT_OPENED)


def alternatives_to_draining(group: list[CircuitProfile]) -> tuple[Instead, ...]:
    """What would do in place of draining these circuits; nothing for what lies open to the eye."""
    if not group or any(one.kind is CircuitKind.POCKET for one in group):
        return ()
    if all(one.treatment(Way.RUN_THROUGH) for one in group):
        return (Instead.RUN_ANTIFREEZE,)
    if all(one.treatment(Way.POUR_IN) for one in group):
        return (Instead.FILL,)
    return ()
