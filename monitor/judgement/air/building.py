"""How a building keeps its warmth: its lag behind the outdoor air, and its course without heat."""

from dataclasses import dataclass

import numpy as np

from monitor.judgement.air.grid import STEP_H, Floats, SpaceAir
from monitor.physics.lag import fit_lag, lag_response
from monitor.yard.space import WARM, SpaceKind

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """How a space follows the outdoor air: with a lag, and so much warmer in the long run."""

    lag_h: float
    lift_k: float


def building_of(air: SpaceAir, outside: SpaceAir) -> Building:
    """Lag as configured, else fitted to the last four days, else the short end of its kind.

    Parameters
    ----------
    air, outside : SpaceAir
        On the same grid. A heated space's lag cannot be read off while its heater works; then
        the lift has no meaning, and is 0.
    """
    kind = air.space.kind
    heated = kind in WARM
    lag_h = air.space.lag_h
    both = np.isfinite(air.air_c) & np.isfinite(outside.air_c)
    if lag_h is None and not heated and both.sum() * STEP_H >= _FIT_FROM_H:
        every = slice(None, None, 3)
        fit = fit_lag(air.hours[every], outside.air_c[every], air.air_c[every], fit_offset=True)
        if np.isfinite(fit.lag_h) and fit.standard_error_h < 0.5 * fit.lag_h:
            lag_h = fit.lag_h
    if lag_h is None:
        lag_h = _LAG_H[kind]
    if heated:
        return Building(lag_h=lag_h, lift_k=0.0)
    followed = lag_response(air.hours, outside.air_c, lag_h).where_known(0.3)
    recent = (air.hours > -_LIFT_OVER_H) & np.isfinite(followed) & np.isfinite(air.air_c)
    lift = float((air.air_c - followed)[recent].mean()) if recent.any() else 0.0
    return Building(lag_h=lag_h, lift_k=lift)


def building_alone(air: SpaceAir) -> Building:
    """A building of a yard where no outdoor air is known: its lag as configured, else estimated."""
    lag_h = air.space.lag_h or _LAG_H[air.space.kind]
    return Building(lag_h=lag_h, lift_k=0.0)


def unheated_course(
    building: Building, inside_c: float, outside_c: Floats, hours: Floats
) -> Floats:
    """Air of a space without heat from now on.

    Parameters
    ----------
    building : Building
    inside_c : float
        Now [°C].
    outside_c : ndarray, shape (m + 1,) or (k, m + 1)
        Outdoor air now and at ``hours`` [°C], in one course or in several.
    hours : ndarray, shape (m,)
        After now.

    Returns
    -------
    ndarray, shape (m,) or (k, m)
    """
    times = np.concatenate([[0.0], hours])
    driven = outside_c + building.lift_k
    return lag_response(times, driven, building.lag_h, start_c=inside_c).body_c[..., 1:]
