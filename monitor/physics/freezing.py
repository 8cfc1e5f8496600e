"""How far the liquid in bodies is frozen along a series of air temperatures, thaw included.

A body is liquid above its ice point, stands at the ice point while latent heat leaves or
enters, and is solid below. Between two readings the air runs straight; each of the three
phases then has an exact solution, and the change from one to the next falls where it falls
inside the step. So the energy balance closes at any spacing of the readings.
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import Floats
from monitor.physics.ice import ICE_KJ_KG_K, LATENT_KJ_KG, WATER_KJ_KG_K
from monitor.physics.lag import GAP_H, lag_step, step_weights

_PHASES_IN_A_STEP = 10  # straight air crosses the ice point once, so five are the most there are
_NEWTON_STEPS = 60  # at most; from the right end of the bracket some six are enough
_CLOSE = 1e-13  # of the step
_AT_POINT_K = 1e-10  # nearer to the ice point is at it
_CRUMB = 1e-12  # less ice, or less liquid, is none
_SAME_STEP_H = 1e-9


class FreezingSeries(NamedTuple):
    """What becomes of m bodies along n readings.

    ``body_c`` [°C] and ``ice_fraction`` (0 to 1) have shape (m, n); ``first_ice_h`` and
    ``frozen_through_h`` have shape (m,) and are times on the axis of ``hours``: the first at
    which ice forms, and at which all is ice. inf: not within the series. NaN: not known.
    """

    body_c: Floats
    ice_fraction: Floats
    first_ice_h: Floats
    frozen_through_h: Floats


def freezing_series(
    hours: ArrayLike,
    air_c: ArrayLike,
    *,
    lag_h: ArrayLike,
    heat_capacity_kj_k: ArrayLike,
    liquid_kg: ArrayLike,
    ice_point_c: ArrayLike = 0.0,
    start_c: ArrayLike | None = None,
    start_ice: ArrayLike = 0.0,
    plank: ArrayLike = 1.0,
    gap_h: float = GAP_H,
) -> FreezingSeries:
    """Follow body temperature and ice of bodies under the same air, or each under its own.

    Parameters
    ----------
    hours : array_like, shape (n,)
        Times [h], rising.
    air_c : array_like, shape (n,) or (m, n)
        Air temperature [°C], straight between the times; NaN: no reading. With one row a
        body, a time at which any of them has no reading counts as without.
    lag_h, heat_capacity_kj_k, liquid_kg, ice_point_c, plank : array_like, scalar or shape (m,)
        Time constant [h], heat capacity of metal and liquid together [kJ/K], mass of the
        liquid [kg], its ice point [°C], and `monitor.physics.ice.plank_factor`.
    start_c : array_like, scalar or shape (m,), optional
        Body temperature at the first reading [°C]; None: the air's own.
    start_ice : array_like, scalar or shape (m,)
        Share that is ice already at the first reading, 0 to 1.
    gap_h : float
        Longest pause between readings that is bridged [h].

    Returns
    -------
    FreezingSeries
        m is 1 if every parameter is a scalar and the air one series. Where the air is NaN
        body and ice are NaN. From a gap longer than ``gap_h`` on, all is NaN, for nobody knows
        how much froze or thawed meanwhile; start anew with what was seen.

    Raises
    ------
    ValueError
        If hours do not rise, or a lag, heat capacity, mass or Plank factor is not above 0.

    Notes
    -----
    Exact for straight air. No credit for supercooling: liquid below its ice point at the start
    stands at the ice point. A mix of glycol has no plateau; it is followed as if all of it
    froze at its ice point, which is early. Its slush is `monitor.physics.antifreeze.ice_share`.
    """
    times = np.asarray(hours, dtype=np.float64)
    air = np.asarray(air_c, dtype=np.float64)
    fits = times.ndim == 1 and air.ndim in {1, 2} and air.shape[-1] == times.size
    if not fits or not np.all(np.diff(times) > 0.0):
        raise ValueError("air must be (n,) or (m, n) along hours (n,), rising and without NaN")
    air = np.atleast_2d(air)
    bodies = _Bodies(lag_h, heat_capacity_kj_k, liquid_kg, ice_point_c, plank, rows=air.shape[0])
    m = bodies.lag_h.size
    air = np.broadcast_to(air, (m, times.size))
    body = np.full((m, times.size), np.nan)
    ice = np.full((m, times.size), np.nan)
    first = np.full(m, np.inf)
    through = np.full(m, np.inf)
    seen = np.flatnonzero(np.isfinite(air).all(axis=0))
    if not seen.size:
        return FreezingSeries(body, ice, first * np.nan, through * np.nan)

    under = np.ascontiguousarray(air.T)  # a row a time: each step takes two
    now = seen[0]
    start = air[:, now] if start_c is None else np.asarray(start_c, dtype=np.float64)
    state = _State.started(bodies, np.broadcast_to(start, m), np.broadcast_to(start_ice, m))
    body[:, now], ice[:, now] = state.body_c, state.ice
    first[(state.body_c <= bodies.ice_point_c) & (air[:, now] < bodies.ice_point_c)] = times[now]
    first[state.ice > 0.0] = times[now]
    through[state.ice >= 1.0] = times[now]
    # A crossing that is not there is a root that is no number: no need to be told.
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for then, now in pairwise(seen):
            step = times[now] - times[then]
            if step > gap_h:
                first[np.isinf(first)] = np.nan
                through[np.isinf(through)] = np.nan
                break
            state.advance(times[then], step, under[then], under[now], first, through)
            body[:, now], ice[:, now] = state.body_c, state.ice
    return FreezingSeries(body, ice, first, through)


class _Bodies:
    """Parameters of m bodies, each of shape (m,)."""

    lag_h: Floats
    ice_point_c: Floats
    degree_hours: Floats
    solid_lag_h: Floats

    def __init__(
        self,
        lag_h: ArrayLike,
        heat_capacity_kj_k: ArrayLike,
        liquid_kg: ArrayLike,
        ice_point_c: ArrayLike,
        plank: ArrayLike,
        rows: int,
    ) -> None:
        given = (lag_h, heat_capacity_kj_k, liquid_kg, ice_point_c, plank)
        lag, capacity, mass, point, factor, _ = np.broadcast_arrays(
            *(np.atleast_1d(np.asarray(each, dtype=np.float64)) for each in given), np.empty(rows)
        )
        if not all(np.all(each > 0.0) for each in (lag, capacity, mass, factor)):
            raise ValueError("lag, heat capacity, liquid and Plank factor must be above 0")
        self.lag_h = lag
        self.ice_point_c = point
        self.degree_hours = mass * LATENT_KJ_KG * lag / capacity * factor
        # Ice holds half the heat of water. A capacity too small to hold the liquid's own is an
        # estimate gone wrong, not a reason to stop judging.
        solid_capacity = np.maximum(capacity - mass * (WATER_KJ_KG_K - ICE_KJ_KG_K), capacity / 2)
        self.solid_lag_h = lag * solid_capacity / capacity

    def only(self, rows: NDArray[np.intp]) -> "_Bodies":
        """Some of the bodies."""
        few = object.__new__(_Bodies)
        few.lag_h, few.solid_lag_h = self.lag_h[rows], self.solid_lag_h[rows]
        few.ice_point_c, few.degree_hours = self.ice_point_c[rows], self.degree_hours[rows]
        return few


class _State:
    """Where m bodies stand; ``advance`` moves them through one step of straight air."""

    def __init__(self, bodies: _Bodies, body_c: Floats, ice: Floats) -> None:
        self.bodies = bodies
        self.body_c = body_c
        self.ice = ice
        self._decay_h = np.nan
        self._liquid = self._solid = (body_c, body_c)

    @classmethod
    def started(cls, bodies: _Bodies, body_c: Floats, ice: ArrayLike) -> "_State":
        """Bodies as they begin: liquid is not below its ice point, nor ice above it."""
        ice = np.clip(np.array(ice, dtype=np.float64), 0.0, 1.0)
        point = bodies.ice_point_c
        allowed = np.where(ice >= 1.0, np.minimum(body_c, point), point)
        return cls(bodies, np.where(ice <= 0.0, np.maximum(body_c, point), allowed), ice)

    def advance(
        self,
        start_h: float,
        step_h: float,
        air_from_c: Floats,
        air_to_c: Floats,
        first_ice_h: Floats,
        frozen_through_h: Floats,
    ) -> None:
        """Move on by one step, noting in place when ice first forms and when all is ice."""
        body_c, ice, lasts = self._within_phase(step_h, air_from_c, air_to_c)
        rest = np.flatnonzero(~lasts)
        if rest.size:
            few = _State(self.bodies.only(rest), self.body_c[rest], self.ice[rest])
            first, through = first_ice_h[rest], frozen_through_h[rest]
            few._through_phases(start_h, step_h, air_from_c[rest], air_to_c[rest], first, through)
            first_ice_h[rest], frozen_through_h[rest] = first, through
            body_c[rest], ice[rest] = few.body_c, few.ice
        self.body_c, self.ice = body_c, ice

    def _within_phase(
        self, step_h: float, air_from_c: Floats, air_to_c: Floats
    ) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Where each body would end in the phase that it is in, and whether that lasts so long."""
        point = self.bodies.ice_point_c
        if not abs(step_h - self._decay_h) < _SAME_STEP_H:
            self._decay_h = step_h
            self._liquid = step_weights(step_h, self.bodies.lag_h)
            self._solid = step_weights(step_h, self.bodies.solid_lag_h)
        liquid, solid = self.ice == 0.0, self.ice == 1.0
        kept, ramp = self._liquid
        if solid.any():
            kept, ramp = (
                np.where(solid, *pair) for pair in zip(self._solid, self._liquid, strict=True)
            )
        rise = air_to_c - air_from_c
        end_c = kept * self.body_c + (1.0 - kept) * air_from_c + ramp * rise
        # Air on one side of the ice point pulls one way all the time: the end tells of the whole.
        one_side = (air_from_c - point) * (air_to_c - point) >= 0.0
        if liquid.all():
            return end_c, self.ice.copy(), one_side & (end_c > point + _AT_POINT_K)
        mean_k = point - 0.5 * (air_from_c + air_to_c)
        end_ice = self.ice + mean_k * step_h / self.bodies.degree_hours
        above, below = end_c > point + _AT_POINT_K, end_c < point - _AT_POINT_K
        part = (end_ice > _CRUMB) & (end_ice < 1.0 - _CRUMB)
        lasts = one_side & np.where(liquid, above, np.where(solid, below, part))
        at_point = ~(liquid | solid)
        return np.where(at_point, point, end_c), np.where(at_point, end_ice, self.ice), lasts

    def _through_phases(
        self,
        start_h: float,
        step_h: float,
        air_from_c: Floats,
        air_to_c: Floats,
        first_ice_h: Floats,
        frozen_through_h: Floats,
    ) -> None:
        """Move on by one step in which phases change."""
        slope = (air_to_c - air_from_c) / step_h
        done = np.zeros_like(self.body_c)
        for _ in range(_PHASES_IN_A_STEP):
            left = step_h - done
            todo = left > 0.0
            if not todo.any():
                return
            air = air_from_c + slope * done
            plateau, solid = self._phase(air, slope)
            new_ice = todo & plateau & (self.ice == 0.0)
            _note(first_ice_h, new_ice, start_h + done)
            took = np.where(plateau, *self._times(plateau, solid, air, slope, left))
            took = np.minimum(took, left)
            self._move(plateau & todo, solid, air, slope, took)
            done = np.where(took >= left, step_h, done + took)
            _note(frozen_through_h, todo & plateau & (self.ice == 1.0), start_h + done)

    def _phase(self, air: Floats, slope: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which bodies stand at the ice point, and which of the others are solid."""
        point = self.bodies.ice_point_c
        at_point = self.body_c == point
        freezing = (air < point) | ((air == point) & (slope < 0.0))
        melting = (air > point) | ((air == point) & (slope > 0.0))
        between = (self.ice > 0.0) & (self.ice < 1.0)
        leaving = np.where(self.ice == 0.0, freezing, melting)
        return at_point & (between | leaving), self.ice == 1.0

    def _times(
        self,
        plateau: NDArray[np.bool_],
        solid: NDArray[np.bool_],
        air: Floats,
        slope: Floats,
        left: Floats,
    ) -> tuple[Floats, Floats]:
        """Hours to the end of the phase: on the plateau, and off it (only there meaningful)."""
        bodies = self.bodies
        to_end, to_point = np.full((2, left.size), np.inf)
        at = np.flatnonzero(plateau)
        if at.size:
            degree_hours = bodies.degree_hours[at]
            rate = (bodies.ice_point_c[at] - air[at]) / degree_hours
            bend = -0.5 * slope[at] / degree_hours
            # Until all of it is ice, or none.
            ice = self.ice[at]
            to_end[at] = _first_root(bend, rate, np.stack([ice - 1.0, ice]))
        off = np.flatnonzero(~plateau)
        if off.size:
            # Mirror the solid bodies, so that every body falls towards its ice point from above.
            sign = np.where(solid[off], -1.0, 1.0)
            lag = np.where(solid[off], bodies.solid_lag_h[off], bodies.lag_h[off])
            point = bodies.ice_point_c[off]
            height, above = sign * (self.body_c[off] - point), sign * (air[off] - point)
            to_point[off] = _falls_to_zero(height, above, sign * slope[off], lag, left[off])
        return to_end, to_point

    def _move(
        self,
        plateau: NDArray[np.bool_],
        solid: NDArray[np.bool_],
        air: Floats,
        slope: Floats,
        took: Floats,
    ) -> None:
        bodies = self.bodies
        at, off = np.flatnonzero(plateau), np.flatnonzero(~plateau)
        if at.size:
            point, took_h = bodies.ice_point_c[at], took[at]
            frozen_kh = (point - air[at]) * took_h - slope[at] * took_h**2 / 2.0
            ice = np.clip(self.ice[at] + frozen_kh / bodies.degree_hours[at], 0.0, 1.0)
            # Land exactly on the end of a phase, else rounding would leave a crumb of it.
            ice = np.where(ice < _CRUMB, 0.0, np.where(ice > 1.0 - _CRUMB, 1.0, ice))
            self.ice[at], self.body_c[at] = ice, point
        if off.size:
            point, begins, took_h = bodies.ice_point_c[off], air[off], took[off]
            lag = np.where(solid[off], bodies.solid_lag_h[off], bodies.lag_h[off])
            moved = lag_step(self.body_c[off], begins, begins + slope[off] * took_h, took_h, lag)
            beyond = np.where(solid[off], moved > point, moved < point)
            near = np.abs(moved - point) < _AT_POINT_K
            self.body_c[off] = np.where(beyond | near, point, moved)


def _note(times: Floats, where: NDArray[np.bool_], now: Floats) -> None:
    """Write down the first time only."""
    new = where & np.isinf(times)
    times[new] = now[new]


def _first_root(a: Floats, b: Floats, c: Floats) -> Floats:
    """Smallest positive root of a t² + b t + c for any of the c, without the loss of digits.

    Parameters are of shape (m,), and (k, m) for c; inf where no root is positive.
    """
    w = -0.5 * (b + np.copysign(np.sqrt(b * b - 4.0 * a * c), b))
    roots = np.stack([w / a, c / w])
    usable = np.isfinite(roots) & (roots > 0.0)
    first: Floats = np.where(usable, roots, np.inf).min(axis=(0, 1))
    return first


def _falls_to_zero(
    height: Floats,
    above: Floats,
    slope: Floats,
    lag: Floats,
    left: Floats,
) -> Floats:
    """Hours until a lagged height reaches 0 from above; inf if not within ``left`` hours.

    The height follows ``above + slope t`` and turns at most once, so a crossing lies before a
    lowest and after a highest point, where the course is monotone and can be halved safely.
    """
    hours = np.full_like(height, np.inf)
    pull = height - above + slope * lag
    turn = lag * np.log(pull / (slope * lag))
    turns = (turn > 0.0) & (turn < left)  # NaN does not
    high = np.where(turns & (slope > 0.0), turn, left)
    lowest = above + slope * (high - lag) + pull * np.exp(-high / lag)
    crosses = np.flatnonzero(lowest < 0.0)
    if not crosses.size:
        return hours
    low = np.where(turns & (slope < 0.0), turn, 0.0)[crosses]
    high, above, slope, lag, pull = (each[crosses] for each in (high, above, slope, lag, pull))
    # Newton from the end towards which the course bends never steps beyond the crossing.
    t = np.where(pull > 0.0, low, high)
    for _ in range(_NEWTON_STEPS):
        bend = pull * np.exp(-t / lag)
        further = (above + slope * (t - lag) + bend) / (slope - bend / lag)
        t = np.clip(t - further, low, high)
        if np.all(np.abs(further) <= _CLOSE * high):
            break
    hours[crosses] = t
    return hours
