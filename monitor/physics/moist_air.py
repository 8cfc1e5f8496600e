"""Moist air over arrays: vapour pressure, dew and frost point, water content, wet bulb.

Relative humidity is over liquid water at every temperature, below 0 °C too: that is how the
usual sensors report it (WMO-No. 8, Guide to Instruments and Methods of Observation, chapter 4).
Temperatures run from -100 to 60 °C; checked against others from -50 to 60 °C. Every function
takes arrays of any shape, broadcasts them, and returns float64 of that shape (a float64 scalar
for scalars). NaN stays NaN; a temperature out of range gives NaN. A relative humidity out of
0 to 100 raises ValueError if it is one number and gives NaN inside an array.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import Floats, by_blocks
from monitor.physics.kinds import STANDARD_PRESSURE_PA

LOWEST_C = -100.0  # end of the saturation formulas
HIGHEST_C = 60.0
TRIPLE_POINT_C = 0.01
ZERO_C_K = 273.15
VAPOUR_GAS_CONSTANT = 461.52  # J/kg/K, water vapour (IAPWS: 461.526)
MASS_RATIO = 0.621945  # molar mass of water over that of dry air (ASHRAE Fundamentals)

# Sonntag 1990, Z. Meteorol. 70(5), 340-344: ln(e/Pa) = a/T + b + cT + dT² + f ln T, T in kelvin.
_WATER = (-6096.9385, 16.635794 + np.log(100.0), -2.711193e-2, 1.673952e-5, 2.433502)
_ICE = (-6024.5282, 24.7219 + np.log(100.0), 1.0613868e-2, -1.3198825e-5, -0.49382577)

# Their inverses as t = P(x)/Q(x), x = ln(e / 611.2 Pa), constant term first: minimax fits to the
# two formulas above over -100 to 60 °C (water) and -100 to 0.02 °C (ice). Largest error 5e-6 K
# and 1e-7 K, which the tests verify on a grid; a Magnus formula is wrong by up to 0.1 K.
_WATER_BY_PCT = (_WATER[0], _WATER[1] - np.log(611.2 * 100.0), *_WATER[2:])
_DEW = (
    (-2.83756099e-4, 13.7630708, -1.97964223, 5.96593250e-2),
    (1.0, -2.00423387e-1, 1.22310106e-2, -2.18220308e-4),
)
_FROST = (
    (9.20737790e-4, 12.1445185, -1.09216146, 2.27848851e-2),
    (1.0, -1.34988142e-1, 5.82215102e-3, -8.35176120e-5),
)


def saturation_pressure_water(temperature_c: ArrayLike) -> Floats:
    """Saturation vapour pressure over liquid water, supercooled below 0 °C.

    Parameters
    ----------
    temperature_c : array_like, any shape
        Temperature [°C], -100 to 60; outside gives NaN.

    Returns
    -------
    ndarray of float64, same shape
        Vapour pressure [Pa].

    Notes
    -----
    Sonntag 1990. Within 0.01 % of IAPWS-95 from 0 to 60 °C; within 0.3 % of Murphy & Koop 2005
    for supercooled water to -30 °C and 2 % to -50 °C.
    """
    return by_blocks(_pressure_water, temperature_c)


def saturation_pressure_ice(temperature_c: ArrayLike) -> Floats:
    """Saturation vapour pressure over ice.

    Parameters
    ----------
    temperature_c : array_like, any shape
        Temperature [°C], -100 to 0.01; outside gives NaN: there is no ice above.

    Returns
    -------
    ndarray of float64, same shape
        Vapour pressure [Pa].

    Notes
    -----
    Sonntag 1990. Within 0.06 % of the IAPWS sublimation equation from -50 to 0 °C.
    """
    return by_blocks(_pressure_ice, temperature_c)


def vapour_pressure(temperature_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Vapour pressure of the water in the air [Pa], from temperature [°C] and RH [%]."""
    return by_blocks(
        lambda t, rh: _only(_rh_ok(rh), _pressure_water(t) * rh / 100.0),
        temperature_c,
        _one_or_many(rh_pct),
    )


def dew_point(temperature_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Temperature at which the air would be saturated over liquid water.

    Parameters
    ----------
    temperature_c : array_like, any shape
        Air temperature [°C], -100 to 60.
    rh_pct : array_like, broadcast with temperature_c
        Relative humidity over water [%], above 0 to 100.

    Returns
    -------
    ndarray of float64, the broadcast shape
        Dew point [°C], never above the air's temperature; below 0 °C that of supercooled
        water. NaN where an input is NaN or out
        of range, and where the dew point lies below -100 °C (perfectly dry air has none).

    Raises
    ------
    ValueError
        If rh_pct is a single number outside 0 to 100.

    Notes
    -----
    Inverse of the Sonntag 1990 formula within 5e-6 K, so the sensor decides the error: 3 % of
    relative humidity are 0.5 to 0.6 K of dew point.
    """
    return by_blocks(_dew_point, temperature_c, _one_or_many(rh_pct))


def frost_point(temperature_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Temperature at which the air would be saturated over ice; NaN above 0.01 °C.

    Parameters, errors and ranges as for `dew_point`. At the same air it lies above the dew
    point by about an eighth of the degrees below 0 °C.
    """
    return by_blocks(_frost_point, temperature_c, _one_or_many(rh_pct))


def condensation_point(temperature_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Temperature below which a surface takes water from the air, as dew or as frost.

    The dew point where that is at or above 0 °C, else the frost point: frost forms on metal
    that is still warmer than the dew point. Parameters, errors and ranges as for `dew_point`.
    """

    def formula(t: Floats, rh: Floats) -> Floats:
        dew_c = _dew_point(t, rh)
        return np.where(dew_c >= 0.0, dew_c, _frost_point(t, rh))

    return by_blocks(formula, temperature_c, _one_or_many(rh_pct))


def relative_humidity(temperature_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
    """Relative humidity over water [%] from air temperature and dew point [°C].

    A dew point above the air's temperature gives more than 100 %: two readings that cannot
    both be true, or air that is already raining out.
    """
    return 100.0 * saturation_pressure_water(dew_point_c) / saturation_pressure_water(temperature_c)


def relative_humidity_over_ice(temperature_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Relative humidity over ice [%] of air whose RH is given over water; NaN above 0.01 °C."""
    return 100.0 * vapour_pressure(temperature_c, rh_pct) / saturation_pressure_ice(temperature_c)


def surface_humidity(air_c: ArrayLike, rh_pct: ArrayLike, surface_c: ArrayLike) -> Floats:
    """Relative humidity over water [%] of the room's air once it touches a surface.

    Rust and mould answer to this one, not to the humidity in the middle of the bay. Above
    100 % water forms on the surface.
    """
    return 100.0 * vapour_pressure(air_c, rh_pct) / saturation_pressure_water(surface_c)


def humidity_ratio(
    temperature_c: ArrayLike, rh_pct: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> Floats:
    """Mass of water per mass of dry air [kg/kg].

    Parameters
    ----------
    temperature_c, rh_pct : array_like
        As for `dew_point`.
    pressure_pa : array_like
        Air pressure at the place, not reduced to sea level [Pa]; 500 m of height are 6 %.

    Returns
    -------
    ndarray of float64, the broadcast shape
        NaN also where the vapour pressure reaches the air's pressure.

    Notes
    -----
    Ideal gas (ASHRAE Fundamentals, chapter 1); a real gas has 0.7 % more.
    """
    return by_blocks(_humidity_ratio, temperature_c, _one_or_many(rh_pct), pressure_pa)


def absolute_humidity(temperature_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Mass of water in a volume of air [g/m³], ideal gas; arguments as for `dew_point`."""
    kelvin = np.asarray(temperature_c, dtype=np.float64) + ZERO_C_K
    density: Floats = (
        1000.0 * vapour_pressure(temperature_c, rh_pct) / (VAPOUR_GAS_CONSTANT * kelvin)
    )
    return density


def wet_bulb(
    temperature_c: ArrayLike, rh_pct: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> Floats:
    """Thermodynamic wet-bulb temperature [°C].

    Parameters as for `humidity_ratio`.

    Notes
    -----
    ASHRAE Fundamentals, chapter 1, the two wet-bulb equations, solved by Newton's method from
    above, where it cannot overshoot. The bulb carries water if that has a solution above 0 °C
    and ice otherwise; within about 1 K of 0 °C both can exist, 0.6 K apart.
    """
    return by_blocks(_wet_bulb, temperature_c, _one_or_many(rh_pct), pressure_pa)


def _one_or_many(rh_pct: ArrayLike) -> ArrayLike:
    """Refuse one impossible number; arrays are left to turn into NaN."""
    rh = np.asarray(rh_pct)
    if rh.ndim == 0 and (rh < 0.0 or rh > 100.0):
        raise ValueError(f"relative humidity {rh} %: it lies between 0 and 100")
    return rh


def _only(where: NDArray[np.bool_], values: Floats) -> Floats:
    """Keep values where the condition holds; NaN elsewhere. Skips the copy if it all holds."""
    return values if where.all() else np.where(where, values, np.nan)


def _rh_ok(rh: Floats) -> NDArray[np.bool_]:
    return (rh >= 0.0) & (rh <= 100.0)


def _ln_pressure(coefficients: tuple[float, ...], t: Floats) -> Floats:
    a, b, c, d, f = coefficients
    kelvin = t + ZERO_C_K
    total = np.log(kelvin)
    total *= f
    total += a / kelvin
    total += b
    kelvin *= c + d * kelvin
    total += kelvin
    return total


def _pressure_water(t: Floats) -> Floats:
    return _only((t >= LOWEST_C) & (t <= HIGHEST_C), np.exp(_ln_pressure(_WATER, t)))


def _pressure_ice(t: Floats) -> Floats:
    return _only((t >= LOWEST_C) & (t <= TRIPLE_POINT_C), np.exp(_ln_pressure(_ICE, t)))


def _ln_vapour(t: Floats, rh: Floats) -> Floats:
    """ln(e / 611.2 Pa), the inverses' own variable."""
    x = np.log(rh)
    x += _ln_pressure(_WATER_BY_PCT, t)
    return x


def _ratio(coefficients: tuple[tuple[float, ...], ...], x: Floats) -> Floats:
    """Ratio of the two cubic polynomials, by Horner's rule in place."""
    (p0, p1, p2, p3), (q0, q1, q2, q3) = coefficients
    top = p3 * x
    top += p2
    top *= x
    top += p1
    top *= x
    top += p0
    bottom = q3 * x
    bottom += q2
    bottom *= x
    bottom += q1
    bottom *= x
    bottom += q0
    top /= bottom
    return top


def _inputs_ok(t: Floats, rh: Floats) -> NDArray[np.bool_]:
    return (t >= LOWEST_C) & (t <= HIGHEST_C) & (rh <= 100.0)


def _dew_point(t: Floats, rh: Floats) -> Floats:
    dew_c = _ratio(_DEW, _ln_vapour(t, rh))
    np.minimum(dew_c, t, out=dew_c)  # the fit's last 5e-6 K must not put it above saturated air
    return _only(_inputs_ok(t, rh) & (dew_c >= LOWEST_C), dew_c)


def _frost_point(t: Floats, rh: Floats) -> Floats:
    frost_c = _ratio(_FROST, _ln_vapour(t, rh))
    inside = (frost_c >= LOWEST_C) & (frost_c <= TRIPLE_POINT_C)
    return _only(_inputs_ok(t, rh) & inside, frost_c)


def _humidity_ratio(t: Floats, rh: Floats, pressure: Floats) -> Floats:
    vapour = _pressure_water(t) * rh / 100.0
    return _only(_rh_ok(rh) & (pressure > vapour), MASS_RATIO * vapour / (pressure - vapour))


class _Bulb(NamedTuple):
    """One of ASHRAE's two wet-bulb equations: latent heat at 0 °C [kJ/kg] and how it changes."""

    saturation: tuple[float, ...]
    latent: float
    latent_slope: float
    liquid_slope: float

    def excess(self, t: Floats, bulb: Floats, saturated: Floats, content: Floats) -> Floats:
        """Heat that the bulb would have too much [kJ/kg of dry air]; 0 at the wet bulb."""
        return (
            (self.latent - self.latent_slope * bulb) * saturated
            - 1.006 * (t - bulb)
            - content * (self.latent + 1.86 * t - self.liquid_slope * bulb)
        )


_WET = _Bulb(_WATER, 2501.0, 2.326, 4.186)
_ICY = _Bulb(_ICE, 2830.0, 0.24, 2.1)
_NEWTON_STEPS = 6  # from 60 °C and dry air down to rounding


def _wet_bulb(t: Floats, rh: Floats, pressure: Floats) -> Floats:
    content = _humidity_ratio(t, rh, pressure)
    zero = np.zeros_like(t)
    vapour = np.exp(_ln_pressure(_WATER, zero))
    saturated = MASS_RATIO * vapour / (pressure - vapour)
    # A wet bulb of 0 °C that would have too much heat says that the true one is colder.
    icy = _WET.excess(t, zero, saturated, content) >= 0.0
    bulb_c = np.full_like(t, np.nan)
    for equation, where in ((_WET, ~icy), (_ICY, icy)):
        if where.any():
            bulb_c[where] = _solve_bulb(equation, t[where], content[where], pressure[where])
    return np.where(np.isnan(content), np.nan, np.minimum(bulb_c, t))


def _solve_bulb(equation: _Bulb, t: Floats, content: Floats, pressure: Floats) -> Floats:
    a, _, c, d, f = equation.saturation
    # Air at its own temperature is above the root of a rising, convex curve.
    bulb = np.minimum(t, TRIPLE_POINT_C) if equation is _ICY else t.copy()
    for _ in range(_NEWTON_STEPS):
        kelvin = bulb + ZERO_C_K
        vapour = np.exp(_ln_pressure(equation.saturation, bulb))
        saturated = MASS_RATIO * vapour / (pressure - vapour)
        growth = (-a / kelvin + f) / kelvin + c + 2.0 * d * kelvin  # d ln e / dT
        growth *= saturated * pressure / (pressure - vapour)
        slope = (equation.latent - equation.latent_slope * bulb) * growth
        slope += 1.006 - equation.latent_slope * saturated + equation.liquid_slope * content
        bulb -= equation.excess(t, bulb, saturated, content) / slope
    return bulb
