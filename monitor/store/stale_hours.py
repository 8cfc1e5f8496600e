"""Which hourly rollups are made: a mark up to which they are, and the hours that are to be made.

Hours before the mark are made, unless they are stale: whoever changes a reading enters the hours
that it changes in the same transaction. So no crash leaves a row that its readings do not give.
"""

from collections.abc import Iterable

from sqlalchemy import Connection, delete, select, text

from monitor.store.statements import YardMark
from monitor.store.tables import rollup_mark, stale_hours
from monitor.yard.hourly import HOUR_MS, REACH_MS

_ENTER = text(
    "INSERT INTO stale_hours (yard_id, series_id, hour_ms) VALUES (:yard, :series, :hour)"
    " ON CONFLICT DO NOTHING"
)
_REACH_H = REACH_MS // HOUR_MS

HourOfSeries = tuple[int, int]  # a series' id and the beginning of an hour [ms]


def hour_of(at_ms: int) -> int:
    """Beginning of the hour in which a time lies [ms]."""
    return at_ms - at_ms % HOUR_MS


def hours_changed_by(hour_ms: int) -> list[int]:
    """Beginnings of the hours whose rollups rest on readings of one hour [ms]."""
    return [hour_ms + n * HOUR_MS for n in range(-_REACH_H, _REACH_H + 1)]


class StaleHours:
    """The mark and the stale hours of one yard, on one connection."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._mark = YardMark(connection, rollup_mark.c.until_ms, yard_id)

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
        """
        mark_ms = self.mark_ms()
        if mark_ms is None or oldest_ms - REACH_MS >= mark_ms:
            return
        hours = {(series_id, hour_of(at_ms)) for series_id, at_ms in changed}
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
