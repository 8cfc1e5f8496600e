"""How far a craft is on its way back into the water: which steps are done, and the sign-off.

A step counts as done by an entry that ticks it off, until later work undoes that step again. A
craft may be started once somebody has signed off behind the last step that had to be done before;
the entry alone says nothing while one of them is open.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.account import season
from monitor.craft.craft_stays import Shelter
from monitor.craft.layup import ANTIFREEZE, FOGGING, Act, LayupEntry, OilAppearance, Outflow
from monitor.craft.plan.step import Ask, JobStep, StepKind
from monitor.craft.record import CraftRecord
from monitor.craft.settling import settled_by
from monitor.craft.spring import READY_STEPS, spring_begun_at, spring_plan

# Work after a step that opens it again.
_OPENS_AGAIN: Mapping[StepKind, frozenset[Act]] = {
    StepKind.UNCOVER: frozenset({Act.COVER_FITTED}),
    StepKind.CATCH_ANTIFREEZE: ANTIFREEZE,
    StepKind.FLUSH_PLUMBING: ANTIFREEZE,
    StepKind.CLOSE_DRAINS: ANTIFREEZE
    | {Act.DRAINED, Act.BLOWN_OUT, Act.CIRCUIT_OPENED, Act.PORT_LEFT_OPEN},
    StepKind.CLEAR_CYLINDERS: FOGGING,
    StepKind.LOOK_AT_FUEL: frozenset({Act.FUEL_DRAINED, Act.FUEL_TANK_EMPTIED}),
    StepKind.FIT_BATTERY: frozenset(
        {Act.BATTERY_REMOVED, Act.BATTERY_ON_MAINTAINER, Act.BATTERY_DISCONNECTED}
    ),
}
_AFTER_SIGN_OFF = frozenset({StepKind.SIGN_OFF, StepKind.FIRST_START, StepKind.COMMISSION})


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringStep:
    """One step, and the entry by which it is done; None while it is open."""

    step: JobStep
    done_by: LayupEntry | None

    @property
    def is_before_start(self) -> bool:
        """Whether nobody may sign off, or start it, while this one is open."""
        return self.step.kind not in _AFTER_SIGN_OFF


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringProgress:
    """All steps in working order, and whether the craft may be started."""

    steps: tuple[SpringStep, ...]
    begun_at: datetime | None  # the first tick; None while nothing is ticked off
    signed_off: LayupEntry | None  # only one that stands: nothing is open in front of it
    commissioned: LayupEntry | None

    @property
    def before_start(self) -> tuple[SpringStep, ...]:
        """The steps that have to be done before anybody signs off."""
        return tuple(one for one in self.steps if one.is_before_start)

    @property
    def open_before_start(self) -> tuple[SpringStep, ...]:
        """Those of them that are open."""
        return tuple(one for one in self.before_start if one.done_by is None)

    @property
    def may_be_started(self) -> bool:
        """Signed off or commissioned, and nothing open; else DO NOT START stands."""
        signed = self.signed_off is not None or self.commissioned is not None
        return signed and not self.open_before_start


def spring_progress(
    record: CraftRecord, shelters: Mapping[str, Shelter], at: datetime
) -> SpringProgress:
    """Hold a craft's spring plan against what is on record.

    Parameters
    ----------
    record : CraftRecord
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        What is on record for later does not count. Of a record that cannot be read no step counts.
    """
    standing = tuple(one for one in record.standing(at) if season(one.at) == season(at))
    places = {one.id: place for place, one in enumerate(standing)}
    settled = {key: after for key, (_, after) in settled_by(standing, record.profile).items()}
    steps = tuple(
        SpringStep(step=step, done_by=_done_by(step, standing, settled))
        for step in spring_plan(record, shelters, at).steps
    )
    before = [one for one in steps if one.is_before_start]
    signed = _last_of(Act.SIGNED_OFF, standing)
    if signed is not None and any(
        one.done_by is None or places.get(one.done_by.id, 0) > places[signed.id] for one in before
    ):
        signed = None
    steps = tuple(
        SpringStep(step=one.step, done_by=signed) if one.step.kind is StepKind.SIGN_OFF else one
        for one in steps
    )
    return SpringProgress(
        steps=steps,
        begun_at=spring_begun_at(standing),
        signed_off=signed,
        commissioned=_last_of(Act.COMMISSIONED, standing),
    )


def _last_of(act: Act, standing: Sequence[LayupEntry]) -> LayupEntry | None:
    return next((one for one in reversed(standing) if one.act is act), None)


def _done_by(
    step: JobStep, standing: Sequence[LayupEntry], settled: Mapping[str, LayupEntry]
) -> LayupEntry | None:
    """The last entry by which a step is done as a whole; None while any of it is open."""
    if step.finding is not None:
        return settled.get(step.finding.seen.id)
    if step.kind not in READY_STEPS:
        return _last_of(step.act, standing) if step.act is not None else None
    ticks = [_last_tick(step, standing, name) for name in step.circuits or ("",)]
    done = [one for one in ticks if one is not None]
    return max(done, key=standing.index) if len(done) == len(ticks) else None


def _last_tick(step: JobStep, standing: Sequence[LayupEntry], circuit: str) -> LayupEntry | None:
    """The tick of a step on one circuit that no later work has opened again."""
    opens = _OPENS_AGAIN.get(step.kind, frozenset())
    for one in reversed(standing):
        if one.readied is READY_STEPS[step.kind] and _is_on(one, circuit) and _shows(one, step):
            tested_before_ice = step.kind is StepKind.LOOK_AFTER_ICE and (
                step.at is not None and one.at < step.at
            )
            return None if tested_before_ice else one
        if one.act in opens and (not circuit or not one.circuits or circuit in one.circuits):
            return None
    return None


def _is_on(entry: LayupEntry, circuit: str) -> bool:
    return not circuit or circuit in entry.circuits


def _shows(entry: LayupEntry, step: JobStep) -> bool:
    """Whether an entry shows what the step has to be done with: milky oil ticks off nothing."""
    return all(_IS_SEEN[ask](entry) for ask in step.asks if ask in _IS_SEEN)


_IS_SEEN: Mapping[Ask, Callable[[LayupEntry], bool]] = {
    Ask.CLEAR_OIL: lambda one: one.evidence.oil is OilAppearance.CLEAR,
    Ask.CLEAR_WATER: lambda one: one.evidence.outflow is Outflow.CLEAR_WATER,
    Ask.RESTED_VOLTAGE: lambda one: one.rested_v is not None,
}
