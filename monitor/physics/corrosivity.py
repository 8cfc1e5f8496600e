"""Corrosivity categories of ISO 9223: from first-year loss, and from time of wetness."""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.blocks import Floats

CATEGORIES = ("C1", "C2", "C3", "C4", "C5", "CX")
Metal = Literal["carbon steel", "zinc", "aluminium"]
DENSITY_G_CM3: dict[Metal, float] = {"carbon steel": 7.86, "zinc": 7.14, "aluminium": 2.70}

# Upper ends of the first-year loss [g/m²] for C1 to CX: ISO 9223:2012. Steel and zinc C1 to C5
# seen in a published reference table, the rest from memory; aluminium has no limit for C1, CX.
LOSS_LIMITS_G_M2: dict[Metal, tuple[float, ...]] = {
    "carbon steel": (10.0, 200.0, 400.0, 650.0, 1500.0, 5500.0),
    "zinc": (0.7, 5.0, 15.0, 30.0, 60.0, 180.0),
    "aluminium": (0.0, 0.6, 2.0, 5.0, 10.0, np.inf),
}

# Estimated categories of carbon steel, lowest and highest: ISO 9223:1992 (from memory).
# By class of wetness 1 to 5, then sulphur P0-P1, P2, P3, then chloride S0-S1, S2, S3.
_STEEL_ESTIMATE = np.array(
    [
        [[(1, 1), (1, 1), (1, 2)], [(1, 1), (1, 1), (1, 2)], [(1, 2), (1, 2), (2, 2)]],
        [[(1, 1), (2, 2), (3, 4)], [(1, 2), (2, 3), (3, 4)], [(2, 2), (3, 3), (4, 4)]],
        [[(2, 3), (3, 4), (4, 4)], [(3, 4), (3, 4), (4, 5)], [(4, 4), (4, 5), (5, 5)]],
        [[(3, 3), (4, 4), (5, 5)], [(4, 4), (4, 4), (5, 5)], [(5, 5), (5, 5), (5, 5)]],
        [[(3, 4), (5, 5), (5, 5)], [(4, 5), (5, 5), (5, 5)], [(5, 5), (5, 5), (5, 5)]],
    ]
)


def category_of_loss(loss_g_m2: ArrayLike, metal: Metal = "carbon steel") -> Floats:
    """Corrosivity category from the mass lost in the first year.

    Parameters
    ----------
    loss_g_m2 : array_like
        Loss [g/m²] of a standard specimen in its first year, 0 or more.
    metal : "carbon steel", "zinc" or "aluminium"

    Returns
    -------
    ndarray of float64, same shape
        1 to 5 for C1 to C5, 6 for CX; NaN for NaN, for a loss below 0 and above CX.
    """
    loss = np.asarray(loss_g_m2, dtype=np.float64)
    number = 1.0 + np.searchsorted(LOSS_LIMITS_G_M2[metal], loss)
    inside = (loss >= 0.0) & (number <= len(CATEGORIES))
    category: Floats = np.where(inside, number, np.nan)[()]
    return category


def loss_depth_um(loss_g_m2: ArrayLike, metal: Metal = "carbon steel") -> Floats:
    """Depth of a uniform loss [µm]."""
    depth: Floats = np.asarray(loss_g_m2, dtype=np.float64) / DENSITY_G_CM3[metal]
    return depth


def category_of_wetness(
    wetness: int, sulphur: int | None = None, chloride: int | None = None
) -> tuple[int, int]:
    """Lowest and highest category of carbon steel that a class of wetness allows.

    Parameters
    ----------
    wetness : int
        Class of time of wetness, 1 to 5; see `monitor.physics.wetness.wetness_class`.
    sulphur, chloride : int, optional
        Pollution classes P and S, 0 to 3. None: not measured, so the range spans them all.
        By memory of the standard S0 ends at 3, S1 at 60, S2 at 300, S3 at 1500 mg/(m² d).

    Returns
    -------
    tuple of int
        The standard does not allow one category from wetness alone; the range says how much
        the missing deposition matters.

    Raises
    ------
    ValueError
        If a class does not exist.

    Notes
    -----
    ISO 9223:1992. The edition of 2012 replaced the table with dose-response functions, which
    need depositions that nobody in a yard measures.
    """
    for name, value, lowest, highest in (
        ("wetness", wetness, 1, 5),
        ("sulphur", sulphur, 0, 3),
        ("chloride", chloride, 0, 3),
    ):
        if value is not None and not lowest <= value <= highest:
            raise ValueError(f"{name} class {value}: the standard has {lowest} to {highest}")
    rows = slice(None) if sulphur is None else slice(max(sulphur - 1, 0), max(sulphur, 1))
    columns = slice(None) if chloride is None else slice(max(chloride - 1, 0), max(chloride, 1))
    possible = _STEEL_ESTIMATE[wetness - 1, rows, columns]
    return int(possible[..., 0].min()), int(possible[..., 1].max())


def steel_rate_um_a(
    temperature_c: ArrayLike,
    rh_pct: ArrayLike,
    sulphur_mg_m2_d: ArrayLike,
    chloride_mg_m2_d: ArrayLike,
) -> Floats:
    """Corrosion of carbon steel in its first year outdoors [µm/a].

    Dose-response function of ISO 9223:2012 (from memory): annual means of temperature [°C] and
    RH [%], deposition of sulphur dioxide and chloride [mg/(m² d)].
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    rh = np.asarray(rh_pct, dtype=np.float64)
    warmth = np.where(t <= 10.0, 0.150, -0.054) * (t - 10.0)
    sulphur = 1.77 * np.asarray(sulphur_mg_m2_d) ** 0.52 * np.exp(0.020 * rh + warmth)
    chloride = 0.102 * np.asarray(chloride_mg_m2_d) ** 0.62 * np.exp(0.033 * rh + 0.040 * t)
    rate: Floats = np.asarray(sulphur + chloride)[()]
    return rate
