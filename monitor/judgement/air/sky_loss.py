"""How far below the air a clear night pulls what stands under the sky: measured, else estimated."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.judgement.air.ensemble import Draws, band_of
from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.physics.sky import clear_sky_emissivity, depression
from monitor.yard.space import OUTDOORS, SpaceKind, Yard
from monitor.yard.sun import night_hours_of

_MOST_K = 6.0  # bare metal gets no further below the air; more is a wet or wrong sensor
_NIGHTS_H = 60.0  # the last nights tell how much the sky takes

# How clear and calm a night is, as the depression of a cover over that under a clear sky in still
# air: quantiles over modelled night hours of open typical years (an estimate: none was measured).
_CLEAR_AT = np.array([0.0, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95, 1.0])
_CLEAR = np.array([0.05, 0.08, 0.10, 0.14, 0.40, 0.67, 0.84, 0.96, 1.0])
# Share of a cover's depression that reaches a circuit in the hull under it (common practice, no
# source). What a bare mass shows, a part outside loses as well, and one inside half of it.
_REACHES = 0.15, 0.5
_REACHES_AS_BARE = 0.5, 1.0
_WRAP_LETS_THROUGH = 1.0 / 3.0
# Without humidity the air is taken to be dry: under no other does a clear sky take more. Next to no
# vapour is left so far below the air; what is known of vapour ends at -100 °C.
_DRY_BELOW_K, _COLDEST_DEW_C = 60.0, -100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SkyPull:
    """By how much the sky takes a circuit's surroundings below the measured air [K].

    One clearness a member and night, held through it: a fresh one each hour would average the
    risk away.
    """

    past_k: Floats  # (n,) the middle of what it took, at the past hours
    ahead_k: Floats  # (members,) in the dark hours to come
    dark: NDArray[np.bool_]  # (m,) which of the coming hours those are
    dark_so_far_h: float  # of the night that it is now; 0 by day
    middle_k: float = 0.0  # the median of the members' ``ahead_k``
    most_k: float = 0.0  # what it takes in no more than one of ten members


def sky_pull(air: SpaceAir, ahead_h: Floats, draws: Draws, yard: Yard) -> SkyPull:
    """What the sky takes from a space's circuits, by a bare dummy mass there, else by physics.

    Parameters
    ----------
    air : SpaceAir
        With ``bare_c`` where a bare dummy mass hangs in the space.
    ahead_h : ndarray, shape (m,)
        After now.
    draws : Draws
    yard : Yard

    Returns
    -------
    SkyPull
        Of zeros under a roof. With a dummy mass, each member has one of the nights that it showed
        lately; without one, a share of a cover's balance under a clear sky in still air
        (`monitor.physics.sky`).
    """
    if air.space.kind not in OUTDOORS:
        return SkyPull(
            past_k=np.zeros(air.hours.size),
            ahead_k=np.zeros(draws.sky.size),
            dark=np.zeros(ahead_h.size, dtype=bool),
            dark_so_far_h=0.0,
        )
    was_dark = _is_night(air, air.hours, yard)
    below, lately = _shown_by_mass(air, was_dark)
    if lately.size:
        taken_k = np.quantile(lately, 1.0 - draws.sky)
        reaches = _reaching_share(_REACHES_AS_BARE, draws, air.space.kind)
    else:
        taken_k = _clear_and_calm(air) * _clearness(draws)
        reaches = _reaching_share(_REACHES, draws, air.space.kind)
    ahead_k = taken_k * reaches
    middle_k = float(np.median(ahead_k))
    shown = np.isfinite(below)
    by_day = np.flatnonzero(~was_dark)
    last_day = by_day[-1] if by_day.size else 0
    unseen_k = np.where(was_dark, middle_k, 0.0)
    return SkyPull(
        past_k=np.where(shown, below * float(np.median(reaches)), unseen_k),
        ahead_k=ahead_k,
        middle_k=middle_k,
        dark=_is_night(air, ahead_h, yard),
        dark_so_far_h=-float(air.hours[last_day]) if was_dark[-1] else 0.0,
        most_k=band_of(ahead_k)[1],
    )


def share_of_clear_sky(draws: Draws, kind: SpaceKind) -> Floats:
    """Share of a cover's depression under a clear calm sky that reaches a circuit; (members,).

    Of zeros under a roof.
    """
    if kind not in OUTDOORS:
        return np.zeros(draws.sky.size)
    share: Floats = _clearness(draws) * _reaching_share(_REACHES, draws, kind)
    return share


def _clearness(draws: Draws) -> Floats:
    clear: Floats = np.interp(1.0 - draws.sky, _CLEAR_AT, _CLEAR)
    return clear


def _reaching_share(ends: tuple[float, float], draws: Draws, kind: SpaceKind) -> Floats:
    low, high = ends
    reaches: Floats = low * (high / low) ** draws.hull
    return reaches * _WRAP_LETS_THROUGH if kind is SpaceKind.WRAPPED else reaches


def _shown_by_mass(air: SpaceAir, was_dark: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """How far a bare dummy mass lay below the air: at all past hours, and in the last nights'."""
    below = np.clip(air.air_c - air.bare_c, 0.0, _MOST_K)
    recent = np.isfinite(below) & (air.hours > -_NIGHTS_H) & was_dark
    return below, below[recent]


def _clear_and_calm(air: SpaceAir) -> float:
    """Depression of a cover under a clear sky in still air, now [K]."""
    return float(clear_sky_depression(air.now_c, float(air.dew_point_c[-1])))


def clear_sky_depression(air_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
    """How far a cover lies below the air under a clear sky in still air [K].

    Where the dew point is NaN, of dry air: no humidity makes it more.
    """
    air, dew = np.asarray(air_c, np.float64), np.asarray(dew_point_c, np.float64)
    dry = np.maximum(air - _DRY_BELOW_K, _COLDEST_DEW_C)
    dew = np.where(np.isfinite(dew), np.maximum(dew, dry), dry)
    return depression(air, dew, clear_sky_emissivity(air, dew))


def _is_night(air: SpaceAir, hours: Floats, yard: Yard) -> NDArray[np.bool_]:
    """Where the times lie between a sunset and the sunrise after it."""
    dark = np.zeros(hours.size, dtype=bool)
    day = (air.now + timedelta(hours=float(hours[0]))).astimezone(yard.zone).date()
    last = (air.now + timedelta(hours=float(hours[-1]))).astimezone(yard.zone).date()
    day -= timedelta(days=1)
    while day <= last:
        night = night_hours_of(day, yard)
        down = (night.sunset - air.now) / timedelta(hours=1)
        up = (night.sunrise - air.now) / timedelta(hours=1)
        dark |= (hours >= down) & (hours < up)
        day += timedelta(days=1)
    return dark
