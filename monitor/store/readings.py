"""Readings: appended in bulk, once each, and read back as arrays."""

from collections.abc import Callable, Collection, Container, Iterable, Mapping, Sequence
from itertools import chain, islice
from operator import attrgetter, itemgetter
from pathlib import Path
from typing import Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, Select, Table, bindparam, delete, func, insert, select, update

from monitor.store.landing import Landing
from monitor.store.stale_hours import StaleHours
from monitor.store.statements import in_batches
from monitor.store.tables import landed_readings, readings, series
from monitor.yard.day_leaves import ReadingSteps
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel, Flag, Reading, Trace

SeriesKey = tuple[str, Channel]  # a sensor's name and one of its channels

_APPEND_SQLITE = "INSERT OR IGNORE INTO {} VALUES (?, ?, ?, ?, ?, ?)"
_EVER_MS = 2**53  # after all readings
_NEWEST_LOOKED_AT = 100  # readings of sensors that are no longer in the yard's file are few
_AT_ONCE = 100  # rows in one statement: a third less time a row, measured, and no more beyond that
_APPEND_MANY_SQLITE = _APPEND_SQLITE + ", (?, ?, ?, ?, ?, ?)" * (_AT_ONCE - 1)
_APPEND_POSTGRESQL = """
    INSERT INTO {} (yard_id, series_id, at_ms, value, raw, flag)
    SELECT * FROM unnest(%s::int[], %s::int[], %s::bigint[], %s::int[], %s::int[], %s::smallint[])
    ON CONFLICT DO NOTHING
"""

# Built once: a round asks for some hundred series, and building costs more than asking.
_WINDOW = (
    select(readings.c.at_ms, readings.c.value, readings.c.flag)
    .where(
        readings.c.yard_id == bindparam("yard"),
        readings.c.series_id == bindparam("series"),
        readings.c.at_ms >= bindparam("from"),
        readings.c.at_ms < bindparam("to"),
    )
    .order_by(readings.c.at_ms)
)
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
_TIME_VALUE_FLAG = attrgetter("at_ms", "value", "flag")


# A row as plain as it can be: a named one takes twice as long to make, and there are thousands.
StoredSteps = tuple[int, int, int, int | None, int]


class ArchivedRows(Protocol):
    """Readings of one yard that the store no longer holds, in an archive."""

    def rows_between(
        self, sensor: str, channel: Channel, from_ms: int, to_ms: int
    ) -> Sequence[ReadingSteps]:
        """Those of a series with ``from_ms <= at < to_ms``, in order of time."""

    def oldest_ms(self, sensor: str, channel: Channel, from_ms: int, to_ms: int) -> int | None:
        """Time of the oldest of them; None without any."""

    def file_of(self, hour_ms: int, sensor: str) -> Path | None:
        """The file that holds an hour of a sensor; None: none does."""


class ReadingRow(NamedTuple):
    """A reading as it is stored: value and raw in whole steps of the channel's resolution."""

    series_id: int
    at_ms: int
    value: int
    raw: int | None  # None where it equals the value
    flag: int


class Readings:
    """The readings of one yard. A reading is keyed by series and time: a repeat is a no-op."""

    def __init__(
        self,
        connection: Connection,
        yard_id: int,
        stale: StaleHours,
        archived: ArchivedRows | None = None,
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._archived = archived  # asked for readings that are no longer in the store
        self._stale = stale  # told of every reading that is added, flagged anew or moved
        self.landing = Landing(connection, yard_id)

    def series_ids(self, keys: Collection[SeriesKey]) -> dict[SeriesKey, int]:
        """Ids of the named series; those not yet known are entered."""
        known = self.known_series()
        new = [key for key in dict.fromkeys(keys) if key not in known]
        first = max(known.values(), default=0) + 1
        known.update((key, series_id) for series_id, key in enumerate(new, start=first))
        if new:
            self._connection.execute(
                insert(series),
                [
                    {
                        "yard_id": self._yard_id,
                        "series_id": known[key],
                        "sensor": key[0],
                        "channel": key[1],
                    }
                    for key in new
                ],
            )
        return {key: known[key] for key in keys}

    def keep_promises(self, promises: Mapping[int, float]) -> None:
        """Keep how soon each series' next reading is promised [s], by the series' id."""
        if promises:
            self._connection.execute(
                update(series)
                .where(
                    series.c.yard_id == self._yard_id, series.c.series_id == bindparam("promised")
                )
                .values(update_s=bindparam("within")),
                [{"promised": one, "within": within} for one, within in promises.items()],
            )

    def raw_steps(self, keys: Collection[tuple[int, int]]) -> dict[tuple[int, int], int]:
        """What sensors had sent, in steps, by series id and time; absent where nothing is."""
        times: dict[int, list[int]] = {}
        for series_id, at_ms in keys:
            times.setdefault(series_id, []).append(at_ms)
        found: dict[tuple[int, int], int] = {}
        # Series by series: SQLite looks pairs up by going through every reading of the yard.
        for series_id, of_series in times.items():
            for table, held in self.landing.times_by_table(of_series):
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

    def append_rows(self, rows: Sequence[ReadingRow | StoredSteps]) -> int:
        """Store rows, fields as in `ReadingRow`, and tell how many were new.

        The one bulk path; its speed was measured.
        """
        if not rows:
            return 0
        self._stale.note_changed(map(_SERIES_AND_TIME_OF_ROW, rows), min(map(_TIME_OF_ROW, rows)))
        mark_ms = self.landing.mark_ms()
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
        ids = self.series_ids([(reading.sensor, reading.channel) for reading in new])
        return self.append_rows(
            [reading_row(ids[reading.sensor, reading.channel], reading) for reading in new]
        )

    def traces_between(
        self, keys: Collection[SeriesKey], from_ms: int, to_ms: int
    ) -> dict[SeriesKey, Trace]:
        """Readings of the named series with ``from_ms <= at < to_ms``, in time order.

        A series without readings in the window gives an empty trace.
        """
        known, promised = self.known_series(), self._promised()
        wanted = {known[key]: key for key in keys if key in known}
        traces = {key: _trace(key, []) for key in keys}
        landed = self._landed_window(list(wanted), from_ms, to_ms)
        for series_id, key in wanted.items():
            settled = self._settled_window(series_id, from_ms, to_ms)
            rows = chain(settled, landed.get(series_id, ()))
            with_old = self._with_archived(key, from_ms, to_ms, rows, _TIME_VALUE_FLAG)
            traces[key] = _trace(key, with_old, promised.get(key))
        return traces

    def _key_of(self, series_id: int) -> SeriesKey | None:
        if self._archived is None:
            return None  # nobody asks by it
        return next((key for key, n in self.known_series().items() if n == series_id), None)

    def _with_archived(
        self,
        key: SeriesKey | None,
        from_ms: int,
        to_ms: int,
        rows: Iterable[Sequence[int]],
        columns_of: Callable[[ReadingSteps], tuple[int, ...]],
    ) -> Iterable[Sequence[int]]:
        """Rows of the store, led by their time, with those that only an archive still has."""
        if self._archived is None or key is None:
            return rows
        old = {
            row.at_ms: columns_of(row) for row in self._archived.rows_between(*key, from_ms, to_ms)
        }
        if not old:
            return rows
        by_time = {**old, **{row[0]: tuple(row) for row in rows}}
        return [by_time[at_ms] for at_ms in sorted(by_time)]

    def _settled_window(self, series_id: int, from_ms: int, to_ms: int) -> Iterable[Sequence[int]]:
        for table, since_ms, until_ms in self.landing.spans_by_table(from_ms, to_ms):
            if table is readings:
                bounds = {"from": since_ms, "to": until_ms}
                return self._connection.execute(
                    _WINDOW, {"yard": self._yard_id, "series": series_id, **bounds}
                )
        return ()

    def _landed_window(
        self, series_ids: Sequence[int], from_ms: int, to_ms: int
    ) -> dict[int, list[Sequence[int]]]:
        """Time, value and flag by series, in one way through all that has landed."""
        rows: dict[int, list[Sequence[int]]] = {}
        for table, since_ms, until_ms in self.landing.spans_by_table(from_ms, to_ms):
            for some in in_batches(series_ids) if table is landed_readings else ():
                found = self._connection.execute(
                    select(table.c.series_id, table.c.at_ms, table.c.value, table.c.flag)
                    .where(
                        table.c.yard_id == self._yard_id,
                        table.c.series_id.in_(some),
                        table.c.at_ms >= since_ms,
                        table.c.at_ms < until_ms,
                    )
                    .order_by(table.c.at_ms)
                )
                for series_id, *steps in found:
                    rows.setdefault(series_id, []).append(steps)
        return rows

    def steps_of_series(
        self, series_id: int, from_ms: int, to_ms: int, most: int | None = None
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int8]]:
        """Times, values in steps and flags of one series with ``from_ms <= at <= to_ms``.

        In order of time; of more than ``most`` the first ones.
        """
        rows: list[Sequence[int]] = []
        for table, since_ms, until_ms in self.landing.spans_by_table(from_ms, to_ms + 1):
            rows += self._connection.execute(
                select(table.c.at_ms, table.c.value, table.c.flag)
                .where(
                    table.c.yard_id == self._yard_id,
                    table.c.series_id == series_id,
                    table.c.at_ms >= since_ms,
                    table.c.at_ms < until_ms,
                )
                .order_by(table.c.at_ms)
                .limit(None if most is None else most - len(rows))
            ).all()
        with_old = self._with_archived(
            self._key_of(series_id), from_ms, to_ms + 1, rows, _TIME_VALUE_FLAG
        )
        table_of_steps = _as_table(islice(with_old, most))
        return (
            table_of_steps[:, 0],
            table_of_steps[:, 1],
            table_of_steps[:, 2].astype(np.int8),
        )

    def sent_steps(
        self, series_id: int, from_ms: int, to_ms: int
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Times and what the sensor sent, in steps, with ``from_ms <= at < to_ms``, in order."""
        rows: list[Sequence[int]] = []
        for table, since_ms, until_ms in self.landing.spans_by_table(from_ms, to_ms):
            rows += self._connection.execute(
                select(table.c.at_ms, func.coalesce(table.c.raw, table.c.value))
                .where(
                    table.c.yard_id == self._yard_id,
                    table.c.series_id == series_id,
                    table.c.at_ms >= since_ms,
                    table.c.at_ms < until_ms,
                )
                .order_by(table.c.at_ms)
            ).all()
        with_old = self._with_archived(
            self._key_of(series_id), from_ms, to_ms, rows, _time_and_sent
        )
        found = np.fromiter(chain.from_iterable(with_old), dtype=np.int64).reshape(-1, 2)
        return found[:, 0], found[:, 1]

    def newest_ms(self, series_id: int, before_ms: int | None = None) -> int | None:
        """Time of the newest reading of one series, before a moment; None if it has none."""
        for table in (landed_readings, readings):  # whatever has landed is newer
            newest: int | None = self._connection.scalar(
                select(table.c.at_ms)
                .where(
                    table.c.yard_id == self._yard_id,
                    table.c.series_id == series_id,
                    *([] if before_ms is None else [table.c.at_ms < before_ms]),
                )
                .order_by(table.c.at_ms.desc())  # from the end: max() would go through all landed
                .limit(1)
            )
            if newest is not None:
                return newest
        return None

    def oldest_ms(self, series_id: int, from_ms: int | None = None) -> int | None:
        """Time of the oldest reading of one series, from one time on; None if it has none."""
        found: int | None = None
        for table in (readings, landed_readings):
            oldest = select(func.min(table.c.at_ms)).where(
                table.c.yard_id == self._yard_id, table.c.series_id == series_id
            )
            if from_ms is not None:
                oldest = oldest.where(table.c.at_ms >= from_ms)
            found = self._connection.scalar(oldest) if found is None else found
        key = self._key_of(series_id)
        if self._archived is None or key is None:
            return found
        old = self._archived.oldest_ms(*key, from_ms or 0, _EVER_MS if found is None else found)
        return found if old is None else old

    def hours_read(self, series_id: int, from_ms: int, to_ms: int) -> set[int]:
        """Beginnings of the hours [ms] in which a series has readings ``from_ms <= at < to_ms``."""
        hours: set[int] = set()
        for table, since_ms, until_ms in self.landing.spans_by_table(from_ms, to_ms):
            hours.update(
                self._connection.scalars(
                    select(table.c.at_ms - table.c.at_ms % HOUR_MS)
                    .where(
                        table.c.yard_id == self._yard_id,
                        table.c.series_id == series_id,
                        table.c.at_ms >= since_ms,
                        table.c.at_ms < until_ms,
                    )
                    .distinct()
                )
            )
        return hours

    def amend_flags(self, flags: Iterable[tuple[int, int, int]]) -> None:
        """Set new flags; each is a series id, a time and the flag."""
        new_flags = {(series_id, at_ms): flag for series_id, at_ms, flag in flags}
        if new_flags:
            self._note_changed(list(new_flags))
        for table, times in self.landing.times_by_table({at_ms for _, at_ms in new_flags}):
            held = set(times)
            self._connection.execute(
                _AMEND[table],
                [
                    {"yard": self._yard_id, "series": series_id, "at": at_ms, "to": flag}
                    for (series_id, at_ms), flag in new_flags.items()
                    if at_ms in held
                ],
            )

    def times_flagged(self, series_id: int, flag: Flag, from_ms: int) -> list[int]:
        """Times of a series' readings with this flag, from one time on."""
        times: list[int] = []
        for table in (readings, landed_readings):
            times += self._connection.scalars(
                select(table.c.at_ms).where(
                    table.c.yard_id == self._yard_id,
                    table.c.series_id == series_id,
                    table.c.at_ms >= from_ms,
                    table.c.flag == int(flag),
                )
            )
        return times

    def series_of(self, sensor: str) -> dict[Channel, int]:
        """Ids of a sensor's series by channel."""
        known = self.known_series().items()
        return {channel: series_id for (name, channel), series_id in known if name == sensor}

    def series_by_sensor(self) -> dict[str, dict[Channel, int]]:
        """Ids of all series that ever had a reading, by sensor and channel."""
        found: dict[str, dict[Channel, int]] = {}
        for (sensor, channel), series_id in self.known_series().items():
            found.setdefault(sensor, {})[channel] = series_id
        return found

    def move_in_time(self, series_id: int, times: Sequence[int], by_ms: int) -> int:
        """Give readings of a series, named by their times, times that are later by so much.

        Where there is a reading at the new time already, that one stays.
        """
        rows: list[StoredSteps] = []
        for table, held in self.landing.times_by_table(times):
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

    def latest_readings(self) -> dict[SeriesKey, Reading]:
        """Newest reading of every series, whatever its flag."""
        newest = {row.series_id: row for row in self._connection.execute(self._newest_settled())}
        newest.pop(None, None)  # series that have none there
        newest |= {row.series_id: row for row in self._connection.execute(self._newest_landed())}
        return {
            (sensor, channel): _reading(sensor, channel, newest[series_id])
            for (sensor, channel), series_id in self.known_series().items()
            if series_id in newest
        }

    def newest_at_ms(self, sensors: Container[str], until_ms: int) -> int | None:
        """Time of the newest reading of any of these sensors up to a moment [ms].

        While readings come, it is found at the end of the table that they land in, whatever the
        number of sensors.
        """
        landed = (
            select(landed_readings.c.at_ms, series.c.sensor)
            .join_from(
                landed_readings,
                series,
                (series.c.yard_id == landed_readings.c.yard_id)
                & (series.c.series_id == landed_readings.c.series_id),
            )
            .where(landed_readings.c.yard_id == self._yard_id, landed_readings.c.at_ms <= until_ms)
            .order_by(landed_readings.c.at_ms.desc())
            .limit(_NEWEST_LOOKED_AT)
        )
        for row in self._connection.execute(landed):
            if row.sensor in sensors:
                return int(row.at_ms)
        times = (
            one.at_ms
            for (sensor, _), one in self.latest_readings().items()
            if sensor in sensors and one.at_ms <= until_ms
        )
        return max(times, default=None)

    def _newest_settled(self) -> Select[Any]:
        one = readings.alias()
        # For each series a look at the end of its part of the index; a GROUP BY would go through
        # every reading of the season.
        newest_ms = (
            select(func.max(one.c.at_ms))
            .where(one.c.yard_id == series.c.yard_id, one.c.series_id == series.c.series_id)
            .scalar_subquery()
        )
        same = (
            (readings.c.yard_id == series.c.yard_id)
            & (readings.c.series_id == series.c.series_id)
            & (readings.c.at_ms == newest_ms)
        )
        return (
            select(readings)
            .join_from(series, readings, same, isouter=True)  # else SQLite begins with readings
            .where(series.c.yard_id == self._yard_id)
        )

    def _newest_landed(self) -> Select[Any]:
        one = landed_readings.alias()
        newest = (
            select(one.c.series_id, func.max(one.c.at_ms).label("at_ms"))
            .where(one.c.yard_id == self._yard_id)
            .group_by(one.c.series_id)
            .subquery()
        )
        same = (landed_readings.c.series_id == newest.c.series_id) & (
            landed_readings.c.at_ms == newest.c.at_ms
        )
        return (
            select(landed_readings)
            .join_from(landed_readings, newest, same)
            .where(landed_readings.c.yard_id == self._yard_id)
        )

    def count_between(self, from_ms: int, to_ms: int) -> int:
        """How many readings the store holds with ``from_ms <= at < to_ms``."""
        count = 0
        ids = list(self.known_series().values())
        for table, since_ms, until_ms in self.landing.spans_by_table(from_ms, to_ms):
            # Series by series, as the key of most is led.
            for some in [[one] for one in ids] if table is readings else in_batches(ids):
                within = (table.c.at_ms >= since_ms, table.c.at_ms < until_ms)
                counted = select(func.count()).where(
                    table.c.yard_id == self._yard_id, table.c.series_id.in_(some), *within
                )
                count += self._connection.scalar(counted) or 0
        return count

    def count_readings(self) -> int:
        """How many readings the yard has stored."""
        return sum(
            self._connection.scalar(select(func.count()).where(table.c.yard_id == self._yard_id))
            or 0
            for table in (readings, landed_readings)
        )

    def _note_changed(self, changed: Sequence[tuple[int, int]]) -> None:
        self._stale.note_changed(changed, min(at_ms for _, at_ms in changed))

    def _promised(self) -> dict[SeriesKey, float]:
        rows = self._connection.execute(
            select(series.c.sensor, series.c.channel, series.c.update_s).where(
                series.c.yard_id == self._yard_id, series.c.update_s.is_not(None)
            )
        )
        return {(row.sensor, Channel(row.channel)): row.update_s for row in rows}

    def known_series(self) -> dict[SeriesKey, int]:
        """Ids of all series that ever had a reading."""
        rows = self._connection.execute(
            select(series.c.sensor, series.c.channel, series.c.series_id).where(
                series.c.yard_id == self._yard_id
            )
        )
        return {(row.sensor, Channel(row.channel)): row.series_id for row in rows}


def reading_row(series_id: int, reading: Reading) -> ReadingRow:
    """Turn a reading into what is stored of it."""
    step = reading.channel.resolution
    value, raw = round(reading.value / step), round(reading.raw / step)
    return ReadingRow(
        series_id, reading.at_ms, value, None if raw == value else raw, int(reading.flag)
    )


def _time_and_sent(row: ReadingSteps) -> tuple[int, int]:
    return row.at_ms, row.value if row.raw is None else row.raw


def _as_table(rows: Iterable[Iterable[int]]) -> NDArray[np.int64]:
    """Time, value and flag of readings, a row each.

    Number by number, as they come: a list of rows takes twice the time and many times the memory.
    """
    return np.fromiter(chain.from_iterable(rows), dtype=np.int64).reshape(-1, 3)


def _trace(key: SeriesKey, rows: Iterable[Iterable[int]], update_s: float | None = None) -> Trace:
    sensor, channel = key
    table = _as_table(rows)
    return Trace(
        sensor=sensor,
        channel=channel,
        at_ms=table[:, 0].copy(),  # a view would keep the whole table
        value=(table[:, 1] * channel.resolution).astype(np.float64),
        flag=table[:, 2].astype(np.int8),
        update_s=update_s,
    )


def _reading(sensor: str, channel: Channel, row: object) -> Reading:
    at_ms, value, raw, flag = row.at_ms, row.value, row.raw, row.flag  # type: ignore[attr-defined]
    step = channel.resolution
    return Reading(
        sensor=sensor,
        channel=channel,
        at_ms=at_ms,
        value=value * step,
        raw=(value if raw is None else raw) * step,
        flag=Flag(flag),
    )
