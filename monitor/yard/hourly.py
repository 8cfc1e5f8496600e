"""One sensor's readings of an hour in a few figures, and the arithmetic that makes them.

An hour is worked out of the readings in `REACH_MS` around it and of nothing else, so the same
readings give the same figures, in whatever order they came.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.physics.wetness import is_wet
from monitor.yard.reading import Channel, Trace

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
REACH_MS = 2 * HOUR_MS  # readings so far before and after an hour may change its figures
_SHORTEST_GAP_MS = 20.0 * MINUTE_MS
_LONGEST_GAP_MS = 90.0 * MINUTE_MS  # shorter than the reach: both ends of a line are then in it
_MISSED_IN_A_ROW = 3.5  # so many intervals without a reading are a gap
_MIDDLES_MS = np.arange(60, dtype=np.int64) * MINUTE_MS + MINUTE_MS // 2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class HourOfReadings(NamedTuple):
    """What one hour of one channel comes to. Values in steps of the channel's resolution.

    Only readings that may be judged on count. Between two readings the value lies on the straight
    line between them; where they stand too far apart, nothing is known of the time between.
    """

    hour_ms: int  # its beginning, UTC
    readings: int  # how many were read in it
    low: int | None  # lowest reading; None without one, as the next two
    high: int | None
    mean: float | None  # over the minutes seen; over the readings where none was seen
    seen_min: int  # minutes of the hour of which the value is known
    wet_min: int | None  # humidity only: RH above 80 % with the air above 0 °C (ISO 9223)
    frost_min: int | None  # temperature only: minutes below 0 °C
    frost_kh: float | None  # temperature only: degree-hours below 0 °C [K·h]


@dataclass(frozen=True, slots=True, kw_only=True)
class HourlyTrace:
    """Hours of one channel of one sensor in time order, as arrays of one length.

    Values in the channel's unit, NaN where nothing is known. An hour without any reading and
    without a known minute is left out.
    """

    hour_ms: Ints
    readings: Ints
    low: Floats
    high: Floats
    mean: Floats
    seen: Floats  # share of the hour, 0 to 1
    wet_min: Floats
    frost_min: Floats
    frost_kh: Floats  # [K·h]

    def cut_between(self, begin_ms: float, end_ms: float) -> "HourlyTrace":
        """Only whole hours from ``begin_ms`` on and before ``end_ms``.

        Of an hour in which a sensor was moved nobody can part what it read at either place.
        """
        kept = (self.hour_ms >= begin_ms) & (self.hour_ms + HOUR_MS <= end_ms)
        if kept.all():
            return self
        return HourlyTrace(**{one.name: getattr(self, one.name)[kept] for one in fields(self)})


def hours_of_sensor(
    temperature: Trace, humidity: Trace, hours_ms: Sequence[int]
) -> dict[Channel, list[HourOfReadings]]:
    """Work hours out of a sensor's readings of temperature and humidity.

    Parameters
    ----------
    temperature, humidity : Trace
        All its readings from `REACH_MS` before the first to `REACH_MS` after the last of the
        hours; either may be empty.
    hours_ms : sequence of int
        Beginnings of the hours wanted [ms].

    Returns
    -------
    dict
        By channel, in the order asked for; hours of which nothing is known are left out.
    """
    temperature, humidity = temperature.usable(), humidity.usable()
    found: dict[Channel, list[HourOfReadings]] = {
        Channel.TEMPERATURE: [],
        Channel.HUMIDITY: [],
    }
    for hour_ms in hours_ms:
        air_c, rh_pct = _minutes(temperature, hour_ms), _minutes(humidity, hour_ms)
        frost_k = np.maximum(-air_c, 0.0)
        one = _one_hour(temperature, hour_ms, air_c)
        if one is not None:
            found[Channel.TEMPERATURE].append(
                one._replace(
                    frost_min=int((frost_k > 0.0).sum()),
                    frost_kh=float(np.nansum(frost_k)) / 60.0,
                )
            )
        one = _one_hour(humidity, hour_ms, rh_pct)
        if one is not None:
            found[Channel.HUMIDITY].append(one._replace(wet_min=int(is_wet(air_c, rh_pct).sum())))
    return found


def as_trace(channel: Channel, hours: Sequence[Sequence[float | None]]) -> HourlyTrace:
    """Rows with the fields of `HourOfReadings`, in time order, as arrays in the channel's unit."""
    table = np.array(hours, dtype=np.float64).reshape(-1, len(HourOfReadings._fields))
    step = channel.resolution
    return HourlyTrace(
        hour_ms=table[:, 0].astype(np.int64),
        readings=table[:, 1].astype(np.int64),
        low=table[:, 2] * step,
        high=table[:, 3] * step,
        mean=table[:, 4] * step,
        seen=table[:, 5] / 60.0,
        wet_min=table[:, 6],
        frost_min=table[:, 7],
        frost_kh=table[:, 8],
    )


def _one_hour(trace: Trace, hour_ms: int, minutes: Floats) -> HourOfReadings | None:
    first, last = np.searchsorted(trace.at_ms, (hour_ms, hour_ms + HOUR_MS))
    read = trace.value[first:last]
    seen = minutes[~np.isnan(minutes)]
    if not read.size and not seen.size:
        return None
    step = trace.channel.resolution
    return HourOfReadings(
        hour_ms=hour_ms,
        readings=int(read.size),
        low=round(float(read.min()) / step) if read.size else None,
        high=round(float(read.max()) / step) if read.size else None,
        mean=float((seen if seen.size else read).mean()) / step,
        seen_min=int(seen.size),
        wet_min=None,
        frost_min=None,
        frost_kh=None,
    )


def _minutes(trace: Trace, hour_ms: int) -> Floats:
    """Values at the middle of each minute of an hour; NaN where they are not known."""
    around = (hour_ms - REACH_MS, hour_ms + HOUR_MS + REACH_MS)
    first, last = np.searchsorted(trace.at_ms, around)
    at_ms, middles = trace.at_ms[first:last], hour_ms + _MIDDLES_MS
    if at_ms.size < 2:
        return np.full(60, np.nan)
    apart = np.diff(at_ms)
    gap_ms = min(max(_SHORTEST_GAP_MS, _MISSED_IN_A_ROW * float(np.median(apart))), _LONGEST_GAP_MS)
    values: Floats = np.interp(middles, at_ms, trace.value[first:last], left=np.nan, right=np.nan)
    before = np.searchsorted(at_ms, middles, side="right").clip(1, at_ms.size - 1) - 1
    values[apart[before] > gap_ms] = np.nan
    return values
