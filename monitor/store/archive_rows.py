"""Rows of an archive file: readings of one sensor as Parquet has them, and the digest over all.

pyarrow is imported only here and when it is asked for: the daemon has no need of it.
"""

import hashlib
from collections.abc import Mapping
from types import ModuleType
from typing import Any, NamedTuple

from monitor.clock import to_ms as clock_ms
from monitor.craft.canonical import canonical_bytes
from monitor.errors import LaidupError
from monitor.yard.day_leaves import ReadingSteps, raw_digest
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel

HoursOfRows = dict[int, dict[Channel, list[ReadingSteps]]]  # by the hour's beginning [ms]


class SensorPart(NamedTuple):
    """Readings of one sensor in some days, in whole hours."""

    sensor: str
    rows: Mapping[Channel, list[ReadingSteps]]  # each in order of time

    @property
    def size(self) -> int:
        """How many readings."""
        return sum(map(len, self.rows.values()))

    def rows_by_hour(self) -> HoursOfRows:
        """The same by the hour, hours in order."""
        found: HoursOfRows = {}
        for channel, rows in self.rows.items():
            for row in rows:
                hour = found.setdefault(row.at_ms - row.at_ms % HOUR_MS, {})
                hour.setdefault(channel, []).append(row)
        return dict(sorted(found.items()))


class RowsDigest:
    """SHA-256 over every hour of every sensor, in the order of the file.

    Of each hour it takes the canonical form of `[sensor, hour, digest]` and a line feed; hour and
    digest are those of the hour's leaf in the tree of its day.
    """

    def __init__(self) -> None:
        self._sum = hashlib.sha256()
        self.rows = 0

    def add_part(self, part: SensorPart) -> None:
        """Take in the next readings."""
        for hour_ms, rows in part.rows_by_hour().items():
            said = [part.sensor, hour_ms // HOUR_MS, raw_digest(rows)]
            self._sum.update(canonical_bytes(said) + b"\n")
        self.rows += part.size

    @property
    def hex(self) -> str:
        """The digest of what was taken in so far."""
        return self._sum.hexdigest()


def import_pyarrow() -> tuple[ModuleType, ModuleType]:
    """Pyarrow and its module for Parquet.

    Raises
    ------
    LaidupError
        If it is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ModuleNotFoundError as error:
        raise LaidupError(
            "Parquet needs pyarrow; install laidup with its extra: laidup[data]"
        ) from error
    return pa, pq


def schema_of(pa: Any) -> Any:  # noqa: ANN401  pyarrow has no types
    """The columns of an archive file, as pyarrow has them."""
    fields = [
        pa.field("sensor", pa.string(), nullable=False),
        pa.field("channel", pa.string(), nullable=False),
        pa.field("at", pa.timestamp("ms", tz="UTC"), nullable=False),
        pa.field("value", pa.int64(), nullable=False),  # in steps of the channel
        pa.field("sent", pa.int64()),  # before a correction; null where it equals the value
        pa.field("flag", pa.int16(), nullable=False),
    ]
    return pa.schema(fields)


def table_of(pa: Any, part: SensorPart) -> Any:  # noqa: ANN401  as above
    """Readings of one sensor as a table, channel by channel."""
    said = [(str(channel), row) for channel in sorted(part.rows) for row in part.rows[channel]]
    columns = [
        pa.array([part.sensor] * len(said), pa.string()),
        pa.array([channel for channel, _ in said], pa.string()),
        pa.array([row.at_ms for _, row in said], pa.timestamp("ms", tz="UTC")),
        pa.array([row.value for _, row in said], pa.int64()),
        pa.array([row.raw for _, row in said], pa.int64()),
        pa.array([row.flag for _, row in said], pa.int16()),
    ]
    return pa.Table.from_arrays(columns, schema=schema_of(pa))


_SENSOR_AT, _TIME_AT = 0, 2  # columns


def may_hold(opened: Any, n: int, sensor: str, within_ms: tuple[int, int] | None) -> bool:  # noqa: ANN401
    """Whether a group of rows may hold a sensor's readings of a stretch, by what stands before it.

    ``opened`` is a file of pyarrow; ``sensor`` empty: any.
    """
    group = opened.metadata.row_group(n)
    names, times = (group.column(place).statistics for place in (_SENSOR_AT, _TIME_AT))
    is_told = sensor and names is not None and names.has_min_max
    if is_told and not names.min <= sensor <= names.max:
        return False
    if within_ms is not None and times is not None and times.has_min_max:
        from_ms, to_ms = within_ms
        return bool(from_ms <= clock_ms(times.max) and clock_ms(times.min) < to_ms)
    return True


def read_group(opened: Any, n: int) -> SensorPart:  # noqa: ANN401  as above
    """One group of rows of a file.

    Raises
    ------
    ValueError
        If it is no group of an archive file.
    OSError, pyarrow.ArrowException
        If pyarrow cannot read it.
    """
    pa, _ = import_pyarrow()
    table = opened.read_row_group(n)
    if not table.schema.equals(schema_of(pa)):
        raise ValueError("other columns than an archive has")
    at_ms = table.column("at").cast(pa.int64()).to_pylist()
    names = ("sensor", "channel", "value", "sent", "flag")
    sensors, channels, *rest = (table.column(name).to_pylist() for name in names)
    if len(set(sensors)) != 1:
        raise ValueError("several sensors in one group of rows")
    rows: dict[Channel, list[ReadingSteps]] = {}
    for channel, row in zip(channels, zip(at_ms, *rest, strict=True), strict=True):
        rows.setdefault(Channel(channel), []).append(ReadingSteps(*row))
    return SensorPart(sensors[0], rows)
