"""What was told of a craft and who answered, and how long its hazards stood at each standing."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from types import MappingProxyType

from monitor.reports.season.figures import (
    Kept,
    SeasonAlarm,
    SeasonMessage,
    SensorInDoubt,
    StaffTold,
    StandingTime,
)
from monitor.store.outbox_reports import MessageFate
from monitor.store.standing_history import StandingChange
from monitor.store.told_alarms import Telling
from monitor.yard.alarm import LAIDUP, Alarm, AlarmEvent, AlarmState
from monitor.yard.space import Yard
from monitor.yard.standing import Hazard, Standing

NO_TELLINGS: Mapping[str, Sequence[Telling]] = MappingProxyType({})
_FINE = frozenset({Standing.STEADY, Standing.LATE})  # of a sensor
_OF_SENSORS = frozenset({Hazard.SENSING, Hazard.SILENCE, Hazard.SENSOR_BATTERY})


def season_alarms(
    own: Sequence[Alarm],
    of_spaces: Sequence[Alarm],
    own_histories: Mapping[str, Sequence[AlarmEvent]],
    space_histories: Mapping[str, Sequence[AlarmEvent]],
    kept: Sequence[Kept],
    yard: Yard,
    tellings: Mapping[str, Sequence[Telling]] = NO_TELLINGS,
    unnamed_until: datetime | None = None,
) -> tuple[SeasonAlarm, ...]:
    """Alarms of a craft, and of its space or the whole yard while it stood there, in order.

    ``tellings`` are by alarm id. Of letters written until ``unnamed_until`` nobody knows of which
    alarms they told; None: it is known of all.
    """
    in_care = [one for one in own if any(_holds(stay, one.raised_at) for stay in kept)]
    around = [
        one
        for one in of_spaces
        if any(_holds(stay, one.raised_at) and one.space in {stay.space, yard.id} for stay in kept)
    ]
    told = [
        *(_alarm(one, own_histories.get(one.id, ()), is_of_space=False) for one in in_care),
        *(_alarm(one, space_histories.get(one.id, ()), is_of_space=True) for one in around),
    ]
    with_people = [
        replace(
            one,
            told=tuple(_staff_told(each) for each in tellings.get(one.id, ())),
            told_is_whole=unnamed_until is None or unnamed_until < one.raised_at,
        )
        for one in told
    ]
    return tuple(sorted(with_people, key=lambda one: (one.raised_at, one.id)))


def _staff_told(telling: Telling) -> StaffTold:
    fate = "waiting" if telling.outcome is None else str(telling.outcome)
    return StaffTold(
        at=telling.at,
        person=telling.person,
        role=telling.role,
        channel=telling.channel,
        kind=telling.kind,
        fate="given up" if telling.is_given_up else fate,
        taken_at=telling.taken_at,
        tries=telling.tries,
    )


def season_messages(
    fates: Iterable[MessageFate], kept: Sequence[Kept], name: str, of_owner: Collection[str]
) -> tuple[SeasonMessage, ...]:
    """Messages to an owner while the craft was in care.

    ``of_owner`` names all the owner's craft. A subject that names another than this one is left
    out: the record is of this one.
    """
    return tuple(
        SeasonMessage(
            written_at=one.at,
            channel=one.channel,
            kind=one.kind,
            subject="" if _names_others(one.subject, name, of_owner) else one.subject,
            outcome=one.outcome,
            taken_at=one.taken_at,
            tries=one.tries,
        )
        for one in fates
        if any(_holds(stay, one.at) for stay in kept)
    )


def standing_times(
    changes: Sequence[StandingChange], hazard: Hazard, kept: Sequence[Kept]
) -> tuple[StandingTime, ...]:
    """How long a hazard stood at each standing, of any part; what nobody judged counts for none.

    A standing lasts until the part's next one, or until the craft left.
    """
    stretches: dict[Standing, list[tuple[datetime, datetime]]] = {}
    own = [one for one in changes if one.hazard is hazard]
    for part in dict.fromkeys(one.part for one in own):
        of_part = [one for one in own if one.part == part]
        ends = [*(one.at for one in of_part[1:]), datetime.max.replace(tzinfo=of_part[0].at.tzinfo)]
        for change, end in zip(of_part, ends, strict=True):
            for stay in kept:
                begins, ends_at = max(change.at, stay.since), min(end, stay.until)
                if begins < ends_at:
                    stretches.setdefault(change.standing, []).append((begins, ends_at))
    found = []
    for standing, of_standing in stretches.items():
        merged = _merged(of_standing)
        hours = sum((until - since) / timedelta(hours=1) for since, until in merged)
        found.append(
            StandingTime(hazard=hazard, standing=standing, hours=round(hours, 6), times=len(merged))
        )
    return tuple(sorted(found, key=lambda one: (-one.hours, one.standing)))


def sensor_doubts(
    changes: Sequence[StandingChange], kept: Sequence[Kept]
) -> tuple[SensorInDoubt, ...]:
    """Stretches in which a sensor of a space was in doubt or silent while the craft stood there."""
    found = []
    own = [one for one in changes if one.hazard in _OF_SENSORS]
    subjects = dict.fromkeys((one.hazard, one.space, one.part) for one in own)
    for hazard, space, part in subjects:
        stays = [one for one in kept if one.space == space]
        if not stays:
            continue
        of_one = [one for one in own if (one.hazard, one.space, one.part) == (hazard, space, part)]
        ends: list[datetime | None] = [*(one.at for one in of_one[1:]), None]
        for change, end in zip(of_one, ends, strict=True):
            if change.standing in _FINE:
                continue
            for stay in stays:
                begins = max(change.at, stay.since)
                until = stay.until if end is None else min(end, stay.until)
                if begins < until:
                    still = end is None or end >= stay.until
                    found.append(
                        SensorInDoubt(
                            sensor=part,
                            space=space,
                            standing=change.standing,
                            since=begins,
                            until=None if still else until,
                        )
                    )
    return tuple(sorted(found, key=lambda one: (one.since, one.sensor)))


def _alarm(alarm: Alarm, history: Sequence[AlarmEvent], *, is_of_space: bool) -> SeasonAlarm:
    taken = next(
        (one for one in history if one.after is AlarmState.ACKNOWLEDGED and one.by != LAIDUP), None
    )
    asked = [
        one
        for one in history
        if one.after is AlarmState.UNACKNOWLEDGED and one.before is not AlarmState.UNACKNOWLEDGED
    ]
    return SeasonAlarm(
        id=alarm.id,
        cause=alarm.cause,
        space=alarm.space,
        part=alarm.part,
        is_of_space=is_of_space,
        raised_at=alarm.raised_at,
        answered_at=None if taken is None else taken.at,
        answered_by="" if taken is None else taken.by,
        over_at=alarm.cleared_at,
        times_raised=max(len(asked), 1),
    )


def _holds(stay: Kept, at: datetime) -> bool:
    return stay.since <= at < stay.until


def _names_others(subject: str, name: str, of_owner: Collection[str]) -> bool:
    """Whether a subject names another craft; names that are parts of others are told apart."""
    rest, own = subject.casefold(), name.casefold()
    for one in sorted({own, *(one.casefold() for one in of_owner)}, key=len, reverse=True):
        if one and one != own and one in rest:
            return True
        rest = rest.replace(one, "\n") if one else rest
    return False


def _merged(stretches: Iterable[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    found: list[tuple[datetime, datetime]] = []
    for since, until in sorted(stretches):
        if found and since <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], until))
        else:
            found.append((since, until))
    return found
