"""A weather file read: an EPW, or a table with times, air temperature and perhaps humidity."""

import gzip
import zlib
from collections.abc import Sequence
from datetime import timezone
from pathlib import Path

from monitor.intake.weather_rows import (
    RowFaults,
    WeatherRow,
    WeatherRows,
    WeatherTime,
    checked_day,
    read_cell_c,
    refuse_over_air,
    weather_fault,
)
from monitor.intake.weather_table import read_weather_table

_MOST_ROWS = 600_000  # a year of minutes
_MOST_BYTES = 100_000  # of a line; what is longer is no table, or packed to swell
_EPW_ROWS_FROM = 9  # eight lines of header
_EPW_MISSING_C = 99.0  # and above: the format writes 99.9 where nothing was measured
_EPW_DRY_BULB, _EPW_DEW_POINT = 6, 7
_EPW_ZONE = 8  # of its first line: hours ahead of UTC
_ZONE_OFF_H = 3.0  # by which a clock may differ from the sun's, in any country


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
        raise weather_fault(path, "", f"cannot be read ({error})", "Give a weather file") from error
    if not any(line.strip() for line in lines):
        raise weather_fault(path, "", "is empty", "Give a weather file with a winter in it")
    if lines[0].startswith("LOCATION"):
        return _read_epw(path, lines)
    return read_weather_table(path, lines, standard)


def _read_lines(path: Path) -> list[str]:
    lines: list[str] = []
    with gzip.open(path) if path.suffix.lower() == ".gz" else path.open("rb") as file:
        for line in iter(lambda: file.readline(_MOST_BYTES), b""):
            if len(line) == _MOST_BYTES:
                raise weather_fault(
                    path, "", f"is longer than {_MOST_BYTES:,} bytes",
                    "Give a table with a line for each hour", len(lines) + 1,
                )  # fmt: skip
            if b"\0" in line:
                raise weather_fault(
                    path, "", "is no text", "Give an EPW or a CSV file, or one packed as .gz"
                )
            lines.append(_decoded(line.rstrip(b"\r\n")))
            if len(lines) > _MOST_ROWS:
                raise weather_fault(
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


def _read_epw(path: Path, lines: Sequence[str]) -> WeatherRows:
    place = lines[0].split(",")
    try:
        latitude, longitude, zone_h = (float(place[n]) for n in (6, 7, _EPW_ZONE))
    except (IndexError, ValueError) as error:
        raise weather_fault(
            path, "LOCATION", "names no latitude, longitude and time zone",
            "Take the file anew from where it came: its first line is not whole", 1,
        ) from error  # fmt: skip
    if abs((zone_h - longitude / 15.0 + 12.0) % 24.0 - 12.0) > _ZONE_OFF_H:
        raise weather_fault(
            path, "LOCATION, time zone",
            f"{zone_h:g} h from UTC is no clock at longitude {longitude:g}",
            "Correct the ninth field, or the longitude: hours by a wrong clock put nights into the"
            " day", 1,
        )  # fmt: skip
    faults = RowFaults(path)
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
            at = WeatherTime(*checked_day(month, day), (hour - 1) * 60 + (minute or 60))
        except ValueError:
            said = ",".join(cells[:5])
            faults.add(
                line, "year, month, day, hour, minute", f"{said!r} is no time",
                "Hours run from 1 to 24, minutes from 0 to 60.",
            )  # fmt: skip
            continue
        air_c, dew_c = (
            read_cell_c(cells[at], line, key, faults, missing_from=_EPW_MISSING_C)
            for at, key in (
                (_EPW_DRY_BULB, "dry bulb (field 7)"),
                (_EPW_DEW_POINT, "dew point (field 8)"),
            )
        )
        refuse_over_air(
            dew_c, air_c, line, "dew point (field 8)", cells[_EPW_DEW_POINT], faults,
            "Write 99.9 where it is not known, or take the file anew from where it came.",
        )  # fmt: skip
        rows.append(WeatherRow(line, *at, air_c, dew_c))
    faults.raise_any()
    if not rows:
        raise weather_fault(
            path, "", "has no row under its header", "Take it anew from where it came"
        )
    return WeatherRows(
        name=path.name, rows=tuple(rows), field="dry bulb (field 7)", latitude=latitude
    )
