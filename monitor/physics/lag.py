"""How a body follows the air: the first-order lag over uneven steps and gaps.

    d(body)/dt = (air - body) / lag

Between two readings the air runs straight, and for that the step is exact at any spacing:
no stability limit, nothing to tune.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import BLOCK, Floats

GAP_H = 2.0  # longest pause between readings over which air may be taken as straight
_EVEN_H = 1e-9  # steps that differ by less are one and the same
_NOTHING = 1e-18  # a share of the start that no digit shows any more
_MANY = 192  # bodies: from so many on a call a reading costs less than log2(n) passes over all


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
    times, air = checked_series(hours, air_c, each_its_own=True)
    lags = _lags(lag_h)
    one = lags.ndim == 0 and air.ndim == 1
    air = np.atleast_2d(air)
    m = np.broadcast_shapes(lags.shape, air.shape[:1])[0]
    column = np.broadcast_to(lags, m)[:, None]
    start = None if start_c is None else np.broadcast_to(np.asarray(start_c, np.float64), m)
    if m >= _MANY and air.shape[0] == m and np.isfinite(air).all():
        return _follow_many(times, air, column[:, 0], start, gap_h)
    body = np.full((m, times.size), np.nan)
    share = np.ones_like(body)
    for seen, series in columns_known_together(np.isfinite(air)):
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
    times, air = checked_series(hours, air_c)
    seen = np.flatnonzero(np.isfinite(air))
    if not seen.size:
        return int(times.size)
    gaps = np.flatnonzero(np.diff(times[seen]) > gap_h)
    return int(seen[gaps[-1] + 1] if gaps.size else seen[0])


def air_at_restart(hours: ArrayLike, air_c: ArrayLike, gap_h: float = GAP_H) -> Floats:
    """Air [°C] with which the unbroken stretch of each reading began: what its body is guessed by.

    Parameters as for `lag_response`, of one series. NaN where there is no reading.
    """
    times, air = checked_series(hours, air_c)
    found = np.full(times.size, np.nan)
    seen = np.flatnonzero(np.isfinite(air))
    if seen.size:
        began = np.zeros(seen.size, dtype=np.intp)
        after = np.flatnonzero(np.diff(times[seen]) > gap_h) + 1
        began[after] = after
        found[seen] = air[seen[np.maximum.accumulate(began)]]
    return found


def _lags(lag_h: ArrayLike) -> Floats:
    lags = np.asarray(lag_h, dtype=np.float64)
    if not np.all(lags > 0.0):
        raise ValueError(f"time constant {lags} h: it must be above 0")
    return lags


def checked_series(
    hours: ArrayLike, air_c: ArrayLike, *, each_its_own: bool = False
) -> tuple[Floats, Floats]:
    """Hours [h] (n,) that rise, and air [°C] of that shape or, each its own, (rows, n).

    Raises
    ------
    ValueError
        If the shapes differ, or the hours do not rise.
    """
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


def _follow_many(
    times: Floats, air: Floats, lag_h: Floats, start_c: Floats | None, gap_h: float
) -> LagResponse:
    """As `_follow`, reading by reading: the arrays have a row a reading until they are returned."""
    body, share = np.empty((2, times.size, air.shape[0]))
    body[0] = air[:, 0] if start_c is None else start_c
    share[0] = start_c is None
    step_h = np.nan
    over = np.empty(lag_h.size)
    under = np.ascontiguousarray(air.T)
    for n in range(1, times.size):
        if not abs(times[n] - times[n - 1] - step_h) < _EVEN_H:
            step_h = float(times[n] - times[n - 1])
            kept, ramp = step_weights(step_h, lag_h)
            begins = 1.0 - kept - ramp
        here = body[n]
        if step_h > gap_h:
            here[:], share[n] = under[n], 1.0
            continue
        np.multiply(under[n - 1], begins, out=here)
        here += np.multiply(under[n], ramp, out=over)
        here += np.multiply(body[n - 1], kept, out=over)
        np.multiply(share[n - 1], kept, out=share[n])
    return LagResponse(body.T, share.T)


def columns_known_together(
    known: NDArray[np.bool_],
) -> list[tuple[NDArray[np.bool_], NDArray[np.int_]]]:
    """Series that are known at the same times, as those times and the series' numbers."""
    alike: dict[bytes, list[int]] = {}
    for row, seen in enumerate(known):
        alike.setdefault(seen.tobytes(), []).append(row)
    return [(known[rows[0]], np.array(rows)) for rows in alike.values() if known[rows[0]].any()]
