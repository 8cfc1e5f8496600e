"""A space without heat over a slow floor: two nodes in a row, followed and fitted.

    d(inside)/dt = ((1 - share) outside + share floor + lift - inside) / lag
    d(floor)/dt  = (inside - floor) / floor_lag

The smallest of the models by which buildings are identified that has a store of heat beside the
air (two states: Bacher & Madsen 2011, Energy and Buildings 43, 1511). The floor is driven by the
air above it, which is measured, so its past is known wherever the space's own air is.

How slow a floor may be follows from what weather reaches of it. A wave of period P reaches
sqrt(a P / pi) into ground of 1.5 to 3.5 W/(m K) and 2 to 3 MJ/(m3 K) (ISO 13370, from memory), and
heat passes to the air at 1 / 0.17 W/(m2 K) (ISO 6946, downwards, from memory): a bare slab of
0.15 m makes 17 h, weather of five days 35 h, of two weeks 60 h, of two months 120 h.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats
from monitor.physics.lag import lag_response, step_weights
from monitor.physics.lag_fit import error_redundancy

FLOOR_LAGS_H = np.array([17.0, 26.0, 40.0, 60.0, 90.0, 130.0])
UNSEEN_SHARE = 0.1  # of a floor's beginning may still be a guess at the end
_LAGS_H = (0.2, 80.0)  # of the air, as searched: sheet metal to stone
_GRID = 17
_ROUNDS = 3  # each narrows the search about fivefold
_EVEN_H = 1e-9  # steps that differ by less are one and the same
_TURN = 0.01  # of the logarithm of a lag, by which its effect is told


class FloorFit(NamedTuple):
    """A space over its floor as readings show it; NaN throughout where they do not tell."""

    lag_h: float  # of the air behind what drives it
    floor_lag_h: float  # of the floor behind the air
    share: float  # of the floor in what drives the air; below 0 where there is no sign of one
    share_error: float  # standard error, serially correlated residuals at what they are worth
    residual_c: float  # root mean square of readings minus fit


_UNKNOWN = FloorFit(np.nan, np.nan, np.nan, np.nan, np.nan)


def fit_floor(
    hours: ArrayLike,
    outside_c: ArrayLike,
    inside_c: ArrayLike,
    lag_h: float | None = None,
    gap_h: float = 2.0,
) -> FloorFit:
    """Fit both lags and the floor's share to one unbroken stretch of paired readings.

    Parameters
    ----------
    hours : array_like, shape (n,)
        Times [h], rising, with no pause longer than ``gap_h``.
    outside_c, inside_c : array_like, shape (n,)
        Air temperatures [°C], all known.
    lag_h : float, optional
        The air's lag where it is known [h].
    gap_h : float
        Over which the air is taken as straight [h].

    Returns
    -------
    FloorFit
        NaN where the stretch is too short for the quickest floor (2.3 of its lags), or holds fewer
        readings than three times the unknowns.

    Notes
    -----
    Least squares on the whole course. A constant, both starts and the share enter linearly and are
    solved for at each pair of lags; the share's error allows for what the air's lag may be instead.
    """
    times, outside, inside = (
        np.asarray(each, dtype=np.float64) for each in (hours, outside_c, inside_c)
    )
    if times.size < 15 or np.diff(times).max() > gap_h:
        return _UNKNOWN
    span_h = float(times[-1] - times[0])
    floors_h = FLOOR_LAGS_H[np.exp(-span_h / FLOOR_LAGS_H) <= UNSEEN_SHARE]
    if not floors_h.size:
        return _UNKNOWN
    trial = _Trial(times, outside, inside, floors_h, gap_h)
    low, high = np.log(_LAGS_H if lag_h is None else (lag_h, lag_h))
    low, high = np.full(floors_h.size, low), np.full(floors_h.size, high)
    each = np.arange(floors_h.size)
    for _ in range(_ROUNDS if lag_h is None else 1):
        grid = np.linspace(low, high, _GRID if lag_h is None else 1, axis=1)
        squares = trial.squares(np.exp(grid))
        at = squares.argmin(axis=1)
        low = grid[each, np.maximum(at - 2, 0)]
        high = grid[each, np.minimum(at + 2, grid.shape[1] - 1)]
    best = int(np.argmin(squares[each, at]))
    lag = float(np.exp(grid[best, at[best]]))
    share, error, residual = trial.share_of(best, lag, lag_is_known=lag_h is not None)
    return FloorFit(lag, float(floors_h[best]), share, error, residual)


class _Trial:
    """Several floors' lags, each tried with several of the air's, all at once."""

    def __init__(
        self, times: Floats, outside: Floats, inside: Floats, floors_h: Floats, gap_h: float
    ) -> None:
        self._times, self._inside = times, inside
        floor = lag_response(times, inside, floors_h, gap_h=gap_h)
        beyond = np.broadcast_to(outside, floor.body_c.shape)
        self._drives = np.stack([beyond, floor.body_c - beyond, floor.unknown_share])

    def squares(self, lags_h: Floats) -> Floats:
        """Sum of squares of each floor at each of its lags of the air; (floors, lags) as they."""
        columns = _columns(self._times, self._drives, lags_h)
        rest, of = self._inside[:, None, None] - columns[:, 0], columns[:, 1:]
        among = np.einsum("nifl,njfl->flij", of, of)
        with_rest = np.einsum("nifl,nfl->fli", of, rest)
        inverse = np.linalg.pinv(among, rcond=1e-12, hermitian=True)
        found = np.einsum("flij,flj->ifl", inverse, with_rest)
        for size, column in zip(found, of.swapaxes(0, 1), strict=True):
            rest -= size * column
        sums: Floats = np.einsum("nfl,nfl->fl", rest, rest)
        return sums

    def share_of(self, floor: int, lag_h: float, *, lag_is_known: bool) -> tuple[float, ...]:
        """A floor's share, its standard error, and the root mean square left [K]."""
        columns, found, left = self._solved(floor, lag_h)
        if not lag_is_known:
            turned, _, _ = self._solved(floor, lag_h * np.exp(_TURN))
            follows = (turned[0] - columns[0]) + (turned[1:] - columns[1:]).T @ found
            columns = np.vstack([columns, follows / _TURN])
        free = max(left.size - columns.shape[0] + 1, 1)
        variance = float((left**2).sum()) / free * error_redundancy(left)
        # Of columns that say the same, or nothing, the error is as large as it may be.
        inverse = np.linalg.pinv(columns[1:] @ columns[1:].T, rcond=1e-12)
        return (
            float(found[0]),
            float(np.sqrt(variance * inverse[0, 0])),
            float(np.sqrt((left**2).mean())),
        )

    def _solved(self, floor: int, lag_h: float) -> tuple[Floats, Floats, Floats]:
        """The columns at one lag, their sizes but for the first, and what they leave."""
        drives = self._drives[:, floor : floor + 1]
        columns = _columns(self._times, drives, np.array([[lag_h]]))[:, :, 0, 0].T
        found, *_ = np.linalg.lstsq(columns[1:].T, self._inside - columns[0], rcond=None)
        left: Floats = self._inside - columns[0] - columns[1:].T @ found
        return columns, found, left


def _columns(times: Floats, drives: Floats, lags_h: Floats) -> Floats:
    """The air without a floor, the floor's share, both starts and a constant, at each lag.

    Of drives (3, floors, n) and lags (floors, lags) it is (n, 5, floors, lags). All lags take each
    step of time in two calls, which is cheaper than all steps of one lag after another.
    """
    steps = np.diff(times)
    even = np.ptp(steps) < _EVEN_H
    kept, ramp = step_weights((steps[:1] if even else steps)[:, None, None, None], lags_h)
    drive = np.moveaxis(drives, -1, 0)[..., None]
    columns = np.empty((times.size, 5, *lags_h.shape))
    body = columns[:, :3]
    body[0] = 0.0
    np.multiply(1.0 - kept, drive[:-1], out=body[1:])
    body[1:] += ramp * np.diff(drive, axis=0)
    count = body[0].size
    rows = columns.reshape(times.size, -1)[:, :count]
    kept = np.broadcast_to(kept, (kept.shape[0], *body.shape[1:])).reshape(-1, count)
    left, before = np.empty(count), rows[0]
    for n in range(steps.size):
        np.multiply(before, kept[0 if even else n], out=left)
        before = rows[n + 1]
        before += left
    columns[:, 3] = np.exp(-(times - times[0])[:, None, None] / lags_h)
    columns[:, 4] = 1.0
    return columns


def follow_over_floor(
    inside_c: ArrayLike,
    floor_c: ArrayLike,
    outside_c: Floats,
    step_h: Floats,
    lag_h: float,
    floor_lag_h: float,
    shares: tuple[float, float],
    lift_k: float = 0.0,
) -> tuple[Floats, Floats]:
    """Air of a space over its floor, under outdoor air that runs straight from step to step.

    Parameters
    ----------
    inside_c, floor_c : array_like, scalar or shape (k,)
        At the beginning [°C].
    outside_c : ndarray, shape (m + 1,) or (k, m + 1)
        At the beginning and after each step [°C].
    step_h : ndarray, shape (m,)
        Length of each [h]; short beside both lags.
    lag_h, floor_lag_h : float
    shares : (float, float)
        Of the floor in what drives the air: while it is warmer than outdoors, and while colder.
    lift_k : float
        What else holds the air above what drives it [K].

    Returns
    -------
    (ndarray, ndarray), each of shape (m,) or (k, m)
        Of the air and of the floor after each step [°C].
    """
    shape = np.broadcast_shapes(np.shape(inside_c), outside_c.shape[:-1])
    inside, floor = (
        np.broadcast_to(np.asarray(each, np.float64), shape) for each in (inside_c, floor_c)
    )
    air, ground = (np.empty((*shape, step_h.size)) for _ in range(2))
    kept, ramp = step_weights(step_h, lag_h)
    floor_kept, floor_ramp = step_weights(step_h, floor_lag_h)
    for n in range(step_h.size):
        outside = outside_c[..., n : n + 2]
        over = floor[..., None] - outside
        driven = outside + np.where(over > 0.0, *shares) * over + lift_k
        rise = driven[..., 1] - driven[..., 0]
        now = kept[n] * inside + (1.0 - kept[n]) * driven[..., 0] + ramp[n] * rise
        followed = (1.0 - floor_kept[n]) * inside + floor_ramp[n] * (now - inside)
        floor = floor_kept[n] * floor + followed
        inside = now
        air[..., n], ground[..., n] = inside, floor
    return air, ground
