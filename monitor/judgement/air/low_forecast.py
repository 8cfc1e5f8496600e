"""Tonight's low from past nights and a public forecast, weighed by how each has done here.

What comes out are equally likely lows: the expected one less an error, of those that the same
forecast made on past nights here, and of a prior that stands for nights nobody has seen yet.
"""

from dataclasses import dataclass, replace
from math import nan

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.ensemble import errors_of_lows
from monitor.judgement.air.grid import Floats
from monitor.judgement.air.past_weeks import NightTable
from monitor.physics.night_low import FEWEST_NIGHTS, fit_lows, lows_from_nights_before

FEWEST_ERRORS = 6  # nights on which a method was tried, before it is weighed by them
_UNTRIED_FALL = 0.5  # standard error of a usual fall, as a share of it (common practice, no source)
_UNTRIED_PUBLIC_K = 2.0  # of an agency's low at a place where it was never tried (likewise)
_PRIOR_NIGHTS = 3.0  # weight of these against nights on which a method was tried
_LEAST_ERROR_K = 0.5  # no forecast is better than the sensors are right
_FALLS = 14  # nights whose falls make the usual one
_PUBLIC = 2  # row of the public forecast, after the yard's own methods


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


def check_past_nights(
    table: NightTable, unseen_fall_k: float, *, public: bool = False
) -> PastErrors:
    """Errors of the forecasts that would have been made of every past night.

    Parameters
    ----------
    table : NightTable
    unseen_fall_k : float
        Fall to assume while no night is known [K]; how far off it may be counts until then.
    public : bool
        Whether a public forecast is at hand now. The errors are then those of nights when one was,
        as soon as there are enough of them; without one, of forecasts without.
    """
    if not public:
        table = replace(table, public_low_c=np.full_like(table.low_c, nan))
    past = _hindcast_lows(table)
    weights = _method_weights(past, table.low_c, unseen_fall_k)
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
    dew_point_c: float,
    unseen_fall_k: float,
    public_low_c: float = nan,
) -> LowForecast:
    """Forecast the low from the air now, as past nights went on from this hour.

    Parameters
    ----------
    table : NightTable
        Past nights, seen from the same hour of the night.
    record : PastErrors
        How that went before, to the nearest hour.
    air_c, dew_point_c : float
        Now [°C]; NaN if there is no humidity.
    unseen_fall_k : float
        Fall to assume while no night is known [K].
    public_low_c : float
        What a public agency expects until the noon after [°C]; NaN: not known.

    Returns
    -------
    LowForecast

    Notes
    -----
    Three methods, weighed by the inverse of their mean square error on past nights: the mean
    fall of the last two weeks, and from ten nights on the FAO regression (Snyder & de
    Melo-Abreu 2005, FAO Environment and Natural Resources Series 10, chapter 5) on air and dew
    point at this hour of the night, and a public forecast less its own mean error of the last two
    weeks at this very place. On the winter nights of one typical meteorological year
    two hours after sunset the first two err by 2.3 to 2.5 K where last night's low errs by 3.8 K.
    """
    now = _lows_by_method(table, air_c, dew_point_c, unseen_fall_k, public_low_c)
    weights = np.where(np.isfinite(now), record.weights, 0.0)
    weights /= weights.sum()
    low = min(float(np.nansum(weights * now)), air_c)
    public_share = float(weights[_PUBLIC])
    errors = record.errors_k
    usual_k = _usual_error(np.isfinite(now), unseen_fall_k, errors)
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


def _lows_by_method(
    table: NightTable, air_c: float, dew_c: float, unseen_fall_k: float, public_c: float
) -> Floats:
    """Low by mean fall, FAO regression, public forecast [°C]; NaN where a method cannot tell."""
    falls = (table.air_c - table.low_c)[-_FALLS:]
    # One unseen night's weight of prior keeps the first nights from counting for too much.
    fall = (falls.sum() + unseen_fall_k) / (falls.size + 1.0) if falls.size else unseen_fall_k
    dew, dews = dew_c, table.dew_point_c
    if np.isnan(dew) or np.isfinite(dews).sum() < FEWEST_NIGHTS:
        dew, dews = 0.0, np.zeros_like(dews)  # without humidity: on the air alone
    fao = float(fit_lows(table.air_c, dews, table.low_c).low(air_c, dew))
    return np.array([air_c - fall, fao, public_c - _public_bias(table)])


def _public_bias(table: NightTable) -> float:
    """By how much the agency is usually too warm here [K]: a yard may lie in a cold hollow."""
    errors = (table.public_low_c - table.low_c)[-_FALLS:]
    known = errors[np.isfinite(errors)]
    return float(known.sum() / (known.size + 1.0))  # one night's weight of "it is right"


def _hindcast_lows(table: NightTable) -> Floats:
    """Lows by each method for each past night, from the nights before it only."""
    air, dew, low = table.air_c, table.dew_point_c, table.low_c
    falls, _ = _sums_before(air - low)
    without = lows_from_nights_before(air, np.zeros_like(dew), low)
    told = np.isfinite(dew)
    humid = told & (np.cumsum(told) - told >= FEWEST_NIGHTS)
    errors, issued = _sums_before(table.public_low_c - low)
    with np.errstate(invalid="ignore", divide="ignore"):
        said = np.array(
            [
                air - falls / np.minimum(np.arange(air.size), _FALLS),
                np.where(humid, lows_from_nights_before(air, dew, low), without),
                table.public_low_c - errors / (issued + 1.0),
            ]
        )
    said[:, :2] = np.nan
    return said


def _sums_before(values: Floats) -> tuple[Floats, Floats]:
    """Sum and number of the known ones among the two weeks of values before each."""
    known = np.isfinite(values)
    sums, counts = (
        np.concatenate([np.zeros(_FALLS + 1), np.cumsum(each)])
        for each in (np.where(known, values, 0.0), known.astype(np.float64))
    )
    return sums[_FALLS:-1] - sums[: -_FALLS - 1], counts[_FALLS:-1] - counts[: -_FALLS - 1]


def _method_weights(past: Floats, low_c: Floats, unseen_fall_k: float) -> Floats:
    """Inverse mean square of each method's errors, with what is usual as some nights more."""
    own = np.isfinite(past[:_PUBLIC]).all(axis=0) & np.isfinite(low_c)
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
    return np.array([own, own, _UNTRIED_PUBLIC_K**2])


def _usual_error(can_tell: NDArray[np.bool_], unseen_fall_k: float, errors_k: Floats) -> float:
    """Size of the error to expect of the methods together: what is usual, and those made [K]."""
    own, _, public = _untried_squares(unseen_fall_k)
    square = 1.0 / (1.0 / own + 1.0 / public) if can_tell[_PUBLIC] else own
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
