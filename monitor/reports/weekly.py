"""Is a weekly report due? If so: composed, written to each reader, and put into the outbox once."""

import logging
from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta

from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.reports.letter import letters_of, readers
from monitor.reports.week import WeeklyReport, compose
from monitor.store.store import Store
from monitor.yard.space import Yard

_log = logging.getLogger(__name__)

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_TOO_LATE = timedelta(days=2)  # a machine that was off longer does not send old news


class WeeklySchedule:
    """Sends the report of the last whole week, once, when its day and hour come."""

    def __init__(self, store: Store, yard: Yard, clock: Clock, *, weekday: str, at: str) -> None:
        """Set the day and hour.

        Parameters
        ----------
        store : Store
            Read from, and the outbox written to.
        yard : Yard
            Its zone says when the hour comes.
        clock : Clock
            The machine's, or the readings'.
        weekday : str
            Day of the week in English: ``monday``.
        at : str
            Hour and minute by the yard's clock: ``07:00``.
        """
        self._store, self._yard, self._clock = store, yard, clock
        self._weekday = _DAYS.index(weekday)
        self._at = time.fromisoformat(at)
        self._done: datetime | None = None  # the due time that was last seen to

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def run(self, craft: Sequence[StoredCraft]) -> int:
        """Write the letters if they are due; tells how many were new in the outbox."""
        now = self._clock.now()
        due = self._last_due(now)
        if due == self._done or now - due > _TOO_LATE:
            return 0
        day = due.astimezone(self._yard.zone).date()
        monday = day - timedelta(days=day.weekday() + 7)
        report = compose(self._store, self._yard, craft, monday, now)
        # A yard that was set up only now has no week to tell of.
        new = 0 if report.unseen and not report.alarms else put_in_outbox(self._store, report)
        self._done = due
        if new:
            _log.info("The report of %s is written to %d people.", report.week, new)
        return new

    def next_in(self) -> timedelta:
        """How long until the next is due, by the clock that was given."""
        now = self._clock.now()
        last = self._last_due(now)
        if last != self._done and now - last <= _TOO_LATE:
            return timedelta(0)
        day = last.astimezone(self._yard.zone).date() + timedelta(days=7)
        return datetime.combine(day, self._at, self._yard.zone).astimezone(UTC) - now

    def _last_due(self, now: datetime) -> datetime:
        local = now.astimezone(self._yard.zone)
        day = local.date() - timedelta(days=(local.weekday() - self._weekday) % 7)
        due = datetime.combine(day, self._at, self._yard.zone)
        if due > now:
            due = datetime.combine(day - timedelta(days=7), self._at, self._yard.zone)
        return due


def put_in_outbox(store: Store, report: WeeklyReport) -> int:
    """Write everyone's letter into the outbox; one that is there already is not sent again."""
    new = 0
    # Written before the transaction: a plot takes a second, and intake must not wait for it.
    for message in letters_of(report, readers(report)):
        with store.transaction(can_wait=True) as tx:
            new += tx.outbox.add([message])
    return new
