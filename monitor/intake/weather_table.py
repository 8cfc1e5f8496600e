"""A table of weather: a CSV whose header names times, air temperature and perhaps humidity."""

import csv
import math
import re
from collections.abc import Callable, Sequence
from datetime import datetime, timezone
from pathlib import Path
from typing import NamedTuple

from monitor.intake.weather_rows import (
    MISSING,
    RowFaults,
    WeatherRow,
    WeatherRows,
    WeatherTime,
    checked_day,
    read_cell_c,
    refuse_over_air,
    weather_fault,
)
from monitor.physics.moist_air import dew_point

_AIR = r"(?:t|temp|temperature|air|air temp|air temperature|dry bulb|drybulb|dry bulb temperature)"
_DEW = r"(?:td|dew|dew point|dewpoint|dew point temperature)"
_UNIT = r" ?(?:(c|celsius|deg ?c|°c)|(f|fahrenheit|deg ?f|°f))?"
_AIR_COLUMN, _DEW_COLUMN = (re.compile(each + _UNIT) for each in (_AIR, _DEW))
_HUMIDITY_COLUMN = re.compile(r"(?:rh|rhum|humidity|relative humidity)(?: ?(?:pct|percent|%))?")
_TIME_COLUMNS = ("time", "datetime", "date time", "timestamp", "at", "time utc", "local time")
_HEADED = "like time,temperature_c,dew_point_c, or time,temperature_f,humidity_pct"


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


def read_weather_table(path: Path, lines: Sequence[str], standard: timezone) -> WeatherRows:
    """Read a table with a header, by commas, semicolons or tabs.

    Parameters
    ----------
    path : Path
        Its file, for what is wrong with it.
    lines : sequence of str
        Of the file, without their ends.
    standard : timezone
        Times that name UTC or an offset are brought to it, others are taken to be by it.

    Raises
    ------
    ConfigurationError
        With line, column, what stands there and what to do, of the first few faults.
    """
    reader = csv.reader(lines, delimiter=_mark_between(lines))
    try:
        table = list(reader)
    except csv.Error as error:
        raise weather_fault(
            path, "", f"cannot be read as a table ({error})",
            "Take out quotation marks that nothing closes, and end each line alike",
            reader.line_num,
        ) from error  # fmt: skip
    at = _columns_of(path, table)
    faults = RowFaults(path)
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
        air_c = read_cell_c(cells[at.air], line, at.names[at.air], faults, fahrenheit=at.in_f)
        rows.append(WeatherRow(line, *when, air_c, _dew_of(cells, at, air_c, line, faults)))
    faults.raise_any()
    if not rows:
        raise weather_fault(
            path, "", "has no row under its header", "Give a weather file with a winter"
        )
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
    raise weather_fault(path, "", problem, f"Name the columns in the first line, {_HEADED}", 1)


def _checked_columns(
    path: Path, header: int, cells: Sequence[str], names: Sequence[str], airs: Sequence[int]
) -> _Columns:
    line = header + 1
    if len(airs) > 1:
        said = " and ".join(cells[n] for n in airs)
        raise weather_fault(
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
        raise weather_fault(
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
        raise weather_fault(
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
    cells: Sequence[str], at: _Columns, line: int, faults: RowFaults, standard: timezone
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
        return WeatherTime(*checked_day(month, day), hour * 60)
    except (ValueError, OverflowError):
        faults.add(line, "month, day, hour", f"{said[:40]!r} is no time", "Hours run from 0 to 24.")
        return None


def _dew_of(
    cells: Sequence[str], at: _Columns, air_c: float, line: int, faults: RowFaults
) -> float:
    if at.dew is not None:
        dew_c = read_cell_c(cells[at.dew], line, at.names[at.dew], faults, fahrenheit=at.dew_in_f)
        refuse_over_air(
            dew_c, air_c, line, at.names[at.dew], cells[at.dew], faults,
            "Is it the right column, and its unit right? Leave empty what was not measured.",
        )  # fmt: skip
        return dew_c
    if at.humidity is None:
        return math.nan
    said = cells[at.humidity].strip().rstrip("%")
    if said.lower() in MISSING:
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
