"""Weather laid over the winter that is to come, day upon day; what it lacks stays unknown."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from monitor.errors import ConfigurationError, Fault
from monitor.intake.weather_rows import WeatherRow, WeatherRows
from monitor.physics.lag import GAP_H
from monitor.yard.hard_winter import WinterWeather, standard_zone
from monitor.yard.space import Yard

Floats = NDArray[np.float64]

_COARSE_H, _FINE_H = 1.0, 0.5
_FINE_BELOW_H = 0.75  # rows closer than this are followed in half hours
_LEAST_KNOWN = 0.5  # share of the winter's hours, else it is weather of another season
_MILDEST_C = 5.0  # a winter whose coldest hour is above is none that freezes anything
_MILDEST_MEAN_C = 15.0  # and one whose mean is above is told in °F
_WARMEST_BETWEEN = (9, 19)  # by the sun the day is warmest at 14 to 16
_LEAST_SWING_K = 1.5  # between the mean day's coldest and warmest hour, for that to tell
_SAME_K = 0.05


def lay_over_winter(
    weather: WeatherRows, yard: Yard, begin: datetime, end: datetime
) -> WinterWeather:
    """Lay a file's hours over the coming winter.

    Parameters
    ----------
    weather : WeatherRows
    yard : Yard
    begin, end : datetime
        See `monitor.yard.hard_winter.winter_ahead`.

    Returns
    -------
    WinterWeather
        Straight between rows no more than two hours apart, NaN elsewhere.

    Raises
    ------
    ConfigurationError
        If an hour stands twice, fewer than half of the winter's hours are in it, nothing in it is
        near freezing, it is of the other half of the earth, or its days are warmest at night.
    """
    _refuse_other_half(weather, yard)
    zone = standard_zone(yard)
    begin = begin.astimezone(zone)
    rows, remarks = _with_leap_day(weather.rows, begin, end)
    placed = sorted(
        (hours, row) for row in rows if (hours := _hours_into(row, begin, end)) is not None
    )
    kept = _without_repeats(weather, placed)
    air = [(hours, row) for hours, row in kept if isfinite(row.air_c)]
    if not air:
        raise _season_fault(weather, begin, end, 0.0)
    at_h = np.array([hours for hours, _ in air])
    air_c = np.array([row.air_c for _, row in air])
    apart_h = float(np.median(np.diff(at_h))) if at_h.size > 1 else _COARSE_H
    step_h = _FINE_H if apart_h < _FINE_BELOW_H else _COARSE_H
    grid_h = np.arange(0.0, (end - begin) / timedelta(hours=1) + step_h / 2, step_h)
    laid_c = _on_grid(grid_h, at_h, air_c)
    known = float(np.isfinite(laid_c).mean())
    if known < _LEAST_KNOWN:
        raise _season_fault(weather, begin, end, known, apart_h)
    _refuse_mild(weather, air, float(np.nanmean(laid_c)))
    _refuse_other_clock(weather, laid_c, begin, step_h)
    dew = [(hours, row.dew_point_c) for hours, row in air if isfinite(row.dew_point_c)]
    dew_c = (
        _on_grid(grid_h, *(np.array(each) for each in zip(*dew, strict=True)))
        if dew
        else np.full(grid_h.size, np.nan)
    )
    return WinterWeather(
        source=weather.name,
        begin=begin,
        step_h=step_h,
        air_c=laid_c,
        dew_point_c=dew_c,
        remarks=remarks,
    )


def _hours_into(row: WeatherRow, begin: datetime, end: datetime) -> float | None:
    """Hours of a row after the winter's begin; None: of the summer between."""
    for year in {begin.year, end.year}:
        try:
            at = datetime(year, row.month, row.day, tzinfo=begin.tzinfo)
        except ValueError:
            continue  # 29 February
        at += timedelta(minutes=row.minute)
        # A row just outside tells what lies between it and the first one within.
        if begin - timedelta(hours=GAP_H) <= at <= end + timedelta(hours=GAP_H):
            return (at - begin) / timedelta(hours=1)
    return None


def _with_leap_day(
    rows: Sequence[WeatherRow], begin: datetime, end: datetime
) -> tuple[Sequence[WeatherRow], tuple[str, ...]]:
    """The rows as the coming winter's February takes them.

    A 29th that it does not have is put in the 28th's place if it is the colder; one that the
    weather does not have goes as the 28th.
    """
    leap = _has_leap_day(begin, end)
    last, before, others = _around_leap_day(rows)
    if leap and before and not last:
        twice = [row._replace(day=29) for row in before]
        return [*rows, *twice], ("Its February has no 29th: that day goes as the 28th.",)
    if leap is not False or not last:
        return rows, ()
    if _coldest(last) < _coldest(before):
        as_28th = [row._replace(day=28) for row in last]
        said = "Its 29 February stands for the 28th, as the colder of the two."
        return [*others, *as_28th], (said,)
    return [*others, *before], ("Its 29 February is left out: the 28th was colder.",)


def _around_leap_day(
    rows: Sequence[WeatherRow],
) -> tuple[list[WeatherRow], list[WeatherRow], list[WeatherRow]]:
    """Rows of 29 February, of the 28th, and all others."""
    parts: tuple[list[WeatherRow], ...] = ([], [], [])
    last, before, others = parts
    for row in rows:
        of = {(2, 29): last, (2, 28): before}.get((row.month, row.day), others)
        of.append(row)
    return last, before, others


def _has_leap_day(begin: datetime, end: datetime) -> bool | None:
    """Whether the winter has a 29 February; None: it has no end of February at all."""
    for year in (begin.year, end.year):
        for day, found in ((29, True), (28, False)):
            try:
                at = datetime(year, 2, day, 12, tzinfo=begin.tzinfo)
            except ValueError:
                continue
            if begin <= at <= end:
                return found
    return None


def _coldest(rows: Sequence[WeatherRow]) -> float:
    known = [row.air_c for row in rows if isfinite(row.air_c)]
    return min(known, default=np.inf)


def _without_repeats(
    weather: WeatherRows, placed: Sequence[tuple[float, WeatherRow]]
) -> list[tuple[float, WeatherRow]]:
    kept: list[tuple[float, WeatherRow]] = []
    for hours, row in placed:
        if kept and kept[-1][0] == hours:
            before = kept[-1][1]
            same = abs(before.air_c - row.air_c) <= _SAME_K
            if not same and isfinite(before.air_c) and isfinite(row.air_c):
                clock = f"{row.day} {_month_name(row.month)} {row.minute // 60:02}:"
                raise _fault(
                    weather,
                    f"{clock}{row.minute % 60:02} stands there twice, first in line {before.line}",
                    "Give one winter only, by standard time: when clocks go back an hour comes"
                    " twice. Times with an offset (2026-10-25T01:00-06:00) tell the two apart.",
                    row.line,
                )
            if isfinite(before.air_c):
                continue
            kept.pop()
        kept.append((hours, row))
    return kept


def _month_name(month: int) -> str:
    return f"{datetime(2000, month, 1):%b}"  # noqa: DTZ001 - of no time


def _on_grid(grid_h: Floats, at_h: Floats, values: Floats) -> Floats:
    """Straight between rows; NaN before the first, after the last and within longer holes."""
    laid: Floats = np.interp(grid_h, at_h, values, left=np.nan, right=np.nan)
    after = np.minimum(np.searchsorted(at_h, grid_h), at_h.size - 1)
    before = np.where(at_h[after] <= grid_h, after, np.maximum(after - 1, 0))
    laid[at_h[after] - at_h[before] > GAP_H] = np.nan
    return laid


def _refuse_other_half(weather: WeatherRows, yard: Yard) -> None:
    north = weather.latitude
    if north is not None and north * yard.latitude < 0.0:
        raise _fault(
            weather,
            f"its station lies at latitude {north:g}, and {yard.name} at {yard.latitude:g}",
            "Take weather of the same half of the earth: its winter is the other half's summer.",
            1,
        )


def _season_fault(
    weather: WeatherRows, begin: datetime, end: datetime, known: float, apart_h: float = 0.0
) -> ConfigurationError:
    first, last = weather.rows[0], weather.rows[-1]
    span = f"{first.day} {_month_name(first.month)} to {last.day} {_month_name(last.month)}"
    return _fault(
        weather,
        f"has {known:.0%} of the hours from {begin.day} {begin:%b} to {end.day} {end:%b}; its rows"
        f" run from {span}{f', {apart_h:g} h apart' if apart_h > GAP_H else ''}",
        "Give weather of a winter, with half of its hours or more."
        + (
            f" Rows more than {GAP_H:g} h apart leave the hours between unknown."
            if apart_h > GAP_H
            else ""
        ),
    )


def _refuse_mild(
    weather: WeatherRows, air: Sequence[tuple[float, WeatherRow]], mean_c: float
) -> None:
    if mean_c > _MILDEST_MEAN_C:
        raise _fault(
            weather,
            f"{mean_c:.0f} °C is the mean of its winter",
            "Is the unit in the column's name right? End it in _f for °F.",
            air[0][1].line,
        )
    _, coldest = min(air, key=lambda each: each[1].air_c)
    if coldest.air_c > _MILDEST_C:
        raise _fault(
            weather,
            f"{coldest.air_c:.1f} °C is its coldest hour: nothing freezes in that",
            "Is the unit in the column's name right, and is it a winter of a place like yours?",
            coldest.line,
        )


def _refuse_other_clock(
    weather: WeatherRows, laid_c: Floats, begin: datetime, step_h: float
) -> None:
    """Refuse a file whose days are warmest at night: its times are by another clock."""
    of_day = (begin.hour + np.arange(laid_c.size) * step_h) % 24.0
    hours, known = of_day.astype(int), np.isfinite(laid_c)
    mean_c = np.array(
        [
            laid_c[(hours == hour) & known].mean() if known[hours == hour].any() else np.nan
            for hour in range(24)
        ]
    )
    warmest = int(np.nanargmax(mean_c))
    low, high = _WARMEST_BETWEEN
    if np.nanmax(mean_c) - np.nanmin(mean_c) < _LEAST_SWING_K or low <= warmest <= high:
        return
    raise _fault(
        weather,
        f"its days are warmest at {warmest:02}:00 by the yard's standard time",
        "Its times are by another clock, such as UTC. Name their column time_utc, or write each"
        " with its offset (2026-01-14T05:00-07:00); weather of a place in another zone goes"
        " without an offset, by its own standard time.",
    )


def _fault(weather: WeatherRows, problem: str, remedy: str, line: int = 0) -> ConfigurationError:
    return ConfigurationError(
        [
            Fault(
                file=weather.name,
                key=weather.field if line else "",
                problem=problem,
                remedy=remedy,
                line=line,
            )
        ]
    )
