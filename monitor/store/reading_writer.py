"""Readings written: appended in bulk, once each; their flags and times set right later."""

from collections.abc import Collection, Iterable, Sequence
from itertools import chain
from operator import itemgetter

from sqlalchemy import Connection, Table, bindparam, delete, func, select, update

from monitor.store.landing import Landing
from monitor.store.reading_rows import ReadingRow, StoredSteps, reading_row
from monitor.store.series import YardSeries
from monitor.store.stale_hours import StaleHours
from monitor.store.statements import in_batches
from monitor.store.tables import landed_readings, readings
from monitor.yard.reading import Reading

_APPEND_SQLITE = "INSERT OR IGNORE INTO {} VALUES (?, ?, ?, ?, ?, ?)"
_AT_ONCE = 100  # rows in one statement: a third less time a row, measured, and no more beyond that
_APPEND_MANY_SQLITE = _APPEND_SQLITE + ", (?, ?, ?, ?, ?, ?)" * (_AT_ONCE - 1)
_APPEND_POSTGRESQL = """
    INSERT INTO {} (yard_id, series_id, at_ms, value, raw, flag)
    SELECT * FROM unnest(%s::int[], %s::int[], %s::bigint[], %s::int[], %s::int[], %s::smallint[])
    ON CONFLICT DO NOTHING
"""

_AMEND = {
    table: update(table)
    .where(
        table.c.yard_id == bindparam("yard"),
        table.c.series_id == bindparam("series"),
        table.c.at_ms == bindparam("at"),
    )
    .values(flag=bindparam("to"))
    for table in (readings, landed_readings)
}

_SERIES_AND_TIME = itemgetter(1, 2)  # behind the yard
_TIME_AND_SERIES = itemgetter(2, 1)
_SERIES_AND_TIME_OF_ROW = itemgetter(0, 1)
_TIME_OF_ROW = itemgetter(1)


class ReadingWriter:
    """Writes readings of one yard, each keyed by series and time: a repeat is a no-op."""

    def __init__(
        self,
        connection: Connection,
        yard_id: int,
        series: YardSeries,
        landing: Landing,
        stale: StaleHours,
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._series = series
        self._landing = landing
        self._stale = stale  # told of every reading that is added, flagged anew or moved

    def append_rows(self, rows: Sequence[ReadingRow | StoredSteps]) -> int:
        """Store rows, fields as in `ReadingRow`, and tell how many were new.

        The one bulk path; its speed was measured.
        """
        if not rows:
            return 0
        self._stale.note_changed(map(_SERIES_AND_TIME_OF_ROW, rows), min(map(_TIME_OF_ROW, rows)))
        mark_ms = self._landing.mark_ms()
        if mark_ms is None:
            return self._append_to(readings, rows)
        landing = [row for row in rows if row[1] >= mark_ms]
        late = [row for row in rows if row[1] < mark_ms] if len(landing) < len(rows) else []
        return self._append_to(landed_readings, landing) + self._append_to(readings, late)

    def _append_to(self, table: Table, rows: Sequence[ReadingRow | StoredSteps]) -> int:
        if not rows:
            return 0
        if self._connection.dialect.name == "sqlite":
            return self._append_sqlite(table, [(self._yard_id, *row) for row in rows])
        columns = [list(column) for column in zip(*rows, strict=True)]
        parameters = ([self._yard_id] * len(rows), *columns)
        append = _APPEND_POSTGRESQL.format(table.name)
        return self._connection.exec_driver_sql(append, parameters).rowcount

    def _append_sqlite(self, table: Table, rows: list[tuple[int | None, ...]]) -> int:
        # Neighbours side by side: fewer pages are looked up.
        rows.sort(key=_SERIES_AND_TIME if table is readings else _TIME_AND_SERIES)
        whole = len(rows) - len(rows) % _AT_ONCE
        new = 0
        append_many = _APPEND_MANY_SQLITE.format(table.name)
        for first in range(0, whole, _AT_ONCE):
            values = tuple(chain.from_iterable(rows[first : first + _AT_ONCE]))
            new += self._connection.exec_driver_sql(append_many, values).rowcount
        if whole < len(rows):
            append = _APPEND_SQLITE.format(table.name)
            new += self._connection.exec_driver_sql(append, rows[whole:]).rowcount
        return new

    def add(self, new: Iterable[Reading]) -> int:
        """Store readings one by one, for callers to whom speed does not matter."""
        new = list(new)
        ids = self._series.series_ids([(reading.sensor, reading.channel) for reading in new])
        return self.append_rows(
            [reading_row(ids[reading.sensor, reading.channel], reading) for reading in new]
        )

    def raw_steps(self, keys: Collection[tuple[int, int]]) -> dict[tuple[int, int], int]:
        """What sensors had sent, in steps, by series id and time; absent where nothing is."""
        times: dict[int, list[int]] = {}
        for series_id, at_ms in keys:
            times.setdefault(series_id, []).append(at_ms)
        found: dict[tuple[int, int], int] = {}
        # Series by series: SQLite looks pairs up by going through every reading of the yard.
        for series_id, of_series in times.items():
            for table, held in self._landing.times_by_table(of_series):
                for some in in_batches(held):
                    rows = self._connection.execute(
                        select(table.c.at_ms, func.coalesce(table.c.raw, table.c.value)).where(
                            table.c.yard_id == self._yard_id,
                            table.c.series_id == series_id,
                            table.c.at_ms.in_(some),
                        )
                    )
                    found.update({(series_id, at_ms): raw for at_ms, raw in rows})
        return found

    def amend_flags(self, flags: Iterable[tuple[int, int, int]]) -> None:
        """Set new flags; each is a series id, a time and the flag."""
        new_flags = {(series_id, at_ms): flag for series_id, at_ms, flag in flags}
        if new_flags:
            self._note_changed(list(new_flags))
        for table, times in self._landing.times_by_table({at_ms for _, at_ms in new_flags}):
            held = set(times)
            self._connection.execute(
                _AMEND[table],
                [
                    {"yard": self._yard_id, "series": series_id, "at": at_ms, "to": flag}
                    for (series_id, at_ms), flag in new_flags.items()
                    if at_ms in held
                ],
            )

    def move_in_time(self, series_id: int, times: Sequence[int], by_ms: int) -> int:
        """Give readings of a series, named by their times, times that are later by so much.

        Where there is a reading at the new time already, that one stays.
        """
        rows: list[StoredSteps] = []
        for table, held in self._landing.times_by_table(times):
            for some in in_batches(held):
                its = (
                    table.c.yard_id == self._yard_id,
                    table.c.series_id == series_id,
                    table.c.at_ms.in_(some),
                )
                found = self._connection.execute(
                    select(table.c.at_ms, table.c.value, table.c.raw, table.c.flag).where(*its)
                )
                rows += [(series_id, at_ms + by_ms, *rest) for at_ms, *rest in found]
                self._note_changed([(series_id, at_ms) for at_ms in some])
                self._connection.execute(delete(table).where(*its))
        return self.append_rows(rows)

    def put_back(self, rows: Sequence[StoredSteps]) -> None:
        """Store rows of a dropped month as its file has them; where there is one, that one stays.

        Nothing is noted as changed: rollups and leaves of them stayed.
        """
        for table, times in self._landing.times_by_table({row[1] for row in rows}):
            held = set(times)
            self._append_to(table, [row for row in rows if row[1] in held])

    def remove_rows(self, series_id: int, from_ms: int, to_ms: int) -> int:
        """Remove readings ``from_ms <= at < to_ms`` that are in the archive; tells how many.

        Nothing is noted as changed: whoever drops a month has entered it among the dropped ones,
        and compared each of these readings with its file and its leaf.
        """
        gone = 0
        for table, since_ms, until_ms in self._landing.spans_by_table(from_ms, to_ms):
            within = (table.c.at_ms >= since_ms, table.c.at_ms < until_ms)
            its = (table.c.yard_id == self._yard_id, table.c.series_id == series_id)
            gone += self._connection.execute(delete(table).where(*its, *within)).rowcount
        return gone

    def _note_changed(self, changed: Sequence[tuple[int, int]]) -> None:
        self._stale.note_changed(changed, min(at_ms for _, at_ms in changed))
