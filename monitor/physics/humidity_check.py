"""Checking a humidity sensor over saturated salts: what it should read."""

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats, between_rows
from monitor.physics.kinds import Salt

# A sensor further out is replaced, not corrected (common practice, no source).
LARGEST_CORRECTION_PCT = 5.0

# Equilibrium RH [%] over the saturated solution at 0, 5, ... 30 °C. Greenspan 1977, J. Res. NBS
# 81A, 89-96, as tabulated by a conservation-physics page from 5 to 25 °C; 0 and 30 °C, and all
# of NaCl at 20 °C (the page has a misprint there), from memory. K2CO3 is given from 5 to 25 °C.
_TEMPERATURES_C = np.arange(0.0, 31.0, 5.0)
_HUMIDITY: dict[Salt, Floats] = {
    "LiCl": np.array([11.2, 11.3, 11.3, 11.3, 11.3, 11.3, 11.3]),
    "MgCl2": np.array([33.7, 33.6, 33.5, 33.3, 33.1, 32.8, 32.4]),
    "K2CO3": np.array([np.nan, 43.1, 43.1, 43.1, 43.2, 43.2, np.nan]),
    "NaCl": np.array([75.5, 75.7, 75.7, 75.6, 75.5, 75.3, 75.1]),
    "KCl": np.array([88.6, 87.7, 86.8, 85.9, 85.1, 84.3, 83.6]),
    "K2SO4": np.array([98.8, 98.5, 98.2, 97.9, 97.6, 97.3, 97.0]),
}


def salt_humidity(salt: Salt, temperature_c: ArrayLike) -> Floats:
    """Relative humidity [%] in a closed box over a slush of salt, 0 to 30 °C; NaN outside.

    K2CO3 from 5 to 25 °C only.
    """
    values = _HUMIDITY[salt]
    known = np.isfinite(values)
    return between_rows(temperature_c, _TEMPERATURES_C[known], values[known])
