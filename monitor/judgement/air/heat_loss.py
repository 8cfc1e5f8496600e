"""Whether a heated space's heat works: the level at which it holds the air, and a fall below it."""

from dataclasses import dataclass
from math import isfinite, nan

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.grid import STEP_H, Floats, SpaceAir
from monitor.yard.space import SpaceKind

LOST_K_H = 1.0  # a heated space that falls faster has lost its heat (common practice, no source)
LOST_BELOW_C = 5.0  # and so has one that is colder than shops are kept
_FALLS_FROM_K_H = 0.25  # slower falls are within sensors' noise
_SHARE_OF_LOSS = 0.4  # of the fall that an unheated building of this lag would show
_LOOK_BACK = 2  # steps over which a fall is measured: twenty minutes
_BELOW_K = 0.15  # three times a good sensor's noise: so far below its level no heater lets it
WORKS_WITHIN_K = 0.7  # where it loses little, sun, doors and wind move it more; time is left
_MILD_WITHIN_K = 5.0  # of the outdoor air
_FAR_BELOW_K = 0.35  # further than that below: so cold and not rising is enough

_COMES_ON_K = 0.3  # a rise by this within twenty minutes is a heater's
_COLDER_K = 5.0  # outdoors, at least: else the sun or a warm day may have done it
_FEWEST_STARTS = 6
_STARTS = 48  # the newest count: a thermostat is turned now and then
_LOW_END_PCT = 10.0

_HELD_OVER_H = 3  # a level that air keeps for so long in the cold is one that its heat holds
_HELD_WITHIN_K = 0.3
_HELD_ABOVE_K = 6.0  # warmer than outdoors by this much: nothing but heat keeps it there
_HELD_FROM = 6  # such hours, before they count
_CORNER_SHARE = 0.2  # at most, of the way to the outdoor air at which a corner stands
# A thermostat's play and the way from it to the coldest corner (common practice, no source).
_PLAY_K = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Starts:
    """When a heater was seen to come on, and how cold the air was just then."""

    at_h: Floats  # (k,) rising
    air_c: Floats  # (k,)


def heater_starts(hours: Floats, air_c: Floats) -> Starts:
    """Find where the air turns from falling to rising as only a heater makes it.

    Parameters
    ----------
    hours : ndarray, shape (n,)
        The even grid's times, on any axis.
    air_c : ndarray, shape (n,)
        NaN where not known.
    """
    if air_c.size < 4:
        return Starts(at_h=np.empty(0), air_c=np.empty(0))
    before, here, after, later = air_c[:-3], air_c[1:-2], air_c[2:-1], air_c[3:]
    turned = (here <= before) & (np.fmax(after, later) - here >= _COMES_ON_K)
    return Starts(at_h=hours[1:-2][turned], air_c=here[turned])


def level_of_starts(starts_c: Floats, outside_c: Floats, outside_now_c: float) -> float:
    """Level at which the heater comes on, where it was seen to often enough.

    Parameters
    ----------
    starts_c, outside_c : ndarray, shape (k,)
        Air inside and outdoors whenever it came on, the oldest first; NaN outdoors: not known.
    outside_now_c : float
        Outdoor air now [°C]: a cold corner is the colder the colder it is outdoors.

    Returns
    -------
    float
        Nearly the lowest of the newest starts in the cold [°C], carried on to the outdoor air of
        now; NaN with fewer than six.
    """
    cold = np.flatnonzero(starts_c - outside_c > _COLDER_K)[-_STARTS:]
    if cold.size < _FEWEST_STARTS:
        return nan
    return _low_end(starts_c[cold], outside_c[cold], outside_now_c)


def heating_level(inside_c: Floats, outside_c: Floats, outside_now_c: float) -> float:
    """Level at which the heat of a space holds it, by what it held in the cold of past weeks.

    For heat that comes and goes unseen: a heated floor, or a heater that modulates.

    Parameters
    ----------
    inside_c, outside_c : ndarray, shape (n,)
        Hour by hour; NaN where not known.
    outside_now_c : float
        Outdoor air now [°C].

    Returns
    -------
    float
        Nearly the lowest [°C] of what was kept for three hours while it was much colder
        outdoors, carried on to the outdoor air of now; NaN where that has not been seen.
    """
    if inside_c.size <= _HELD_OVER_H:
        return nan
    after, before = inside_c[_HELD_OVER_H:], inside_c[:-_HELD_OVER_H]
    beyond = outside_c[_HELD_OVER_H:]
    held = (np.abs(after - before) < _HELD_WITHIN_K) & (after - beyond > _HELD_ABOVE_K)
    if held.sum() < _HELD_FROM:
        return nan
    return _low_end(after[held], beyond[held], outside_now_c)


def level_set(thermostat_c: float | None) -> float:
    """Level to expect of a thermostat's setting, until its heat has been seen; NaN without one."""
    return nan if thermostat_c is None else thermostat_c - _PLAY_K


def _low_end(level_c: Floats, outside_c: Floats, outside_now_c: float) -> float:
    """The low end of levels, as it would be with the outdoor air of now."""
    if not isfinite(outside_now_c):
        return float(np.percentile(level_c, _LOW_END_PCT))
    off = outside_c - outside_c.mean()
    slope = float((off * level_c).sum() / max(float((off * off).sum()), 1e-9))
    slope = min(max(slope, 0.0), _CORNER_SHARE)
    # Into the cold the corner's share is carried on; into mild weather no further than was seen.
    beyond = min(outside_now_c - outside_c.mean(), max(float(off.max()), 0.0))
    return float(np.percentile(level_c - slope * off, _LOW_END_PCT) + slope * beyond)


def fall_rate(air: SpaceAir) -> float:
    """How fast the air has been falling over the last twenty minutes [K/h]; below 0: rising.

    NaN where there are not enough readings to tell.
    """
    return _latest_fall(air.air_c)


def heat_lost(air: SpaceAir, outside_c: float, lag_h: float, level_c: float = nan) -> bool:
    """Whether a heated space loses its heat.

    Parameters
    ----------
    air : SpaceAir
    outside_c : float
        Outdoor air now [°C]; NaN if not known.
    lag_h : float
        Of the building [h].
    level_c : float
        Lowest air that its heat lets it come to; NaN: not known.

    Returns
    -------
    bool
        True if for ten minutes it has stood below that level and fallen by a good share of what
        an unheated building would, or stood well below it without warming up. A building that
        mild days or the sun have warmed above the level falls back to it, and has lost nothing.
        While no level is known: if it falls by 1 K/h, or is below 5 °C.
    """
    if not air.is_known or air.space.kind is not SpaceKind.HEATED:
        return False
    # Seen twice in ten minutes: one odd reading is no lost heater.
    courses: tuple[NDArray[np.float64], ...] = (air.air_c, air.air_c[:-1])
    return all(_loses_heat(course, outside_c, lag_h, level_c) for course in courses)


def _loses_heat(air_c: Floats, outside_c: float, lag_h: float, level_c: float) -> bool:
    """Whether it looks so at the end of this course."""
    now_c = float(air_c[-1])
    if np.isnan(now_c):
        return False
    rate = _latest_fall(air_c)
    if not isfinite(level_c):
        return rate > LOST_K_H or now_c < LOST_BELOW_C
    loss_k_h = max(now_c - outside_c, 0.0) / lag_h if isfinite(outside_c) else LOST_K_H
    limit = min(max(_SHARE_OF_LOSS * loss_k_h, _FALLS_FROM_K_H), LOST_K_H)
    below_k = WORKS_WITHIN_K if now_c - outside_c < _MILD_WITHIN_K else _BELOW_K
    if rate > limit and now_c < level_c - below_k:
        return True
    return now_c < level_c - below_k - _FAR_BELOW_K and not rate < -_FALLS_FROM_K_H


def _latest_fall(air_c: Floats) -> float:
    """Fall over twenty minutes at the end of a course, of pairs of steps against noise [K/h]."""
    if air_c.size < _LOOK_BACK + 2:
        return nan
    last, first = air_c[-2:].mean(), air_c[-2 - _LOOK_BACK : -_LOOK_BACK].mean()
    return float(first - last) / (_LOOK_BACK * STEP_H)
