"""Humidity that is not the air's: stuck, iced, or kept beside a temperature that has moved on."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.physics.moist_air import saturation_pressure_water
from monitor.yard.facts import SensorFault
from monitor.yard.reading import Trace

Floats = NDArray[np.float64]

_MS_PER_H = 3_600_000.0


class Doubt(NamedTuple):
    """What is wrong with a sensor, and over which of the last hours."""

    fault: SensorFault
    hours: float  # so long, up to now, it is as it is
    air_range_k: float = np.nan  # by which the air moved meanwhile
    low_pct: float = np.nan
    high_pct: float = np.nan
    other: str = ""  # the sensor that fell while it stayed
    usual_k: float = np.nan  # by how much it was warmer than that one before
    apart_k: float = np.nan  # by how much more it is now


class _Sign(NamedTuple):
    """Humidity that stays, for so long, while its air turns by so much, again and again."""

    hours: float
    turn_k: float
    span_pct: float


# The air goes up, down and up again by that much each time, or the other way round, while humidity
# stays: air that warms by 3 K needs a fifth more water to stay as damp. A single front is no sign:
# warm, damp air comes after cold, damp air, and sweats. In open winters, coasts and fog among them,
# no hour looked at is like either (`test_humidity_doubt`: each third of four). Indoors, where
# stores keep humidity steady and no open record tells how much, four days are asked of one value
# but for its noise.
_SIGNS = (_Sign(48.0, 3.0, 4.0), _Sign(96.0, 2.0, 0.5))
_SATURATED_PCT = 97.0  # never drier: the head is wet, iced or drowned in salt
_TURNS = 3
_WHOLE = 0.8  # share of a stretch that must be known
_REFUSED_H = 3.0  # a longer row of refused readings is a fault and no spike
_MOVED_K = 1.0  # an old humidity says nothing of air that has changed by more


def find_stuck_humidity(rh_pct: Floats, air_c: Floats, hours: Floats) -> Doubt | None:
    """Find whether humidity stays where the air's own cannot.

    Parameters
    ----------
    rh_pct, air_c : ndarray, shape (n,)
        One sensor's humidity [%] and its air [°C] on the grid; NaN where not known.
    hours : ndarray, shape (n,)
        Before now, rising to 0.
    """
    return next(filter(None, (_stays(sign, rh_pct, air_c, hours) for sign in _SIGNS)), None)


def _stays(sign: _Sign, rh_pct: Floats, air_c: Floats, hours: Floats) -> Doubt | None:
    recent = hours >= -sign.hours
    known = recent & np.isfinite(rh_pct) & np.isfinite(air_c)
    if known.sum() < max(_WHOLE * recent.sum(), 2.0):
        return None
    rh, air = rh_pct[known], air_c[known]
    low, high = float(rh.min()), float(rh.max())
    if low >= _SATURATED_PCT:
        fault = SensorFault.SATURATED
    elif high - low <= sign.span_pct:
        fault = SensorFault.UNMOVED
    else:
        return None
    if _count_turns(air, sign.turn_k) < _TURNS:
        return None
    return Doubt(fault, sign.hours, float(np.ptp(air)), low, high)


def _count_turns(air_c: Floats, turn_k: float) -> int:
    """How many rises and falls of at least so much follow each other."""
    count, rising = 0, 0  # +1: the last turn was a rise
    low = high = float(air_c[0])
    for each in air_c.tolist():
        low, high = min(low, each), max(high, each)
        if rising <= 0 and each - low >= turn_k:
            count, rising, high = count + 1, 1, each
        elif rising >= 0 and high - each >= turn_k:
            count, rising, low = count + 1, -1, each
    return count


def find_refused(
    trace: Trace | None, hours: Floats, now_ms: int, fault: SensorFault
) -> Doubt | None:
    """Find whether the checks on the way in have refused a channel for hours, up to the last."""
    if trace is None:
        return None
    usable = trace.usable()
    if usable is trace:  # nothing was refused
        return None
    begin_ms = now_ms + float(hours[0]) * _MS_PER_H
    heard = trace.at_ms[(trace.at_ms <= now_ms) & (trace.at_ms >= begin_ms)]
    good = usable.at_ms[usable.at_ms <= now_ms]
    last_good = float(good.max()) if good.size else begin_ms
    refused = heard[heard > last_good]
    if not refused.size or refused.max() - refused.min() < _REFUSED_H * _MS_PER_H:
        return None
    return Doubt(fault, float(now_ms - refused.min()) / _MS_PER_H)


def carry_water(
    rh_pct: Floats, air_c: Floats, trace: Trace | None, hours: Floats, now_ms: int
) -> Floats:
    """Humidity after its newest good reading: the same water in the air as it is now, or unknown.

    Parameters
    ----------
    rh_pct, air_c : ndarray, shape (n,)
        On the grid, the newest humidity held.
    trace : Trace or None
        The humidity as it came, with what was refused.
    hours : ndarray, shape (n,)
    now_ms : int

    Returns
    -------
    ndarray, shape (n,)
        Held humidity is carried as vapour pressure to the newer temperature, and is at most 100.
        Where newer readings came and were refused, the air may have changed altogether: once it
        has moved by 1 K nothing is known of its water.
    """
    last_h = _newest_good_h(trace, now_ms)
    if trace is None or not np.isfinite(rh_pct[-1]):
        return rh_pct
    held = hours > last_h
    known = np.isfinite(air_c)
    if not held.any() or not known.any():
        return rh_pct
    then_c = float(np.interp(last_h, hours[known], air_c[known]))
    found = rh_pct.copy()
    ratio = saturation_pressure_water(then_c) / saturation_pressure_water(air_c[held])
    found[held] = np.minimum(rh_pct[held] * ratio, 100.0)
    heard_h = (trace.at_ms - now_ms) / _MS_PER_H
    if ((heard_h > last_h) & (heard_h <= 0.0)).any():
        moved = held & (np.abs(air_c - then_c) > _MOVED_K)
        if moved.any():
            found[int(np.flatnonzero(moved)[0]) :] = np.nan
    return found


def _newest_good_h(trace: Trace | None, now_ms: int) -> float:
    """When the newest reading that may be judged on was made [h before now]; -inf: never."""
    if trace is None:
        return -np.inf
    good = trace.usable().at_ms
    good = good[good <= now_ms]
    return float(good.max() - now_ms) / _MS_PER_H if good.size else -np.inf


def withhold_doubted(rh_pct: Floats, doubt: Doubt | None, hours: Floats) -> Floats:
    """Humidity without what is in doubt."""
    if doubt is None:
        return rh_pct
    return np.where(hours >= -doubt.hours, np.nan, rh_pct)


def sensor_humidity(
    rh_pct: Floats, air_c: Floats, trace: Trace | None, hours: Floats, now_ms: int
) -> tuple[Floats, Doubt | None]:
    """One sensor's humidity as far as it may be judged on, and why the rest may not."""
    # What is only held says nothing of how humidity moves with the air.
    read = np.where(hours <= _newest_good_h(trace, now_ms), rh_pct, np.nan)
    doubt = find_stuck_humidity(read, air_c, hours) or find_refused(
        trace, hours, now_ms, SensorFault.REFUSED
    )
    return withhold_doubted(carry_water(rh_pct, air_c, trace, hours, now_ms), doubt, hours), doubt
