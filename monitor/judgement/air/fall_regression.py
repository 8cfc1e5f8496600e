"""By how much the air will still fall tonight: a regression on what is known at the hour.

The slopes begin at those of open winters and move to this yard's own with every night that was
seen; the level belongs to the place and is learnt within a few nights.
"""

from typing import NamedTuple

import numpy as np

from monitor.judgement.air.grid import Floats

# What a fall is told from, in kelvin: the air above its dew point, above that of three hours
# before, and above its mean at this hour of past nights. Dry air falls far, and so does air that is
# warm for the place; what fell fast already goes on falling.
PREDICTORS = 3
_USUAL_SPREAD_K = np.array([5.0, 1.5, 6.0])
_SLOPE_NIGHTS = 30.0  # so many of a place's own nights move a slope halfway
_LEVEL_NIGHTS = 1.0  # and the level

# Slopes of the fall on those predictors, and their means, at hours after sunset: over seven open
# winters, their places weighed alike (``python -m tests.bench.winters.slopes``).
_HOURS = np.array([-6.0, -3.0, -1.0, 1.0, 3.0, 6.0, 9.0, 12.0])
_OUTDOORS = np.array(
    [
        [0.25, 0.01, 0.21, 7.8, 3.3, 0.0],
        [0.27, -0.02, 0.19, 9.2, 1.3, 0.0],
        [0.26, -0.12, 0.16, 8.5, -0.5, 0.0],
        [0.19, -0.19, 0.10, 6.3, -2.5, 0.0],
        [0.16, -0.09, 0.07, 5.2, -2.2, 0.0],
        [0.14, -0.04, 0.05, 4.4, -1.0, 0.0],
        [0.09, -0.14, 0.04, 4.0, -0.7, 0.0],
        [0.04, -0.04, 0.02, 3.7, -0.5, 0.0],
    ]
)
_INDOORS = np.array(
    [
        [0.14, -0.68, 0.13, 5.5, 1.0, 0.0],
        [0.17, -0.43, 0.12, 6.9, 1.4, 0.0],
        [0.18, -0.39, 0.11, 7.4, 1.0, 0.0],
        [0.18, -0.76, 0.09, 7.1, 0.1, 0.0],
        [0.13, -1.02, 0.05, 6.6, -0.7, 0.0],
        [0.09, -0.77, 0.02, 5.9, -0.9, 0.0],
        [0.06, -0.58, 0.01, 5.4, -0.7, 0.0],
        [0.02, -0.38, 0.00, 5.0, -0.6, 0.0],
    ]
)


class FallPrior(NamedTuple):
    """What is known of a space's falls before its first night, at one hour of the night."""

    fall_k: float  # on an evening with the usual predictors
    slopes: Floats  # (PREDICTORS,)
    usual_k: Floats  # (PREDICTORS,) the usual predictors


def fall_prior(after_sunset_h: float, fall_k: float, *, outdoors: bool, share: float) -> FallPrior:
    """Prior of the fall from an hour of the night on.

    Parameters
    ----------
    after_sunset_h : float
        Hours after sunset; before it minus.
    fall_k : float
        The usual fall from then on [K].
    outdoors : bool
        Whether it is out of doors; else behind walls.
    share : float
        How much of the slopes counts: a heated space falls by little of what a cold one does.
    """
    table = _OUTDOORS if outdoors else _INDOORS
    row = np.array([np.interp(after_sunset_h, _HOURS, column) for column in table.T])
    return FallPrior(fall_k, share * row[:PREDICTORS], row[PREDICTORS:])


def expect_fall(prior: FallPrior, predictors_k: Floats, falls_k: Floats, now_k: Floats) -> float:
    """Expect a fall from the predictors now and from past nights with theirs [K].

    Parameters
    ----------
    prior : FallPrior
    predictors_k : ndarray, shape (nights, PREDICTORS)
        NaN: not known, and counted as usual.
    falls_k : ndarray, shape (nights,)
    now_k : ndarray, shape (PREDICTORS,)

    Returns
    -------
    float
        Not below 0.
    """
    table = np.concatenate([predictors_k, now_k[None]])
    return float(_expected(prior, table, np.concatenate([falls_k, [np.nan]]))[-1])


def falls_expected_before(prior: FallPrior, predictors_k: Floats, falls_k: Floats) -> Floats:
    """What would have been expected of each night, from the nights before it only; (nights,)."""
    return _expected(prior, predictors_k, falls_k)


def _expected(prior: FallPrior, predictors_k: Floats, falls_k: Floats) -> Floats:
    """Ridge regression towards the prior, for every night from sums over the nights before it."""
    away_k = predictors_k - prior.usual_k
    rows = np.column_stack([np.ones(falls_k.size), np.where(np.isfinite(away_k), away_k, 0.0)])
    known = np.isfinite(falls_k)
    weigh = np.where(known, 1.0, 0.0)[:, None]
    over_k = np.where(known, falls_k, 0.0) - rows @ np.array([prior.fall_k, *prior.slopes])
    squares = rows[:, :, None] * rows[:, None, :] * weigh[..., None]
    products = rows * over_k[:, None] * weigh
    before, beside = (np.cumsum(each, axis=0) - each for each in (squares, products))
    before += np.diag([_LEVEL_NIGHTS, *(_SLOPE_NIGHTS * _USUAL_SPREAD_K**2)])
    moved = np.linalg.solve(before, beside[..., None])[..., 0]
    moved += np.array([prior.fall_k, *prior.slopes])
    expected: Floats = np.maximum((rows * moved).sum(axis=1), 0.0)
    return expected
