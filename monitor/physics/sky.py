"""The night sky over arrays: its infrared, and how far below the air it pulls a surface.

A surface under the sky loses infrared to air that is colder the higher it is, and gains heat from
the air around it and from what lies under it. From air and humidity alone the result is a ceiling
with a wide spread: cloud and wind decide, and a yard seldom knows them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats
from monitor.physics.moist_air import (
    ZERO_C_K,
    condensation_point,
    relative_humidity,
    saturation_pressure_ice,
    saturation_pressure_water,
)

STEFAN_BOLTZMANN = 5.670374e-8  # W/m²/K⁴
CALM_M_S = 0.3  # least wind at a surface: outdoor air is never quite still (common practice)
_COOLED_FACE_UP = 0.76  # W/m²/K^(4/3), still air (Walton 1983)
_WINDWARD = 3.26, 0.89  # W/m²/K at 1 m/s, and its power of the wind (Yazdanian & Klems 1994)
# Latent heat that vapour brings for each pascal and each W/m²/K of film (Lewis relation).
_FROST_PER_PA, _DEW_PER_PA = 0.0191, 0.0169


@dataclass(frozen=True, slots=True, kw_only=True)
class RadiatingSurface:
    """What a surface sees of the sky, and what lies under it (estimates, common practice).

    Raises
    ------
    ValueError
        If a share is not within 0 to 1, or the coupling is below 0.
    """

    sky_share: float  # of its view; the rest is at the air's temperature
    coupling_w_m2k: float  # to what lies under it, taken at the air's temperature
    emissivity: float = 0.9  # paint, GRP, canvas, glass; bare aluminium 0.1

    def __post_init__(self) -> None:
        """Refuse what no surface is."""
        if not (0.0 <= self.sky_share <= 1.0 and 0.0 <= self.emissivity <= 1.0):
            raise ValueError(f"sky share {self.sky_share}, emissivity {self.emissivity}: 0 to 1")
        if not self.coupling_w_m2k >= 0.0:
            raise ValueError(f"coupling {self.coupling_w_m2k} W/m²/K is below 0")


COVER = RadiatingSurface(
    sky_share=0.8, coupling_w_m2k=3.7
)  # or a thin shell, over a hull, in a row


def clear_sky_emissivity(air_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
    """Share of a black body's infrared that comes down from a clear sky.

    Parameters
    ----------
    air_c, dew_point_c : array_like
        Near the ground [°C]; the dew point is over water below 0 °C too.

    Returns
    -------
    ndarray of float64, broadcast shape
        0.67 (dry) to about 0.9.

    Notes
    -----
    Prata 1996, Q. J. R. Meteorol. Soc. 122, 1127-1151. Against the hour that was measured under
    a clear sky (``tests/physics/check_values.csv``) it reads 9 W/m² too cold: the safe side.
    """
    hpa = saturation_pressure_water(dew_point_c) / 100.0
    water = 46.5 * hpa / (np.asarray(air_c, dtype=np.float64) + ZERO_C_K)
    emissivity: Floats = 1.0 - (1.0 + water) * np.exp(-np.sqrt(1.2 + 3.0 * water))
    return emissivity


def depression(
    air_c: ArrayLike,
    dew_point_c: ArrayLike,
    emissivity: ArrayLike,
    wind_m_s: ArrayLike = CALM_M_S,
    surface: RadiatingSurface = COVER,
) -> Floats:
    """How far a surface lies below the air, frost or dew on it counted.

    Parameters
    ----------
    air_c, dew_point_c : array_like
        Of the air around it [°C].
    emissivity : array_like
        Of the sky; see `clear_sky_emissivity`. Cloud brings it nearer to 1.
    wind_m_s : array_like
        At the surface itself [m/s]; a weather station's, 10 m up, is nearly twice that.
    surface : RadiatingSurface

    Returns
    -------
    ndarray of float64, broadcast shape
        [K], 0 or more. A forming film releases heat: below the dew point, or the frost point,
        the surface goes on cooling by 0.6 to 0.9 of what it would dry. No floor.

    Notes
    -----
    The surface's balance of infrared, convection (Walton 1983, Yazdanian & Klems 1994) and
    what lies under it, solved in three passes: within 0.02 K of the root when dry. A film is
    taken along a straight line, which lies within 0.65 K of it (``tests/physics/test_sky.py``).
    In still air the result is seldom reached outdoors.
    """
    air, dew, eps, wind = np.broadcast_arrays(
        np.asarray(air_c, np.float64),
        np.asarray(dew_point_c, np.float64),
        np.asarray(emissivity, np.float64),
        np.asarray(wind_m_s, np.float64),
    )
    kelvin = air + ZERO_C_K
    lost = surface.emissivity * surface.sky_share * STEFAN_BOLTZMANN * kelvin**4 * (1.0 - eps)
    below = np.zeros_like(kelvin)
    film, infrared = _film(np.full_like(kelvin, 5.0), wind), _infrared(kelvin, surface)
    for _ in range(3):
        below = lost / (infrared + surface.coupling_w_m2k + film)
        film, infrared = _film(below, wind), _infrared(kelvin - below / 2.0, surface)
    rh_pct = np.minimum(relative_humidity(air, np.minimum(dew, air)), 100.0)  # rounding
    wet_point = condensation_point(air, rh_pct)
    dry_k = air - wet_point
    coupled = infrared + surface.coupling_w_m2k + film
    slowed = 1.0 + _latent(wet_point) * film / coupled
    limited: Floats = np.where(below > dry_k, dry_k + (below - dry_k) / slowed, below)
    return np.maximum(limited, 0.0)[()]


def _film(below_k: Floats, wind_m_s: Floats) -> Floats:
    """Coefficient of convection from the air [W/m²/K]."""
    still = _COOLED_FACE_UP * np.cbrt(np.maximum(below_k, 0.0))
    moved = _WINDWARD[0] * np.maximum(wind_m_s, 0.0) ** _WINDWARD[1]
    film: Floats = np.hypot(still, moved)
    return film


def _infrared(between_k: Floats, surface: RadiatingSurface) -> Floats:
    """Coefficient of infrared to things at the air's temperature [W/m²/K]."""
    coefficient: Floats = 4.0 * surface.emissivity * STEFAN_BOLTZMANN * between_k**3
    return coefficient


def _latent(wet_point_c: Floats) -> Floats:
    """Heat that vapour brings for each kelvin below the point, over that of convection."""
    lower = wet_point_c - 1.0
    icy = wet_point_c < 0.0
    over_ice = saturation_pressure_ice(np.minimum(wet_point_c, 0.0))
    over_ice -= saturation_pressure_ice(np.minimum(lower, 0.0))
    over_water = saturation_pressure_water(wet_point_c) - saturation_pressure_water(lower)
    share: Floats = np.where(icy, _FROST_PER_PA * over_ice, _DEW_PER_PA * over_water)
    return share
