"""What is kept of a reading: a row of the store, or one that only an archive still has."""

from collections.abc import Iterable, Sequence
from itertools import chain
from pathlib import Path
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from monitor.store.series import SeriesKey
from monitor.yard.day_leaves import ReadingSteps
from monitor.yard.reading import Channel, Flag, Reading, Trace

# A row as plain as it can be: a named one takes twice as long to make, and there are thousands.
StoredSteps = tuple[int, int, int, int | None, int]


class ReadingRow(NamedTuple):
    """A reading as it is stored: value and raw in whole steps of the channel's resolution."""

    series_id: int
    at_ms: int
    value: int
    raw: int | None  # None where it equals the value
    flag: int


class ArchivedRows(Protocol):
    """Readings of one yard that the store no longer holds, in an archive."""

    def rows_between(
        self, sensor: str, channel: Channel, from_ms: int, to_ms: int
    ) -> Sequence[ReadingSteps]:
        """Those of a series with ``from_ms <= at < to_ms``, in order of time."""

    def oldest_ms(self, sensor: str, channel: Channel, from_ms: int, to_ms: int) -> int | None:
        """Time of the oldest of them; None without any."""

    def newest_ms(self, sensor: str, channel: Channel, from_ms: int, to_ms: int) -> int | None:
        """Time of the newest of them; None without any."""

    def file_of(self, hour_ms: int, sensor: str) -> Path | None:
        """The file that holds an hour of a sensor; None: none does."""


def reading_row(series_id: int, reading: Reading) -> ReadingRow:
    """Turn a reading into what is stored of it."""
    step = reading.channel.resolution
    value, raw = round(reading.value / step), round(reading.raw / step)
    return ReadingRow(
        series_id, reading.at_ms, value, None if raw == value else raw, int(reading.flag)
    )


def reading_of_row(sensor: str, channel: Channel, row: object) -> Reading:
    """Turn a row of a table of readings back into the reading."""
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


def table_of_rows(rows: Iterable[Iterable[int]]) -> NDArray[np.int64]:
    """Time, value and flag of readings, a row each.

    Number by number, as they come: a list of rows takes twice the time and many times the memory.
    """
    return np.fromiter(chain.from_iterable(rows), dtype=np.int64).reshape(-1, 3)


def trace_of_rows(
    key: SeriesKey, rows: Iterable[Iterable[int]], update_s: float | None = None
) -> Trace:
    """Readings of one series, from their rows of time, value in steps and flag."""
    sensor, channel = key
    table = table_of_rows(rows)
    return Trace(
        sensor=sensor,
        channel=channel,
        at_ms=table[:, 0].copy(),  # a view would keep the whole table
        value=(table[:, 1] * channel.resolution).astype(np.float64),
        flag=table[:, 2].astype(np.int8),
        update_s=update_s,
    )
