"""Rows of a weather file and what is wrong with them: the parts that an EPW and a table share.

Each row is a day and minute of a year without its year, by the file's own standard time: a
typical year is made of months of many. What does not fit is told with its line and column.
"""

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from monitor.errors import ConfigurationError, Fault

_MOST_FAULTS = 5
_LOWEST_C, _HIGHEST_C = -75.0, 55.0  # nobody has measured beyond, where craft are stored
_MOST_OVER_AIR_K = 2.0  # dew point over the air's temperature, by errors of two sensors
MISSING = frozenset({"", "na", "n/a", "nan", "null", "none", "-", "m", "missing"})


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


def weather_fault(
    path: Path, key: str, problem: str, remedy: str, line: int = 0
) -> ConfigurationError:
    """Make the error of a file that cannot be used; `remedy` is a sentence without its stop."""
    return ConfigurationError(
        [Fault(file=path.name, key=key, problem=problem, remedy=f"{remedy}.", line=line)]
    )


class RowFaults:
    """What is wrong with a file's rows; the first few are told."""

    def __init__(self, path: Path) -> None:
        self._path, self._found = path, list[Fault]()
        self.count = 0

    def add(self, line: int, key: str, problem: str, remedy: str) -> None:
        """Add what is wrong in a line (from 1) and a column."""
        self.count += 1
        if len(self._found) < _MOST_FAULTS:
            self._found.append(
                Fault(file=self._path.name, key=key, problem=problem, remedy=remedy, line=line)
            )

    def raise_any(self) -> None:
        """Raise the first few as one error, with how many more there are; nothing if none is."""
        if self.count > len(self._found):
            last = self._found[-1]
            rest = self.count - len(self._found)
            self._found[-1] = Fault(
                file=last.file, key=last.key, problem=last.problem, line=last.line,
                remedy=f"{last.remedy} {rest:,} more rows are wrong.",
            )  # fmt: skip
        if self._found:
            raise ConfigurationError(self._found)


def checked_day(month: int, day: int) -> tuple[int, int]:
    """Give a month and day back; `ValueError` if no year has it."""
    datetime(2000, month, day)  # noqa: DTZ001 - only whether there is such a day
    return month, day


def read_cell_c(
    cell: str,
    line: int,
    key: str,
    faults: RowFaults,
    *,
    fahrenheit: bool = False,
    missing_from: float = math.inf,
) -> float:
    """Read a temperature of the air.

    Parameters
    ----------
    cell : str
        As it stands in the file.
    line, key
        Where, for what is wrong with it.
    faults : RowFaults
        Takes what is no number, or below -75 °C or above 55 °C.
    fahrenheit : bool
        Whether the file has °F.
    missing_from : float
        From which value on a file's form says "not measured", in the file's unit.

    Returns
    -------
    float
        [°C]; NaN where none was measured, or where it was told as wrong.
    """
    said = cell.strip()
    if said.lower() in MISSING:
        return math.nan
    try:
        value = float(said)
    except ValueError:
        faults.add(line, key, f"{said[:40]!r} is no number", "Correct it, or leave it empty.")
        return math.nan
    if value >= missing_from:
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


def refuse_over_air(
    dew_c: float, air_c: float, line: int, name: str, said: str, faults: RowFaults, remedy: str
) -> None:
    """Add a dew point above the air's temperature [°C] to the faults.

    Taken as damp air, it would shield from the sky what stands under it.
    """
    if dew_c > air_c + _MOST_OVER_AIR_K:
        faults.add(line, name, f"{said.strip()} lies above the air's temperature", remedy)
