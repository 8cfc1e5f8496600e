"""Parses an agency's JSON; errors name the member that is missing or wrong."""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.errors import ForecastError
from monitor.units import TEMPERATURE

_COLDEST_C, _WARMEST_C = -90.0, 60.0  # outside the extremes on record: a wrong unit, or no air
_DURATION = re.compile(
    r"P(?:(?P<weeks>\d{1,3})W)?(?:(?P<days>\d{1,4})D)?"
    r"(?:T(?:(?P<hours>\d{1,5})H)?(?:(?P<minutes>\d{1,5})M)?(?:(?P<seconds>\d{1,5})S)?)?"
)
_LONGEST = timedelta(days=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What an agency's answer says. NaN where it says nothing."""

    issued: datetime
    at_ms: NDArray[np.int64]  # (n,) rising
    air_c: NDArray[np.float64]  # (n,)
    dew_point_c: NDArray[np.float64]  # (n,)


def expected_air(
    issued: datetime,
    air_c: Iterable[tuple[datetime, float]],
    dew_point_c: Iterable[tuple[datetime, float]],
) -> Expected:
    """Bring both columns onto the times of the air; a time that comes twice counts as last said.

    Raises
    ------
    ForecastError
        If no time has a temperature.
    """
    air = {to_ms(at): value for at, value in air_c}
    dew = {to_ms(at): value for at, value in dew_point_c}
    times = sorted(air)
    found = Expected(
        issued=issued,
        at_ms=np.array(times, dtype=np.int64),
        air_c=np.array([air[at] for at in times], dtype=np.float64),
        dew_point_c=np.array([dew.get(at, np.nan) for at in times], dtype=np.float64),
    )
    if not np.isfinite(found.air_c).any():
        raise ForecastError("the answer holds no temperature at all")
    return found


def parse_json(body: bytes) -> object:
    """Read JSON.

    Raises
    ------
    ForecastError
        If it is none, or holds numbers that JSON does not know.
    """
    try:
        document: object = json.loads(body, parse_constant=_no_number)
        return document
    except (ValueError, RecursionError) as error:
        raise ForecastError(f"the answer is no JSON: {error}") from error


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number of JSON")


def member_at(document: object, *path: str) -> object:
    """One member of nested objects.

    Raises
    ------
    ForecastError
        If it is not there; says where the path ends.
    """
    here = document
    for depth, name in enumerate(path, start=1):
        if not isinstance(here, dict) or name not in here:
            raise ForecastError(f"the answer has no {'.'.join(path[:depth])}")
        here = here[name]
    return here


def table_at(document: object, *path: str) -> dict[str, object]:
    """Like `member_at`, and it must be an object."""
    found = member_at(document, *path)
    if not isinstance(found, dict):
        raise ForecastError(f"{'.'.join(path) or repr(document)} is no object")
    return found


def rows_at(document: object, *path: str) -> list[dict[str, object]]:
    """Like `member_at`, and it must be a list of objects."""
    found = member_at(document, *path)
    if not isinstance(found, list):
        raise ForecastError(f"{'.'.join(path)} is no list")
    return [table_at(row) for row in found]


def time_of(text: object) -> datetime:
    """Read an ISO 8601 time with its offset, as UTC.

    Raises
    ------
    ForecastError
        If it is none, or has no offset.
    """
    try:
        at = datetime.fromisoformat(str(text))
        if at.tzinfo is None:
            raise ValueError("it has no offset")
        return at.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise ForecastError(f"{text!r} is no time: {error}") from error


def hours_of(interval: object) -> list[datetime]:
    """Every hour of an ISO 8601 interval such as ``2026-01-09T21:00:00+00:00/PT3H``.

    Returns
    -------
    list of datetime
        The start, and each full hour after it before the end.

    Raises
    ------
    ForecastError
        If it is no interval of at most thirty days.
    """
    start_text, slash, length_text = str(interval).partition("/")
    if not slash:
        raise ForecastError(f"{interval!r} is no interval")
    start = time_of(start_text)
    length = (
        _parse_duration(length_text) if length_text[:1] == "P" else time_of(length_text) - start
    )
    if not timedelta() < length <= _LONGEST:
        raise ForecastError(f"{interval!r} is not between nothing and {_LONGEST.days} days long")
    count = -(-length // timedelta(hours=1))  # the last one may be short
    return [start + timedelta(hours=n) for n in range(count)]


def _parse_duration(text: str) -> timedelta:
    found = _DURATION.fullmatch(text)
    amounts = {} if found is None else {k: int(v) for k, v in found.groupdict().items() if v}
    if not amounts:
        raise ForecastError(f"{text!r} is no duration")
    return timedelta(**amounts)


def temperature_of(value: object, unit: object) -> float:
    """A temperature in the agency's own unit as °C; NaN for its null.

    Parameters
    ----------
    value : object
        Number or null.
    unit : object
        ``wmoUnit:degC``, ``unit:degF``, ``celsius``, ``C``, ``F``.

    Raises
    ------
    ForecastError
        For anything else, and for what no air on earth has.
    """
    if value is None:
        return float("nan")
    name = str(unit).rpartition(":")[2].lower().removeprefix("deg")
    name = {"celsius": "c", "fahrenheit": "f"}.get(name, name)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ForecastError(f"{value!r} is no temperature")
    if name not in ("c", "f"):
        raise ForecastError(f"a temperature is given in {unit!r}, which is neither °C nor °F")
    scale, offset = TEMPERATURE.units[name]
    # A whole number may be too large for a float.
    celsius = scale * value + offset if abs(value) < 1e6 else float("inf")
    if not _COLDEST_C <= celsius <= _WARMEST_C:
        raise ForecastError(f"{value} {unit} is no temperature of air")
    return celsius
