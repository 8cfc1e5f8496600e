"""Facts of the watch, and those faults among them that lie in its store."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import inf

from monitor.errors import (
    StoreBusyError,
    StoreDamagedError,
    StoreError,
    StoreFullError,
    StoreReadonlyError,
)
from monitor.health.store_probe import ProbeAnswer
from monitor.health.store_seen import StoreSeen
from monitor.phrases.intake_faults import (
    drop_act,
    drop_line,
    foreign_act,
    foreign_line,
    own_clock_act,
    own_clock_line,
)
from monitor.phrases.own_condition import (
    COMPARE,
    MAKE_ROOM,
    MEND,
    room_sentence,
)
from monitor.wording import listed_first, span_in_words
from monitor.yard.facts import DropFacts
from monitor.yard.forecast import STALE_AFTER, ForecastAsking
from monitor.yard.health import (
    HealthFaultKind,
    IntakeFault,
    IntakeFaultKind,
    JobName,
    JobState,
    StoreCondition,
)
from monitor.yard.space import Yard

STORE_SILENT_S = 10.0  # a disk or a server that takes so long for one question does not answer
_SHORTEST_SILENCE = timedelta(minutes=15)
_MISSED_IN_A_ROW = 3
_NAMED = 3  # records, before the rest are only counted
_FREE_THE_LOCK = (
    "End the program that holds its lock: a copy being taken, or a database shell left open"
    " (`fuser` with the file's name tells which)."
)
_LET_WRITE = (
    "Let laidup's user write the store: its file and its folder, or on PostgreSQL what"
    " `postgresql/rights.sql` grants."
)
_LOOK_AT_STORE = "See that its disk, or the database's server, is there and answers."
_REMEDIES: tuple[tuple[type[StoreError], str], ...] = (
    (StoreFullError, MAKE_ROOM),
    (StoreDamagedError, MEND),
    (StoreBusyError, _FREE_THE_LOCK),
    (StoreReadonlyError, _LET_WRITE),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthFacts:
    """What is known of the watch at one moment; nobody has to wait for any of it."""

    now: datetime
    probe: ProbeAnswer
    condition: StoreCondition = field(default_factory=StoreCondition)
    parts: Mapping[str, str] = field(
        default_factory=dict
    )  # that hang or only fail, each with the reason
    away: str = ""  # why what the sensors send does not reach us; empty while it does
    away_remedy: str = ""
    not_stored: StoreError | None = None  # why the store takes no readings; None while it does
    catching_up: bool = False  # what comes now had waited in the broker
    channels: Mapping[str, str] = field(
        default_factory=dict
    )  # that take nothing just now, each with the reason
    jobs: Mapping[JobName, str] = field(
        default_factory=dict
    )  # of the house, that failed, hang or did not run, each with what is wrong in a clause
    job_states: tuple[JobState, ...] = ()
    # How long the watch has run [s], where it is asked itself: what it has not had the time to hear
    # or judge yet is nothing that went wrong.
    running_s: float = inf


@dataclass(frozen=True, slots=True, kw_only=True)
class ObservedFault:
    """A fault as found; since when it has stood is known to whoever looks more than once."""

    kind: HealthFaultKind
    what: str
    remedy: str
    part: str = ""
    is_grave: bool = False
    since: datetime | None = None  # where the fact itself says
    is_of_start: bool = False  # as ``HealthFault.is_of_start``

    @property
    def key(self) -> tuple[HealthFaultKind, str, bool]:
        """As ``HealthFault.key``."""
        return (self.kind, self.part, self.is_grave)


def faults_of_store(facts: HealthFacts) -> Iterator[ObservedFault]:
    """Damage, silence or refusal of the store, and a disk that fills up."""
    condition, refusal = facts.condition, facts.probe.refusal or facts.not_stored
    if condition.damage:
        what = f"The store's file is damaged: {condition.damage}."
        yield ObservedFault(kind=HealthFaultKind.STORE, what=what, remedy=MEND, is_grave=True)
    elif facts.probe.silent_s > STORE_SILENT_S:
        what = f"The store has not answered for {facts.probe.silent_s:.0f} s."
        yield ObservedFault(
            kind=HealthFaultKind.STORE, what=what, remedy=_LOOK_AT_STORE, is_grave=True
        )
    elif refusal is not None:
        what = f"The store does not answer as it should: {refusal}."
        remedy = remedy_of_refusal(refusal)
        yield ObservedFault(kind=HealthFaultKind.STORE, what=what, remedy=remedy, is_grave=True)
    if condition.little_room:
        room = room_sentence(condition)
        what = f"The disk is {'full' if condition.full else 'nearly full'}: {room}"
        yield ObservedFault(
            kind=HealthFaultKind.DISK, what=what, remedy=MAKE_ROOM, is_grave=condition.full
        )


def remedy_of_refusal(refusal: StoreError) -> str:
    """What to do about a store that takes or gives nothing."""
    for kind, remedy in _REMEDIES:
        if isinstance(refusal, kind):
            return remedy
    return _LOOK_AT_STORE


def faults_in_store(
    seen: StoreSeen, facts: HealthFacts, yard: Yard, judged_old_after: timedelta
) -> Iterator[ObservedFault]:
    """What is found in the store: old readings and judgements, silent sensors, a broken record."""
    # As it was when the store was asked: how long it has not answered since is its own fault.
    now, allowed = seen.at, max(judged_old_after, _allowed_silence(yard))
    minutes = round(allowed.total_seconds() / 60)
    if seen.newest_reading_at is None or now - seen.newest_reading_at > allowed:
        yield ObservedFault(
            kind=HealthFaultKind.READINGS,
            what=f"No reading in the last {minutes} min.",
            remedy="See that sensors, gateway and broker have power and reach each other;"
            " `laidup check` tries the broker.",
            is_grave=True,
            since=seen.newest_reading_at,
            is_of_start=facts.running_s <= allowed.total_seconds(),
        )
    if seen.judged_at is None or now - seen.judged_at > judged_old_after:
        yield ObservedFault(
            kind=HealthFaultKind.JUDGEMENT,
            what="There is no fresh round of judgements.",
            remedy="Start `laidup run`, or look into its log for why it judges nothing.",
            is_grave=True,
            since=seen.judged_at,
            is_of_start=facts.running_s <= judged_old_after.total_seconds(),
        )
    if seen.silent:
        yield ObservedFault(
            kind=HealthFaultKind.SENSORS,
            what=f"Sensors are silent: {', '.join(seen.silent)}.",
            remedy="Look at their power and their radio.",
        )
    for fault in seen.intake_faults:
        if fault.is_current(now):
            yield _fault_of_intake(fault)
    if seen.forecast is not None and seen.forecast.stale(now):
        yield _fault_of_forecast(seen.forecast, now)
    broken = [*([facts.condition.rewritten] if facts.condition.rewritten else ())]
    broken += seen.broken_records
    if broken:
        words = [one.rstrip(".") for one in broken]
        yield ObservedFault(
            kind=HealthFaultKind.RECORD,
            what=f"The lay-up record is not what was written. {listed_first(words, _NAMED, '; ')}.",
            remedy=COMPARE,
        )


def _fault_of_intake(fault: IntakeFault) -> ObservedFault:
    if fault.kind is IntakeFaultKind.OWN_CLOCK:
        return ObservedFault(
            kind=HealthFaultKind.OWN_CLOCK,
            what=own_clock_line(fault.amount),
            remedy=own_clock_act(),
            since=fault.since,
        )
    messages = round(fault.amount)
    if fault.kind is IntakeFaultKind.FOREIGN_TOPIC:
        return ObservedFault(
            kind=HealthFaultKind.SENDERS,
            what=foreign_line(messages),
            remedy=foreign_act(),
            since=fault.since,
        )
    return ObservedFault(
        kind=HealthFaultKind.BROKER_DROPS,
        what=drop_line(messages),
        remedy=drop_act(DropFacts(messages=messages, since=fault.since)),
        since=fault.since,
    )


def _fault_of_forecast(asking: ForecastAsking, now: datetime) -> ObservedFault:
    age = asking.age(now)
    old = "has never come" if age is None else f"is {span_in_words(age.total_seconds())} old"
    why = f"; the last attempt failed: {asking.problem}" if asking.problem else ""
    return ObservedFault(
        kind=HealthFaultKind.FORECAST,
        what=f"The forecast of {asking.source} {old}{why}.",
        remedy="Until one comes, the yard's own readings alone make tonight's; `laidup check` asks"
        " the agency once and says what is wrong.",
        since=None if asking.confirmed is None else asking.confirmed + STALE_AFTER,
    )


def _allowed_silence(yard: Yard) -> timedelta:
    slowest_s = max((sensor.interval_s or 0.0 for sensor in yard.sensors), default=0.0)
    return max(_SHORTEST_SILENCE, _MISSED_IN_A_ROW * timedelta(seconds=slowest_s))
