"""Trapped liquid in the cold: first ice, frozen through, and thaw, in closed form.

These hold for air of constant temperature; `monitor.physics.freezing` follows a series. A body
cools with its lag to the ice point and stays there while its latent heat leaves; ice counts
from the ice point, because supercooling delays ice but protects nothing. All functions take
arrays, broadcast them, and return float64 of the broadcast shape.
"""

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats
from monitor.physics.lag import hours_to_cool

LATENT_KJ_KG = 333.5  # water to ice at 0 °C (IAPWS: 333.43)
WATER_KJ_KG_K = 4.19
ICE_KJ_KG_K = 2.1
ICE_W_M_K = 2.2  # thermal conductivity at 0 °C
EXPANSION = 0.0907  # volume gained by water that freezes at 0 °C
FILL_LIMIT = 1.0 / (1.0 + EXPANSION)  # a closed pocket fuller than this loads its walls


def conductance(heat_capacity_kj_k: ArrayLike, lag_h: ArrayLike) -> Floats:
    """Heat that a body loses for each kelvin above the air [W/K]: capacity over time constant."""
    capacity = np.asarray(heat_capacity_kj_k, dtype=np.float64)
    loss: Floats = capacity * 1000.0 / (np.asarray(lag_h, dtype=np.float64) * 3600.0)
    return loss


def plank_factor(diameter_m: ArrayLike, transfer_w_m2k: ArrayLike) -> Floats:
    """How much longer a round pocket takes to freeze through, for the heat must cross the ice.

    Parameters
    ----------
    diameter_m : array_like
        Inner diameter [m]; 0 gives 1.
    transfer_w_m2k : array_like
        Heat transfer from the liquid's wall to the air, wall included [W/m²/K].

    Notes
    -----
    Plank's equation for a cylinder. It reads 1 to 4 % early against a finite-volume solution;
    leaving the factor out reads earlier still, so both err to the safe side.
    """
    diameter = np.asarray(diameter_m, dtype=np.float64)
    factor: Floats = 1.0 + diameter * np.asarray(transfer_w_m2k) / (4.0 * ICE_W_M_K)
    return factor


def degree_hours_to_solid(
    liquid_kg: ArrayLike, conductance_w_k: ArrayLike, plank: ArrayLike = 1.0
) -> Floats:
    """Degree-hours of air below the ice point that turn all the liquid to ice [K h].

    Parameters
    ----------
    liquid_kg : array_like
        Mass of the liquid [kg], taken as water.
    conductance_w_k : array_like
        From the liquid to the air [W/K], above 0; see `conductance`.
    plank : array_like
        `plank_factor`, or 1 for a thin pocket.
    """
    mass = np.asarray(liquid_kg, dtype=np.float64)
    loss = np.asarray(conductance_w_k, dtype=np.float64)
    degree_hours: Floats = mass * LATENT_KJ_KG / (3.6 * loss) * np.asarray(plank)
    return degree_hours


def first_ice_hours(
    start_c: ArrayLike, air_c: ArrayLike, lag_h: ArrayLike, ice_point_c: ArrayLike = 0.0
) -> Floats:
    """Hours until a body in air of constant temperature reaches its ice point.

    Parameters
    ----------
    start_c, air_c : array_like
        Body and air temperature [°C].
    lag_h : array_like
        Time constant [h], above 0.
    ice_point_c : array_like
        Where first crystals form [°C].

    Returns
    -------
    ndarray of float64, the broadcast shape
        Hours; 0 if the body is at or below its ice point already, inf if the air is too warm.
    """
    return hours_to_cool(ice_point_c, start_c, air_c, lag_h)


def frozen_through_hours(
    start_c: ArrayLike,
    air_c: ArrayLike,
    lag_h: ArrayLike,
    degree_hours: ArrayLike,
    ice_point_c: ArrayLike = 0.0,
) -> Floats:
    """Hours until the liquid in a body is solid in air of constant temperature.

    Parameters as for `first_ice_hours`; ``degree_hours`` [K h] from `degree_hours_to_solid`.
    inf if the air is not below the ice point. A mix has no plateau and freezes through later
    than this says, if at all.
    """
    below = np.asarray(ice_point_c, dtype=np.float64) - np.asarray(air_c, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        growing = np.where(below > 0.0, np.asarray(degree_hours) / below, np.inf)
    total = first_ice_hours(start_c, air_c, lag_h, ice_point_c) + growing
    hours: Floats = np.where(np.isnan(below), np.nan, total)[()]
    return hours


def thaw_hours(
    ice_fraction: ArrayLike,
    air_c: ArrayLike,
    degree_hours: ArrayLike,
    ice_point_c: ArrayLike = 0.0,
) -> Floats:
    """Hours until the ice in a body at its ice point has melted in air of constant temperature.

    Parameters
    ----------
    ice_fraction : array_like
        Share of the liquid that is ice, 0 to 1.
    air_c, ice_point_c : array_like
        Temperatures [°C].
    degree_hours : array_like
        Those that froze all of it [K h].

    Returns
    -------
    ndarray of float64, the broadcast shape
        Hours; inf if there is ice and the air is not above the ice point.
    """
    above = np.asarray(air_c, dtype=np.float64) - np.asarray(ice_point_c, dtype=np.float64)
    left = np.asarray(ice_fraction, dtype=np.float64) * np.asarray(degree_hours)
    with np.errstate(divide="ignore", invalid="ignore"):
        melting = np.where(above > 0.0, left / above, np.inf)
    hours: Floats = np.where(np.isnan(above + left), np.nan, np.where(left == 0.0, 0.0, melting))[
        ()
    ]
    return hours
