"""How a building keeps its warmth: its lag behind the outdoor air, and its course without heat."""

from dataclasses import dataclass

import numpy as np

from monitor.judgement.air.grid import MS_PER_H, STEP_H, Floats, SpaceAir
from monitor.judgement.air.past_weeks import SpacePast
from monitor.physics.floor import UNSEEN_SHARE, FloorFit, fit_floor, follow_over_floor
from monitor.physics.lag import lag_response, unbroken_from
from monitor.physics.lag_fit import fit_lag
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
_FLOOR_OVER_H = 21 * 24.0  # older weeks had other doors open
_FLOOR_GAP_H = 6.0  # a floor of a day's lag is not lost sight of in so short a hole
_DOUBT = 1.28  # standard errors: one floor in ten has a smaller share than is counted on


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """What is slow in a building: its floor and the ground under it.

    Its warmth is counted on no further than readings show it for sure; its cold, as far as they
    make it likely.
    """

    lag_h: float  # behind the air above it
    share_if_warm: float  # in what drives that air, while it is warmer than outdoors
    share_if_cold: float
    now_c: float

    @property
    def shares(self) -> tuple[float, float]:
        """While it is warmer than outdoors, and while colder."""
        return self.share_if_warm, self.share_if_cold


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """How a space follows the outdoor air: with a lag, and so much warmer in the long run."""

    lag_h: float
    lift_k: float
    floor: Floor | None = None  # None: there is no sign of one

    def driven_c(self, outside_c: float) -> float:
        """Where its air would go in steady weather, before its floor follows [°C]."""
        if self.floor is None:
            return outside_c + self.lift_k
        share = self.floor.shares[self.floor.now_c <= outside_c]
        return outside_c + share * (self.floor.now_c - outside_c) + self.lift_k


def fit_building_floor(air: SpaceAir, past: SpacePast, outside: SpacePast) -> FloorFit | None:
    """Fit a cold building's floor to three weeks or fewer of hours; None: no sign of one.

    Parameters
    ----------
    air : SpaceAir
    past, outside : SpacePast
        Of this space and of the outdoor air.
    """
    if air.space.kind is not SpaceKind.COLD:
        return None
    hours, inside_c, outside_c = _paired_hours(past, outside)
    if not hours.size:
        return None
    fit = fit_floor(hours, outside_c, inside_c, air.space.lag_h, gap_h=_FLOOR_GAP_H)
    return fit if fit.share > _DOUBT * fit.share_error else None


def building_over_floor(fit: FloorFit, past: SpacePast, outside: SpacePast) -> Building | None:
    """A building with its floor as it is now, and what it was warmer over the last day.

    Parameters as for `fit_building_floor`, which gave ``fit``. None while the readings since their
    last gap do not tell how warm the floor is.
    """
    hours, inside_c, outside_c = _paired_hours(past, outside)
    if not hours.size:
        return None
    floor_c, unknown = lag_response(hours, inside_c, fit.floor_lag_h, gap_h=_FLOOR_GAP_H)
    if unknown[-1] > UNSEEN_SHARE:
        return None
    floor = Floor(
        lag_h=fit.floor_lag_h,
        share_if_warm=min(fit.share - _DOUBT * fit.share_error, 1.0),
        share_if_cold=min(fit.share, 1.0),
        now_c=float(floor_c[-1]),
    )
    share = np.where(floor_c > outside_c, *floor.shares)
    driven_c = outside_c + share * (floor_c - outside_c)
    followed_c = lag_response(hours, driven_c, fit.lag_h, gap_h=_FLOOR_GAP_H).body_c
    recent = hours > hours[-1] - _LIFT_OVER_H
    lift_k = float((inside_c - followed_c)[recent].mean())
    return Building(lag_h=fit.lag_h, lift_k=lift_k, floor=floor)


def _paired_hours(past: SpacePast, outside: SpacePast) -> tuple[Floats, Floats, Floats]:
    """The last unbroken stretch of hours at which both airs are known: hours, inside, outside."""
    at_ms, here, there = np.intersect1d(past.at_ms, outside.at_ms, return_indices=True)
    if not at_ms.size:
        return (np.empty(0),) * 3
    hours = (at_ms - at_ms[-1]) / MS_PER_H
    recent = hours > -_FLOOR_OVER_H
    hours, here, there = hours[recent], here[recent], there[recent]
    begin = unbroken_from(hours, past.air_c[here], _FLOOR_GAP_H)
    return hours[begin:], past.air_c[here][begin:], outside.air_c[there][begin:]


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


def usual_lag(kind: SpaceKind) -> float:
    """Lag of a building of a kind until one is configured or fitted: the quick end [h]."""
    return _LAG_H[kind]


def building_alone(air: SpaceAir) -> Building:
    """A building of a yard where no outdoor air is known: its lag as configured, else estimated."""
    lag_h = air.space.lag_h or _LAG_H[air.space.kind]
    return Building(lag_h=lag_h, lift_k=0.0)


def unheated_air_series(
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
    floor = building.floor
    if floor is not None:
        steps_h = np.diff(times)
        air_c, _ = follow_over_floor(
            inside_c, floor.now_c, outside_c, steps_h, building.lag_h, floor.lag_h, floor.shares,
            building.lift_k,
        )  # fmt: skip
        return air_c
    driven = outside_c + building.lift_k
    return lag_response(times, driven, building.lag_h, start_c=inside_c).body_c[..., 1:]
