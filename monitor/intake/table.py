"""Readings from a CSV file: a logger's download, a season from elsewhere, a simulation.

Every file has the columns ``at`` (RFC 3339 with its zone) and ``sensor`` (SenML base name without
the last sign), and then either one column for each channel with its unit in the header, such as
``temperature [degF]`` and ``humidity [%]``, an empty cell meaning no reading; or the three columns
``label``, ``unit`` (SenML) and ``value``, one reading a row.
"""

import csv
import re
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from monitor.errors import ConfigurationError, Fault, PayloadError
from monitor.intake.mapping import FOREIGN_UNITS
from monitor.intake.number import written_number
from monitor.intake.senml import Record, check_name
from monitor.yard.reading import Channel

_HEADER = re.compile(r"(?P<channel>[a-z_]+) ?\[(?P<unit>[^\]]*)\]")
_LONG = ("label", "unit", "value")
_HELP = (
    "Name the columns at, sensor, and either label, unit, value or one for each channel with its"
    " unit, like: at,sensor,temperature [degF],humidity [%]"
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
    try:
        with file.open(newline="", encoding="utf-8-sig") as stream:
            first = stream.readline()
            delimiter = ";" if first.count(";") > first.count(",") else ","
            header = next(csv.reader([first], delimiter=delimiter), [])
            columns = _columns(file, [name.strip() for name in header])
            reader = csv.reader(stream, delimiter=delimiter)
            for cells in reader:
                if not any(cell.strip() for cell in cells):
                    continue
                records: list[Record] = []
                reason = ""
                try:
                    records = columns.records([cell.strip() for cell in cells])
                except PayloadError as error:
                    reason = str(error)
                yield Row(reader.line_num + 1, delimiter.join(cells), records, reason)
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise _unreadable(file, "", f"cannot be read: {error}") from error


class _Columns:
    """Where in a row the readings are."""

    def __init__(
        self, names: Sequence[str], channels: dict[int, tuple[Channel, float, float]]
    ) -> None:
        self._names = names
        self._at = names.index("at")
        self._sensor = names.index("sensor")
        self._channels = channels
        self._long = [] if channels else [names.index(name) for name in _LONG]

    def records(self, cells: list[str]) -> list[Record]:
        """Records of one row."""
        if len(cells) != len(self._names):
            raise PayloadError(f"{len(cells)} cells where the header has {len(self._names)}")
        at_s = _time(cells[self._at])
        sensor = cells[self._sensor]
        if self._long:
            label, unit, value = (cells[place] for place in self._long)
            name = check_name(f"{sensor}:{label}")
            return [Record(name, unit or None, at_s, _number(value, "value"))]
        records = []
        for place, (channel, scale, offset) in self._channels.items():
            if cells[place]:
                number = _number(cells[place], self._names[place]) * scale + offset
                name = check_name(f"{sensor}:{channel}")
                records.append(Record(name, channel.senml_unit, at_s, number))
        return records


def _columns(file: Path, names: Sequence[str]) -> _Columns:
    for name in ("at", "sensor"):
        if names.count(name) != 1:
            raise _unreadable(file, "line 1", f"it has no column {name!r}, or more than one")
    others = [name for name in names if name not in {"at", "sensor"}]
    if sorted(others) == sorted(_LONG):
        return _Columns(names, {})
    channels = {}
    for name in others:
        found = _HEADER.fullmatch(name)
        if found is None or found["channel"] not in Channel.__members__.values():
            raise _unreadable(file, "line 1", f"column {name!r} is none that laidup knows")
        channel = Channel(found["channel"])
        units = FOREIGN_UNITS[channel]
        if found["unit"] not in units:
            raise _unreadable(
                file, "line 1", f"unit {found['unit']!r} is none of {', '.join(units)}"
            )
        channels[names.index(name)] = (channel, *units[found["unit"]])
    if not channels:
        raise _unreadable(file, "line 1", "it has no column with readings")
    return _Columns(names, channels)


def _unreadable(file: Path, key: str, problem: str) -> ConfigurationError:
    return ConfigurationError([Fault(file=str(file), key=key, problem=problem, remedy=_HELP + ".")])


def _time(text: str) -> float:
    try:
        at = datetime.fromisoformat(text)
    except ValueError as error:
        raise PayloadError(f"{text[:40]!r} is no time", field="at") from error
    if at.tzinfo is None:
        raise PayloadError(f"{text!r} has no zone, so it names no moment", field="at")
    return at.timestamp()


def _number(text: str, field: str) -> float:
    number = written_number(text)
    if number is None:
        raise PayloadError(f"{text[:40]!r} is not a number", field=field)
    return number
