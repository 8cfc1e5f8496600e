"""How a building keeps its warmth: its lag behind outdoors, and whether its heater is lost."""

from dataclasses import dataclass
from math import nan

import numpy as np

from monitor.judgement.air import STEP_H, Floats, SpaceAir
from monitor.physics.lag import fit_lag, lag_response
from monitor.yard.space import SpaceKind

# Short end of what buildings of a kind are estimated at [h] (common practice, no source); used
# until a lag is configured or fitted.
_LAG_H = {
    SpaceKind.HEATED: 8.0,
    SpaceKind.BENCH: 8.0,
    SpaceKind.COLD: 5.0,
    SpaceKind.WRAPPED: 0.3,
    SpaceKind.OPEN: 0.1,
}
_FIT_FROM_H = 30.0  # a day and a night: without both a lag and a lift look alike
_LIFT_OVER_H = 24.0

LOST_K_H = 1.0  # a heated space that falls faster has lost its heat (common practice)
LOST_BELOW_C = 5.0  # and so has one that is colder than shops are kept
_QUIET_K_H = 0.25  # slower falls are within sensors' noise and a thermostat's play
_SHARE_OF_LOSS = 0.35  # of the fall that an unheated building of this lag would show
_LOOK_BACK = 4  # steps over which a fall is measured: forty minutes
_RECENT_STEPS = 18  # three hours, left out of what is usual
_USUAL_FROM = 144  # steps of a day: with fewer nothing is usual yet
_HELD_OVER_H = 3  # a level that air keeps for so long in the cold is one that its heat holds
_HELD_WITHIN_K = 0.3
_HELD_ABOVE_K = 6.0  # warmer than outdoors by this much: nothing but heat keeps it there
_CORNER_SHARE = 0.2  # at most, of the way to the outdoor air at which a corner stands
_HELD_FROM = 6  # such hours, before they count


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """How a space follows the outdoor air: with a lag, and so much warmer in the long run."""

    lag_h: float
    lift_k: float
    fitted: bool


def building_of(air: SpaceAir, outside: SpaceAir) -> Building:
    """Lag as configured, else fitted to the last four days, else the short end of its kind.

    Parameters
    ----------
    air, outside : SpaceAir
        On the same grid. A heated space's lag cannot be read off while its heater works; then
        the lift has no meaning, and is 0.
    """
    kind = air.space.kind
    heated = kind in {SpaceKind.HEATED, SpaceKind.BENCH}
    lag_h, fitted = air.space.lag_h, False
    both = np.isfinite(air.air_c) & np.isfinite(outside.air_c)
    if lag_h is None and not heated and both.sum() * STEP_H >= _FIT_FROM_H:
        every = slice(None, None, 3)
        fit = fit_lag(air.hours[every], outside.air_c[every], air.air_c[every], fit_offset=True)
        if np.isfinite(fit.lag_h) and fit.standard_error_h < 0.5 * fit.lag_h:
            lag_h, fitted = fit.lag_h, True
    if lag_h is None:
        lag_h = _LAG_H[kind]
    if heated:
        return Building(lag_h=lag_h, lift_k=0.0, fitted=False)
    followed = lag_response(air.hours, outside.air_c, lag_h).where_known(0.3)
    recent = (air.hours > -_LIFT_OVER_H) & np.isfinite(followed) & np.isfinite(air.air_c)
    lift = float((air.air_c - followed)[recent].mean()) if recent.any() else 0.0
    return Building(lag_h=lag_h, lift_k=lift, fitted=fitted)


def building_alone(air: SpaceAir) -> Building:
    """A building of a yard where no outdoor air is known: its lag as configured, else estimated."""
    lag_h = air.space.lag_h or _LAG_H[air.space.kind]
    return Building(lag_h=lag_h, lift_k=0.0, fitted=False)


def unheated_course(
    building: Building, inside_c: float, outside_c: Floats, hours: Floats
) -> Floats:
    """Air of a space without heat from now on.

    Parameters
    ----------
    building : Building
    inside_c : float
        Now [°C].
    outside_c : ndarray, shape (m + 1,)
        Outdoor air now and at ``hours`` [°C].
    hours : ndarray, shape (m,)
        After now.

    Returns
    -------
    ndarray, shape (m,)
    """
    times = np.concatenate([[0.0], hours])
    driven = outside_c + building.lift_k
    return lag_response(times, driven, building.lag_h, start_c=inside_c).body_c[1:]


def level_held(inside_c: Floats, outside_c: Floats, outside_now_c: float) -> float:
    """Level at which the heat of a space holds it, by what it held in the cold of past weeks.

    Parameters
    ----------
    inside_c, outside_c : ndarray, shape (n,)
        Hour by hour; NaN where not known.
    outside_now_c : float
        Outdoor air now [°C]: a cold corner is the colder the colder it is outdoors.

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
    if held.sum() < _HELD_FROM or not np.isfinite(outside_now_c):
        return nan
    level, beyond = after[held], beyond[held]
    off = beyond - beyond.mean()
    slope = float((off * level).sum() / max((off * off).sum(), 1e-9))
    slope = min(max(slope, 0.0), _CORNER_SHARE)
    rest = level - slope * off
    return float(np.percentile(rest, 10.0) + slope * (outside_now_c - beyond.mean()))


def fall_rate(air: SpaceAir) -> float:
    """How fast the air has been falling over the last forty minutes [K/h]; below 0: rising.

    NaN where there are not enough readings to tell.
    """
    return float(_falls(air.air_c[-_LOOK_BACK - 2 :])[-1])


def heat_lost(air: SpaceAir, outside_c: float, lag_h: float, held_c: float = nan) -> bool:
    """Whether a heated space loses its heat.

    Parameters
    ----------
    air : SpaceAir
    outside_c : float
        Outdoor air now [°C]; NaN if not known.
    lag_h : float
        Of the building [h].
    held_c : float
        See `level_held`. A building that mild days or the sun have warmed above it falls back
        to it as if it had no heat, and has lost none.

    Returns
    -------
    bool
        True if it falls faster than it has been used to over three days, by a good share of
        what an unheated building would, and is colder than it has been used to; or stands well
        below that without warming up. With less than a day known: if it falls by 1 K/h, or is
        below 5 °C.
    """
    if not air.known or air.space.kind is not SpaceKind.HEATED:
        return False
    # Seen twice in ten minutes: one odd reading is no lost heater.
    courses = (air.air_c, air.air_c[:-1])
    return all(_loses(course, outside_c, lag_h, held_c) for course in courses)


def _loses(air_c: Floats, outside_c: float, lag_h: float, held_c: float) -> bool:
    """Whether it looks so at the end of this course."""
    now_c = float(air_c[-1])
    if np.isnan(now_c):
        return False
    rate = float(_falls(air_c[-_LOOK_BACK - 2 :])[-1])
    before = air_c[:-_RECENT_STEPS]
    usual = before[np.isfinite(before)]
    if usual.size < _USUAL_FROM:
        return bool(rate > LOST_K_H or now_c < LOST_BELOW_C)
    # Doors that open for work dip the air for minutes a day; percentiles leave them out.
    falls = _falls(before)
    swing = float(np.nanpercentile(falls, 95.0)) if np.isfinite(falls).any() else 0.0
    loss = (now_c - outside_c) / lag_h if np.isfinite(outside_c) else 0.0
    limit = min(max(1.5 * swing, _SHARE_OF_LOSS * loss, _QUIET_K_H), LOST_K_H)
    low_end, middle = (float(each) for each in np.percentile(usual, [10.0, 50.0]))
    if np.isfinite(held_c):
        # Days without heat are in the last four too, and make cold look usual; weeks do not.
        low_end, middle = held_c, held_c + 0.5
    if rate > limit and now_c < low_end - 0.2:
        return True
    far = now_c < min(middle - 1.5, low_end - 0.3)
    cold = far or now_c < min(LOST_BELOW_C, low_end - 0.5)
    return bool(cold and not rate < -_QUIET_K_H)


def _falls(air_c: Floats) -> Floats:
    """Fall over forty minutes at each step, of pairs of steps against sensors' noise [K/h]."""
    pairs = 0.5 * (air_c[1:] + air_c[:-1])
    falls: Floats = (pairs[:-_LOOK_BACK] - pairs[_LOOK_BACK:]) / (_LOOK_BACK * STEP_H)
    return falls
