"""Damp on surfaces over arrays: wet hours, condensation and drying rate, the film that stays."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import Floats
from monitor.physics.moist_air import (
    TRIPLE_POINT_C,
    saturation_pressure_ice,
    saturation_pressure_water,
    vapour_pressure,
)

WET_HUMIDITY_PCT = 80.0  # ISO 9223
# So much drier, or colder below 0 °C, counts as dry again: what a hygrometer and a thermometer
# scatter about a steady air (common practice, no source).
DRY_AGAIN_PCT, COLD_AGAIN_K = 3.0, 0.5
HOURS_A_YEAR = 8766.0
FULL_FILM_G_M2 = 100.0  # drops run off from 50 to 100 g/m² (common practice, no source)

# Lewis relation: g/m²/h of water for each W/m²/K of film coefficient and pascal of difference,
# 3.6e6 / (density * heat * Le^(2/3) * 461.5 J/kg/K * T) of air at 10 °C with Le = 0.86.
_LEWIS = 0.0243
_STILL_M_H = 9.4  # water vapour from a surface to still air: h / (density heat Le^(2/3)), h = 3

# Upper ends of the classes of wet hours in a year: ISO 9223 (T4 and T5 from memory).
_CLASS_LIMITS_H = np.array([10.0, 250.0, 2500.0, 5500.0])


def is_wet(temperature_c: ArrayLike, rh_pct: ArrayLike) -> NDArray[np.bool_]:
    """Whether metal counts as wet: RH above 80 % and temperature above 0 °C, both strictly.

    ISO 9223, time of wetness. Give the surface's own temperature and humidity where they are
    known (`monitor.physics.moist_air.surface_humidity`). The rule is known to miss wetting below
    0 °C under salt. NaN counts as not wet; a missing hour must be counted as missing.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    wet: NDArray[np.bool_] = (temperature > 0.0) & (np.asarray(rh_pct) > WET_HUMIDITY_PCT)
    return wet


def ends_wet(temperature_c: ArrayLike, rh_pct: ArrayLike) -> NDArray[np.bool_]:
    """Whether a series ends wet, where what has become wet stays so through a sensor's scatter.

    Parameters
    ----------
    temperature_c, rh_pct : array_like, shape (..., n)
        Rising in time [°C], [%].

    Returns
    -------
    ndarray of bool, shape (...)
        True if `is_wet` held at some time, and from then on neither did the humidity fall to 3 %
        below its limit nor the temperature 0.5 K below 0 °C. NaN changes nothing.
    """
    temperature, rh = np.broadcast_arrays(
        np.asarray(temperature_c, dtype=np.float64), np.asarray(rh_pct, dtype=np.float64)
    )
    wet = is_wet(temperature, rh)
    dry = (rh <= WET_HUMIDITY_PCT - DRY_AGAIN_PCT) | (temperature <= -COLD_AGAIN_K)
    # Counted from the end: which of the two was seen last.
    since_wet, since_dry = (
        np.where(seen.any(axis=-1), np.argmax(seen[..., ::-1], axis=-1), seen.shape[-1])
        for seen in (wet, dry)
    )
    ends: NDArray[np.bool_] = since_wet < since_dry
    return ends


def wetness_class(wet_hours: ArrayLike, seen_hours: ArrayLike = HOURS_A_YEAR) -> Floats:
    """Class of time of wetness, 1 to 5, of ISO 9223.

    Parameters
    ----------
    wet_hours : array_like
        Hours that were wet [h].
    seen_hours : array_like
        Hours that were looked at [h]; scaled to a year. A winter alone is not a year: say so.

    Returns
    -------
    ndarray of float64, the broadcast shape
        1 to 10 h a year, 2 to 250, 3 to 2500, 4 to 5500, 5 above; NaN without hours.
    """
    seen = np.asarray(seen_hours, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        a_year = np.asarray(wet_hours, dtype=np.float64) / seen * HOURS_A_YEAR
    number = 1.0 + np.searchsorted(_CLASS_LIMITS_H, a_year)
    result: Floats = np.where(np.isnan(a_year), np.nan, number)[()]
    return result


def film_coefficient(difference_k: ArrayLike, height_m: ArrayLike) -> Floats:
    """Heat transfer between still air and an upright surface [W/m²/K], convection only.

    Parameters
    ----------
    difference_k : array_like
        Between air and surface [K]; its sign does not matter.
    height_m : array_like
        Of the surface [m], above 0.

    Notes
    -----
    1.42 (dT / L)^0.25, the usual short form for a vertical plate (from memory); within 18 % of
    the full correlation for 1 to 12 K and 0.05 to 0.6 m. Wind or a fan multiplies it 2 to 5
    times, wetting and drying alike.
    """
    difference = np.abs(np.asarray(difference_k, dtype=np.float64))
    coefficient: Floats = 1.42 * (difference / np.asarray(height_m, dtype=np.float64)) ** 0.25
    return coefficient


def condensation_rate(
    air_c: ArrayLike, rh_pct: ArrayLike, surface_c: ArrayLike, film_w_m2k: ArrayLike
) -> Floats:
    """Water that a surface gains (plus) or loses (minus) [g/m²/h].

    Parameters
    ----------
    air_c, rh_pct : array_like
        Of the room's air [°C], [%].
    surface_c : array_like
        Temperature of the surface [°C].
    film_w_m2k : array_like
        Convective film coefficient [W/m²/K]; see `film_coefficient`.

    Returns
    -------
    ndarray of float64, the broadcast shape
        A loss is what a wet surface would lose: it counts only while there is a film.

    Notes
    -----
    Lewis relation with Le = 0.86; against properties of air computed at the film temperature
    6 % high. Below 0 °C the film is ice.
    """
    surface = np.asarray(surface_c, dtype=np.float64)
    saturated = np.where(
        surface >= TRIPLE_POINT_C,
        saturation_pressure_water(surface),
        saturation_pressure_ice(surface),
    )
    rate: Floats = _LEWIS * np.asarray(film_w_m2k) * (vapour_pressure(air_c, rh_pct) - saturated)
    return rate


def share_let_in(film_w_m2k: ArrayLike, brought_m_h: ArrayLike) -> Floats:
    """Share of `condensation_rate` that metal in a compartment gets of the air around that.

    Parameters
    ----------
    film_w_m2k : array_like
        Convective film coefficient at the metal [W/m²/K].
    brought_m_h : array_like
        Air changes of the compartment times its volume over the metal's area [m/h], above 0;
        inf: the metal stands free.

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 to 1, of wetting and drying alike: what passes to the metal has first to be carried in.

    Notes
    -----
    Two conductances in series, the Lewis relation's at 10 °C and the air change's.
    """
    to_metal_m_h = _STILL_M_H / 3.0 * np.asarray(film_w_m2k, dtype=np.float64)
    share: Floats = 1.0 / (1.0 + to_metal_m_h / np.asarray(brought_m_h, dtype=np.float64))
    return share


def film_series(
    hours: ArrayLike,
    rate_g_m2_h: ArrayLike,
    start_g_m2: ArrayLike = 0.0,
    longest_step_h: float = 2.0,
) -> Floats:
    """Water lying on a surface along a series [g/m²].

    Parameters
    ----------
    hours : array_like, shape (n,)
        Times [h], rising.
    rate_g_m2_h : array_like, shape (n,) or (m, n)
        From `condensation_rate`. NaN counts as no change.
    start_g_m2 : array_like, scalar or shape (m,)
        At the first time.
    longest_step_h : float
        A longer pause counts as this long [h]: nobody saw what condensed meanwhile.

    Returns
    -------
    ndarray of float64, shape of rate_g_m2_h
        Between 0 and 100: a surface cannot dry below dry, and drops run off.
    """
    times = np.asarray(hours, dtype=np.float64)
    rate = np.nan_to_num(np.asarray(rate_g_m2_h, dtype=np.float64))
    steps = np.minimum(np.diff(times), longest_step_h)
    film = np.empty_like(rate)
    start = np.clip(np.asarray(start_g_m2, dtype=np.float64), 0.0, FULL_FILM_G_M2)
    film[..., 0] = start
    # A step takes a film x to clip(x + gained, low, high), and two such steps are one again.
    # Doubling the reach of every step covers n of them in log2(n) passes instead of n calls.
    gained = 0.5 * (rate[..., :-1] + rate[..., 1:]) * steps
    low, high = np.zeros_like(gained), np.full_like(gained, FULL_FILM_G_M2)
    reach = 1
    while reach < steps.size:
        own, limits = (
            gained[..., reach:].copy(),
            (low[..., reach:].copy(), high[..., reach:].copy()),
        )
        gained[..., reach:] = own + gained[..., :-reach]
        for edge in (low, high):
            edge[..., reach:] = np.clip(edge[..., :-reach] + own, *limits)
        reach *= 2
    film[..., 1:] = np.clip(start[..., None] + gained, low, high)
    return film


def enclosed_vapour_pressure(
    around_pa: ArrayLike,
    saturated_pa: ArrayLike,
    water_m2_m3: ArrayLike,
    air_changes_h: ArrayLike,
) -> Floats:
    """Vapour pressure of the air inside a hull or under a cover in which water stands [Pa].

    Parameters
    ----------
    around_pa : array_like
        Vapour pressure of the air outside it [Pa].
    saturated_pa : array_like
        Saturation pressure at the temperature of the water [Pa].
    water_m2_m3 : array_like
        Wet surface for each cubic metre of air in it [1/m], 0 or more.
    air_changes_h : array_like
        How often that air is exchanged [1/h], above 0.

    Returns
    -------
    ndarray of float64, the broadcast shape
        Between the two: without water as outside, without air change saturated.

    Notes
    -----
    Steady balance of what evaporates and what the air change carries off, the form of ISO 13788
    for rooms; evaporation by the Lewis relation with 2.6 mm/s, still air.
    """
    evaporates_h = _STILL_M_H * np.asarray(water_m2_m3, dtype=np.float64)
    share = evaporates_h / (evaporates_h + np.asarray(air_changes_h, dtype=np.float64))
    around = np.asarray(around_pa, dtype=np.float64)
    inside: Floats = around + share * (np.asarray(saturated_pa, dtype=np.float64) - around)
    return inside
