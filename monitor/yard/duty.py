"""Who is on duty when, who is called next, who wants to sleep, and when owners are written to."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from itertools import pairwise

from monitor.craft.plan.yard import CREW

_A_DAY = timedelta(days=1)
# Of what must never be missed: who has not answered by then, beside them the next is called.
ANSWER_WITHIN = timedelta(minutes=15)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Hours of a day in the yard's own time; they may pass midnight.

    Equal ends mean the whole day.
    """

    begins: time
    ends: time

    def holds(self, local: datetime) -> bool:
        """Whether a local time lies within."""
        return self.day_of(local) is not None

    def day_of(self, local: datetime) -> int | None:
        """Weekday (Monday is 0) on which the span around a local time began; None outside."""
        now = local.time()
        if self.begins < self.ends:
            return local.weekday() if self.begins <= now < self.ends else None
        if now >= self.begins:
            return local.weekday()
        return (local - timedelta(days=1)).weekday() if now < self.ends else None


# No hours for what can wait, and none in which one person alone is sent out onto ice.
NIGHT = Span(begins=time(21), ends=time(6))
_BY_DAY = Span(begins=time(8), ends=time(20))  # for owners


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Hours in which one person is on duty, on the weekdays on which they begin."""

    person: str
    hours: Span
    weekdays: frozenset[int] = frozenset(range(7))  # Monday is 0
    hands: int | None = None  # people who work in these hours, this one among them; None: not said


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewStretch:
    """Hours in which the crew keeps its number, ``since <= at < until``."""

    since: datetime
    until: datetime
    hands: int
    is_night: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """The yard's calendar of duty, and who is called when nobody answers.

    Without shifts everybody who has the role is told at once; without either nobody is called
    after them.
    """

    shifts: tuple[Shift, ...] = ()
    next_called: tuple[str, ...] = ()  # people's ids, in order
    hands: int = CREW  # people who can work on craft, where no shift says how many

    @property
    def has_calendar(self) -> bool:
        """Whether the yard keeps a calendar of duty at all."""
        return bool(self.shifts or self.next_called)

    def on_duty(self, local: datetime) -> tuple[str, ...]:
        """People on duty at a local time, in the calendar's order."""
        return tuple(dict.fromkeys(shift.person for shift in self._running(local)))

    def hands_at(self, local: datetime) -> int:
        """How many people can work at a local time.

        Of shifts that overlap the hands add up, and one that says nothing of its hands is one
        person; where none of them says, the yard's own number holds.
        """
        said: dict[str, int] = {}
        running = self._running(local)
        for shift in running:
            said[shift.person] = max(said.get(shift.person, 1), shift.hands or 1)
        return sum(said.values()) if any(shift.hands for shift in running) else self.hands

    def crew_ahead(self, local: datetime, within: timedelta = _A_DAY) -> tuple[CrewStretch, ...]:
        """How many can work from a local time on, one stretch for each change of it."""
        end = local + within
        edges = {local, end}
        hours = [NIGHT, *(shift.hours for shift in self.shifts if shift.hands)]
        for day in range(within // _A_DAY + 2):
            for hour in {edge for span in hours for edge in (span.begins, span.ends)}:
                at = datetime.combine(local.date() + day * _A_DAY, hour, local.tzinfo)
                if local < at < end:
                    edges.add(at)
        ordered = sorted(edges)
        return tuple(
            CrewStretch(
                since=since, until=until, hands=self.hands_at(since), is_night=NIGHT.holds(since)
            )
            for since, until in pairwise(ordered)
        )

    def _running(self, local: datetime) -> list[Shift]:
        return [shift for shift in self.shifts if shift.hours.day_of(local) in shift.weekdays]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerTelling:
    """What a yard sets for its letters to owners.

    ``without_answer`` is how long an owner waits for the yard's answer at most. Three hours
    (common practice, no source): the yard's own people are reminded within two, and what is known
    at three in the afternoon reaches an owner at six, who can still call.
    """

    hours: Span = _BY_DAY
    without_answer: timedelta = timedelta(hours=3)
    names_staff: bool = False  # who of the yard's people did what

    def may_write_at(self, local: datetime, quiet: Span | None) -> bool:
        """Whether an owner may be written to now.

        Parameters
        ----------
        local : datetime
            By the yard's clock.
        quiet : Span or None
            Hours in which this owner wants no word, which then stand in place of the yard's. Those
            that leave no hour of a day count for nothing: they would silence all there is to say.
        """
        if quiet is None or quiet.begins == quiet.ends:
            return self.hours.holds(local)
        return not quiet.holds(local)
