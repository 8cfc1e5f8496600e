"""Tonight's low from past nights and a public forecast, weighed by how each has done here.

What comes out are equally likely lows: the expected one less an error, of those that the same
forecast made on past nights here, and of a prior that stands for nights nobody has seen yet.
"""

from dataclasses import dataclass, replace
from math import nan

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.ensemble import errors_of_lows
from monitor.judgement.air.fall_regression import FallPrior, expect_fall, falls_expected_before
from monitor.judgement.air.grid import Floats
from monitor.judgement.air.past_weeks import NightTable

FEWEST_ERRORS = 6  # nights on which a method was tried, before it is weighed by them
_UNTRIED_FALL = 0.5  # standard error of a usual fall, as a share of it (common practice, no source)
_UNTRIED_PUBLIC_K = 2.0  # of an agency's low at a place where it was never tried (likewise)
_PRIOR_NIGHTS = 3.0  # weight of these against nights on which a method was tried
_FEWEST_NIGHTS = 5  # before a night, for a forecast of it to count as tried
_LEAST_ERROR_K = 0.5  # no forecast is better than the sensors are right
_BIAS_NIGHTS = 14  # nights that tell a public forecast's bias here
_OWN, _PUBLIC = 0, 1  # rows: the yard's own nights, and a public forecast


@dataclass(frozen=True, slots=True, kw_only=True)
class LowForecast:
    """The low that is expected, equally likely ones around it, and how good such forecasts were.

    Errors are forecast minus outcome over past nights, each forecast from the nights before it
    only. NaN while too few nights are known.
    """

    low_c: float
    lows_c: Floats  # (members,) the coldest first
    error_k: float  # mean absolute
    persistence_error_k: float  # of "as low as last night", over the same nights
    checked: int  # nights behind those two
    nights: int  # nights known
    public_share: float = 0.0  # weight of the public forecast in it
    public_error_k: float = nan  # mean absolute error of that alone, once corrected for the place


@dataclass(frozen=True, slots=True, kw_only=True)
class PastErrors:
    """How the methods did on past nights of one space, seen from one hour of the night."""

    weights: Floats  # (methods,) inverse mean square error; not yet scaled to one
    errors_k: Floats  # (checked,) forecast minus outcome
    persistence_error_k: float  # mean absolute error of "as low as last night"
    public_error_k: float


def check_past_nights(table: NightTable, prior: FallPrior, *, public: bool = False) -> PastErrors:
    """Errors of the forecasts that would have been made of every past night.

    Parameters
    ----------
    table : NightTable
    prior : FallPrior
        What is assumed of falls while no night is known; how far off it may be counts until then.
    public : bool
        Whether a public forecast is at hand now. The errors are then those of nights when one was,
        as soon as there are enough of them; without one, of forecasts without.
    """
    if not public:
        table = replace(table, public_low_c=np.full_like(table.low_c, nan))
    past = _hindcast_lows(table, prior)
    weights = _method_weights(past, table.low_c, prior.fall_k)
    blended = np.minimum(_weighted_low(past, weights), table.air_c)
    tried = np.isfinite(blended)
    mixed = tried & np.isfinite(past[_PUBLIC])
    public_error_k = np.abs(past[_PUBLIC] - table.low_c)[mixed]
    if mixed.sum() >= FEWEST_ERRORS:
        tried = mixed
    return PastErrors(
        weights=weights,
        errors_k=(blended - table.low_c)[tried],
        persistence_error_k=_persistence_error(table, tried),
        public_error_k=float(public_error_k.mean()) if public_error_k.size else nan,
    )


def forecast_low(
    table: NightTable,
    record: PastErrors,
    air_c: float,
    predictors_k: Floats,
    prior: FallPrior,
    public_low_c: float = nan,
) -> LowForecast:
    """Forecast the low from the air now, as past nights went on from this hour.

    Parameters
    ----------
    table : NightTable
        Past nights, seen from the same hour of the night.
    record : PastErrors
        How that went before, to the nearest hour.
    air_c : float
        Now [°C].
    predictors_k : ndarray, shape (PREDICTORS,)
        What the fall is told from, now; NaN where not known.
    prior : FallPrior
        What is assumed of falls while no night is known.
    public_low_c : float
        What a public agency expects until the noon after [°C]; NaN: not known.

    Returns
    -------
    LowForecast

    Notes
    -----
    Two methods, weighed by the inverse of their mean square error on past nights: a regression of
    the fall (`fall_regression`), and a public forecast less its own mean error of the last two
    weeks at this very place. Over seven open winters, at 16 h, the regression errs by 0.72 of what
    last night's low does (``python -m tests.bench.winters``).
    """
    falls_k = table.air_c - table.low_c
    own_c = air_c - expect_fall(prior, table.predictors_k, falls_k, predictors_k)
    now = np.array([own_c, public_low_c - _public_bias(table)])
    weights = np.where(np.isfinite(now), record.weights, 0.0)
    weights /= weights.sum()
    low = min(float(np.nansum(weights * now)), air_c)
    public_share = float(weights[_PUBLIC])
    errors = record.errors_k
    usual_k = _usual_error(prior.fall_k, errors, public=bool(np.isfinite(now[_PUBLIC])))
    lows_c = np.minimum(low - errors_of_lows(errors, usual_k), air_c)
    checked = errors.size >= FEWEST_ERRORS
    return LowForecast(
        low_c=low,
        lows_c=lows_c,
        error_k=float(np.abs(errors).mean()) if checked else nan,
        persistence_error_k=record.persistence_error_k if checked else nan,
        checked=int(errors.size),
        nights=len(table.evening),
        public_share=public_share,
        public_error_k=record.public_error_k if checked else nan,
    )


def _public_bias(table: NightTable) -> float:
    """By how much the agency is usually too warm here [K]: a yard may lie in a cold hollow."""
    errors = (table.public_low_c - table.low_c)[-_BIAS_NIGHTS:]
    known = errors[np.isfinite(errors)]
    return float(known.sum() / (known.size + 1.0))  # one night's weight of "it is right"


def _hindcast_lows(table: NightTable, prior: FallPrior) -> Floats:
    """Lows by each method for each past night, from the nights before it only."""
    air, low = table.air_c, table.low_c
    errors, issued = _sums_before(table.public_low_c - low)
    said = np.array(
        [
            air - falls_expected_before(prior, table.predictors_k, air - low),
            table.public_low_c - errors / (issued + 1.0),
        ]
    )
    said[:, :_FEWEST_NIGHTS] = np.nan
    return said


def _sums_before(values: Floats) -> tuple[Floats, Floats]:
    """Sum and number of the known ones among the two weeks of values before each."""
    known = np.isfinite(values)
    sums, counts = (
        np.concatenate([np.zeros(_BIAS_NIGHTS + 1), np.cumsum(each)])
        for each in (np.where(known, values, 0.0), known.astype(np.float64))
    )
    until, since = slice(_BIAS_NIGHTS, -1), slice(-_BIAS_NIGHTS - 1)
    return sums[until] - sums[since], counts[until] - counts[since]


def _method_weights(past: Floats, low_c: Floats, unseen_fall_k: float) -> Floats:
    """Inverse mean square of each method's errors, with what is usual as some nights more."""
    own = np.isfinite(past[_OWN]) & np.isfinite(low_c)
    squares = _PRIOR_NIGHTS * _untried_squares(unseen_fall_k)
    counts = np.full(past.shape[0], _PRIOR_NIGHTS)
    for method, said in enumerate(past):
        tried = own & np.isfinite(said)
        if tried.sum() >= FEWEST_ERRORS:
            squares[method] += float(((said - low_c)[tried] ** 2).sum())
            counts[method] += float(tried.sum())
    return counts / np.maximum(squares, 0.01)


def _untried_squares(unseen_fall_k: float) -> Floats:
    """Mean square error of each method where it was never tried [K²]."""
    own = max(_UNTRIED_FALL * unseen_fall_k, _LEAST_ERROR_K) ** 2
    return np.array([own, _UNTRIED_PUBLIC_K**2])


def _usual_error(unseen_fall_k: float, errors_k: Floats, *, public: bool) -> float:
    """Size of the error to expect of the methods together: what is usual, and those made [K]."""
    own, agency = _untried_squares(unseen_fall_k)
    square = 1.0 / (1.0 / own + 1.0 / agency) if public else own
    known = _PRIOR_NIGHTS * square + float((errors_k**2).sum())
    return max(float(np.sqrt(known / (_PRIOR_NIGHTS + errors_k.size))), _LEAST_ERROR_K)


def _weighted_low(past: Floats, weights: Floats) -> Floats:
    known = np.isfinite(past)
    share = np.where(known, weights[:, None], 0.0)
    total = share.sum(axis=0)
    sum_ = np.where(known, past * share, 0.0).sum(axis=0)
    return np.where(total > 0.0, sum_ / np.maximum(total, 1e-12), np.nan)


def _persistence_error(table: NightTable, tried: NDArray[np.bool_]) -> float:
    """Of taking last night's low again, on the nights that were tried."""
    last = np.concatenate([[np.nan], table.whole_low_c[:-1]])
    errors = np.abs(np.minimum(last, table.air_c) - table.low_c)[tried]
    known = errors[np.isfinite(errors)]
    return float(known.mean()) if known.size else nan
