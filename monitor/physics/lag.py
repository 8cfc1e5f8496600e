"""How a body follows the air: the first-order lag over uneven steps and gaps, and its fit.

    d(body)/dt = (air - body) / lag

Between two readings the air runs straight, and for that the step is exact at any spacing:
no stability limit, nothing to tune.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import BLOCK, Floats

GAP_H = 2.0  # longest pause between readings over which air may be taken as straight
_FIT_LAGS_H = (0.02, 500.0)  # from sheet metal to a heavy building
_FIT_ROUNDS = 5  # each narrows the search about tenfold
_FIT_GRID = 41
_EVEN_H = 1e-9  # steps that differ by less are one and the same
_NOTHING = 1e-18  # a share of the start that no digit shows any more


class LagResponse(NamedTuple):
    """A body's temperature, and how much of it is still a guess.

    ``unknown_share`` is the weight that the unknown start still has in ``body_c``: 1 at a
    start or restart, falling as exp(-elapsed / lag). If the body may have been x kelvin away
    from the air when the readings began, ``body_c`` is uncertain by ``unknown_share * x``.
    """

    body_c: Floats
    unknown_share: Floats

    def where_known(self, largest_share: float = 0.1) -> Floats:
        """Body temperature [°C], NaN while more than ``largest_share`` of it is a guess."""
        return np.where(self.unknown_share <= largest_share, self.body_c, np.nan)


def lag_step(
    body_c: ArrayLike,
    air_from_c: ArrayLike,
    air_to_c: ArrayLike,
    step_h: ArrayLike,
    lag_h: ArrayLike,
) -> Floats:
    """Advance a body by one step while the air runs straight from one value to another.

    Parameters
    ----------
    body_c, air_from_c, air_to_c : array_like
        Temperatures [°C] at the start of the step, and of the air at its end.
    step_h : array_like
        Length of the step [h], 0 or more.
    lag_h : array_like
        Time constant [h], above 0.

    Returns
    -------
    ndarray of float64, the broadcast shape
        Body temperature [°C] at the end of the step.

    Raises
    ------
    ValueError
        If a time constant is not above 0.
    """
    kept, ramp = step_weights(step_h, lag_h)
    start = np.asarray(body_c, dtype=np.float64)
    air_from = np.asarray(air_from_c, dtype=np.float64)
    air_to = np.asarray(air_to_c, dtype=np.float64)
    end: Floats = kept * start + (1.0 - kept) * air_from + ramp * (air_to - air_from)
    return end


def step_weights(step_h: ArrayLike, lag_h: ArrayLike) -> tuple[Floats, Floats]:
    """Shares of a step: what a body keeps of its start, and takes up of a straight rise of the air.

    Parameters, errors and shape as for `lag_step`, which adds them up.
    """
    ratio = np.asarray(step_h, dtype=np.float64) / _lags(lag_h)
    return np.exp(-ratio), _ramp(ratio)


def hours_to_cool(
    target_c: ArrayLike, body_c: ArrayLike, air_c: ArrayLike, lag_h: ArrayLike
) -> Floats:
    """Hours until a body in air of constant temperature has cooled to a temperature.

    Parameters
    ----------
    target_c, body_c, air_c : array_like
        Temperature asked for, of the body now, and of the air [°C].
    lag_h : array_like
        Time constant [h], above 0.

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 if the body is there already, inf if the air is too warm for it ever to get there.

    Raises
    ------
    ValueError
        If a time constant is not above 0.
    """
    lag = _lags(lag_h)
    target, body, air = (np.asarray(each, dtype=np.float64) for each in (target_c, body_c, air_c))
    with np.errstate(invalid="ignore", divide="ignore"):
        cooling = lag * np.log((body - air) / (target - air))
    hours = np.where(body <= target, 0.0, np.where(air >= target, np.inf, cooling))
    known: Floats = np.where(np.isnan(target + body + air), np.nan, hours)[()]
    return known


def lag_response(
    hours: ArrayLike,
    air_c: ArrayLike,
    lag_h: ArrayLike,
    start_c: ArrayLike | None = None,
    gap_h: float = GAP_H,
) -> LagResponse:
    """Temperature of bodies that follow the air with a lag, along a series of readings.

    Parameters
    ----------
    hours : array_like, shape (n,)
        Times of the readings [h], rising; spacing may be uneven.
    air_c : array_like, shape (n,) or (m, n)
        Air temperature [°C], one series for all bodies or each one's own. NaN: no reading then.
    lag_h : array_like, scalar or shape (m,)
        Time constants [h], above 0.
    start_c : array_like, scalar or shape (m,), optional
        Body temperature at the first reading, if it is known. None: it starts as the air's own
        and counts as a guess.
    gap_h : float
        Longest pause between readings that is bridged [h].

    Returns
    -------
    LagResponse
        ``body_c`` and ``unknown_share``, each of shape (n,) for a scalar lag and one series, else
        (m, n). Where the air is NaN the body is NaN and the share 1.

    Raises
    ------
    ValueError
        If hours do not rise, shapes differ, or a lag is not above 0.

    Notes
    -----
    What the air did in a gap longer than ``gap_h`` is not known, so neither is the body: it
    restarts at the air's value with a share of 1. The guess fades by itself, to a tenth in
    2.3 lags; nothing is interpolated over the gap.
    """
    times, air = _series(hours, air_c, each_its_own=True)
    lags = _lags(lag_h)
    one = lags.ndim == 0 and air.ndim == 1
    air = np.atleast_2d(air)
    m = np.broadcast_shapes(lags.shape, air.shape[:1])[0]
    column = np.broadcast_to(lags, m)[:, None]
    start = None if start_c is None else np.broadcast_to(np.asarray(start_c, np.float64), m)
    body = np.full((m, times.size), np.nan)
    share = np.ones_like(body)
    for seen, series in _known_alike(np.isfinite(air)):
        rows = np.arange(m) if air.shape[0] == 1 else series
        block = max(BLOCK // times.size, 1)
        for begin in range(0, rows.size, block):
            few = rows[begin : begin + block]
            under = air if air.shape[0] == 1 else air[few]
            at = few if seen.all() else np.ix_(few, seen)
            body[at], share[at] = _follow(
                times[seen],
                under[:, seen],
                column[few],
                None if start is None else start[few],
                gap_h,
            )
    return LagResponse(body[0], share[0]) if one else LagResponse(body, share)


def unbroken_from(hours: ArrayLike, air_c: ArrayLike, gap_h: float = GAP_H) -> int:
    """Index of the first reading after the last gap: what follows is one unbroken series.

    Parameters as for `lag_response`. Readings that are NaN count as absent. Returns n if there
    is no reading at all.
    """
    times, air = _series(hours, air_c)
    seen = np.flatnonzero(np.isfinite(air))
    if not seen.size:
        return int(times.size)
    gaps = np.flatnonzero(np.diff(times[seen]) > gap_h)
    return int(seen[gaps[-1] + 1] if gaps.size else seen[0])


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
    times, air = _series(hours, air_c)
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


def _lags(lag_h: ArrayLike) -> Floats:
    lags = np.asarray(lag_h, dtype=np.float64)
    if not np.all(lags > 0.0):
        raise ValueError(f"time constant {lags} h: it must be above 0")
    return lags


def _series(
    hours: ArrayLike, air_c: ArrayLike, *, each_its_own: bool = False
) -> tuple[Floats, Floats]:
    times = np.asarray(hours, dtype=np.float64)
    air = np.asarray(air_c, dtype=np.float64)
    fits = air.shape == times.shape or (each_its_own and air.shape[1:] == times.shape)
    if times.ndim != 1 or not fits:
        raise ValueError(f"hours {times.shape} and air {air.shape}: both must be one series (n,)")
    if not np.all(np.diff(times) > 0.0):
        raise ValueError("hours must rise from reading to reading, without NaN")
    return times, air


def _ramp(ratio: Floats) -> Floats:
    """Share of a straight rise of the air that reaches the body: 1 - (1 - e^-x) / x."""
    small = ratio < 1e-5  # there the difference of two near numbers would lose its digits
    safe = np.where(small, 1.0, ratio)
    share: Floats = np.where(small, ratio / 2.0, 1.0 + np.expm1(-safe) / safe)
    return share


def _known_alike(known: NDArray[np.bool_]) -> list[tuple[NDArray[np.bool_], NDArray[np.int_]]]:
    """Series that are known at the same times, as those times and the series' numbers."""
    alike: dict[bytes, list[int]] = {}
    for row, seen in enumerate(known):
        alike.setdefault(seen.tobytes(), []).append(row)
    return [(known[rows[0]], np.array(rows)) for rows in alike.values() if known[rows[0]].any()]


def _follow(
    times: Floats, air: Floats, lags: Floats, start_c: Floats | None, gap_h: float
) -> tuple[Floats, Floats]:
    """Run the recurrence body[i] = kept[i] * body[i-1] + gained[i] for all rows at once."""
    steps = np.diff(times)
    gaps = np.flatnonzero(steps > gap_h)
    even = steps.size > 0 and not gaps.size and np.ptp(steps) < _EVEN_H
    ratio = (steps[:1] if even else steps) / lags  # of an even series one value a body
    kept = np.exp(-ratio)
    gained = np.empty((lags.shape[0], times.size))
    gained[:, 1:] = (1.0 - kept) * air[:, :-1] + _ramp(ratio) * np.diff(air)
    gained[:, 0] = air[:, 0] if start_c is None else start_c
    began = np.zeros(times.size, dtype=int)
    if gaps.size:
        kept[:, gaps] = 0.0
        gained[:, gaps + 1] = air[:, gaps + 1]
        began[gaps + 1] = gaps + 1
        began = np.maximum.accumulate(began)
    share = np.exp(-(times - times[began]) / lags)
    if start_c is not None:
        share[:, began == 0] = 0.0
    # Steps compose: (k1, g1) then (k2, g2) is (k1 k2, k2 g1 + g2). Doubling the reach of every
    # step covers n readings in log2(n) passes over the array instead of n calls.
    reach = 1
    while reach < times.size and kept.size and kept.max() > _NOTHING:
        gained[:, reach:] += kept * gained[:, :-reach]
        kept = kept * kept if even else kept[:, reach:] * kept[:, :-reach]
        reach *= 2
    return gained, share


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
