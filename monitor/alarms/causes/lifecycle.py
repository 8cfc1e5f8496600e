"""One step of one alarm's life: pure, from its state and what was judged to its next state.

States and transitions are those of ISA-18.2 / IEC 62682. The cause goes on being evaluated while
an alarm is shelved, suppressed or out of service; only telling stops.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isnan, nan
from typing import NamedTuple
from uuid import NAMESPACE_URL, uuid5

from monitor.alarms.definitions import Definition
from monitor.yard.alarm import LAIDUP, Alarm, AlarmEvent, AlarmState, Priority
from monitor.yard.alarm_facts import Change, ChangeFacts, HeadlineFacts
from monitor.yard.assessment import Assessment, Certainty, Severity, Urgency
from monitor.yard.watch import Watch, WatchKey

_SOON_AGAIN = timedelta(hours=24)  # an alarm that comes back within this is held on to as long
_SEVERITY = (
    Severity.UNKNOWN,
    Severity.MINOR,
    Severity.MODERATE,
    Severity.SEVERE,
    Severity.EXTREME,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What this round found of one cause over one subject."""

    key: WatchKey
    space: str
    condition: bool | None  # None: its input has gone bad, nobody can tell
    headline: HeadlineFacts
    priority: Priority
    assessment: Assessment | None = None
    suppressed: str = ""  # why the design forbids the alarm now; empty: it does not
    gone: bool = False  # the subject is not there any more

    @property
    def limit_c(self) -> float:
        """What the subject can stand [°C]; NaN where not known."""
        return nan if self.assessment is None else self.assessment.limit_c


class AlarmStep(NamedTuple):
    """What one step made of an alarm."""

    alarm: Alarm | None  # None: there is none, and there was none
    watch: Watch
    events: Sequence[AlarmEvent]


def step_alarm(
    alarm: Alarm | None, watch: Watch, seen: Observation, definition: Definition, now: datetime
) -> AlarmStep:
    """Take one alarm one step on.

    Parameters
    ----------
    alarm : Alarm or None
        As it stands; None where there is none yet, or the last one is back to normal.
    watch : Watch
        What was remembered since the round before.
    seen : Observation
        What this round found.
    definition : Definition
    now : datetime
        Aware. Times in ``watch`` that are later come of a clock that has been set back since,
        and count as now.

    Returns
    -------
    AlarmStep
        The alarm in its next state, what to remember, and the changes to record. One round
        changes a state at most once.
    """
    watch = _not_ahead(watch, now)
    remembered = _timed(watch, seen, now)
    raised = _lasts(remembered.true_since, definition.on_delay, now)
    if alarm is None:
        if seen.suppressed or seen.gone or not raised:
            return AlarmStep(None, remembered, ())
        return _raise(remembered, seen, definition, now)

    alarm = _with_facts(alarm, seen)
    after, why = _next(alarm, remembered, seen, definition, now)
    events: list[AlarmEvent] = []
    if remembered.blind_since == now and watch.blind_since is None:
        events.append(_event(alarm, alarm.state, now, _because(Change.BLIND)))
    if after is None or why is None:
        return AlarmStep(alarm, remembered, events)
    events.append(_event(alarm, after, now, why))
    if after in {AlarmState.RETURNED, AlarmState.NORMAL}:
        held_long = remembered.comebacks > 0
        remembered = replace(
            remembered, cleared_at=now, comebacks=0 if held_long else remembered.comebacks
        )
    if after is AlarmState.UNACKNOWLEDGED:
        remembered = _raised_again(remembered, alarm, seen, now)
    if after is not AlarmState.SHELVED:
        remembered = replace(remembered, until=None)
    cleared = now if after in {AlarmState.RETURNED, AlarmState.NORMAL} else None
    changed = replace(alarm, state=after, changed_at=now, cleared_at=cleared or alarm.cleared_at)
    return AlarmStep(changed, remembered, events)


def _not_ahead(watch: Watch, now: datetime) -> Watch:
    """Let no delay wait for the hour to which the clock was set wrong."""

    def by_now(at: datetime | None) -> datetime | None:
        return None if at is None else min(at, now)

    return replace(
        watch,
        true_since=by_now(watch.true_since),
        false_since=by_now(watch.false_since),
        blind_since=by_now(watch.blind_since),
        cleared_at=by_now(watch.cleared_at),
        answered_at=by_now(watch.answered_at),
    )


def _timed(watch: Watch, seen: Observation, now: datetime) -> Watch:
    """Keep the times since which the cause holds, does not hold, or cannot be told."""
    if seen.gone:
        false_since = watch.false_since or now
        return replace(watch, true_since=None, false_since=false_since, blind_since=None)
    if seen.condition is None:
        # What was true stays pending; what was clearing must start again. But what was carried
        # elsewhere, and is not known there, is no news: somebody has seen to it.
        pending = None if _is_pending(watch) and _acted_on(watch, seen) else watch.true_since
        blind_since = watch.blind_since or now
        return replace(watch, true_since=pending, false_since=None, blind_since=blind_since)
    if seen.condition:
        begins = watch if watch.true_since is not None else _with_subject(watch, seen)
        true_since = watch.true_since or now
        return replace(begins, true_since=true_since, false_since=None, blind_since=None)
    false_since = watch.false_since or now
    return replace(watch, true_since=None, false_since=false_since, blind_since=None)


def _is_pending(watch: Watch) -> bool:
    """Whether its cause holds, and has not for long enough to raise an alarm."""
    stands = bool(watch.alarm) and watch.cleared_at is None
    return watch.true_since is not None and not stands


def _with_subject(watch: Watch, seen: Observation) -> Watch:
    """Remember where the subject stands and what it can stand, to see whether somebody acts."""
    return replace(watch, raised_space=seen.space, raised_limit_c=seen.limit_c)


def _next(
    alarm: Alarm, watch: Watch, seen: Observation, definition: Definition, now: datetime
) -> tuple[AlarmState | None, ChangeFacts | None]:
    """The state that follows and why; None where the alarm stays as it is."""
    match alarm.state:
        case AlarmState.OUT_OF_SERVICE | AlarmState.NORMAL:
            return None, None  # only a person takes it back into service
        case AlarmState.SUPPRESSED:
            return _after_suppressed(watch, seen)
        case AlarmState.SHELVED:
            return _after_shelved(watch, seen, now)
    if seen.gone:
        return AlarmState.SUPPRESSED, _because(Change.SUBJECT_LEFT)
    if seen.suppressed:
        return AlarmState.SUPPRESSED, ChangeFacts(change=Change.SUPPRESSED, said=seen.suppressed)
    if alarm.state is AlarmState.RETURNED:
        if _lasts(watch.true_since, definition.on_delay, now):
            return AlarmState.UNACKNOWLEDGED, _because(Change.BACK)
        return None, None
    if _lasts(watch.false_since, _off_delay(watch, seen, definition), now):
        acted = definition.off_delay_after_act is not None and _acted_on(watch, seen)
        change = Change.MADE_SAFE if acted else Change.GONE
        why = ChangeFacts(change=change, since=watch.false_since)
        if alarm.state is AlarmState.ACKNOWLEDGED:
            return AlarmState.NORMAL, why
        return AlarmState.RETURNED, why
    if alarm.state is AlarmState.ACKNOWLEDGED and watch.true_since is not None:
        return _realarm(alarm, watch, seen, definition, now)
    return None, None


def _after_suppressed(
    watch: Watch, seen: Observation
) -> tuple[AlarmState | None, ChangeFacts | None]:
    """An alarm that the design held back is told once nothing holds it back any more."""
    if seen.gone:
        return AlarmState.NORMAL, _because(Change.NOTHING_LEFT)
    if seen.suppressed or seen.condition is None:
        return None, None
    if watch.true_since is not None:
        return AlarmState.UNACKNOWLEDGED, _because(Change.UNSUPPRESSED)
    return AlarmState.NORMAL, _because(Change.UNSUPPRESSED_GONE)


def _after_shelved(
    watch: Watch, seen: Observation, now: datetime
) -> tuple[AlarmState | None, ChangeFacts | None]:
    """An alarm comes off the shelf at its time; what nobody can tell then counts as there."""
    if watch.until is not None and now < watch.until and not seen.gone:
        return None, None
    if seen.condition is False or seen.gone:
        return AlarmState.NORMAL, _because(Change.SHELF_ENDED_GONE)
    return AlarmState.UNACKNOWLEDGED, _because(Change.SHELF_ENDED)


def _realarm(
    alarm: Alarm, watch: Watch, seen: Observation, definition: Definition, now: datetime
) -> tuple[AlarmState | None, ChangeFacts | None]:
    """An acknowledged alarm asks again when it got worse or went on for too long."""
    answered = watch.answered_severity
    if answered is not None and _SEVERITY.index(alarm.severity) > _SEVERITY.index(answered):
        return AlarmState.UNACKNOWLEDGED, ChangeFacts(
            change=Change.WORSE, before=answered, now=alarm.severity
        )
    if (
        definition.realarm is not None
        and watch.answered_at is not None
        and now - watch.answered_at >= definition.realarm
        and seen.condition
    ):
        return AlarmState.UNACKNOWLEDGED, ChangeFacts(
            change=Change.STILL_THERE, since=watch.answered_at
        )
    return None, None


def _off_delay(watch: Watch, seen: Observation, definition: Definition) -> timedelta:
    """How long the cause must be gone before the alarm clears."""
    if definition.off_delay_after_act is not None and _acted_on(watch, seen):
        return definition.off_delay_after_act
    if watch.comebacks:
        return max(definition.off_delay, _SOON_AGAIN)
    return definition.off_delay


def _acted_on(watch: Watch, seen: Observation) -> bool:
    """Whether the subject itself changed since the alarm was raised: treated, or moved."""
    if watch.raised_space and seen.space != watch.raised_space:
        return True
    was_c, is_c = watch.raised_limit_c, seen.limit_c
    return not isnan(was_c) and not isnan(is_c) and is_c < was_c - 0.5


def _raise(watch: Watch, seen: Observation, definition: Definition, now: datetime) -> AlarmStep:
    alarm = Alarm(
        id=str(uuid5(NAMESPACE_URL, f"{seen.key}/{now.isoformat()}")),
        cause=definition.cause,
        space=seen.space,
        craft=seen.key.craft,
        part=seen.key.part,
        state=AlarmState.NORMAL,
        priority=seen.priority,
        raised_at=now,
        changed_at=now,
        urgency=Urgency.UNKNOWN,
        severity=Severity.UNKNOWN,
        certainty=Certainty.UNKNOWN,
        headline=seen.headline,
    )
    alarm = _with_facts(alarm, seen)
    why = ChangeFacts(change=Change.RAISED, headline=seen.headline)
    event = _event(alarm, AlarmState.UNACKNOWLEDGED, now, why)
    raised = replace(alarm, state=AlarmState.UNACKNOWLEDGED)
    return AlarmStep(raised, _raised_again(watch, raised, seen, now), (event,))


def _raised_again(watch: Watch, alarm: Alarm, seen: Observation, now: datetime) -> Watch:
    again = watch.cleared_at is not None and now - watch.cleared_at < _SOON_AGAIN
    return replace(
        _with_subject(watch, seen),
        alarm=alarm.id,
        cleared_at=None,
        comebacks=watch.comebacks + 1 if again else watch.comebacks,
        answered_at=None,
        answered_severity=None,
    )


def _with_facts(alarm: Alarm, seen: Observation) -> Alarm:
    """The alarm with this round's numbers; with doubt, where there are none."""
    if seen.condition is None:
        return replace(alarm, headline=seen.headline, certainty=Certainty.UNKNOWN)
    if seen.assessment is None:
        return replace(alarm, headline=seen.headline)
    return replace(
        alarm,
        space=seen.space,
        headline=seen.headline,
        priority=seen.priority,
        urgency=seen.assessment.urgency,
        severity=seen.assessment.severity,
        certainty=seen.assessment.certainty,
        deadline=seen.assessment.deadline,
    )


def _event(alarm: Alarm, after: AlarmState, now: datetime, why: ChangeFacts) -> AlarmEvent:
    return AlarmEvent(alarm=alarm.id, at=now, before=alarm.state, after=after, by=LAIDUP, why=why)


def _lasts(since: datetime | None, delay: timedelta, now: datetime) -> bool:
    return since is not None and now - since >= delay


def _because(change: Change) -> ChangeFacts:
    return ChangeFacts(change=change)
