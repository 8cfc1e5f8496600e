"""A weather file read: an EPW, or a table with times, air temperature and perhaps humidity.

Each row becomes a day and minute of a year without its year, by the file's own standard time: a
typical year is made of months of many. What does not fit is told with its line and column.
"""

import csv
import gzip
import math
import re
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path
from typing import NamedTuple

from monitor.errors import ConfigurationError, Fault
from monitor.physics.moist_air import dew_point

_MOST_ROWS = 600_000  # a year of minutes
_MOST_BYTES = 100_000  # of a line; what is longer is no table, or packed to swell
_MOST_FAULTS = 5
_LOWEST_C, _HIGHEST_C = -75.0, 55.0  # nobody has measured beyond, where craft are stored
_MOST_OVER_AIR_K = 2.0  # dew point over the air's temperature, by errors of two sensors
_EPW_ROWS_FROM = 9  # eight lines of header
_EPW_MISSING_C = 99.0  # and above: the format writes 99.9 where nothing was measured
_EPW_DRY_BULB, _EPW_DEW_POINT = 6, 7
_EPW_ZONE = 8  # of its first line: hours ahead of UTC
_ZONE_OFF_H = 3.0  # by which a clock may differ from the sun's, in any country

_AIR = r"(?:t|temp|temperature|air|air temp|air temperature|dry bulb|drybulb|dry bulb temperature)"
_DEW = r"(?:td|dew|dew point|dewpoint|dew point temperature)"
_UNIT = r" ?(?:(c|celsius|deg ?c|°c)|(f|fahrenheit|deg ?f|°f))?"
_AIR_COLUMN, _DEW_COLUMN = (re.compile(each + _UNIT) for each in (_AIR, _DEW))
_HUMIDITY_COLUMN = re.compile(r"(?:rh|rhum|humidity|relative humidity)(?: ?(?:pct|percent|%))?")
_TIME_COLUMNS = ("time", "datetime", "date time", "timestamp", "at", "time utc", "local time")
_MISSING = frozenset({"", "na", "n/a", "nan", "null", "none", "-", "m", "missing"})
_HEADED = "like time,temperature_c,dew_point_c, or time,temperature_f,humidity_pct"


class WeatherTime(NamedTuple):
    """A time of a year without its year; the last minute of a day is the next one's first."""

    month: int
    day: int
    minute: int  # to 1440


class WeatherRow(NamedTuple):
    """One row: when in a year, and what the air was."""

    line: int
    month: int
    day: int
    minute: int  # of that day by the file's clock, to 1440
    air_c: float  # NaN: not measured
    dew_point_c: float  # NaN: not known


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherRows:
    """All rows of a file."""

    name: str  # of the file, without its folder
    rows: tuple[WeatherRow, ...]
    field: str  # what its column of air temperature is called, for what is wrong with it
    latitude: float | None = None  # of its station, where it says so


def read_weather_file(path: Path, standard: timezone) -> WeatherRows:
    """Read a weather file.

    Parameters
    ----------
    path : Path
        An EPW, or a CSV with a header; either may be packed (.gz).
    standard : timezone
        The yard's standard time: times that name UTC or an offset are brought to it, others are
        taken to be by it.

    Raises
    ------
    ConfigurationError
        With line, column, what stands there and what to do, of the first few faults.
    """
    try:
        lines = _read_lines(path)
    except (OSError, EOFError, zlib.error) as error:
        raise _fault(path, "", f"cannot be read ({error})", "Give a weather file") from error
    if not any(line.strip() for line in lines):
        raise _fault(path, "", "is empty", "Give a weather file with a winter in it")
    if lines[0].startswith("LOCATION"):
        return _read_epw(path, lines)
    return _read_table(path, lines, standard)


def _read_lines(path: Path) -> list[str]:
    lines: list[str] = []
    with gzip.open(path) if path.suffix.lower() == ".gz" else path.open("rb") as file:
        for line in iter(lambda: file.readline(_MOST_BYTES), b""):
            if len(line) == _MOST_BYTES:
                raise _fault(
                    path, "", f"is longer than {_MOST_BYTES:,} bytes",
                    "Give a table with a line for each hour", len(lines) + 1,
                )  # fmt: skip
            if b"\0" in line:
                raise _fault(
                    path, "", "is no text", "Give an EPW or a CSV file, or one packed as .gz"
                )
            lines.append(_decoded(line.rstrip(b"\r\n")))
            if len(lines) > _MOST_ROWS:
                raise _fault(
                    path, "", f"has more than {_MOST_ROWS:,} lines", "Give one winter, hour by hour"
                )
    if lines:
        lines[0] = lines[0].removeprefix("\ufeff")
    return lines


def _decoded(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")  # names of old stations


def _fault(path: Path, key: str, problem: str, remedy: str, line: int = 0) -> ConfigurationError:
    return ConfigurationError(
        [Fault(file=path.name, key=key, problem=problem, remedy=f"{remedy}.", line=line)]
    )


class _Faults:
    """What is wrong with a file's rows; the first few are told."""

    def __init__(self, path: Path) -> None:
        self._path, self._found = path, list[Fault]()
        self.count = 0

    def add(self, line: int, key: str, problem: str, remedy: str) -> None:
        self.count += 1
        if len(self._found) < _MOST_FAULTS:
            self._found.append(
                Fault(file=self._path.name, key=key, problem=problem, remedy=remedy, line=line)
            )

    def raise_any(self) -> None:
        if self.count > len(self._found):
            last = self._found[-1]
            rest = self.count - len(self._found)
            self._found[-1] = Fault(
                file=last.file, key=last.key, problem=last.problem, line=last.line,
                remedy=f"{last.remedy} {rest:,} more rows are wrong.",
            )  # fmt: skip
        if self._found:
            raise ConfigurationError(self._found)


def _read_epw(path: Path, lines: Sequence[str]) -> WeatherRows:
    place = lines[0].split(",")
    try:
        latitude, longitude, zone_h = (float(place[n]) for n in (6, 7, _EPW_ZONE))
    except (IndexError, ValueError) as error:
        raise _fault(
            path, "LOCATION", "names no latitude, longitude and time zone",
            "Take the file anew from where it came: its first line is not whole", 1,
        ) from error  # fmt: skip
    if abs((zone_h - longitude / 15.0 + 12.0) % 24.0 - 12.0) > _ZONE_OFF_H:
        raise _fault(
            path, "LOCATION, time zone",
            f"{zone_h:g} h from UTC is no clock at longitude {longitude:g}",
            "Correct the ninth field, or the longitude: hours by a wrong clock put nights into the"
            " day", 1,
        )  # fmt: skip
    faults = _Faults(path)
    rows = []
    for line, text in enumerate(lines[_EPW_ROWS_FROM - 1 :], start=_EPW_ROWS_FROM):
        if not text.strip():
            continue
        cells = text.split(",")
        if len(cells) <= _EPW_DEW_POINT:
            faults.add(
                line, "", f"has {len(cells)} fields",
                "An EPW row has 35; take the file anew from where it came.",
            )  # fmt: skip
            continue
        try:
            month, day, hour, minute = (int(cells[n]) for n in (1, 2, 3, 4))
            if not (1 <= hour <= 24 and 0 <= minute <= 60):
                raise ValueError(hour)
            at = WeatherTime(*_checked_day(month, day), (hour - 1) * 60 + (minute or 60))
        except ValueError:
            said = ",".join(cells[:5])
            faults.add(
                line, "year, month, day, hour, minute", f"{said!r} is no time",
                "Hours run from 1 to 24, minutes from 0 to 60.",
            )  # fmt: skip
            continue
        air_c = _cell_c(cells[_EPW_DRY_BULB], line, "dry bulb (field 7)", faults, epw=True)
        dew_c = _cell_c(cells[_EPW_DEW_POINT], line, "dew point (field 8)", faults, epw=True)
        _refuse_over_air(
            dew_c, air_c, line, "dew point (field 8)", cells[_EPW_DEW_POINT], faults,
            "Write 99.9 where it is not known, or take the file anew from where it came.",
        )  # fmt: skip
        rows.append(WeatherRow(line, *at, air_c, dew_c))
    faults.raise_any()
    if not rows:
        raise _fault(path, "", "has no row under its header", "Take it anew from where it came")
    return WeatherRows(
        name=path.name, rows=tuple(rows), field="dry bulb (field 7)", latitude=latitude
    )


def _checked_day(month: int, day: int) -> tuple[int, int]:
    datetime(2000, month, day)  # noqa: DTZ001 - only whether there is such a day
    return month, day


def _cell_c(
    cell: str, line: int, key: str, faults: _Faults, *, fahrenheit: bool = False, epw: bool = False
) -> float:
    """A temperature [°C]; NaN where none was measured."""
    said = cell.strip()
    if said.lower() in _MISSING:
        return math.nan
    try:
        value = float(said)
    except ValueError:
        faults.add(line, key, f"{said[:40]!r} is no number", "Correct it, or leave it empty.")
        return math.nan
    if epw and value >= _EPW_MISSING_C:
        return math.nan
    value_c = (value - 32.0) / 1.8 if fahrenheit else value
    if not _LOWEST_C <= value_c <= _HIGHEST_C:
        unit = "F" if fahrenheit else "C"
        faults.add(
            line, key, f"{said} °{unit} is no temperature of the air",
            "Is the unit in the column's name right? Leave empty what was not measured.",
        )  # fmt: skip
        return math.nan
    return value_c


class _Columns(NamedTuple):
    """Where a table has what."""

    header: int  # line, counted from 0
    air: int
    in_f: bool
    dew: int | None
    dew_in_f: bool
    humidity: int | None
    time: int | None
    month: int | None
    day: int | None
    hour: int | None
    names: tuple[str, ...]


def _read_table(path: Path, lines: Sequence[str], standard: timezone) -> WeatherRows:
    reader = csv.reader(lines, delimiter=_mark_between(lines))
    try:
        table = list(reader)
    except csv.Error as error:
        raise _fault(
            path, "", f"cannot be read as a table ({error})",
            "Take out quotation marks that nothing closes, and end each line alike",
            reader.line_num,
        ) from error  # fmt: skip
    at = _columns_of(path, table)
    faults = _Faults(path)
    rows = []
    for line, cells in enumerate(table[at.header + 1 :], start=at.header + 2):
        if not any(cell.strip() for cell in cells):
            continue
        cells = [cell.replace(",", ".") for cell in cells]  # decimal commas, quoted among commas
        if len(cells) < len(at.names):
            faults.add(
                line, "", f"has {len(cells)} fields, the header {len(at.names)}",
                "Give each row all columns, with nothing between the marks where nothing was"
                " measured.",
            )  # fmt: skip
            continue
        when = _time_of(cells, at, line, faults, standard)
        if when is None:
            continue
        air_c = _cell_c(cells[at.air], line, at.names[at.air], faults, fahrenheit=at.in_f)
        rows.append(WeatherRow(line, *when, air_c, _dew_of(cells, at, air_c, line, faults)))
    faults.raise_any()
    if not rows:
        raise _fault(path, "", "has no row under its header", "Give a weather file with a winter")
    return WeatherRows(name=path.name, rows=tuple(rows), field=at.names[at.air])


def _mark_between(lines: Sequence[str]) -> str:
    """What stands between the cells of the header; a station may stand above it."""
    for line in lines[:3]:
        for mark in ",;\t":
            names = (_as_name(cell.strip().strip('"')) for cell in line.split(mark))
            if any(_AIR_COLUMN.fullmatch(name) for name in names):
                return mark
    return max(",;\t", key=lines[0].count)


def _columns_of(path: Path, table: Sequence[Sequence[str]]) -> _Columns:
    """Find the header among the first lines: a station may stand above it."""
    for line, cells in enumerate(table[:3]):
        names = [_as_name(cell) for cell in cells]
        airs = [n for n, name in enumerate(names) if _AIR_COLUMN.fullmatch(name)]
        if airs:
            return _checked_columns(path, line, [cell.strip() for cell in cells], names, airs)
    first = list(table[0])
    if first and all(_is_number(cell) for cell in first[-1:]):
        problem = "has no header: the first line holds numbers"
    else:
        problem = f"has no column of the air's temperature, only {', '.join(first)[:120]}"
    raise _fault(path, "", problem, f"Name the columns in the first line, {_HEADED}", 1)


def _checked_columns(
    path: Path, header: int, cells: Sequence[str], names: Sequence[str], airs: Sequence[int]
) -> _Columns:
    line = header + 1
    if len(airs) > 1:
        said = " and ".join(cells[n] for n in airs)
        raise _fault(
            path, said, "are both the air's temperature", "Rename or take out all but one", line
        )
    air = airs[0]
    dew = _first_place(names, _DEW_COLUMN.fullmatch)
    time = _first_place(names, _TIME_COLUMNS.__contains__)
    month, day, hour = (
        _first_place(names, known.__contains__)
        for known in (("month",), ("day",), ("hour", "hour ending"))
    )
    if time is None and None in (month, day, hour):
        raise _fault(
            path, "time", "is missing: there is no column of times",
            "Name one time, with times like 2026-01-14T05:00, or three month, day and hour", line,
        )  # fmt: skip
    return _Columns(
        header=header,
        air=air,
        in_f=_is_in_f(path, cells[air], _AIR_COLUMN, line),
        dew=dew,
        dew_in_f=dew is not None and _is_in_f(path, cells[dew], _DEW_COLUMN, line),
        humidity=_first_place(names, _HUMIDITY_COLUMN.fullmatch),
        time=time,
        month=month,
        day=day,
        hour=hour,
        names=tuple(cells),
    )


def _first_place(names: Sequence[str], fits: Callable[[str], object]) -> int | None:
    return next((n for n, name in enumerate(names) if fits(name)), None)


def _is_in_f(path: Path, cell: str, column: re.Pattern[str], line: int) -> bool:
    """Whether a column of temperatures is in °F, by its name, which must say."""
    match = column.fullmatch(_as_name(cell))
    if match is None or not any(match.groups()):
        raise _fault(
            path, cell, "says no unit", "End its name in _c or _f, as in temperature_c", line
        )
    return match.group(2) is not None


def _as_name(cell: str) -> str:
    return " ".join(re.sub(r"[_\-()\[\]]", " ", cell.strip().lower()).split())


def _is_number(cell: str) -> bool:
    try:
        float(cell.replace(",", "."))
    except ValueError:
        return False
    return True


def _time_of(
    cells: Sequence[str], at: _Columns, line: int, faults: _Faults, standard: timezone
) -> WeatherTime | None:
    """When a row is of, by the yard's standard time and without its year; None: told as wrong."""
    if at.time is not None:
        said = cells[at.time].strip()
        try:
            found = datetime.fromisoformat(said)
            if _as_name(at.names[at.time]) == "time utc" and found.tzinfo is None:
                found = found.replace(tzinfo=timezone.utc)  # noqa: UP017
            if found.tzinfo is not None:
                found = found.astimezone(standard)
        except (ValueError, OverflowError):
            faults.add(
                line, at.names[at.time], f"{said[:40]!r} is no time",
                "Write it like 2026-01-14T05:00, by standard time or with its offset.",
            )  # fmt: skip
            return None
        return WeatherTime(found.month, found.day, found.hour * 60 + found.minute)
    said = "-".join(cells[n].strip() for n in (at.month, at.day, at.hour) if n is not None)
    try:
        month, day, hour = (
            int(float(cells[n])) for n in (at.month, at.day, at.hour) if n is not None
        )
        if not 0 <= hour <= 24:
            raise ValueError(hour)
        return WeatherTime(*_checked_day(month, day), hour * 60)
    except (ValueError, OverflowError):
        faults.add(line, "month, day, hour", f"{said[:40]!r} is no time", "Hours run from 0 to 24.")
        return None


def _refuse_over_air(
    dew_c: float, air_c: float, line: int, name: str, said: str, faults: _Faults, remedy: str
) -> None:
    """Taken as damp air, it would shield from the sky what stands under it."""
    if dew_c > air_c + _MOST_OVER_AIR_K:
        faults.add(line, name, f"{said.strip()} lies above the air's temperature", remedy)


def _dew_of(cells: Sequence[str], at: _Columns, air_c: float, line: int, faults: _Faults) -> float:
    if at.dew is not None:
        dew_c = _cell_c(cells[at.dew], line, at.names[at.dew], faults, fahrenheit=at.dew_in_f)
        _refuse_over_air(
            dew_c, air_c, line, at.names[at.dew], cells[at.dew], faults,
            "Is it the right column, and its unit right? Leave empty what was not measured.",
        )  # fmt: skip
        return dew_c
    if at.humidity is None:
        return math.nan
    said = cells[at.humidity].strip().rstrip("%")
    if said.lower() in _MISSING:
        return math.nan
    if not _is_number(said) or not 0.0 <= float(said) <= 105.0:
        faults.add(
            line, at.names[at.humidity], f"{said[:40]!r} is no humidity",
            "It lies between 0 and 100 %; leave empty what was not measured.",
        )  # fmt: skip
        return math.nan
    if not math.isfinite(air_c) or float(said) <= 0.0:
        return math.nan
    return float(dew_point(air_c, min(float(said), 100.0)))
