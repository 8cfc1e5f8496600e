"""Who is on duty when, who is called next, and when a person wants to sleep."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Hours in which one person is on duty, on the weekdays on which they begin."""

    person: str
    hours: Span
    weekdays: frozenset[int] = frozenset(range(7))  # Monday is 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """The yard's calendar of duty, and who is called when nobody answers.

    Without shifts everybody who has the role is told at once; without either nobody is called
    after them.
    """

    shifts: tuple[Shift, ...] = ()
    next_called: tuple[str, ...] = ()  # people's ids, in order

    @property
    def kept(self) -> bool:
        """Whether the yard keeps a calendar of duty at all."""
        return bool(self.shifts or self.next_called)

    def on_duty(self, local: datetime) -> tuple[str, ...]:
        """People on duty at a local time, in the calendar's order."""
        here = (
            shift.person for shift in self.shifts if shift.hours.day_of(local) in shift.weekdays
        )
        return tuple(dict.fromkeys(here))
