"""Hours whose rollups are to be made, and hours that came late for the tree of their day.

Hours before the mark are made, unless they are stale: whoever changes a reading enters the hours
that it changes in the same transaction. So no crash leaves a row that its readings do not give.
"""

from collections.abc import Callable, Iterable
from typing import NamedTuple

from sqlalchemy import Connection, delete, select, text

from monitor.store.statements import YardMark
from monitor.store.tables import late_hours, late_mark, rollup_mark, stale_hours
from monitor.yard.hourly import HOUR_MS, REACH_MS

_ENTER = text(
    "INSERT INTO stale_hours (yard_id, series_id, hour_ms) VALUES (:yard, :series, :hour)"
    " ON CONFLICT DO NOTHING"
)
_NOTE = text(
    "INSERT INTO late_hours (yard_id, series_id, hour_ms, times)"
    " VALUES (:yard, :series, :hour, 1)"
    " ON CONFLICT (yard_id, series_id, hour_ms) DO UPDATE SET times = late_hours.times + 1"
)
_FORGET = text(
    "DELETE FROM late_hours WHERE yard_id = :yard AND series_id = :series AND hour_ms = :hour"
    " AND times = :times"
)
_REACH_H = REACH_MS // HOUR_MS
_MOST_NOTED = 1_000_000  # late hours read at once where all are asked for

HourOfSeries = tuple[int, int]  # a series' id and the beginning of an hour [ms]


def hour_of(at_ms: int) -> int:
    """Beginning of the hour in which a time lies [ms]."""
    return at_ms - at_ms % HOUR_MS


def hours_changed_by(hour_ms: int) -> list[int]:
    """Beginnings of the hours whose rollups rest on readings of one hour [ms]."""
    return [hour_ms + n * HOUR_MS for n in range(-_REACH_H, _REACH_H + 1)]


class StaleHours:
    """The mark and the stale hours of one yard, on one connection."""

    def __init__(
        self,
        connection: Connection,
        yard_id: int,
        late: "LateHours",
        refuse_change: Callable[[int], None],
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._mark = YardMark(connection, rollup_mark.c.until_ms, yard_id)
        self._late = late  # told of changes that are late for a day's tree
        self._refuse_change = refuse_change  # raises where readings so old change no more

    def mark_ms(self) -> int | None:
        """Hours that begin before this are made, unless they are stale; None: none is."""
        return self._mark.read_ms()

    def set_mark(self, until_ms: int | None) -> None:
        """Put the mark elsewhere; None: no hour counts as made."""
        self._mark.put(until_ms)

    def note_changed(self, changed: Iterable[HourOfSeries], oldest_ms: int) -> None:
        """Enter the hours that changed readings change, each named by its series and its time.

        ``oldest_ms`` is the time of the oldest of them: readings of now, nearly all there are,
        change no hour that is made, and cost a comparison.

        Raises
        ------
        StoreError
            If it lies where raw readings are in the archive.
        """
        self._refuse_change(oldest_ms)
        mark_ms, late_ms = self.mark_ms(), self._late.mark_ms()
        is_late = late_ms is not None and oldest_ms < late_ms
        is_made = mark_ms is not None and oldest_ms - REACH_MS < mark_ms
        if not is_late and not is_made:
            return
        hours = {(series_id, hour_of(at_ms)) for series_id, at_ms in changed}
        self._late.note_changed(hours)
        if mark_ms is None or not is_made:
            return
        self.enter_hours(
            {
                (series_id, each)
                for series_id, hour_ms in hours
                for each in hours_changed_by(hour_ms)
                if each < mark_ms
            }
        )

    def enter_hours(self, hours: Iterable[HourOfSeries]) -> None:
        """Have hours of series made."""
        rows = [
            {"yard": self._yard_id, "series": series_id, "hour": hour_ms}
            for series_id, hour_ms in sorted(hours)
        ]
        if rows:
            self._connection.execute(_ENTER, rows)

    def stale_hours(self, at_most: int | None = None) -> list[HourOfSeries]:
        """Hours that are to be made, in order of series and time."""
        rows = self._connection.execute(
            select(stale_hours.c.series_id, stale_hours.c.hour_ms)
            .where(stale_hours.c.yard_id == self._yard_id)
            .order_by(stale_hours.c.series_id, stale_hours.c.hour_ms)
            .limit(at_most)
        )
        return [(series_id, hour_ms) for series_id, hour_ms in rows]

    def forget_hours(self, done: Iterable[HourOfSeries] | None = None) -> None:
        """Take hours off that have been made; None: all of them."""
        own = stale_hours.c.yard_id == self._yard_id
        if done is None:
            self._connection.execute(delete(stale_hours).where(own))
            return
        by_series: dict[int, list[int]] = {}
        for series_id, hour_ms in done:
            by_series.setdefault(series_id, []).append(hour_ms)
        for series_id, hours_ms in by_series.items():
            self._connection.execute(
                delete(stale_hours).where(
                    own, stale_hours.c.series_id == series_id, stale_hours.c.hour_ms.in_(hours_ms)
                )
            )


class LateHour(NamedTuple):
    """An hour of a series whose readings changed after its day's tree was begun."""

    series_id: int
    hour_ms: int
    times: int  # how often it was noted: more than when it was looked at means once more


class LateHours:
    """Hours of one yard that are late for the tree of their day, on one connection.

    Whoever changes a reading notes its hour in the same transaction, so no crash loses one.
    """

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._mark = YardMark(connection, late_mark.c.before_ms, yard_id)

    def mark_ms(self) -> int | None:
        """Changes of hours that begin before this are late; None: none is."""
        return self._mark.read_ms()

    def note_before(self, before_ms: int) -> None:
        """From the end of this transaction on, note changes of hours before a time."""
        if self._connection.dialect.name == "postgresql":
            # Waits for whoever has read the old mark and still writes by it.
            self._connection.execute(text("LOCK TABLE late_mark IN ACCESS EXCLUSIVE MODE"))
        self._mark.put(before_ms)

    def note_changed(self, hours: Iterable[HourOfSeries]) -> None:
        """Note the hours that are late among those whose readings change."""
        before_ms = self.mark_ms()
        if before_ms is None:
            return
        rows = [
            {"yard": self._yard_id, "series": series_id, "hour": hour_ms}
            for series_id, hour_ms in sorted(hours)
            if hour_ms < before_ms
        ]
        if rows:
            self._connection.execute(_NOTE, rows)

    def noted_hours(self, at_most: int = _MOST_NOTED) -> list[LateHour]:
        """Late hours that no tree has taken in yet, in order of series and time."""
        columns = (late_hours.c.series_id, late_hours.c.hour_ms, late_hours.c.times)
        rows = self._connection.execute(
            select(*columns)
            .where(late_hours.c.yard_id == self._yard_id)
            .order_by(late_hours.c.series_id, late_hours.c.hour_ms)
            .limit(at_most)
        )
        return [LateHour(*row) for row in rows]

    def forget_hours(self, taken: Iterable[LateHour]) -> None:
        """Take off hours that a tree has taken in, but those that were noted once more since."""
        rows = [
            {
                "yard": self._yard_id,
                "series": one.series_id,
                "hour": one.hour_ms,
                "times": one.times,
            }
            for one in taken
        ]
        if rows:
            self._connection.execute(_FORGET, rows)
