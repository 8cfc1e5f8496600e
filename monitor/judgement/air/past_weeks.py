"""A yard's memory of its air: hour by hour over past weeks, and what was worked out from it."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import lru_cache
from math import nan
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms, to_ms
from monitor.judgement.air.exchanged_sensors import Exchanged
from monitor.judgement.air.grid import MS_PER_H, Floats, SpaceAir
from monitor.judgement.air.heat_loss import Starts, heater_starts
from monitor.judgement.air.public_forecast import Outlook
from monitor.judgement.air.stuck_thermometers import StuckThermometer
from monitor.physics.lag import GAP_H
from monitor.yard.space import SpaceKind, Yard
from monitor.yard.sun import night_hours_at, night_hours_of

WEEKS_H = 60 * 24.0  # older nights belong to another season
SLOPE_H = 3.0  # over which the air's fall up to now is seen
_WHOLE = 0.8  # share of a night's hours that must be known for it to count


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacePast:
    """One space's air on whole hours (UTC); an hour that nobody knows is absent."""

    at_ms: NDArray[np.int64]  # (k,) rising
    air_c: Floats  # (k,) coldest sensor at the hour
    low_c: Floats  # (k,) its lowest within the hour before
    dew_point_c: Floats  # (k,) NaN without humidity


@dataclass(frozen=True, slots=True, kw_only=True)
class NightTable:
    """Past nights of one space, the oldest first, each seen from the same hour of the night.

    ``air_c`` is that at that hour, ``predictors_k`` as `fall_predictors` has them,
    ``low_c`` the lowest from then to the noon after, ``whole_low_c`` from noon to noon,
    ``public_low_c`` what a public agency expected at that hour (NaN where that is not known).
    Shape (nights,), of the predictors (nights, PREDICTORS).
    """

    evening: tuple[date, ...]
    air_c: Floats
    predictors_k: Floats
    low_c: Floats
    whole_low_c: Floats
    public_low_c: Floats


@dataclass(slots=True)
class Memory:
    """All spaces' past, and what was expected of it. Only ever holds what the store says."""

    spaces: dict[str, SpacePast] = field(default_factory=dict)
    starts: dict[str, Starts] = field(default_factory=dict)  # of heated spaces; hours since 1970
    worked_out: dict[tuple[object, ...], object] = field(default_factory=dict)
    outlook: Outlook = field(default_factory=Outlook)
    exchanged: frozenset[Exchanged] = frozenset()  # sensors that may be in each other's place
    stuck: frozenset[StuckThermometer] = frozenset()

    def add_air(self, air: SpaceAir) -> None:
        """Add a space's grid; hours that it covers replace those known before."""
        new = _by_the_hour(air)
        known = self.spaces.get(air.space.id)
        if known is not None and known.at_ms.size:
            covered = to_ms(air.now) + int(air.hours[0] * MS_PER_H)
            oldest = to_ms(air.now) - int(WEEKS_H * MS_PER_H)
            kept = ((known.at_ms < covered) | (known.at_ms > to_ms(air.now))) & (
                known.at_ms >= oldest
            )
            new = _replace_hours(known, kept, new)
        self.spaces[air.space.id] = new
        if air.space.kind is SpaceKind.HEATED:
            self.starts[air.space.id] = _starts_known(self.starts.get(air.space.id), air)


def night_table(
    past: SpacePast,
    yard: Yard,
    before: date,
    after_sunset_h: float,
    count: int = 45,
    outlook: Outlook | None = None,
) -> NightTable:
    """Tabulate the nights before an evening, as seen some hours after (before: minus) sunset.

    Parameters
    ----------
    past : SpacePast
    yard : Yard
    before : date
        The coming night's evening; not part of the table.
    after_sunset_h : float
        The hour of the night from which each is seen.
    count : int
        How many nights to go back.
    outlook : Outlook, optional
        What a public agency expected.

    Returns
    -------
    NightTable
        Nights whose hours are known for four fifths, and at that hour.
    """
    at_h = past.at_ms / MS_PER_H
    evenings, sunset_h, noon_h = _night_axis(
        before, count, yard.latitude, yard.longitude, yard.zone
    )
    begin_h = sunset_h + after_sunset_h
    air_c = _interpolate_known(at_h, past.air_c, begin_h)
    noon, begin, end = (np.searchsorted(at_h, at) for at in (noon_h[:-1], begin_h, noon_h[1:]))
    due = noon_h[1:] - np.maximum(begin_h, noon_h[:-1])
    whole = np.isfinite(air_c) & (end - begin >= _WHOLE * due) & (end > begin)
    nights = np.flatnonzero(whole)
    lowest = np.array([begin[n] + np.argmin(past.low_c[begin[n] : end[n]]) for n in nights], int)
    day_low = [past.low_c[noon[n] : end[n]].min() if noon[n] < end[n] else nan for n in nights]
    public = outlook is not None and outlook.source != ""
    return NightTable(
        evening=tuple(evenings[n] for n in nights),
        air_c=air_c[nights],
        predictors_k=fall_predictors(
            past,
            begin_h[nights],
            air_c[nights],
            _interpolate_known(at_h, past.dew_point_c, begin_h[nights]),
            float(air_c[nights].mean()) if nights.size else nan,
        ),
        low_c=np.minimum(past.low_c[lowest], air_c[nights]),
        whole_low_c=np.array(day_low, dtype=np.float64),
        public_low_c=np.array(
            [
                _expected_low(outlook, begin_h[n], noon_h[n + 1]) if public and outlook else nan
                for n in nights
            ],
            dtype=np.float64,
        ),
    )


def fall_predictors(
    past: SpacePast, when_h: Floats, air_c: Floats, dew_point_c: Floats, usual_c: float
) -> Floats:
    """Predictors of a night's fall, at some times (see `fall_regression`).

    Parameters
    ----------
    past : SpacePast
    when_h : ndarray, shape (n,)
        Hours since 1970.
    air_c, dew_point_c : ndarray, shape (n,)
        Then [°C].
    usual_c : float
        Mean air at this hour of past nights [°C].

    Returns
    -------
    ndarray, shape (n, PREDICTORS)
        [K]; NaN where not known.
    """
    earlier = _interpolate_known(past.at_ms / MS_PER_H, past.air_c, when_h - SLOPE_H)
    return np.column_stack([air_c - dew_point_c, air_c - earlier, air_c - usual_c])


@lru_cache(maxsize=64)
def _night_axis(
    before: date, count: int, latitude: float, longitude: float, zone: ZoneInfo
) -> tuple[tuple[date, ...], Floats, Floats]:
    """Evenings, their sunsets, and the noons around them (one more) [h since 1970]."""
    evenings = tuple(before - timedelta(days=back) for back in range(count, 0, -1))
    sunsets = [night_hours_at(each, latitude, longitude, zone).sunset for each in evenings]
    noons = [datetime(day.year, day.month, day.day, 12, tzinfo=zone) for day in (*evenings, before)]
    sunset_h, noon_h = (
        np.array([to_ms(at) for at in each]) / MS_PER_H for each in (sunsets, noons)
    )
    return evenings, sunset_h, noon_h


def night_shapes(
    past: SpacePast, yard: Yard, evenings: tuple[date, ...], after_sunset_h: float, hours: Floats
) -> Floats:
    """How the air of each of those nights went on from an hour of the night [K].

    Parameters
    ----------
    hours : ndarray, shape (m,)
        After that hour.

    Returns
    -------
    ndarray, shape (nights, m)
        Above (plus) or below (minus) the air at that hour, of the nights that are known to the end.
    """
    at_h = past.at_ms / MS_PER_H
    sunsets = [to_ms(night_hours_of(evening, yard).sunset) for evening in evenings]
    begin_h = np.array(sunsets, dtype=np.float64) / MS_PER_H + after_sunset_h
    if not at_h.size:
        return np.empty((0, hours.size))
    courses = np.interp(begin_h[:, None] + hours, at_h, past.air_c, left=np.nan, right=np.nan)
    table = courses - _interpolate_known(at_h, past.air_c, begin_h)[:, None]
    known: Floats = table[np.isfinite(table).all(axis=1)]
    return known


def _starts_known(known: Starts | None, air: SpaceAir) -> Starts:
    """Those known from before and after a grid's hours, and those within it."""
    now_h = to_ms(air.now) / MS_PER_H
    new = heater_starts(air.hours + now_h, air.air_c)
    if known is None:
        return new
    kept = (known.at_h < now_h + air.hours[0]) | (known.at_h > now_h)
    kept &= known.at_h >= now_h - WEEKS_H
    at_h = np.concatenate([known.at_h[kept], new.at_h])
    order = np.argsort(at_h, kind="stable")
    return Starts(at_h=at_h[order], air_c=np.concatenate([known.air_c[kept], new.air_c])[order])


def _by_the_hour(air: SpaceAir) -> SpacePast:
    now_h = to_ms(air.now) / MS_PER_H
    first, last = np.ceil(now_h + air.hours[0]), np.floor(now_h)
    whole = np.arange(first, last + 1.0)
    at = np.interp(whole - now_h, air.hours, air.air_c)
    dew = np.interp(whole - now_h, air.hours, air.dew_point_c)
    begin = np.searchsorted(air.hours, whole - 1.0 - now_h, side="right")
    end = int(np.searchsorted(air.hours, last - now_h, side="right"))
    # Each hour ends where the next begins, and the grid's step is shorter than an hour.
    low = np.fmin.reduceat(air.air_c[:end], begin)
    low[np.isnan(low)] = np.inf
    known = np.isfinite(at)
    return SpacePast(
        at_ms=np.round(whole[known] * MS_PER_H).astype(np.int64),
        air_c=at[known],
        low_c=np.minimum(low, at)[known],
        dew_point_c=dew[known],
    )


def _replace_hours(known: SpacePast, kept: NDArray[np.bool_], new: SpacePast) -> SpacePast:
    at_ms = np.concatenate([known.at_ms[kept], new.at_ms])
    order = np.argsort(at_ms, kind="stable")
    return SpacePast(
        at_ms=at_ms[order],
        air_c=np.concatenate([known.air_c[kept], new.air_c])[order],
        low_c=np.concatenate([known.low_c[kept], new.low_c])[order],
        dew_point_c=np.concatenate([known.dew_point_c[kept], new.dew_point_c])[order],
    )


def _expected_low(outlook: Outlook, begin_h: float, noon_h: float) -> float:
    begin, noon = from_ms(round(begin_h * MS_PER_H)), from_ms(round(noon_h * MS_PER_H))
    return outlook.low_c(begin, begin, noon)


def _interpolate_known(at_h: Floats, values: Floats, when_h: Floats) -> Floats:
    """Values at times, where the hours on both sides are known; NaN elsewhere."""
    if not at_h.size:
        return np.full(when_h.shape, np.nan)
    after = np.searchsorted(at_h, when_h)
    upper = np.minimum(after, at_h.size - 1)
    lower = np.maximum(upper - 1, 0)
    exact = at_h[upper] == when_h
    apart_h = at_h[upper] - at_h[lower]
    between = (after > 0) & (after < at_h.size) & (apart_h <= GAP_H)
    part = (when_h - at_h[lower]) / np.where(apart_h > 0.0, apart_h, 1.0)
    value = values[lower] + part * (values[upper] - values[lower])
    return np.where(exact, values[upper], np.where(between, value, np.nan))
