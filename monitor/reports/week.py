"""One week of the yard as data: each space's air, each craft's standing, the week's alarms."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import TypeVar

from monitor.craft.stored import StoredCraft
from monitor.errors import BadValueError
from monitor.phrases.standings import is_worse
from monitor.reports.air import HourlyAir, read_hourly_air
from monitor.reports.alarm_rates import AlarmFigures, alarm_figures
from monitor.reports.picture import Picture, read_picture
from monitor.reports.skill import Skill, skill_of
from monitor.reports.tasks import Task
from monitor.store.store import Store
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.people import display_name
from monitor.yard.space import Space, Yard

_SEASON = timedelta(days=180)  # nights further back say little of how the judgement does now

_Part = tuple[str, str]  # ids of a craft and of a circuit of it
_Row = TypeVar("_Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceWeek:
    """One space and its air over the week."""

    space: Space
    air: HourlyAir


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmOfWeek:
    """One alarm that was raised in the week, or was still open in it, and what was done."""

    alarm: Alarm
    acknowledged_at: datetime | None
    acknowledged_by: str  # a name; empty while nobody has

    @property
    def wait(self) -> timedelta:
        """From raised to acknowledged; nothing while nobody has."""
        taken = self.acknowledged_at
        return timedelta(0) if taken is None else taken - self.alarm.raised_at


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeklyReport:
    """The account of one week; ``picture`` is how things stood when it was written."""

    week: str  # ISO 8601, such as 2026-W46
    since: datetime
    until: datetime  # the week's end, or now if that comes first
    picture: Picture
    spaces: tuple[SpaceWeek, ...]
    alarms: tuple[AlarmOfWeek, ...]
    rates: AlarmFigures | None  # of the whole yard; None in an owner's part
    skill: Skill | None  # of the season so far; None where little is known, and in an owner's part
    worse: dict[str, Assessment]  # craft -> how its worst circuit stood, if worse than now
    watched: dict[str, float]  # craft -> for how many hours, if its watch began in this week
    slush: dict[str, tuple[str, ...]]  # craft -> names of its circuits whose mix was slush

    @property
    def last_instant(self) -> datetime:
        """A time of its last day: midnight belongs to the day after."""
        return self.until - timedelta(seconds=1)

    @property
    def unseen(self) -> bool:
        """True if no space's air was read in the whole week."""
        return not any(one.air.seen for one in self.spaces)


def compose(
    store: Store, yard: Yard, craft: Sequence[StoredCraft], week_start: date, now: datetime
) -> WeeklyReport:
    """Read one week from the store.

    Parameters
    ----------
    store : Store
        Read in one snapshot.
    yard : Yard
        Whose week; its zone says when a day begins.
    craft : sequence of StoredCraft
        The craft in the yard's care.
    week_start : date
        The Monday that the week begins with, at midnight by the yard's clock.
    now : datetime
        When the report is written; what comes later is left out.

    Raises
    ------
    ValueError
        If ``week_start`` is no Monday, or lies ahead.
    """
    if week_start.isoweekday() != 1:
        raise BadValueError(
            f"{week_start} is a {week_start:%A}",
            "a week begins on a Monday (ISO 8601)",
        )
    since = datetime.combine(week_start, time(), yard.zone)
    until = min(datetime.combine(week_start + timedelta(days=7), time(), yard.zone), now)
    if until <= since:
        raise ValueError(f"the week of {week_start} has not begun yet")
    with store.snapshot() as tx:
        picture = read_picture(tx, yard, craft, now)
        airs = read_hourly_air(tx, yard, since, until)
        raised = tx.alarms.raised_between(since, until)
        told = {alarm.id for alarm in raised}
        # What was over before the week, and only wants an answer still, is no news of it.
        standing = [
            a
            for a in picture.alarms
            if a.id not in told
            and a.raised_at < since
            and (a.cleared_at is None or a.cleared_at >= since)
        ]
        alarms = [
            alarm_of_week(alarm, tx.alarms.history_of(alarm.id), yard)
            for alarm in (*standing, *raised)
        ]
        changes = tx.assessments.changes_between(since, until)
        known = tx.assessments.known_since(Hazard.FROST)
        rates = alarm_figures(tx, since, until)
        skill = skill_of(tx.said_nights.nights_since(until.date() - _SEASON))
    year, number, _ = week_start.isocalendar()
    return WeeklyReport(
        week=f"{year}-W{number:02}",
        since=since,
        until=until,
        picture=picture,
        spaces=tuple(SpaceWeek(space=space, air=airs[space.id]) for space in yard.spaces),
        alarms=tuple(alarms),
        rates=rates,
        skill=skill,
        worse=_worse(changes, picture, known),
        watched=_watched(picture, known, since, until),
        slush=_slush(changes, picture),
    )


class OwnerParts:
    """A report cut into the parts that its owners may see; it is gone through once for all."""

    def __init__(self, report: WeeklyReport) -> None:
        picture = report.picture
        self._report = report
        self._craft = _by_owner((one.craft.owner, one) for one in picture.craft)
        owner_of = {one.craft.id: one.craft.owner for one in picture.craft}
        self._work = _by_owner((one.craft.owner, one) for one in picture.standing_work)
        self._open = _by_owner((owner_of.get(one.craft, ""), one) for one in picture.alarms)
        self._alarms = _by_owner((owner_of.get(one.alarm.craft, ""), one) for one in report.alarms)
        self._tasks = _by_owner(
            (owner, part) for task in picture.tasks for owner, part in _tasks_by_owner(task)
        )

    def part_of(self, person: str) -> WeeklyReport:
        """The part of one owner: own craft, and the spaces they stand in."""
        report, pictures = self._report, self._craft.get(person, [])
        own = [one.craft for one in pictures]
        places = {one.space for one in own}
        places |= {one.battery.space for one in own if one.battery is not None}
        picture = replace(
            report.picture,
            spaces=tuple(one for one in report.picture.spaces if one.space.id in places),
            craft=tuple(pictures),
            tasks=tuple(self._tasks.get(person, ())),
            standing_work=tuple(self._work.get(person, ())),
            sensors=(),
            alarms=tuple(self._open.get(person, ())),
        )
        ids = [one.id for one in own]
        return replace(
            report,
            picture=picture,
            spaces=tuple(one for one in report.spaces if one.space.id in places),
            alarms=tuple(self._alarms.get(person, ())),
            rates=None,
            skill=None,
            worse=_own_rows(report.worse, ids),
            watched=_own_rows(report.watched, ids),
            slush=_own_rows(report.slush, ids),
        )


def only_for_owner(report: WeeklyReport, person: str) -> WeeklyReport:
    """The part of a report that one owner may see: own craft, and the spaces they stand in."""
    return OwnerParts(report).part_of(person)


def _by_owner(owned: Iterable[tuple[str, _Row]]) -> dict[str, list[_Row]]:
    """Things by their owner's id, each owner's in order; those of nobody are left out."""
    found: dict[str, list[_Row]] = {}
    for owner, one in owned:
        if owner:
            found.setdefault(owner, []).append(one)
    return found


def _own_rows(by_craft: Mapping[str, _Row], own: Sequence[str]) -> dict[str, _Row]:
    return {craft: by_craft[craft] for craft in own if craft in by_craft}


def _tasks_by_owner(task: Task) -> Iterator[tuple[str, Task]]:
    """The part of an errand for each owner of craft in it; that of others is left out."""
    owner_of = {one.id: one.owner for one in task.craft}
    reasons = _by_owner((owner_of.get(a.subject.craft, ""), a) for a in task.reasons)
    craft = _by_owner((one.owner, one) for one in task.craft)
    for owner, own in reasons.items():
        yield owner, replace(task, craft=tuple(craft.get(owner, ())), reasons=tuple(own))


def alarm_of_week(alarm: Alarm, history: Sequence[AlarmEvent], yard: Yard) -> AlarmOfWeek:
    """An alarm with when a person first took it on, and who, by all that became of it."""
    taken = next((e for e in history if e.after is AlarmState.ACKNOWLEDGED), None)
    return AlarmOfWeek(
        alarm=alarm,
        acknowledged_at=taken.at if taken else None,
        acknowledged_by=display_name(yard, taken.by) if taken else "",
    )


def _watched(
    picture: Picture, known: Mapping[_Part, datetime], since: datetime, until: datetime
) -> dict[str, float]:
    """For how many hours each craft was watched, where its watch began in this week.

    It begins when the last of its circuits is known: one that was seen dry holds before anything
    is read.
    """
    begins = {
        one.craft.id: max(known.get((one.craft.id, c.id), until) for c in one.craft.circuits)
        for one in picture.craft
        if one.craft.circuits
    }
    return {
        craft: max(until - begun, timedelta(0)) / timedelta(hours=1)
        for craft, begun in begins.items()
        if begun > since
    }


def _worse(
    changes: Sequence[Assessment], picture: Picture, known: Mapping[_Part, datetime]
) -> dict[str, Assessment]:
    """What was worse than now; that a circuit was not known before its watch began is no news."""
    now = {one.craft.id: one.worst for one in picture.craft if one.worst is not None}
    circuits = {(one.craft.id, c.id) for one in picture.craft for c in one.craft.circuits}
    worse: dict[str, Assessment] = {}
    for change in changes:
        craft, part = change.subject.craft, change.subject.part
        if change.hazard is not Hazard.FROST or (craft, part) not in circuits:
            continue
        if (craft, part) not in known or change.at < known[craft, part]:
            continue
        if is_worse(change, worse.get(craft, now[craft])):
            worse[craft] = change
    return worse


def _slush(changes: Sequence[Assessment], picture: Picture) -> dict[str, tuple[str, ...]]:
    """Circuits that were or are slush: no alarm, but to be read again before they are trusted."""
    now = [each for one in picture.craft for each in one.circuits]
    were = {
        (each.subject.craft, each.subject.part)
        for each in (*changes, *now)
        if each.hazard is Hazard.FROST and each.standing is Standing.SLUSH
    }
    found = {
        one.craft.id: tuple(
            part.name for part in one.craft.circuits if (one.craft.id, part.id) in were
        )
        for one in picture.craft
    }
    return {craft: names for craft, names in found.items() if names}
