"""How far below the air a clear night pulls what stands under the sky: measured, else estimated."""

from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.judgement.air.night_hours import dark_of
from monitor.yard.space import SpaceKind, Yard

# Common practice, no source: 2 to 5 K for exposed surfaces; wrap takes up most of it.
SKY_LOSS_K = {SpaceKind.OPEN: 3.0, SpaceKind.WRAPPED: 1.0}
_MOST_K = 6.0  # bare metal gets no further below the air; more is a wet or wrong sensor
_LEAST_K = 0.5  # a cloudy week does not promise cloud tonight
_NIGHTS_H = 60.0  # the last nights tell how much the sky takes
_EDGE_PCT = 90.0


def sky_loss(air: SpaceAir, hours: Floats, yard: Yard) -> Floats:
    """Kelvin by which the surroundings of a craft lie below the measured air, at each time.

    Parameters
    ----------
    air : SpaceAir
        With ``bare_c`` where a bare dummy mass hangs in the space.
    hours : ndarray, shape (n,)
        Times relative to now [h], behind and ahead.
    yard : Yard

    Returns
    -------
    ndarray, shape (n,)
        Behind: what the dummy mass showed. Ahead, by night: nearly the most that it showed in
        the last nights. Without one every night counts as clear, by common practice. 0 by day
        and under a roof.
    """
    loss = np.zeros(hours.size)
    usual_k = SKY_LOSS_K.get(air.space.kind, 0.0)
    if usual_k == 0.0 or not hours.size:
        return loss
    dark = _is_night(air, hours, yard)
    below = np.clip(air.air_c - air.bare_c, 0.0, _MOST_K)
    recent = np.isfinite(below) & (air.hours > -_NIGHTS_H) & _is_night(air, air.hours, yard)
    if not recent.any():
        loss[dark] = usual_k
        return loss
    loss[dark] = max(float(np.percentile(below[recent], _EDGE_PCT)), _LEAST_K)
    shown = np.interp(hours, air.hours, below, right=np.nan)
    return np.where((hours <= 0.0) & np.isfinite(shown), shown, loss)


def _is_night(air: SpaceAir, hours: Floats, yard: Yard) -> NDArray[np.bool_]:
    """Where the times lie between a sunset and the sunrise after it."""
    dark = np.zeros(hours.size, dtype=bool)
    day = (air.now + timedelta(hours=float(hours[0]))).astimezone(yard.zone).date()
    last = (air.now + timedelta(hours=float(hours[-1]))).astimezone(yard.zone).date()
    day -= timedelta(days=1)
    while day <= last:
        night = dark_of(day, yard)
        down = (night.sunset - air.now) / timedelta(hours=1)
        up = (night.sunrise - air.now) / timedelta(hours=1)
        dark |= (hours >= down) & (hours < up)
        day += timedelta(days=1)
    return dark
