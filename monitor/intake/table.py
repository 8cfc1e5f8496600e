"""Readings from a CSV file: a logger's download, a season from elsewhere, a simulation.

Every file has the columns ``at`` (RFC 3339 with its zone) and ``sensor`` (SenML base name without
the last sign), and then either one column for each channel with its unit in the header, such as
``temperature [degF]`` and ``humidity [%]``, an empty cell meaning no reading; or the three columns
``label``, ``unit`` (SenML) and ``value``, one reading a row. Cells are parted by commas, or by
semicolons, and then a comma may stand for the decimal point.
"""

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import NamedTuple, TextIO

from monitor.errors import ConfigurationError, Fault, PayloadError
from monitor.intake.mapping import FOREIGN_UNITS
from monitor.intake.senml import Record, check_name
from monitor.intake.strict_values import strict_number, strict_time
from monitor.yard.reading import Channel

_HEADER = re.compile(r"(?P<channel>[a-z_]+) ?\[(?P<unit>[^\]]*)\]")
_LONGEST = 16 * 1024  # characters in a line
_LONG = ("label", "unit", "value")
_AS_ARCHIVED = ("at", "sensor", *_LONG)
_HELP = (
    "Write it in UTF-8. Name the columns at, sensor, and either label, unit, value or one for each"
    " channel with its unit, like: at,sensor,temperature [degF],humidity [%]"
)


class Row(NamedTuple):
    """One line of the file."""

    line: int
    text: str  # as it stands in the file, for what is kept aside
    records: list[Record]
    reason: str  # why it could not be read; empty if it could


def read_rows(file: Path) -> Iterator[Row]:
    """Read a file line by line; it may be larger than memory.

    Raises
    ------
    ConfigurationError
        If the file cannot be read at all, or its header names no known columns.
    """
    if file.suffix.lower() == ".parquet":
        yield from _read_parquet(file)
        return
    try:
        # Bytes that are no UTF-8 cost their own line, not the file.
        with file.open(newline="", encoding="utf-8-sig", errors="surrogateescape") as stream:
            first = stream.readline(_LONGEST)
            delimiter = ";" if first.count(";") > first.count(",") else ","
            header = next(csv.reader([first], delimiter=delimiter), [])
            columns = _columns_of(file, [name.strip() for name in header], delimiter)
            for line, text in enumerate(_read_lines(stream), start=2):
                if not text.strip(f"{delimiter} \t\r\n"):
                    continue
                try:
                    records, reason = columns.row_records(_split_cells(text, delimiter)), ""
                except PayloadError as error:
                    records, reason = [], str(error)
                yield Row(line, text.rstrip("\r\n"), records, reason)
    except OSError as error:
        fault = Fault(
            file=str(file),
            key="",
            problem=f"cannot be read: {error.strerror}",
            remedy="Give a CSV file that this user may read.",
        )
        raise ConfigurationError([fault]) from error


def _read_parquet(file: Path) -> Iterator[Row]:
    """The rows of a Parquet file with the columns at, sensor, label, unit and value.

    ``at`` is a time stamp with a zone, or text as in a CSV file. A row is numbered as the line
    that it would be in a CSV file. A file of ``laidup archive`` is read too, as what the sensors
    sent.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ModuleNotFoundError as error:
        raise _unreadable_error(
            file, "", "Parquet needs pyarrow: install laidup[data], or write CSV"
        ) from error
    try:
        with pq.ParquetFile(file) as stored:
            names = stored.schema_arrow.names
            is_archive = {"at", "sensor", "channel", "value", "sent"} <= {*names}
            columns = _columns_of(file, _AS_ARCHIVED if is_archive else names, ",")
            line = 1
            for batch in stored.iter_batches():
                for cells in batch.to_pylist():
                    line += 1
                    texts = [_cell_text(cell) for cell in cells.values()]
                    try:
                        told = _sent_cells(cells) if is_archive else texts
                        records, reason = columns.row_records(told), ""
                    except PayloadError as error:
                        records, reason = [], str(error)
                    yield Row(line, ",".join(texts), records, reason)
    except (OSError, pa.ArrowException) as error:
        raise _unreadable_error(file, "", f"it is no Parquet file: {error}") from error


def _sent_cells(cells: Mapping[str, object]) -> list[str]:
    """A row of an archive file in the order of its columns here, the value as it was sent."""
    try:
        channel = Channel(str(cells["channel"]))
        steps = cells["value"] if cells["sent"] is None else cells["sent"]
        value = f"{int(str(steps)) * channel.resolution:.9g}"
    except ValueError as error:
        raise PayloadError(f"no row of an archive: {error}") from error
    told = (cells["at"], cells["sensor"], str(channel), channel.senml_unit, value)
    return [_cell_text(cell) for cell in told]


def _cell_text(cell: object) -> str:
    """One cell as a CSV file would hold it."""
    if isinstance(cell, datetime):
        return cell.isoformat()
    return "" if cell is None else str(cell)


def _read_lines(stream: TextIO) -> Iterator[str]:
    """Lines of a file; of one without an end, the beginning."""
    while line := stream.readline(_LONGEST):
        rest = line
        while not rest.endswith(("\n", "\r")) and (rest := stream.readline(_LONGEST)):
            pass
        yield line


def _split_cells(text: str, delimiter: str) -> list[str]:
    """Cells of one line. No cell spans lines: a quote left open costs one line, not the file."""
    if len(text) >= _LONGEST:
        raise PayloadError(f"a line of {_LONGEST} characters or more")
    if not text.isascii() and any("\udc80" <= sign <= "\udcff" for sign in text):
        raise PayloadError("not UTF-8")
    try:
        cells = next(csv.reader([text], delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise PayloadError(f"no CSV: {error}") from error
    return [cell.strip() for cell in cells]


class _Columns:
    """Where in a row the readings are."""

    def __init__(
        self,
        names: Sequence[str],
        channels: dict[int, tuple[Channel, float, float]],
        decimal_sign: str,
    ) -> None:
        self._decimal_sign = decimal_sign
        self._names = names
        self._at = names.index("at")
        self._sensor = names.index("sensor")
        self._channels = channels
        self._long = [] if channels else [names.index(name) for name in _LONG]

    def row_records(self, cells: list[str]) -> list[Record]:
        """Records of one row."""
        if len(cells) != len(self._names):
            raise PayloadError(f"{len(cells)} cells where the header has {len(self._names)}")
        at_s = strict_time(cells[self._at], "at")
        sensor = cells[self._sensor]
        if self._long:
            label, unit, value = (cells[place] for place in self._long)
            name = check_name(f"{sensor}:{label}")
            return [Record(name, unit or None, at_s, self._parse_number(value, "value"))]
        records = []
        for place, (channel, scale, offset) in self._channels.items():
            if cells[place]:
                number = self._parse_number(cells[place], self._names[place]) * scale + offset
                name = check_name(f"{sensor}:{channel}")
                records.append(Record(name, channel.senml_unit, at_s, number))
        return records

    def _parse_number(self, text: str, field: str) -> float:
        number = strict_number(text.replace(self._decimal_sign, "."))
        if number is None:
            raise PayloadError(f"{text[:40]!r} is not a number", field=field)
        return number


def _columns_of(file: Path, names: Sequence[str], delimiter: str) -> _Columns:
    # Where commas cannot part the cells, they part a number's whole and fraction.
    decimal_sign = "," if delimiter == ";" else "."
    for name in ("at", "sensor"):
        if names.count(name) != 1:
            raise _unreadable_error(file, "line 1", f"it has no column {name!r}, or more than one")
    others = [name for name in names if name not in {"at", "sensor"}]
    if sorted(others) == sorted(_LONG):
        return _Columns(names, {}, decimal_sign)
    channels = {}
    for name in others:
        found = _HEADER.fullmatch(name)
        if found is None or found["channel"] not in Channel.__members__.values():
            raise _unreadable_error(file, "line 1", f"column {name!r} is none that laidup knows")
        channel = Channel(found["channel"])
        units = FOREIGN_UNITS[channel]
        if found["unit"] not in units:
            raise _unreadable_error(
                file, "line 1", f"unit {found['unit']!r} is none of {', '.join(units)}"
            )
        channels[names.index(name)] = (channel, *units[found["unit"]])
    if not channels:
        raise _unreadable_error(file, "line 1", "it has no column with readings")
    return _Columns(names, channels, decimal_sign)


def _unreadable_error(file: Path, key: str, problem: str) -> ConfigurationError:
    return ConfigurationError([Fault(file=str(file), key=key, problem=problem, remedy=_HELP + ".")])
