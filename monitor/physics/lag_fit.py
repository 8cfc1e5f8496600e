"""A first-order lag learnt from readings of a body and of the air around it, with its error."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import Floats
from monitor.physics.lag import GAP_H, LagResponse, checked_series, lag_response

_FIT_LAGS_H = (0.02, 500.0)  # from sheet metal to a heavy building
_FIT_ROUNDS = 5  # each narrows the search about tenfold
_FIT_GRID = 41


class LagFit(NamedTuple):
    """A fitted time constant with its error.

    ``lag_h`` and its error are NaN where the series do not tell: too few pairs, air too steady,
    or a best value at the edge of what was searched (0.02 to 500 h).
    """

    lag_h: float
    standard_error_h: float
    residual_c: float  # root mean square of probe minus fit
    offset_c: float  # constant by which the probe reads above the lagged air; 0 unless fitted
    pairs: int


def fit_lag(
    hours: ArrayLike,
    air_c: ArrayLike,
    probe_c: ArrayLike,
    *,
    fit_offset: bool = False,
    gap_h: float = GAP_H,
) -> LagFit:
    """Fit the time constant of a body from paired readings of air and of a probe on it.

    Parameters
    ----------
    hours : array_like, shape (n,)
        Times [h], rising.
    air_c, probe_c : array_like, shape (n,)
        Temperatures [°C]; pairs with a NaN are left out.
    fit_offset : bool
        Also fit a constant difference, such as a warm floor or a sensor's own error.
    gap_h : float
        A longer pause starts a new stretch with its own start temperature [h].

    Returns
    -------
    LagFit

    Notes
    -----
    Least squares on the whole course, not on single steps: noise of the probe then widens the
    error but does not shorten the lag. Start temperatures (and offset) enter linearly and are
    solved for exactly at each trial lag. The standard error counts serially correlated
    residuals at what they are worth: n (1 - r) / (1 + r) independent ones, r their
    correlation from one reading to the next.
    """
    times, air = checked_series(hours, air_c)
    probe = np.asarray(probe_c, dtype=np.float64)
    if probe.shape != air.shape:
        raise ValueError(f"probe has shape {probe.shape}, air {air.shape}: one pair per time")
    both = np.isfinite(air) & np.isfinite(probe)
    times, air, probe = times[both], air[both], probe[both]
    stretch = np.concatenate([[0], np.cumsum(np.diff(times) > gap_h)]) if times.size else times
    unknowns = int(stretch[-1]) + 2 + int(fit_offset) if times.size else 0
    if times.size <= unknowns:
        return LagFit(np.nan, np.nan, np.nan, 0.0, int(times.size))

    def residuals(lags: Floats) -> tuple[Floats, Floats]:
        response = lag_response(times, air, lags, gap_h=gap_h)
        return _explain(probe, response, stretch.astype(int), fit_offset=fit_offset)

    low, high = np.log(_FIT_LAGS_H[0]), np.log(_FIT_LAGS_H[1])
    for _ in range(_FIT_ROUNDS):
        grid = np.linspace(low, high, _FIT_GRID)
        left, _ = residuals(np.exp(grid))
        best = int(np.argmin((left**2).sum(axis=1)))
        low, high = grid[max(best - 2, 0)], grid[min(best + 2, _FIT_GRID - 1)]
    lag = float(np.exp(grid[best]))
    spread = lag * np.array([0.999, 1.0, 1.001])
    left, offsets = residuals(spread)
    slope = (left[2] - left[0]) / (spread[2] - spread[0])
    rest = left[1]
    residual = float(np.sqrt(np.mean(rest**2)))
    steepness = float(np.sqrt((slope**2).sum()))
    inside = _FIT_LAGS_H[0] * 1.05 < lag < _FIT_LAGS_H[1] / 1.05
    if not inside or steepness < 1e-9:
        return LagFit(np.nan, np.nan, residual, float(offsets[1]), int(times.size))
    sigma = np.sqrt((rest**2).sum() / (times.size - unknowns) * error_redundancy(rest))
    return LagFit(lag, float(sigma / steepness), residual, float(offsets[1]), int(times.size))


def _explain(
    probe: Floats, response: LagResponse, stretch: NDArray[np.int_], *, fit_offset: bool
) -> tuple[Floats, Floats]:
    """Residuals of the probe for each lag, with starts and offset at their best, and offsets."""
    share = response.unknown_share
    first = np.flatnonzero(np.diff(stretch, prepend=-1))
    weight = np.add.reduceat(share**2, first, axis=1)

    def without_starts(values: Floats) -> Floats:
        """Take off what each stretch's own start temperature explains best."""
        best = np.add.reduceat(values * share, first, axis=1) / weight
        rest: Floats = values - best[:, stretch] * share
        return rest

    rest = without_starts(probe - response.body_c)
    if not fit_offset:
        return rest, np.zeros(share.shape[0])
    # What is left of a constant once the starts have had their part; of a very long lag nothing.
    level = without_starts(np.ones_like(rest))
    size = np.maximum((level**2).sum(axis=1), 1e-12)
    offsets = (rest * level).sum(axis=1) / size
    return rest - offsets[:, None] * level, offsets


def error_redundancy(residuals: Floats) -> float:
    """How many correlated residuals weigh as much as one independent one; at least 1."""
    spread = float((residuals**2).sum())
    if spread == 0.0:
        return 1.0
    r = float((residuals[1:] * residuals[:-1]).sum()) / spread
    r = min(max(r, 0.0), 0.99)
    return (1.0 + r) / (1.0 - r)
