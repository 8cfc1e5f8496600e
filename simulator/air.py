"""Moist air in the simulator: saturation by Hyland and Wexler, vapour as a density at 0 °C."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

ZERO_K = 273.15
VAPOUR_GAS_CONSTANT = 461.52  # J/(kg K)
AIR_DENSITY = 1.27  # kg/m3 near 5 °C
AIR_HEAT = 1006.0  # J/(kg K)
CONDENSATION_HEAT = 2.50e6  # J/kg, vapour to water near 0 °C

# Hyland and Wexler 1983, the form printed in the ASHRAE Handbook, Fundamentals (from memory;
# the tests hold it against psychrolib, which carries the same form).
_ICE = (-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13)
_ICE_LOG = 4.1635019
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8)
_WATER_LOG = 6.5459673


def _form(kelvin: Array, terms: tuple[float, ...], log_term: float) -> Array:
    total = log_term * np.log(kelvin)
    for power, term in enumerate(terms, start=-1):
        total = total + term * kelvin**power
    return np.asarray(np.exp(total))


def saturation_over_water(air_c: ArrayLike) -> Array:
    """Vapour pressure of saturated air over liquid water [Pa], supercooled below 0 °C.

    Parameters
    ----------
    air_c : array_like, any shape
        Temperature [°C], -60 to 60.

    Returns
    -------
    ndarray of float64, same shape
        Pressure [Pa].

    Notes
    -----
    Hyland and Wexler 1983. Below 0 °C the form is carried on past its range; it stays within
    about 2 % of newer forms for supercooled water down to -50 °C.
    """
    return _form(np.asarray(air_c, dtype=np.float64) + ZERO_K, _WATER, _WATER_LOG)


def saturation_over_ice(air_c: ArrayLike) -> Array:
    """Vapour pressure of saturated air over ice [Pa]; see `saturation_over_water`."""
    return _form(np.asarray(air_c, dtype=np.float64) + ZERO_K, _ICE, _ICE_LOG)


def density_of(vapour_pa: ArrayLike) -> Array:
    """Vapour density [kg/m3] of a vapour pressure [Pa], as it would be at 0 °C.

    One temperature for all, so that equal pressures are equal densities: what drives vapour from
    warm air to cold metal is its pressure, and what a draught carries is its share of the air.
    At 10 °C the true density is 4 % less, and so is the room in a true cubic metre.
    """
    return np.asarray(vapour_pa, dtype=np.float64) / (VAPOUR_GAS_CONSTANT * ZERO_K)


def relative_humidity(density: ArrayLike, air_c: ArrayLike) -> Array:
    """RH [%] over liquid water at every temperature, as weather services and sensors report it."""
    pressure = np.asarray(density, dtype=np.float64) * VAPOUR_GAS_CONSTANT * ZERO_K
    return 100.0 * pressure / saturation_over_water(air_c)


_GRID_STEP_K = 0.05
_GRID_C = np.arange(-70.0, 90.0, _GRID_STEP_K)
_SURFACE_PA = np.where(_GRID_C < 0.0, saturation_over_ice(_GRID_C), saturation_over_water(_GRID_C))
_SURFACE_DENSITY = density_of(_SURFACE_PA)


def surface_density(surface_c: Array) -> Array:
    """Vapour density [kg/m3] right at a wet surface: over ice below 0 °C, over water above.

    Read from a table of 0.05 K, because the simulation asks for it every step.
    """
    return np.interp(surface_c, _GRID_C, _SURFACE_DENSITY)


def dew_point(vapour_pa: ArrayLike) -> Array:
    """Dew point over water [°C] of a vapour pressure [Pa], by reading the table backwards."""
    return np.interp(vapour_pa, saturation_over_water(_GRID_C), _GRID_C)
