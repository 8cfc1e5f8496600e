"""Conditions for mould on surfaces: the index of Hukka & Viitanen 1999, Viitanen & Ojanen 2007.

Give a surface's own temperature and humidity. The index tells of conditions, never that there
is mould: 0 clean, 1 seen under a microscope, 2 several spots there, 3 first seen by eye,
4 a tenth to half of the surface, 5 over half, 6 all of it.
"""

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats
from monitor.physics.kinds import Sensitivity

Surface = Literal["pine", "spruce", "kiln-dried"]
_SURFACE_TERM: dict[Surface, float] = {"pine": 0.0, "spruce": 0.14, "kiln-dried": -0.33}
_GRACE_H = (6.0, 24.0)  # a dry spell lowers the index to 6 h, then not until 24 h
_DECLINE_PER_DAY = (0.032, 0.016)
_LONGEST_STEP_H = 2.0


class _Class(NamedTuple):
    """Constants of one class of material (Viitanen & Ojanen 2007)."""

    early: float  # k1 below index 1
    late: float  # k1 from index 1 on
    a: float
    b: float
    c: float
    floor_pct: float


_CLASSES: dict[Sensitivity, _Class] = {
    "very sensitive": _Class(1.0, 2.0, 1.0, 7.0, 2.0, 80.0),
    "sensitive": _Class(0.578, 0.386, 0.3, 6.0, 1.0, 80.0),
    "medium resistant": _Class(0.072, 0.097, 0.0, 5.0, 1.5, 85.0),
    "resistant": _Class(0.033, 0.014, 0.0, 3.0, 1.0, 85.0),
}


def critical_humidity(
    temperature_c: ArrayLike, sensitivity: Sensitivity = "very sensitive"
) -> Floats:
    """Relative humidity [%] above which mould can grow at a temperature [°C].

    Cubic from 0 to 20 °C, never below 80 % (both resistant classes 85). inf at and below 0 °C
    and above 50 °C, where nothing grows.
    """
    floor_pct = _CLASSES[sensitivity].floor_pct
    t = np.asarray(temperature_c, dtype=np.float64)
    curve = ((-0.00267 * t + 0.160) * t - 3.13) * t + 100.0
    humid = np.where(t <= 20.0, np.maximum(curve, floor_pct), floor_pct)
    limit: Floats = np.where((t <= 0.0) | (t > 50.0), np.inf, humid)[()]
    return np.where(np.isnan(t), np.nan, limit)[()]


def weeks_to_first_growth(
    temperature_c: ArrayLike, rh_pct: ArrayLike, surface: Surface = "pine"
) -> Floats:
    """Weeks of steady conditions until index 1 on wood; inf where it is too dry or cold."""
    t = np.asarray(temperature_c, dtype=np.float64)
    rh = np.asarray(rh_pct, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        weeks = np.exp(-0.68 * np.log(t) - 13.9 * np.log(rh) + 66.02 + _SURFACE_TERM[surface])
    growing: Floats = np.where(rh >= critical_humidity(t), weeks, np.inf)[()]
    return np.where(np.isnan(t + rh), np.nan, growing)[()]


def index_ceiling(
    temperature_c: ArrayLike, rh_pct: ArrayLike, sensitivity: Sensitivity = "very sensitive"
) -> Floats:
    """Largest index that these conditions can ever lead to, 0 to 6."""
    kind = _CLASSES[sensitivity]
    critical = critical_humidity(temperature_c, sensitivity)
    with np.errstate(invalid="ignore", divide="ignore"):
        x = (critical - np.asarray(rh_pct, dtype=np.float64)) / (critical - 100.0)
        ceiling = kind.a + kind.b * x - kind.c * x**2
    ceiling = np.where(np.isinf(critical) | (x < 0.0), 0.0, ceiling)
    result: Floats = np.clip(ceiling, 0.0, 6.0)[()]
    return result


def growth_per_day(
    temperature_c: ArrayLike,
    rh_pct: ArrayLike,
    index: ArrayLike = 0.0,
    sensitivity: Sensitivity = "very sensitive",
    surface: Surface = "pine",
) -> Floats:
    """Rise of the index in a day of steady conditions, 0 where it is too dry or cold."""
    kind = _CLASSES[sensitivity]
    now = np.asarray(index, dtype=np.float64)
    pace = np.where(now < 1.0, kind.early, kind.late)
    ceiling = index_ceiling(temperature_c, rh_pct, sensitivity)
    slowing = np.maximum(1.0 - np.exp(2.3 * (now - ceiling)), 0.0)
    rate: Floats = pace * slowing / (7.0 * weeks_to_first_growth(temperature_c, rh_pct, surface))
    return rate


def mould_index_series(
    hours: ArrayLike,
    temperature_c: ArrayLike,
    rh_pct: ArrayLike,
    sensitivity: Sensitivity = "very sensitive",
    surface: Surface = "pine",
    start: ArrayLike = 0.0,
    decline_factor: float = 1.0,
) -> Floats:
    """Mould index along a series.

    Parameters
    ----------
    hours : array_like, shape (n,)
        Times [h], rising.
    temperature_c, rh_pct : array_like, shape (n,) or (m, n)
        At the surface [°C], [%]. Conditions hold from each time to the next; NaN holds the
        index where it is.
    sensitivity : one of the four classes
        Upholstery and canvas: very sensitive (common practice, no source).
    surface : "pine", "spruce" or "kiln-dried"
    start : array_like, scalar or shape (m,)
        Index at the first time.
    decline_factor : float
        How fast the index falls in dry spells against pine, 0.1 to 1.

    Returns
    -------
    ndarray of float64, shape of the conditions
        Index, 0 to 6. A pause longer than 2 h counts as 2 h: nobody saw what grew meanwhile.
    """
    times = np.asarray(hours, dtype=np.float64)
    t, rh = np.broadcast_arrays(
        np.asarray(temperature_c, dtype=np.float64), np.asarray(rh_pct, dtype=np.float64)
    )
    known = ~np.isnan(t + rh)
    humid = rh >= critical_humidity(t, sensitivity)
    index = np.empty(t.shape)
    index[..., 0] = start
    dry_h = np.zeros(t.shape[:-1])
    for i, step in enumerate(np.minimum(np.diff(times), _LONGEST_STEP_H)):
        now = index[..., i]
        growth = growth_per_day(t[..., i], rh[..., i], now, sensitivity, surface) * step / 24.0
        decline = decline_factor * (_declined(dry_h + step) - _declined(dry_h))
        change = np.where(humid[..., i], growth, -decline)
        change = np.where(known[..., i], change, 0.0)
        index[..., i + 1] = np.clip(now + change, 0.0, 6.0)
        dry_h = np.where(humid[..., i] & known[..., i], 0.0, dry_h + step)
    return index


def _declined(dry_h: Floats) -> Floats:
    """Index lost after so many dry hours in a row, on pine."""
    first = np.minimum(dry_h, _GRACE_H[0]) * _DECLINE_PER_DAY[0]
    later = np.maximum(dry_h - _GRACE_H[1], 0.0) * _DECLINE_PER_DAY[1]
    lost: Floats = (first + later) / 24.0
    return lost
