"""Corrosivity of bare steel after ISO 9223: category from time of wetness, and its loss."""

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats

CATEGORIES = ("C1", "C2", "C3", "C4", "C5", "CX")
STEEL_G_CM3 = 7.86

# Upper ends of carbon steel's first-year loss [g/m²] for C1 to CX: ISO 9223:2012, C1 to C5 seen
# in a published reference table, CX from memory.
STEEL_LOSS_G_M2 = (10.0, 200.0, 400.0, 650.0, 1500.0, 5500.0)

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


def loss_depth_um(loss_g_m2: ArrayLike) -> Floats:
    """Depth of a uniform loss of carbon steel [µm]."""
    depth: Floats = np.asarray(loss_g_m2, dtype=np.float64) / STEEL_G_CM3
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
