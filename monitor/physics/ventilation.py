"""Whether opening up dries a space or wets it, by how much, and what cold metal gets of it."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import Floats
from monitor.physics.kinds import STANDARD_PRESSURE_PA
from monitor.physics.moist_air import (
    absolute_humidity,
    condensation_point,
    dew_point,
    humidity_ratio,
)

SENSOR_ERROR_G_KG = 0.3  # ±3 % RH: smaller differences of water content say nothing


class VentEffect(NamedTuple):
    """What opening up brings, each of the broadcast shape.

    ``water_g_kg`` is outside minus inside water content: above 0 opening wets. ``removed_g_m3``
    is what each cubic metre exchanged carries out (below 0: in). ``dew_point_k`` is the rule
    of the trade, outside minus inside dew point: open only when it is below 0. ``drying`` is 1
    where opening dries, -1 where it wets, 0 where the difference is within the sensors' error,
    NaN where it is not known. ``wets_metal`` is true where outside air would condense on the
    coldest metal, whatever the rest says.
    """

    water_g_kg: Floats
    removed_g_m3: Floats
    dew_point_k: Floats
    drying: Floats
    wets_metal: NDArray[np.bool_]


def vent_effect(
    inside_c: ArrayLike,
    inside_rh_pct: ArrayLike,
    outside_c: ArrayLike,
    outside_rh_pct: ArrayLike,
    metal_c: ArrayLike = np.inf,
    pressure_pa: ArrayLike = STANDARD_PRESSURE_PA,
) -> VentEffect:
    """Weigh outside air against inside air.

    Parameters
    ----------
    inside_c, inside_rh_pct, outside_c, outside_rh_pct : array_like
        Temperatures [°C] and relative humidities [%].
    metal_c : array_like
        Coldest metal in the space [°C], by its lag or a probe; inf: none.
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    VentEffect

    Raises
    ------
    ValueError
        If a humidity is a single number outside 0 to 100.

    Notes
    -----
    Water content decides, not relative humidity: warm spells after cold bring air that is
    drier by RH and wets all the same. 0.3 g/kg is what two sensors of ±3 % can be wrong by.
    """
    water = vent_water(inside_c, inside_rh_pct, outside_c, outside_rh_pct, pressure_pa)
    removed = absolute_humidity(inside_c, inside_rh_pct) - absolute_humidity(
        outside_c, outside_rh_pct
    )
    dew = dew_point(outside_c, outside_rh_pct) - dew_point(inside_c, inside_rh_pct)
    condenses = condensation_point(outside_c, outside_rh_pct) > np.asarray(metal_c)
    return VentEffect(water, removed, dew, vent_drying(water), condenses)


def vent_water(
    inside_c: ArrayLike,
    inside_rh_pct: ArrayLike,
    outside_c: ArrayLike,
    outside_rh_pct: ArrayLike,
    pressure_pa: ArrayLike = STANDARD_PRESSURE_PA,
) -> Floats:
    """Water content outside minus inside [g/kg]; parameters and shape as for `vent_effect`."""
    out = humidity_ratio(outside_c, outside_rh_pct, pressure_pa)
    more: Floats = 1000.0 * (out - humidity_ratio(inside_c, inside_rh_pct, pressure_pa))
    return more


def vent_drying(water_g_kg: ArrayLike) -> Floats:
    """Whether opening dries (1) or wets (-1) by a difference of water content; see `VentEffect`."""
    water = np.asarray(water_g_kg)
    clear = np.where(np.abs(water) > SENSOR_ERROR_G_KG, -np.sign(water), 0.0)
    drying: Floats = np.where(np.isnan(water), np.nan, clear)[()]
    return drying
