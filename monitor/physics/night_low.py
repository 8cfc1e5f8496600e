"""Tonight's low over arrays: the FAO method for clear calm nights, and the night's own curve.

Times are hours after sunset; the night is ``night_h`` long. Sunset itself is a matter of dates:
`monitor.yard.sun`.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats

REFERENCE_H = 2.0  # hours after sunset at which the FAO method reads air and dew point
FEWEST_NIGHTS = 10
EARLIEST_SHARE = 0.25  # of the night, before which its own curve says nothing
_DECAY = 2.2  # Parton & Logan 1981, nights


class FaoFit(NamedTuple):
    """Regression of a place's lows: low = slope_air * T0 + slope_dew * Td + constant_c.

    ``error_k`` is the root mean square of the residuals, ``low_edge_k`` their 10th percentile
    (low minus prediction, so below 0), ``nights`` how many it rests on.
    """

    slope_air: float
    slope_dew: float
    constant_c: float
    error_k: float
    low_edge_k: float
    r_squared: float
    nights: int

    def low(self, air_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
        """Expected low [°C] from air and dew point [°C] two hours after sunset."""
        air = np.asarray(air_c, dtype=np.float64)
        dew = np.asarray(dew_point_c, dtype=np.float64)
        low: Floats = self.slope_air * air + self.slope_dew * dew + self.constant_c
        return low


def fit_lows(air_c: ArrayLike, dew_point_c: ArrayLike, low_c: ArrayLike) -> FaoFit:
    """Fit the FAO regression to past clear calm nights of one place.

    Parameters
    ----------
    air_c, dew_point_c : array_like, shape (n,)
        Two hours after sunset [°C].
    low_c : array_like, shape (n,)
        Lowest air temperature of the night [°C].

    Returns
    -------
    FaoFit
        All NaN with fewer than 10 nights without a NaN.

    Notes
    -----
    Snyder & de Melo-Abreu 2005, FAO Environment and Natural Resources Series 10, chapter 5:
    two straight lines in sequence, the low on the air and the remainder on the dew point. It
    is not one least-squares plane. Meant for wind below 2 m/s without cloud or fog.
    """
    air, dew, low = (np.asarray(each, dtype=np.float64) for each in (air_c, dew_point_c, low_c))
    known = np.isfinite(air) & np.isfinite(dew) & np.isfinite(low)
    air, dew, low = air[known], dew[known], low[known]
    if low.size < FEWEST_NIGHTS:
        return FaoFit(np.nan, np.nan, np.nan, np.nan, np.nan, np.nan, int(low.size))
    slope_air, first = _line(air, low)
    slope_dew, second = _line(dew, low - (slope_air * air + first))
    constant = first + second
    residuals = low - (slope_air * air + slope_dew * dew + constant)
    spread = float(((low - low.mean()) ** 2).sum())
    return FaoFit(
        slope_air,
        slope_dew,
        constant,
        float(np.sqrt(np.mean(residuals**2))),
        float(np.percentile(residuals, 10)),
        1.0 - float((residuals**2).sum()) / spread if spread else np.nan,
        int(low.size),
    )


def night_trend(
    hours_after_sunset: ArrayLike, air_c: ArrayLike, low_c: ArrayLike, night_h: ArrayLike
) -> Floats:
    """Air temperature through a clear night, falling with the square root of time [°C].

    Parameters
    ----------
    hours_after_sunset : array_like
        2 to ``night_h``; NaN outside.
    air_c : array_like
        Air temperature two hours after sunset [°C].
    low_c : array_like
        Low, reached at sunrise [°C].
    night_h : array_like
        Sunset to sunrise [h], above 2.

    Notes
    -----
    FAO Environment and Natural Resources Series 10, chapter 5.
    """
    t = np.asarray(hours_after_sunset, dtype=np.float64)
    night = np.asarray(night_h, dtype=np.float64)
    air = np.asarray(air_c, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        fallen = np.sqrt((t - REFERENCE_H) / (night - REFERENCE_H))
    trend = air + (np.asarray(low_c, dtype=np.float64) - air) * fallen
    inside: Floats = np.where((t >= REFERENCE_H) & (t <= night), trend, np.nan)[()]
    return inside


def hour_of_passing(
    threshold_c: ArrayLike, air_c: ArrayLike, low_c: ArrayLike, night_h: ArrayLike
) -> Floats:
    """Hours after sunset at which the night trend falls through a threshold.

    Parameters as for `night_trend`. 2 if it is passed at the start already; inf if the low
    stays at or above it.
    """
    threshold = np.asarray(threshold_c, dtype=np.float64)
    air = np.asarray(air_c, dtype=np.float64)
    low = np.asarray(low_c, dtype=np.float64)
    night = np.asarray(night_h, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (threshold - air) / (low - air)
    falling = REFERENCE_H + (night - REFERENCE_H) * share**2
    hour = np.where(air <= threshold, REFERENCE_H, np.where(low >= threshold, np.inf, falling))
    known: Floats = np.where(np.isnan(threshold + air + low + night), np.nan, hour)[()]
    return known


def low_from_fall_so_far(
    sunset_c: ArrayLike, now_c: ArrayLike, hours_after_sunset: ArrayLike, night_h: ArrayLike
) -> Floats:
    """Expected low from the fall since sunset [°C].

    Parameters
    ----------
    sunset_c, now_c : array_like
        Air temperature at sunset and now [°C].
    hours_after_sunset, night_h : array_like
        Hours since sunset and length of the night [h].

    Returns
    -------
    ndarray of float64, the broadcast shape
        NaN before a quarter of the night, where the inversion blows errors up.

    Notes
    -----
    Parton & Logan 1981 (exponential decay to the low, coefficient 2.2), inverted. Published
    skill, Savage 2015 (doi 10.1007/s00484-015-1017-7): error below 1 K two hours ahead and
    below 2.1 K four hours ahead.
    """
    share = np.asarray(hours_after_sunset, dtype=np.float64) / np.asarray(night_h, dtype=np.float64)
    left = np.exp(-_DECAY * share)
    sunset = np.asarray(sunset_c, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        low = (np.asarray(now_c, dtype=np.float64) - sunset * left) / (1.0 - left)
    return np.where((share >= EARLIEST_SHARE) & (share <= 1.0), low, np.nan)[()]


def _line(x: Floats, y: Floats) -> tuple[float, float]:
    """Least-squares slope and intercept; slope 0 where x does not vary."""
    spread = float(((x - x.mean()) ** 2).sum())
    slope = float(((x - x.mean()) * (y - y.mean())).sum()) / spread if spread else 0.0
    return slope, float(y.mean() - slope * x.mean())
