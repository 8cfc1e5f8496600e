"""When does this bay reach a temperature? Heat loss of a space over arrays, and its fit.

A space without heat follows the outside air with one time constant, as a body does
(`monitor.physics.lag`). With steady heat it follows the outside air plus ``lift_k``. Concrete
floors add a slower one: the first hours fall fast, so fit from the third hour on.
"""

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats
from monitor.physics.kinds import FLOOR_H
from monitor.physics.lag import GAP_H, hours_to_cool, lag_response, lag_step
from monitor.physics.lag_fit import LagFit, fit_lag

_PARTS = np.arange(1, 1025) / 1024.0  # of a step, each tried at once
_NARROWINGS = 4  # to 1e-12 of the step


def cooled_to(
    inside_c: ArrayLike,
    outside_c: ArrayLike,
    hours: ArrayLike,
    lag_h: ArrayLike,
    lift_k: ArrayLike = 0.0,
) -> Floats:
    """Temperature of a space after some hours of steady weather [°C].

    Parameters
    ----------
    inside_c, outside_c : array_like
        Now [°C].
    hours : array_like
        From now [h].
    lag_h : array_like
        Time constant of the space [h], above 0.
    lift_k : array_like
        What the heat still running holds it above outside in the long run [K].
    """
    target = np.asarray(outside_c, dtype=np.float64) + np.asarray(lift_k)
    return lag_step(inside_c, target, target, hours, lag_h)


def hours_to_reach(
    target_c: ArrayLike,
    inside_c: ArrayLike,
    outside_c: ArrayLike,
    lag_h: ArrayLike,
    lift_k: ArrayLike = 0.0,
) -> Floats:
    """Hours until a space has cooled to a temperature in steady weather.

    Parameters as for `cooled_to`. 0 if it is there already, inf if it never gets there.
    """
    end = np.asarray(outside_c, dtype=np.float64) + np.asarray(lift_k)
    return hours_to_cool(target_c, inside_c, end, lag_h)


def time_of_reaching(
    target_c: float,
    hours: ArrayLike,
    outside_c: ArrayLike,
    inside_c: ArrayLike,
    lag_h: ArrayLike,
    lift_k: float = 0.0,
) -> Floats:
    """First time at which a space has cooled to a temperature under a forecast.

    Parameters
    ----------
    target_c : float
        Temperature asked for [°C].
    hours : array_like, shape (n,)
        Times of the forecast [h], rising.
    outside_c : array_like, shape (n,)
        Outside air, straight between the times [°C].
    inside_c : array_like, scalar or shape (m,)
        Of the space at the first time [°C].
    lag_h : array_like, scalar or shape (m,)
        Time constants [h]; give the short and the long end of the fit for a range.
    lift_k : float
        From heat that keeps running [K].

    Returns
    -------
    ndarray of float64, scalar or shape (m,)
        Time on the axis of ``hours``, exact within the step; inf if not within the forecast,
        NaN if a gap of more than 2 h comes first.
    """
    times = np.asarray(hours, dtype=np.float64)
    outside = np.asarray(outside_c, dtype=np.float64) + lift_k
    lags = np.asarray(lag_h, dtype=np.float64)
    inside = lag_response(times, outside, np.atleast_1d(lags), inside_c, GAP_H).body_c
    reached = np.full(inside.shape[0], np.inf)
    gaps = np.flatnonzero((np.diff(times) > GAP_H) | np.isnan(outside[1:]) | np.isnan(outside[:-1]))
    end = int(gaps[0]) + 1 if gaps.size else times.size
    for row, lag in enumerate(np.atleast_1d(lags)):
        below = np.flatnonzero(inside[row, :end] <= target_c)
        if not below.size:
            reached[row] = np.nan if gaps.size else np.inf
        elif below[0] == 0:
            reached[row] = times[0]
        else:
            i = int(below[0])
            low, high = 0.0, times[i] - times[i - 1]
            slope = (outside[i] - outside[i - 1]) / high
            for _ in range(_NARROWINGS):
                tried = low + (high - low) * _PARTS
                there = (
                    lag_step(
                        inside[row, i - 1],
                        outside[i - 1],
                        outside[i - 1] + slope * tried,
                        tried,
                        lag,
                    )
                    <= target_c
                )
                there[-1] = True  # by which the step was chosen
                first = int(np.argmax(there))
                low, high = (tried[first - 1] if first else low), tried[first]
            reached[row] = times[i - 1] + high
    return reached[0] if lags.ndim == 0 else reached


def lag_of_two_readings(
    first_c: ArrayLike, second_c: ArrayLike, outside_c: ArrayLike, hours: ArrayLike
) -> Floats:
    """Time constant of a space from two readings while it cooled in steady weather [h].

    NaN where the second is not between the outside air and the first.
    """
    outside = np.asarray(outside_c, dtype=np.float64)
    first = np.asarray(first_c, dtype=np.float64) - outside
    second = np.asarray(second_c, dtype=np.float64) - outside
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = first / second
        lag = np.asarray(hours, dtype=np.float64) / np.log(ratio)
    fitted: Floats = np.where(ratio > 1.0, lag, np.nan)[()]
    return fitted


def fit_space(
    hours: ArrayLike, outside_c: ArrayLike, inside_c: ArrayLike, skip_h: float = FLOOR_H
) -> LagFit:
    """Fit a space's time constant from readings with the heat off and the doors shut.

    Parameters
    ----------
    hours, outside_c, inside_c : array_like, shape (n,)
        Times since the heat stopped [h], temperatures [°C].
    skip_h : float
        Leaves out the first hours, which the floor's warmth bends.

    Returns
    -------
    LagFit
        Same least squares as for any lagged body: `monitor.physics.lag.fit_lag`.
    """
    times = np.asarray(hours, dtype=np.float64)
    late = times >= times[0] + skip_h if times.size else times > 0.0
    return fit_lag(times[late], np.asarray(outside_c)[late], np.asarray(inside_c)[late])
