"""Readings of one series or some, read back as arrays; an archive's among them."""

from collections.abc import Callable, Collection, Iterable, Sequence
from itertools import chain, islice
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, bindparam, func, select

from monitor.store.landing import Landing
from monitor.store.reading_rows import ArchivedRows, table_of_rows, trace_of_rows
from monitor.store.series import SeriesKey, YardSeries
from monitor.store.statements import in_batches
from monitor.store.tables import landed_readings, readings
from monitor.yard.day_leaves import ReadingSteps
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Flag, Trace

_EVER_MS = 2**53  # after all readings
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
_TIME_VALUE_FLAG = attrgetter("at_ms", "value", "flag")


class Readings:
    """The readings of one yard, asked for by series and time."""

    def __init__(
        self,
        connection: Connection,
        yard_id: int,
        series: YardSeries,
        landing: Landing,
        archived: ArchivedRows | None = None,
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._series = series
        self._landing = landing
        self._archived = archived  # asked for readings that are no longer in the store

    def traces_between(
        self, keys: Collection[SeriesKey], from_ms: int, to_ms: int
    ) -> dict[SeriesKey, Trace]:
        """Readings of the named series with ``from_ms <= at < to_ms``, in time order.

        A series without readings in the window gives an empty trace.
        """
        known, promised = self._series.known_series(), self._series.promised_s()
        wanted = {known[key]: key for key in keys if key in known}
        traces = {key: trace_of_rows(key, []) for key in keys}
        landed = self._landed_window(list(wanted), from_ms, to_ms)
        for series_id, key in wanted.items():
            settled = self._settled_window(series_id, from_ms, to_ms)
            rows = chain(settled, landed.get(series_id, ()))
            with_old = self._with_archived(key, from_ms, to_ms, rows, _TIME_VALUE_FLAG)
            traces[key] = trace_of_rows(key, with_old, promised.get(key))
        return traces

    def _settled_window(self, series_id: int, from_ms: int, to_ms: int) -> Iterable[Sequence[int]]:
        for table, since_ms, until_ms in self._landing.spans_by_table(from_ms, to_ms):
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
        for table, since_ms, until_ms in self._landing.spans_by_table(from_ms, to_ms):
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
        for table, since_ms, until_ms in self._landing.spans_by_table(from_ms, to_ms + 1):
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
        table_of_steps = table_of_rows(islice(with_old, most))
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
        for table, since_ms, until_ms in self._landing.spans_by_table(from_ms, to_ms):
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

    def hours_read(self, series_id: int, from_ms: int, to_ms: int) -> set[int]:
        """Beginnings of the hours [ms] in which a series has readings ``from_ms <= at < to_ms``."""
        hours: set[int] = set()
        for table, since_ms, until_ms in self._landing.spans_by_table(from_ms, to_ms):
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

    def newest_ms(self, series_id: int, before_ms: int | None = None) -> int | None:
        """Time of the newest reading of one series, before a moment; None if it has none."""
        found: int | None = None
        for table in (landed_readings, readings):  # whatever has landed is newer
            found = self._connection.scalar(
                select(table.c.at_ms)
                .where(
                    table.c.yard_id == self._yard_id,
                    table.c.series_id == series_id,
                    *([] if before_ms is None else [table.c.at_ms < before_ms]),
                )
                .order_by(table.c.at_ms.desc())  # from the end: max() would go through all landed
                .limit(1)
            )
            if found is not None:
                break
        if before_ms is None or self._archived is None:
            return found  # no month takes the newest of all along
        key = self._key_of(series_id)
        from_ms = 0 if found is None else found + 1
        old = None if key is None else self._archived.newest_ms(*key, from_ms, before_ms)
        return found if old is None else old

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

    def _key_of(self, series_id: int) -> SeriesKey | None:
        if self._archived is None:
            return None  # nobody asks by it
        return next((key for key, n in self._series.known_series().items() if n == series_id), None)

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


def _time_and_sent(row: ReadingSteps) -> tuple[int, int]:
    return row.at_ms, row.value if row.raw is None else row.raw
