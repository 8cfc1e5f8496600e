"""Glycol antifreeze over arrays: ice point, mixing, slush, burst point, refractometer readings.

Strength is the mass fraction of glycol in glycol and water, 0 to 0.6. Two points must never be
confused: at the *ice point* first crystals form; at the *burst point*, far below it, the slush
locks up and can break what holds it. Labels of storage products state the second.

Every function takes arrays of any shape and broadcasts them. NaN stays NaN; a value that a
table does not cover gives NaN.
"""

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats, between_rows
from monitor.physics.kinds import HIGHEST_MASS_FRACTION, Glycol

WATER_DENSITY = 998.2  # kg/m³ at 20 °C, IAPWS-95
_PURE_DENSITY = {"propylene": 1036.1, "ethylene": 1113.2}  # kg/m³ at 20 °C, handbook of chemistry
_PURE_INDEX = {"propylene": 1.4324, "ethylene": 1.4318}  # n_D at 20 °C, handbook of chemistry
_WATER_INDEX = 1.33299  # n_D at 20 °C

# Ice points [°C] of propylene glycol, every 2.5 % by mass: a correlation of measured values
# (Melinder 2010, as in CoolProp's INCOMP::MPG), moved 0.01 to 0.22 K to the warm, safe side.
_PROPYLENE_MASS = np.arange(0.0, 0.601, 0.025)
# fmt: off
_PROPYLENE_ICE_C = np.array([
    0.0, -0.5, -1.2, -1.9, -2.8, -3.7, -4.8, -5.9, -7.1, -8.3, -9.6, -11.1, -12.7,
    -14.4, -16.2, -18.2, -20.5, -22.9, -25.6, -28.6, -32.0, -35.8, -40.0, -44.6, -49.8,
])
# fmt: on
# Ethylene glycol, every 5 % by mass: ASHRAE Fundamentals, physical properties of secondary
# coolants (from memory); nowhere colder than the correlation of the same author (INCOMP::MEG).
_ETHYLENE_MASS = np.arange(0.0, 0.601, 0.05)
_ETHYLENE_ICE_C = np.array(
    [0.0, -1.4, -3.2, -5.4, -7.8, -10.7, -14.1, -17.9, -22.3, -27.5, -33.8, -41.1, -48.3]
)
_ICE_POINTS = {
    "propylene": (_PROPYLENE_MASS, _PROPYLENE_ICE_C),
    "ethylene": (_ETHYLENE_MASS, _ETHYLENE_ICE_C),
}

# Density of the mix at 20 °C [kg/m³] every 5 % by mass: the same correlations.
_DENSITY_MASS = np.arange(0.0, 0.601, 0.05)
# fmt: off
_DENSITY = {
    "propylene": np.array([
        998.2, 1002.2, 1006.2, 1010.4, 1014.8, 1019.3, 1023.8,
        1028.2, 1032.3, 1036.0, 1039.1, 1041.5, 1043.0,
    ]),
    "ethylene": np.array([
        998.2, 1004.0, 1010.6, 1017.3, 1024.1, 1031.0, 1038.0,
        1045.0, 1051.9, 1058.5, 1064.9, 1071.1, 1077.1,
    ]),
}
# fmt: on

# Volume fraction of glycol that protects pipes from bursting: engineering guides for
# heat-transfer fluids. Propylene from memory; its row for -18 °C agrees with a published storage
# note. Ethylene as a textbook of mathematics for the heating trade prints it (2018), which agrees
# with memory to 1 %; its rows below -29 °C ask for no more glycol, which is not believed here.
_GUIDE_VOLUME = np.array([0.12, 0.20, 0.24, 0.28, 0.30, 0.33, 0.35])
_GUIDE_BURST_C = np.array([-7.0, -12.0, -18.0, -23.0, -29.0, -34.0, -40.0])
_GUIDES = {
    "propylene": (_GUIDE_VOLUME, _GUIDE_BURST_C),
    "ethylene": (
        np.array([0.12, 0.18, 0.23, 0.27, 0.31]),
        np.array([-6.6, -12.2, -17.8, -23.3, -28.9]),
    ),
}
WEAKEST_BURST_CREDIT = 0.20  # volume fraction below which slush is given no credit
UNMEASURED_BURST_C = -18.0  # no burst point below this unless the strength was measured
LABEL_STRENGTH = 0.25  # mass fraction to expect behind any burst rating, see below
LOCKED_ICE_SHARE = 1.0 / 3.0  # propylene's burst points of the guide lie at 31 to 35 % of ice

# Sucrose in water, ICUMSA 1974: n_D at 20 °C for 0, 10, ... 60 % by mass (from memory).
_BRIX = np.arange(0.0, 61.0, 10.0)
_BRIX_INDEX = np.array([1.33299, 1.34782, 1.36384, 1.38115, 1.39986, 1.42009, 1.44193])


def ice_point(mass_fraction: ArrayLike, glycol: Glycol = "propylene") -> Floats:
    """Temperature at which first ice crystals form in a mix of glycol and water.

    Parameters
    ----------
    mass_fraction : array_like
        Glycol over glycol and water by mass, 0 to 0.6; outside gives NaN.
    glycol : "propylene" or "ethylene"

    Returns
    -------
    ndarray of float64, same shape
        Ice point [°C], on the warm side: straight lines between the rows of a table that is
        nowhere colder than the correlation it was checked against (CoolProp).
    """
    strengths, points = _ICE_POINTS[glycol]
    return between_rows(mass_fraction, strengths, points)


def mass_fraction_for(ice_point_c: ArrayLike, glycol: Glycol = "propylene") -> Floats:
    """Mass fraction whose ice point is ``ice_point_c`` [°C]; the inverse of `ice_point`.

    NaN above 0 °C and below the table's last row (about -50 °C).
    """
    strengths, points = _ICE_POINTS[glycol]
    return between_rows(ice_point_c, points[::-1], strengths[::-1])


def density(mass_fraction: ArrayLike, glycol: Glycol = "propylene") -> Floats:
    """Density of the mix at 20 °C [kg/m³]."""
    return between_rows(mass_fraction, _DENSITY_MASS, _DENSITY[glycol])


def volume_fraction(mass_fraction: ArrayLike, glycol: Glycol = "propylene") -> Floats:
    """Volume of pure glycol over the volumes of glycol and water before mixing, at 20 °C."""
    mass = np.asarray(mass_fraction, dtype=np.float64)
    pure = mass / _PURE_DENSITY[glycol]
    share: Floats = pure / (pure + (1.0 - mass) / WATER_DENSITY)
    return share


def mass_fraction_of_volume(volume: ArrayLike, glycol: Glycol = "propylene") -> Floats:
    """Mass fraction of a mix that is stated by volume; the inverse of `volume_fraction`."""
    share = np.asarray(volume, dtype=np.float64)
    pure = share * _PURE_DENSITY[glycol]
    mass: Floats = pure / (pure + (1.0 - share) * WATER_DENSITY)
    return mass


def mix(
    product_mass_fraction: ArrayLike,
    poured_l: ArrayLike,
    residual_l: ArrayLike,
    glycol: Glycol = "propylene",
    residual_mass_fraction: ArrayLike = 0.0,
) -> Floats:
    """Strength after a poured product has mixed with what the passage still held.

    Parameters
    ----------
    product_mass_fraction : array_like
        Strength of the product as poured, 0 to 0.6.
    poured_l, residual_l : array_like
        Volumes at 20 °C [L], 0 or more, not both 0.
    glycol : "propylene" or "ethylene"
    residual_mass_fraction : array_like
        Strength of what was in the passage: 0 for water, more for an earlier pour.

    Returns
    -------
    ndarray of float64, the broadcast shape
        Mass fraction of the mix. NaN if both volumes are 0.

    Notes
    -----
    Mass balance; assumes that all of it mixes. A pocket the flow never reached is water still.
    """
    product = np.asarray(product_mass_fraction, dtype=np.float64)
    held = np.asarray(residual_mass_fraction, dtype=np.float64)
    product_kg = np.asarray(poured_l, dtype=np.float64) * density(product, glycol)
    held_kg = np.asarray(residual_l, dtype=np.float64) * density(held, glycol)
    with np.errstate(invalid="ignore", divide="ignore"):
        strength: Floats = (product_kg * product + held_kg * held) / (product_kg + held_kg)
    return strength


def ice_share(
    mass_fraction: ArrayLike, temperature_c: ArrayLike, glycol: Glycol = "propylene"
) -> Floats:
    """Share of the mix, by mass, that is ice at a temperature.

    Parameters
    ----------
    mass_fraction : array_like
        Strength of the whole mix, 0 to 0.6.
    temperature_c : array_like
        Temperature of the mix [°C].

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 at and above the ice point; 1 for plain water below 0 °C. Below the table's end
        (about -50 °C) it is the share at that end, so the true one is at least that.

    Notes
    -----
    Lever rule: ice is pure water, so the glycol is all in the liquid, whose strength is the
    one with its ice point at this temperature.
    """
    _, points = _ICE_POINTS[glycol]
    whole = np.asarray(mass_fraction, dtype=np.float64)
    t = np.asarray(temperature_c, dtype=np.float64)
    liquid = mass_fraction_for(np.clip(t, points[-1], 0.0), glycol)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.clip(1.0 - whole / liquid, 0.0, 1.0)
    share = np.where((whole == 0.0) & (t < 0.0), 1.0, np.where(t >= 0.0, 0.0, share))
    inside = (whole >= 0.0) & (whole <= HIGHEST_MASS_FRACTION)
    known: Floats = np.where(inside, share, np.nan)[()]
    return known


def burst_point(
    mass_fraction: ArrayLike,
    glycol: Glycol = "propylene",
    *,
    measured: bool = False,
    label_c: ArrayLike = np.nan,
) -> Floats:
    """Temperature below which slush is no longer trusted not to break metal.

    Parameters
    ----------
    mass_fraction : array_like
        Strength, 0 to 0.6.
    glycol : "propylene" or "ethylene"
    measured : bool
        Whether the strength was read from the liquid (refractometer). If not, the burst point
        is held at or above -18 °C, unless the ice point itself is lower.
    label_c : array_like
        Burst rating on the product's label [°C]; NaN if none. Never goes below it.

    Returns
    -------
    ndarray of float64, the broadcast shape
        Burst point [°C]; never above the ice point.

    Notes
    -----
    Guidance of heat-transfer engineering guides for pipes, of each glycol its own: propylene's
    points lie at 31 to 35 % of ice, ethylene's at 28 to 30 %. Below 20 % by volume there is no
    credit: the burst point is the ice point. A cast passage is less forgiving than a pipe,
    hence the limits.
    """
    strength = np.asarray(mass_fraction, dtype=np.float64)
    ice = ice_point(strength, glycol)
    by_volume = volume_fraction(strength, glycol)
    slush = np.interp(by_volume, *_GUIDES[glycol])
    slush = np.where(by_volume >= WEAKEST_BURST_CREDIT, slush, ice)
    if not measured:
        slush = np.maximum(slush, UNMEASURED_BURST_C)
    burst: Floats = np.minimum(np.fmax(slush, label_c), ice)
    return burst


def mass_fraction_of_burst_rating(rating_c: ArrayLike) -> Floats:
    """Strength to expect of a propylene-glycol storage product from the rating on its label.

    Parameters
    ----------
    rating_c : array_like
        The label's burst rating [°C], at or below -7; warmer gives NaN.

    Returns
    -------
    ndarray of float64, same shape
        Mass fraction: what the engineering guides ask for that rating, but never more than
        0.25, because products rated to -46 °C (-50 °F) were found to hold about a quarter of
        glycol (a watermaker maker's published storage note). Its `ice_point` is therefore
        -9.6 °C at best: 36 K above such a label's number.
    """
    rating = np.asarray(rating_c, dtype=np.float64)
    volume = np.interp(-rating, -_GUIDE_BURST_C, _GUIDE_VOLUME, left=np.nan)
    strength: Floats = np.minimum(mass_fraction_of_volume(volume), LABEL_STRENGTH)
    return strength


def refractive_index(mass_fraction: ArrayLike, glycol: Glycol = "propylene") -> Floats:
    """Refractive index n_D of the mix at 20 °C.

    Lorentz-Lorenz mixing rule, from the indices of water and of pure glycol and the density of
    the mix. It reads up to 0.002 above handbook tables, so a strength found with it errs by
    1.5 % of glycol to the weak side.
    """
    strength = np.asarray(mass_fraction, dtype=np.float64)
    water = _refraction(_WATER_INDEX) / WATER_DENSITY
    pure = _refraction(_PURE_INDEX[glycol]) / _PURE_DENSITY[glycol]
    whole = density(strength, glycol) * (strength * pure + (1.0 - strength) * water)
    index: Floats = np.sqrt((1.0 + 2.0 * whole) / (1.0 - whole))
    return index


def mass_fraction_of_brix(brix: ArrayLike, glycol: Glycol = "propylene") -> Floats:
    """Glycol strength from a refractometer with a sugar scale.

    Parameters
    ----------
    brix : array_like
        Reading corrected to 20 °C [°Brix], 0 or more.
    glycol : "propylene" or "ethylene"
        What the liquid really holds; ethanol blends cannot be read this way.

    Returns
    -------
    ndarray of float64, same shape
        Mass fraction; NaN beyond 0.6. A hand-held instrument adds ±1 K of ice point (ASTM
        D3321), so allow 2 K.
    """
    index = between_rows(brix, _BRIX, _BRIX_INDEX)
    strengths = np.arange(0.0, HIGHEST_MASS_FRACTION + 1e-9, 0.025)
    return between_rows(index, refractive_index(strengths, glycol), strengths)


def mass_fraction_on_scale(shown: ArrayLike, scale: Glycol, liquid: Glycol) -> Floats:
    """Strength of a glycol that was read on the scale of the other one.

    Parameters
    ----------
    shown : array_like
        Mass fraction that the scale shows, 0 to 0.6.
    scale : "propylene" or "ethylene"
        Glycol that the instrument was made for.
    liquid : "propylene" or "ethylene"
        Glycol that the liquid really holds.

    Returns
    -------
    ndarray of float64, same shape
        Mass fraction of the liquid, which bends light as much as what the scale shows; 0.6 where
        it would be above that.
    """
    strengths = np.arange(0.0, HIGHEST_MASS_FRACTION + 1e-9, 0.025)
    index = refractive_index(shown, scale)
    found: Floats = np.interp(index, refractive_index(strengths, liquid), strengths)
    return np.where(np.isnan(index), np.nan, found)


def _refraction(index: float) -> float:
    return (index**2 - 1.0) / (index**2 + 2.0)
