"""Sun and sky over a yard: how much shines in by day, how cold the sky looks by night."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.air import ZERO_K

Array = NDArray[np.float64]

_YEAR_S = 365.2425 * 86400.0


def sun_elevation(at_s: ArrayLike, latitude: float, longitude: float) -> Array:
    """Sine of the sun's elevation at Unix times; negative at night.

    Notes
    -----
    Mean sun and a cosine for the declination: good to about a degree, enough to heat a cover.
    """
    at = np.asarray(at_s, dtype=np.float64)
    year = 2.0 * np.pi * (at % _YEAR_S) / _YEAR_S
    declination = -0.4093 * np.cos(year + 2.0 * np.pi * 10.0 / 365.0)
    hour = 2.0 * np.pi * ((at % 86400.0) / 86400.0 - 0.5) + np.deg2rad(longitude)
    here = np.deg2rad(latitude)
    across = np.cos(here) * np.cos(declination) * np.cos(hour)
    return np.sin(here) * np.sin(declination) + across


def sunshine(at_s: ArrayLike, latitude: float, longitude: float, cloud: ArrayLike) -> Array:
    """Global sun on level ground [W/m2] under a cloud share of 0 to 1.

    Notes
    -----
    Clear sky 910 s - 30 with s the sine of the elevation, times 1 - 0.75 n^3.4 for cloud: Kasten
    and Czeplak 1980 (from memory).
    """
    height = sun_elevation(at_s, latitude, longitude)
    clear = np.maximum(910.0 * height - 30.0, 0.0)
    return clear * (1.0 - 0.75 * np.asarray(cloud, dtype=np.float64) ** 3.4)


def sky_temperature(air_c: ArrayLike, dew_point_c: ArrayLike, cloud: ArrayLike) -> Array:
    """Temperature [°C] of a black sky that would send down the same infrared.

    Notes
    -----
    Clear-sky emissivity by Berdahl and Martin 1984, 0.711 + 0.56 d + 0.73 d^2 with d the dew
    point in hundreds of °C (from memory); cloud fills 0.9 of what is missing to black.
    """
    dew = np.asarray(dew_point_c, dtype=np.float64) / 100.0
    clear = 0.711 + 0.56 * dew + 0.73 * dew**2
    emissivity = clear + (1.0 - clear) * 0.9 * np.asarray(cloud, dtype=np.float64)
    return (np.asarray(air_c, dtype=np.float64) + ZERO_K) * emissivity**0.25 - ZERO_K
