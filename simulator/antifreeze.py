"""Propylene glycol and water: where ice begins, and how much of a mix is ice."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

# First crystals by mass fraction: ASHRAE Handbook, Fundamentals (from memory; the tests hold it
# against CoolProp). Another table than the one that judges, so that both cannot share a slip.
_FRACTION = np.array([0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60]) / 100.0
_ICE_POINT_C = np.array(
    [0.0, -1.6, -3.3, -5.1, -7.1, -9.6, -12.7, -16.4, -21.1, -26.7, -33.5, -41.6, -51.1]
)


def ice_point(glycol_mass_fraction: ArrayLike) -> Array:
    """Temperature of the first crystals [°C] for a mass fraction of 0 to 0.6."""
    return np.interp(glycol_mass_fraction, _FRACTION, _ICE_POINT_C)


def equilibrium_fraction(liquid_c: ArrayLike) -> Array:
    """Glycol mass fraction of the liquid that stands beside ice at a temperature [°C]."""
    return np.interp(-np.asarray(liquid_c, dtype=np.float64), -_ICE_POINT_C, _FRACTION)


def fraction_for(ice_point_c: ArrayLike) -> Array:
    """Glycol mass fraction whose first crystals come at a temperature [°C]."""
    return equilibrium_fraction(ice_point_c)


def ice_share(glycol_mass_fraction: ArrayLike, liquid_c: ArrayLike) -> Array:
    """Share of the mix's mass that is ice at equilibrium, 0 to 1: the lever rule."""
    fraction = np.asarray(glycol_mass_fraction, dtype=np.float64)
    liquid = np.asarray(liquid_c, dtype=np.float64)
    standing = np.maximum(equilibrium_fraction(liquid), 1e-9)
    share = np.clip(1.0 - fraction / standing, 0.0, 1.0)
    return np.where(liquid < ice_point(fraction), share, 0.0)
