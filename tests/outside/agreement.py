"""How far the physics lies from what others publish: measured, and written as a table.

``python -m tests.outside.agreement`` writes AGREEMENT.md beside this file.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import iapws
import metpy.calc
import numpy as np
import psychrolib
from CoolProp.CoolProp import HAPropsSI, PropsSI
from metpy.units import units
from scipy.integrate import solve_ivp

from monitor.physics import antifreeze, lag, moist_air, wetness
from tests.outside.weather import weather_years
from tests.physics.check_values import check_values

FILE = Path(__file__).with_name("AGREEMENT.md")
psychrolib.SetUnitSystem(psychrolib.SI)

AIR_C, RH_PCT = (
    each.ravel() for each in np.meshgrid(np.linspace(0.5, 60, 35), np.linspace(5, 100, 20))
)
COLD_C, COLD_RH = (
    each.ravel() for each in np.meshgrid(np.linspace(-50, -0.5, 34), np.linspace(5, 100, 20))
)


@dataclass(frozen=True)
class Agreement:
    """One comparison: the largest difference found over the range, and what is allowed."""

    quantity: str
    reference: str
    reach: str
    difference: Callable[[], float]
    tolerance: float
    unit: str
    why: str


def _percent(ours: np.ndarray, theirs: np.ndarray) -> float:
    return float(np.nanmax(np.abs(ours / theirs - 1)) * 100)


def _largest(ours: np.ndarray, theirs: np.ndarray) -> float:
    return float(np.nanmax(np.abs(ours - theirs)))


def _each(function: Callable[..., float], *series: np.ndarray) -> np.ndarray:
    return np.array([function(*values) for values in zip(*series, strict=True)])


def _water_vs_iapws95() -> float:
    t = np.linspace(0.01, 60, 121)
    theirs = _each(lambda x: PropsSI("P", "T", x + 273.15, "Q", 1, "Water"), t)
    return _percent(moist_air.saturation_pressure_water(t), theirs)


def _water_vs_iapws97() -> float:
    t = np.linspace(0.01, 60, 121)
    theirs = _each(lambda x: iapws.iapws97._PSat_T(x + 273.15) * 1e6, t)
    return _percent(moist_air.saturation_pressure_water(t), theirs)


def _ice_vs_iapws() -> float:
    t = np.linspace(-50, 0, 101)
    theirs = _each(lambda x: iapws._iapws._Sublimation_Pressure(x + 273.15) * 1e6, t)
    return _percent(moist_air.saturation_pressure_ice(t), theirs)


def _supercooled_vs_murphy_koop() -> float:
    kelvin = np.linspace(-30, 0, 61) + 273.15
    ln_k = np.log(kelvin)
    theirs = np.exp(
        54.842763
        - 6763.22 / kelvin
        - 4.210 * ln_k
        + 0.000367 * kelvin
        + np.tanh(0.0415 * (kelvin - 218.8))
        * (53.878 - 1331.22 / kelvin - 9.44523 * ln_k + 0.014025 * kelvin)
    )
    return _percent(moist_air.saturation_pressure_water(kelvin - 273.15), theirs)


def _dew_vs_psychrolib() -> float:
    theirs = _each(psychrolib.GetTDewPointFromRelHum, AIR_C, RH_PCT / 100)
    above = theirs > 0.0
    return _largest(moist_air.dew_point(AIR_C, RH_PCT)[above], theirs[above])


def _frost_vs_psychrolib() -> float:
    theirs = _each(psychrolib.GetTDewPointFromRelHum, AIR_C, RH_PCT / 100)
    below = theirs < 0.0
    return _largest(moist_air.frost_point(AIR_C, RH_PCT)[below], theirs[below])


def _dew_vs_coolprop() -> float:
    def theirs(t: float, rh: float) -> float:
        found = HAPropsSI("D", "T", t + 273.15, "R", rh / 100, "P", 101325)
        return found - 273.15

    dew = _each(theirs, AIR_C, RH_PCT)
    above = dew > 0.0
    return _largest(moist_air.dew_point(AIR_C, RH_PCT)[above], dew[above])


def _dew_vs_metpy() -> float:
    found = metpy.calc.dewpoint_from_relative_humidity(AIR_C * units.degC, RH_PCT * units.percent)
    theirs = found.m_as("degC")
    above = theirs > 0.0
    return _largest(moist_air.dew_point(AIR_C, RH_PCT)[above], theirs[above])


def _cold_frost_vs_iapws() -> float:
    """Frost point below 0 °C: IAPWS ice pressure at our frost point gives the vapour back."""
    vapour = moist_air.vapour_pressure(COLD_C, COLD_RH)
    frost = moist_air.frost_point(COLD_C, COLD_RH)
    inside = frost > -60.0
    back = _each(lambda x: iapws._iapws._Sublimation_Pressure(x + 273.15) * 1e6, frost[inside])
    # One per cent of vapour pressure is 0.08 to 0.11 K of frost point.
    return float(np.max(np.abs(back / vapour[inside] - 1)) * 100 * 0.11)


def _ratio_vs_psychrolib() -> float:
    theirs = _each(
        lambda t, rh: psychrolib.GetHumRatioFromRelHum(t, rh, 101325), AIR_C, RH_PCT / 100
    )
    return _percent(moist_air.humidity_ratio(AIR_C, RH_PCT), theirs)


def _ratio_vs_metpy() -> float:
    theirs = metpy.calc.mixing_ratio_from_relative_humidity(
        101325 * units.Pa, AIR_C * units.degC, RH_PCT * units.percent
    )
    # MetPy takes RH as a ratio of mixing ratios here, ours is of pressures: same at 100 %.
    full = RH_PCT == 100.0
    return _percent(moist_air.humidity_ratio(AIR_C, RH_PCT)[full], theirs.m_as("")[full])


def _ratio_vs_coolprop() -> float:
    theirs = _each(
        lambda t, rh: HAPropsSI("W", "T", t + 273.15, "R", rh, "P", 101325),
        AIR_C,
        RH_PCT / 100,
    )
    return _percent(moist_air.humidity_ratio(AIR_C, RH_PCT), theirs)


def _bulb_vs_psychrolib() -> float:
    theirs = _each(
        lambda t, rh: psychrolib.GetTWetBulbFromRelHum(t, rh, 101325), AIR_C, RH_PCT / 100
    )
    clear = np.abs(theirs) > 1.0  # nearer 0 °C water and ice both solve it, 0.6 K apart
    return _largest(moist_air.wet_bulb(AIR_C, RH_PCT)[clear], theirs[clear])


def _bulb_vs_coolprop() -> float:
    inside = (AIR_C >= 1) & (AIR_C <= 40) & (RH_PCT >= 20)
    ours = moist_air.wet_bulb(AIR_C, RH_PCT)
    inside &= ours > 0.5
    theirs = _each(
        lambda t, rh: HAPropsSI("B", "T", t + 273.15, "R", rh, "P", 101325) - 273.15,
        AIR_C[inside],
        RH_PCT[inside] / 100,
    )
    return _largest(ours[inside], theirs)


def _glycol(mix: str, glycol: antifreeze.Glycol, highest: float) -> Callable[[], float]:
    def difference() -> float:
        mass = np.linspace(0.001, highest, 200)
        theirs = _each(
            lambda w: (
                PropsSI("T_freeze", "T", 293.15, "P", 101325, f"INCOMP::{mix}[{w:.6f}]") - 273.15
            ),
            mass,
        )
        ours = antifreeze.ice_point(mass, glycol)
        if np.any(ours < theirs):
            return float("inf")  # colder than the reference anywhere is the unsafe side
        return _largest(ours, theirs)

    return difference


def _density(mix: str, glycol: antifreeze.Glycol) -> Callable[[], float]:
    def difference() -> float:
        mass = np.linspace(0.001, 0.6, 100)
        theirs = _each(
            lambda w: PropsSI("D", "T", 293.15, "P", 101325, f"INCOMP::{mix}[{w:.6f}]"),
            mass,
        )
        return _percent(antifreeze.density(mass, glycol), theirs)

    return difference


def _lag_vs_scipy() -> float:
    dice = np.random.default_rng(4)
    hours = np.arange(0, 24.01, 0.5)
    air = dice.normal(0, 8, hours.size)
    theirs = solve_ivp(
        lambda t, y: (np.interp(t, hours, air) - y) / 4.0,
        (0, 24),
        [3.0],
        t_eval=hours,
        max_step=0.02,
        rtol=1e-10,
        atol=1e-10,
    ).y[0]
    return _largest(lag.lag_response(hours, air, 4.0, 3.0).body_c, theirs)


def _weather(index: int) -> Callable[[], float]:
    return lambda: float(np.percentile(weather_years()[index].differences(), 99))


def _check_file(quantity: str, ours: Callable[..., float], *keys: str) -> Callable[[], float]:
    def difference() -> float:
        rows = [row for row in check_values() if row.quantity == quantity]
        return max(
            abs(float(ours(*(row.number(key) for key in keys))) - float(row.expected))
            for row in rows
        )

    return difference


def _weather_rows() -> list[Agreement]:
    rows = []
    for i, year in enumerate(weather_years()):
        quantity, tolerance, why = (
            ("dew and frost point", 0.25, "RH in whole per cent, temperatures in tenths")
            if year.over_ice
            else (
                "dew point",
                1.5,
                "RH in whole per cent, temperatures in whole °C or °F; bad rows",
            )
        )
        rows.append(
            Agreement(
                f"{quantity}, 99th percentile",
                f"{year.name}: its own column",
                f"{year.air_c.size} hours, those from 40 % RH",
                _weather(i),
                tolerance,
                "K",
                why,
            )
        )
    return rows


AGREEMENTS = [
    Agreement("saturation pressure over water", "CoolProp, IAPWS-95", "0.01 to 60 °C",
              _water_vs_iapws95, 0.01, "%", "two formulas for the same measurements"),
    Agreement("saturation pressure over water", "iapws, IAPWS-IF97", "0.01 to 60 °C",
              _water_vs_iapws97, 0.03, "%", "industrial formulation, itself 0.02 % off IAPWS-95"),
    Agreement("saturation pressure over supercooled water", "Murphy & Koop 2005 (from memory)",
              "-30 to 0 °C", _supercooled_vs_murphy_koop, 0.3, "%",
              "extrapolation below 0 °C; 0.3 % is 0.03 K of dew point"),
    Agreement("saturation pressure over ice", "iapws, sublimation equation", "-50 to 0 °C",
              _ice_vs_iapws, 0.06, "%", "two formulas for the same measurements"),
    Agreement("dew point", "psychrolib", "air 0.5 to 60 °C, 5 to 100 %, dew point above 0 °C",
              _dew_vs_psychrolib, 0.01, "K", "Hyland-Wexler against Sonntag: 0.02 % of pressure"),
    Agreement("dew point", "CoolProp humid air", "the same", _dew_vs_coolprop, 0.05, "K",
              "real gas there, ideal gas here"),
    Agreement("dew point", "MetPy", "the same", _dew_vs_metpy, 0.4, "K",
              "it inverts Bolton 1980 but saturates by another formula: 0.3 K off at 100 % RH"),
    Agreement("frost point", "psychrolib", "air 0.5 to 60 °C, frost point below 0 °C",
              _frost_vs_psychrolib, 0.01, "K", "it returns the frost point below 0 °C"),
    Agreement("frost point", "iapws, sublimation equation", "air -50 to -0.5 °C, to -60 °C",
              _cold_frost_vs_iapws, 0.02, "K", "pressure difference turned into kelvin"),
    Agreement("humidity ratio", "psychrolib", "0.5 to 60 °C, 5 to 100 %",
              _ratio_vs_psychrolib, 0.05, "%", "saturation formulas differ by 0.02 %"),
    Agreement("humidity ratio", "MetPy", "saturated air, 0.5 to 60 °C", _ratio_vs_metpy, 1.0, "%",
              "its saturation formula"),
    Agreement("humidity ratio", "CoolProp humid air", "0.5 to 60 °C, 5 to 100 %",
              _ratio_vs_coolprop, 0.9, "%", "real gas: the enhancement factor, left out here"),
    Agreement("wet bulb", "psychrolib", "0.5 to 60 °C, 5 to 100 %, bulb beyond 1 K of 0 °C",
              _bulb_vs_psychrolib, 0.01, "K",
              "same equations; psychrolib stops halving at 0.001 K"),
    Agreement("wet bulb", "CoolProp humid air", "1 to 40 °C, 20 to 100 %, bulb above 0.5 °C",
              _bulb_vs_coolprop, 0.03, "K", "real gas"),
    Agreement("ice point of propylene glycol, ours warmer", "CoolProp INCOMP::MPG", "0 to 60 %",
              _glycol("MPG", "propylene", 0.6), 0.25, "K", "table moved to the safe side"),
    Agreement("ice point of ethylene glycol, ours warmer", "CoolProp INCOMP::MEG", "0 to 30 %",
              _glycol("MEG", "ethylene", 0.3), 0.6, "K", "two published correlations"),
    Agreement("ice point of ethylene glycol, ours warmer", "CoolProp INCOMP::MEG", "0 to 60 %",
              _glycol("MEG", "ethylene", 0.6), 3.0, "K", "ASHRAE is warmer at the strong end"),
    Agreement("density of propylene glycol mixes", "CoolProp INCOMP::MPG", "0 to 60 %, 20 °C",
              _density("MPG", "propylene"), 0.1, "%", "straight lines between the rows"),
    Agreement("density of ethylene glycol mixes", "CoolProp INCOMP::MEG", "0 to 60 %, 20 °C",
              _density("MEG", "ethylene"), 0.1, "%", "its water end is 0.09 % light"),
    Agreement("body behind the air", "scipy, ODE solver", "24 h of half-hour readings, lag 4 h",
              _lag_vs_scipy, 1e-5, "K", "the step is exact; the solver's own error remains"),
    Agreement("film coefficient", "ht, vertical plate (check value)", "8 K, 0.3 m",
              _check_file("natural_convection_h", wetness.film_coefficient, "dT_K", "height_m"),
              0.62, "W/m²/K", "short form of the correlation, 18 %"),
    *_weather_rows(),
]  # fmt: skip


def table() -> str:
    lines = [
        "# Agreement of the physics with the world",
        "",
        "Written by `python -m tests.outside.agreement`; `tests/outside/test_agreement.py` holds"
        " every row to its tolerance. Single published values and worked examples are in"
        " `tests/physics/check_values.csv` and `tests/outside/test_published_tables.py`.",
        "",
        "| quantity | reference | over | largest difference | tolerance | why |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| {row.quantity} | {row.reference} | {row.reach} | {row.difference():.2g} {row.unit} |"
        f" {row.tolerance:g} {row.unit} | {row.why} |"
        for row in AGREEMENTS
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    FILE.write_text(table(), encoding="utf-8")
