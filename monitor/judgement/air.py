"""The air of one space on an even grid that ends now: what its sensors said, the worst decides."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.physics.lag import GAP_H
from monitor.physics.moist_air import condensation_point, dew_point
from monitor.yard.reading import Channel, Trace
from monitor.yard.space import Mount, Sensor, Space, Yard

Floats = NDArray[np.float64]
Traces = Mapping[tuple[str, Channel], Trace]

STEP_H = 1.0 / 6.0  # ten minutes: a pump or hose lags half an hour, three steps
PAST_H = 96.0  # today and three whole nights, and three lags of an iron block
MS_PER_H = 3_600_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceAir:
    """What is known of one space's air up to now.

    All arrays lie on one grid of ``n`` steps; NaN where nobody knows. ``air_c`` is the coldest
    sensor's at each time: it decides what freezes.
    """

    space: Space
    now: datetime
    hours: Floats  # (n,) before now, so negative; the last is 0
    air_c: Floats  # (n,)
    warmest_c: Floats  # (n,)
    mean_c: Floats  # (n,) of all sensors
    coldest: str  # name of the sensor that reads coldest now; empty if none is heard
    rh_pct: Floats  # (n,)
    dew_point_c: Floats  # (n,)
    condensation_c: Floats  # (n,) dew point, or frost point below 0 °C
    bare_c: Floats  # (n,) of a bare dummy mass that hangs in the space; NaN without one

    @property
    def now_c(self) -> float:
        """Air temperature now [°C]; NaN when no sensor was heard for two hours."""
        return float(self.air_c[-1])

    @property
    def known(self) -> bool:
        """Whether there is a reading fresh enough to judge by."""
        return bool(np.isfinite(self.air_c[-1]))


def past_hours() -> Floats:
    """The grid that ends now: hours before now."""
    steps = round(PAST_H / STEP_H)
    return np.arange(-steps, 1, dtype=np.float64) * STEP_H


def series_needed(yard: Yard) -> list[tuple[str, Channel]]:
    """Which series a round must read: all that the yard's sensors may send."""
    return [
        (sensor.name, channel)
        for sensor in yard.sensors
        for channel in sorted(set(sensor.labels.values()) or set(Channel))
        if channel is not Channel.SENSOR_BATTERY
    ]


def space_air(space: Space, sensors: tuple[Sensor, ...], traces: Traces, now: datetime) -> SpaceAir:
    """Bring a space's readings onto the grid.

    Parameters
    ----------
    space : Space
    sensors : tuple of Sensor
        The whole yard's; those that hang in this space's air are used.
    traces : mapping
        Readings by sensor and channel. Only usable flags count; order does not matter.
    now : datetime
        Aware; readings after it are not looked at.
    """
    hours = past_hours()
    here = [each for each in sensors if each.space == space.id and each.mount is Mount.AIR]
    air = {
        each.name: on_grid(traces.get((each.name, Channel.TEMPERATURE)), hours, now)
        for each in here
    }
    damp = {
        each.name: on_grid(traces.get((each.name, Channel.HUMIDITY)), hours, now) for each in here
    }
    bare = [
        on_grid(traces.get((each.name, Channel.TEMPERATURE)), hours, now)
        for each in sensors
        if each.space == space.id and each.mount is Mount.SURFACE and each.craft is None
    ]
    table = filled(np.array([*air.values()]).reshape(len(air), hours.size))
    coldest_c, warmest_c = _edge(table, np.fmin), _edge(table, np.fmax)
    names = list(air)
    heard = np.isfinite(table[:, -1])
    coldest = names[int(np.nanargmin(table[:, -1]))] if heard.any() else ""
    rh, dew, condensation = _dampness(air, damp, warmest_c)
    return SpaceAir(
        space=space,
        now=now,
        hours=hours,
        air_c=coldest_c,
        warmest_c=warmest_c,
        mean_c=_mean(table),
        coldest=coldest,
        rh_pct=rh,
        dew_point_c=dew,
        condensation_c=condensation,
        bare_c=_edge(np.array(bare).reshape(len(bare), hours.size), np.fmin),
    )


def on_grid(trace: Trace | None, hours: Floats, now: datetime) -> Floats:
    """A trace's values at the grid's times.

    Straight between readings no more than two hours apart, the newest held for as long; NaN
    elsewhere, because what happened in a longer pause is not known.
    """
    if trace is None:
        return np.full(hours.size, np.nan)
    usable = trace.usable()
    at_h = (usable.at_ms - to_ms(now)) / MS_PER_H
    past = at_h <= 0.0
    at_h, value = at_h[past], usable.value[past]
    if not at_h.size:
        return np.full(hours.size, np.nan)
    order = np.argsort(at_h, kind="stable")
    at_h, value = at_h[order], value[order]
    on: Floats = np.interp(hours, at_h, value, left=np.nan)
    after = np.searchsorted(at_h, hours, side="right")
    before_h = at_h[np.maximum(after - 1, 0)]
    next_h = np.where(after < at_h.size, at_h[np.minimum(after, at_h.size - 1)], hours)
    gap = (next_h - before_h > GAP_H) & (before_h != hours)
    on[gap] = np.nan
    return on


def filled(table: Floats) -> Floats:
    """Stand in for a sensor that is not heard by what it usually reads beside the others.

    Parameters
    ----------
    table : ndarray, shape (sensors, n)
        One row a sensor, NaN where it is not heard.

    Returns
    -------
    ndarray, same shape
        A missing value is the others' mean plus the median of the sensor's own difference
        from it: so the cold corner's silence does not make a space look warmer. NaN stays
        where no other sensor is heard, and where the two were never heard together.
    """
    if table.shape[0] < 2 or np.isfinite(table).all():
        return table
    result = table.copy()
    for row in range(table.shape[0]):
        missing = np.isnan(table[row])
        if not missing.any() or missing.all():
            continue
        others = np.delete(table, row, axis=0)
        count = np.isfinite(others).sum(axis=0)
        mean = np.where(count > 0, np.nansum(others, axis=0) / np.maximum(count, 1), np.nan)
        together = ~missing & np.isfinite(mean)
        if together.any():
            usual = float(np.median(table[row, together] - mean[together]))
            result[row, missing] = mean[missing] + usual
    return result


def _edge(table: Floats, pick: np.ufunc) -> Floats:
    if not table.shape[0]:
        return np.full(table.shape[1], np.nan)
    edge: Floats = pick.reduce(table, axis=0)
    return edge


def _mean(table: Floats) -> Floats:
    known = np.isfinite(table).sum(axis=0)
    return np.where(known > 0, np.nansum(table, axis=0) / np.maximum(known, 1), np.nan)


def _dampness(
    air: dict[str, Floats], damp: dict[str, Floats], warmest_c: Floats
) -> tuple[Floats, Floats, Floats]:
    """RH of the dampest sensor; dew and condensation point as the mean of all pairs.

    Air carries its water from corner to corner, and two sensors of ±3 % RH differ by half a
    kelvin of dew point: the worst of several would be their error, not the air. A humidity
    sensor without a thermometer is paired with the warmest.
    """
    rh = np.full(warmest_c.size, np.nan)
    dews, points = [], []
    for name, humidity in damp.items():
        if np.isnan(humidity).all():
            continue
        own = air[name]
        beside = np.where(np.isfinite(own), own, warmest_c)
        sane = np.clip(humidity, 0.0, 100.0)
        rh = np.fmax(rh, sane)
        dews.append(dew_point(beside, sane))
        points.append(condensation_point(beside, sane))
    if not dews:
        return rh, rh.copy(), rh.copy()
    return rh, _mean(np.array(dews)), _mean(np.array(points))
