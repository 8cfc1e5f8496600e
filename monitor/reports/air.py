"""A space's air over a stretch of time: coldest and warmest, dew point, wetness, gaps."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms, to_ms
from monitor.physics.moist_air import dew_point
from monitor.store.series import SeriesKey
from monitor.store.transaction import Transaction
from monitor.yard.hourly import HOUR_MS, HourlyTrace
from monitor.yard.reading import Channel, Trace
from monitor.yard.space import Mount, Sensor, Space, Yard, sensors_of_place

Floats = NDArray[np.float64]

_MINUTE_MS = 60_000
_SHORTEST_GAP_MS = 20 * _MINUTE_MS
_MISSED_IN_A_ROW = 3.5  # so many intervals without a reading are a gap


class Extreme(NamedTuple):
    """The lowest or highest reading of a stretch of time."""

    value_c: float
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class HourlyAir:
    """The air of one space hour by hour; arrays of one length, NaN where unseen.

    Several sensors: the coldest and the highest dew point of each hour, and the one that saw most
    of it below zero or wet, because each is the edge that hurts. What was not seen is told as
    ``unseen_h`` and never taken for mild. ``wet_h`` is time of wetness by ISO 9223: RH above 80 %
    with the air above 0 °C. ``low`` and ``high`` are the extreme readings; None where nothing was
    read.
    """

    space: str
    at_ms: NDArray[np.int64]  # the middle of each hour
    coldest_c: Floats
    dew_point_c: Floats  # of the hour's means
    low: Extreme | None
    high: Extreme | None
    below_zero_h: float
    wet_h: float
    unseen_h: float

    @property
    def seen(self) -> bool:
        """Whether anything was read."""
        return not bool(np.isnan(self.coldest_c).all())


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedAir:
    """The air of one space on an even grid of times; arrays of one length, NaN where unseen.

    Several sensors: the coldest and the warmest at each time, and the highest dew point, because
    each is the edge that hurts. ``wet`` is true where any sensor saw RH above 80 % with the air
    above 0 °C (time of wetness, ISO 9223). ``low`` and ``high`` are the extreme readings
    themselves, which may lie between two times of the grid; None where nothing was read.
    """

    space: str
    at_ms: NDArray[np.int64]
    coldest_c: Floats
    warmest_c: Floats
    dew_point_c: Floats
    wet: NDArray[np.bool_]
    low: Extreme | None
    high: Extreme | None

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Where at least one sensor told the temperature."""
        return ~np.isnan(self.coldest_c)


def read_hourly_air(
    tx: Transaction, yard: Yard, since: datetime, until: datetime
) -> dict[str, HourlyAir]:
    """Read every space's air from ``since`` to ``until``, from the hourly rollups of readings.

    Each sensor counts to a space for as long as it hung there.
    """
    since_ms, until_ms = to_ms(since), to_ms(until)
    sensors = {space.id: list(_air_sensors(yard, space)) for space in yard.spaces}
    names = list(dict.fromkeys(one.sent_as for those in sensors.values() for one in those))
    hours = tx.rollups.hours_between(names, since_ms, until_ms)
    begin_ms = np.arange(since_ms, until_ms, HOUR_MS, dtype=np.int64)
    length_min = np.minimum(until_ms - begin_ms, HOUR_MS) / _MINUTE_MS
    return {
        space: _hours_of_space(tx, space, begin_ms, length_min, in_space, hours)
        for space, in_space in sensors.items()
    }


def _hours_of_space(
    tx: Transaction,
    space: str,
    begin_ms: NDArray[np.int64],
    length_min: Floats,
    sensors: list[Sensor],
    hours: dict[SeriesKey, HourlyTrace],
) -> HourlyAir:
    def laid_out(trace: HourlyTrace, values: Floats) -> Floats:
        spread = np.full(begin_ms.size, np.nan)
        spread[np.searchsorted(begin_ms, trace.hour_ms)] = values
        return spread

    cold, dew = [np.full(begin_ms.size, np.nan)], [np.full(begin_ms.size, np.nan)]
    below, wet, seen = ([np.zeros(begin_ms.size)] for _ in range(3))
    lows, highs = [], []
    for sensor in sensors:
        air, damp = (
            hours[sensor.sent_as, each].cut_between(*sensor.span_ms)
            for each in (Channel.TEMPERATURE, Channel.HUMIDITY)
        )
        mean_c = laid_out(air, air.mean)
        cold.append(np.fmin(laid_out(air, air.low), mean_c))
        dew.append(np.asarray(dew_point(mean_c, laid_out(damp, damp.mean))))
        below.append(np.nan_to_num(laid_out(air, air.frost_min)))
        wet.append(np.nan_to_num(laid_out(damp, damp.wet_min)))
        seen.append(np.nan_to_num(laid_out(air, air.seen)) * 60.0)
        if not np.isnan(air.low).all():
            lows.append(_reading_of(tx, sensor.sent_as, air, int(np.nanargmin(air.low)), -1))
            highs.append(_reading_of(tx, sensor.sent_as, air, int(np.nanargmax(air.high)), 1))
    return HourlyAir(
        space=space,
        at_ms=begin_ms + HOUR_MS // 2,
        coldest_c=np.fmin.reduce(cold),
        dew_point_c=np.fmax.reduce(dew),
        low=min(lows, default=None),
        high=max(highs, default=None),
        below_zero_h=float(np.max(below, axis=0).sum()) / 60.0,
        wet_h=float(np.max(wet, axis=0).sum()) / 60.0,
        unseen_h=float(np.maximum(length_min - np.max(seen, axis=0), 0.0).sum()) / 60.0,
    )


def _reading_of(tx: Transaction, sensor: str, hours: HourlyTrace, n: int, sign: int) -> Extreme:
    """The highest (sign 1) or lowest (-1) reading of an hour; its middle once readings are gone."""
    key, begin_ms = (sensor, Channel.TEMPERATURE), int(hours.hour_ms[n])
    trace = tx.readings.traces_between([key], begin_ms, begin_ms + HOUR_MS)[key].usable()
    if not trace.value.size:
        value_c = hours.high[n] if sign > 0 else hours.low[n]
        return Extreme(float(value_c), from_ms(begin_ms + HOUR_MS // 2))
    return _extreme(trace.value, trace.at_ms, int((sign * trace.value).argmax()))


def read_air(
    tx: Transaction, yard: Yard, since: datetime, until: datetime, step_min: int
) -> dict[str, RecordedAir]:
    """Read every space's air from ``since`` to ``until``, on a grid of ``step_min`` minutes.

    Only readings that may be judged on count. A sensor's value between two readings lies on the
    straight line between them, unless they stand too far apart: that is a gap, and not known.
    Each sensor counts to a space for as long as it hung there.
    """
    sensors = {space.id: list(_air_sensors(yard, space)) for space in yard.spaces}
    keys = [key for in_space in sensors.values() for one in in_space for key in _keys(one)]
    # The day's ends are joined to what was read just outside them.
    margin_ms = 60 * _MINUTE_MS
    traces = tx.readings.traces_between(keys, to_ms(since) - margin_ms, to_ms(until) + margin_ms)
    grid_ms = np.arange(to_ms(since), to_ms(until) + 1, step_min * _MINUTE_MS, dtype=np.int64)
    return {
        space: _one_space(space, grid_ms, [(one, *_pair(one, traces)) for one in in_space])
        for space, in_space in sensors.items()
    }


def on_grid(trace: Trace, grid_ms: NDArray[np.int64], gap_ms: float) -> Floats:
    """Values on a grid of times, linear between readings; NaN inside gaps and outside the trace.

    Parameters
    ----------
    trace : Trace
        Readings in time order.
    grid_ms : ndarray of int64, shape (n,)
        Times wanted [ms].
    gap_ms : float
        Two readings further apart than this [ms] have nothing known between them.

    Returns
    -------
    ndarray of float64, shape (n,)
    """
    if trace.at_ms.size == 0:
        return np.full(grid_ms.shape, np.nan)
    values: Floats = np.interp(grid_ms, trace.at_ms, trace.value, left=np.nan, right=np.nan)
    after = np.searchsorted(trace.at_ms, grid_ms, side="left").clip(0, trace.at_ms.size - 1)
    before = np.where(trace.at_ms[after] == grid_ms, after, (after - 1).clip(0))
    values[trace.at_ms[after] - trace.at_ms[before] > gap_ms] = np.nan
    return values


def gap_after_ms(sensor: Sensor, trace: Trace) -> float:
    """How long a sensor may say nothing before it is a gap [ms], by its own usual interval."""
    if sensor.interval_s is not None:
        usual_ms = sensor.interval_s * 1000.0
    elif trace.at_ms.size > 1:
        usual_ms = float(np.median(np.diff(trace.at_ms)))
    else:
        usual_ms = 0.0
    return max(_SHORTEST_GAP_MS, _MISSED_IN_A_ROW * usual_ms)


def _one_space(
    space: str, grid_ms: NDArray[np.int64], sensors: list[tuple[Sensor, Trace, Trace]]
) -> RecordedAir:
    unseen = np.full((1, grid_ms.size), np.nan)
    air_c, dew_c = [unseen], [unseen]
    wet = np.zeros(grid_ms.shape, dtype=np.bool_)
    lows, highs = [], []
    for sensor, temperature, humidity in sensors:
        t_c = on_grid(temperature, grid_ms, gap_after_ms(sensor, temperature))
        rh_pct = on_grid(humidity, grid_ms, gap_after_ms(sensor, humidity))
        air_c.append(t_c[np.newaxis])
        dew_c.append(np.asarray(dew_point(t_c, rh_pct))[np.newaxis])
        inside = (temperature.at_ms >= grid_ms[0]) & (temperature.at_ms <= grid_ms[-1])
        value_c, at_ms = temperature.value[inside], temperature.at_ms[inside]
        if value_c.size:
            lows.append(_extreme(value_c, at_ms, int(value_c.argmin())))
            highs.append(_extreme(value_c, at_ms, int(value_c.argmax())))
        wet |= (rh_pct > 80.0) & (t_c > 0.0)
    return RecordedAir(
        space=space,
        at_ms=grid_ms,
        # fmin and fmax pass over NaN; a time that no sensor saw stays NaN.
        coldest_c=np.fmin.reduce(np.concatenate(air_c)),
        warmest_c=np.fmax.reduce(np.concatenate(air_c)),
        dew_point_c=np.fmax.reduce(np.concatenate(dew_c)),
        wet=wet,
        low=min(lows, default=None),
        high=max(highs, default=None),
    )


def _extreme(value_c: Floats, at_ms: NDArray[np.int64], n: int) -> Extreme:
    return Extreme(float(value_c[n]), from_ms(int(at_ms[n])))


def _air_sensors(yard: Yard, space: Space) -> Iterator[Sensor]:
    for sensor in sensors_of_place(yard):
        if sensor.space == space.id and sensor.mount is Mount.AIR:
            yield sensor


def _keys(sensor: Sensor) -> Iterable[SeriesKey]:
    return [(sensor.sent_as, Channel.TEMPERATURE), (sensor.sent_as, Channel.HUMIDITY)]


def _pair(sensor: Sensor, traces: dict[SeriesKey, Trace]) -> tuple[Trace, Trace]:
    temperature, humidity = (
        traces[key].usable().cut_between(*sensor.span_ms) for key in _keys(sensor)
    )
    return temperature, humidity
