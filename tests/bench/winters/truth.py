"""What really happened in a winter: air, sky and the metal of craft, integrated on their own.

Nothing here comes from the project's own physics: the truth must not share the judge's mistakes.
"""

from dataclasses import dataclass

import numpy as np

from tests.bench.winters.places import BEGIN, FIRST_EVENING, Weather

STEP_H = 1.0 / 6.0
_A_STEP = 6  # steps in an hour
_SIGMA = 5.670374e-8
_ROOF_LAG_H, _FLOOR_LAG_H, _FLOOR_SHARE = 4.0, 60.0, 0.25  # of the shed, an estimate
_HULL_SHARE = 0.26  # of a cover's depression that reaches the hull under it (practice)
_VIEW, _HULL_W_M2_K, _EMITS = 0.8, 3.7, 0.9
_AT_DECK = 0.6  # wind there over wind at ten metres
# How clear a night without cloud on record was: depression over that of a clear calm sky, at
# the quantiles beside it, over six open winters.
_CLEAR = np.array([0.08, 0.10, 0.14, 0.40, 0.67, 0.84, 0.96])
_CLEAR_AT = np.array([0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95])

# Lags of what stands there [h]: the ends that a profile may state, and three craft's true ones.
LAGS_H = {"fitting": (0.3, 1.0), "block": (3.0, 6.0)}
LIKE = 3  # craft of one make: each night another one's lag is true


def true_lags_h(part: str) -> np.ndarray:
    low, high = LAGS_H[part]
    return low * (high / low) ** ((np.arange(LIKE) + 0.5) / LIKE)


@dataclass(frozen=True, kw_only=True)
class Truth:
    """A winter's truth every ten minutes after BEGIN. Shape (n,), bodies (craft, n)."""

    hours: np.ndarray
    air_c: dict[str, np.ndarray]  # by space
    known: np.ndarray  # whether the station said anything within two hours
    seam: np.ndarray
    sky_k: np.ndarray  # by which a cover lies below the air
    around_c: dict[tuple[bool, str], np.ndarray]  # air less what the sky takes, by that and space
    body_c: dict[tuple[bool, str, str], np.ndarray]  # by whether the sky takes, space, part


def truth_of(weather: Weather) -> Truth:
    """Integrate a winter."""
    at = np.arange(weather.air_c.size)
    said = np.isfinite(weather.air_c)
    hours = np.arange((at.size - 1) * _A_STEP + 1) * STEP_H
    row = np.interp(hours, at[said], weather.air_c[said])
    nearest = np.abs(at[said][np.clip(np.searchsorted(at[said], hours), 0, said.sum() - 1)] - hours)
    shed = _shed(row)
    sky = _depression(weather, hours, row)
    driven = {
        (False, "row"): row,
        (True, "row"): row - _HULL_SHARE * sky,
        (False, "shed"): shed,
        (True, "shed"): shed,
    }
    return Truth(
        hours=hours,
        air_c={"row": row, "shed": shed},
        known=nearest <= 2.0,
        seam=np.interp(hours, at, weather.seam.astype(float)) > 0.0,
        sky_k=sky,
        around_c=driven,
        body_c={
            (*where, part): np.array([lagged(air, lag) for lag in true_lags_h(part)])
            for where, air in driven.items()
            for part in LAGS_H
        },
    )


def lagged(air_c: np.ndarray, lag_h: float, step_h: float = STEP_H) -> np.ndarray:
    """A body behind air that runs straight between steps, by the implicit midpoint rule."""
    share = step_h / (2.0 * lag_h)
    body = np.empty_like(air_c)
    body[0] = air_c[0]
    for n in range(1, air_c.size):
        drive = air_c[n - 1] + air_c[n]
        body[n] = (body[n - 1] * (1.0 - share) + share * drive) / (1.0 + share)
    return body


def _shed(row_c: np.ndarray) -> np.ndarray:
    """Air under a roof without heat, over a floor that is days behind."""
    floor = lagged(row_c, _FLOOR_LAG_H)
    return lagged((1.0 - _FLOOR_SHARE) * row_c + _FLOOR_SHARE * floor, _ROOF_LAG_H)


def _depression(weather: Weather, hours: np.ndarray, air_c: np.ndarray) -> np.ndarray:
    """How far a cover over a hull lies below the air [K], by night; 0 by day.

    Prata's clear sky (1996), 0.84 of opaque cover closing the rest (Unsworth & Monteith 1975),
    a cover that sees 0.8 of the sky, coupled to the hull below it. Where the file has no cloud,
    one draw a night of how clear it was, held through it.
    """
    at = np.arange(weather.air_c.size)
    dew = _along(hours, at, weather.dew_point_c)
    kelvin = air_c + 273.15
    vapour_hpa = 6.112 * np.exp(17.62 * dew / (243.12 + dew))
    w = 46.5 * vapour_hpa / kelvin
    clear = 1.0 - (1.0 + w) * np.exp(-np.sqrt(1.2 + 3.0 * w))
    if np.isfinite(weather.cloud).any():
        n = np.clip(_along(hours, at, weather.cloud), 0.0, 1.0)
        wind = np.maximum(_along(hours, at, weather.wind_m_s) * _AT_DECK, 0.3)
        sky = _balance(kelvin, clear + (1.0 - clear) * 0.84 * n, wind)
    else:
        rng = np.random.default_rng([2013, len(weather.name)])
        nights = ((hours + 12.0) // 24.0).astype(int)  # from noon to noon
        drawn = np.interp(rng.random(int(nights.max()) + 1), _CLEAR_AT, _CLEAR)
        sky = drawn[nights] * _balance(kelvin, clear, np.full(hours.size, 0.3))
    return np.where(_sun_is_down(weather, hours), np.maximum(sky, 0.0), 0.0)


def _balance(kelvin: np.ndarray, emissivity: np.ndarray, wind: np.ndarray) -> np.ndarray:
    lost = _EMITS * _VIEW * _SIGMA * kelvin**4 * (1.0 - emissivity)
    below = np.zeros_like(kelvin)
    for _ in range(40):  # a fixed point: both coefficients grow slowly with it
        still = 0.76 * np.cbrt(np.maximum(below, 1e-3))
        film = np.hypot(still, 3.26 * wind**0.89)
        radiated = 4.0 * _EMITS * _SIGMA * (kelvin - below / 2.0) ** 3
        below = 0.5 * below + 0.5 * lost / (radiated + _HULL_W_M2_K + film)
    return below


def _sun_is_down(weather: Weather, hours: np.ndarray) -> np.ndarray:
    """By the sun's declination and mean solar time; to a quarter of an hour."""
    day = BEGIN.timetuple().tm_yday + hours / 24.0
    declination = np.radians(-23.44) * np.cos(2 * np.pi * (day + 10.0) / 365.25)
    zone_h = weather.begin.astimezone(weather.zone).utcoffset()
    assert zone_h is not None
    solar = hours % 24.0 + weather.longitude / 15.0 - zone_h.total_seconds() / 3600.0
    angle = np.radians(15.0 * (solar - 12.0))
    place = np.radians(weather.latitude)
    height = np.sin(place) * np.sin(declination) + np.cos(place) * np.cos(declination) * np.cos(
        angle
    )
    return height < 0.0


def _along(hours: np.ndarray, at: np.ndarray, values: np.ndarray) -> np.ndarray:
    known = np.isfinite(values)
    return np.interp(hours, at[known], values[known])


def evenings(weather: Weather) -> list[int]:
    """Days after BEGIN whose evening is scored."""
    first = (FIRST_EVENING - BEGIN).days
    return list(range(first, weather.air_c.size // 24 - 1))
