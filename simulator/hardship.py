"""What makes a winter no easier than a real one: fronts, mild coasts, coarse and sick sensors.

Every choice is drawn by the winter's seed from a stream of its own, so that a hard winter is the
ordinary one of that seed but for what stands here.
"""

from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.sensors import Outage
from simulator.weather import Climate, Weather, synthetic
from simulator.workshop import Records, spells_between

Array = NDArray[np.float64]

# Weeks near freezing, small swings, and warm damp fronts rather than cold spells.
MILD_COAST = Climate(
    latitude=44.5, year_mean_c=7.0, year_swing_k=4.5, slow_swing_k=2.0, cold_share=0.4
)
_COAST_SHARE = 1 / 3
_FRONT_EVERY_H = 9 * 24.0
_FRONT_K_H = (5.0, 15.0)  # how fast air falls at a front: in open records up to 14 K in an hour
_FRONT_H = (0.7, 1.6)
_FRONT_STAYS_H, _FRONT_FADES_H = (8.0, 40.0), (12.0, 36.0)
_WET_DAYS = (4.0, 25.0)


def hard_weather(seed: int, start: datetime, end: datetime) -> Weather:
    """Synthetic weather with fronts of 5 to 15 K an hour; one winter in three is a mild coast's."""
    rng = np.random.default_rng([seed, 13])
    on_coast = rng.random() < _COAST_SHARE
    weather = synthetic(seed, start, end, MILD_COAST if on_coast else None)
    return with_fronts(weather, rng)


def with_fronts(weather: Weather, rng: np.random.Generator) -> Weather:
    """Let cold fronts pass: drier air that is degrees colder within the hour, fading in a day."""
    at_h = (weather.at_s - weather.at_s[0]) / 3600.0
    colder = np.zeros_like(at_h)
    next_h = float(rng.exponential(_FRONT_EVERY_H / 2.0))
    while next_h < at_h[-1]:
        falls_h = float(rng.uniform(*_FRONT_H))
        depth = float(rng.uniform(*_FRONT_K_H)) * falls_h
        times = (next_h, falls_h, rng.uniform(*_FRONT_STAYS_H), rng.uniform(*_FRONT_FADES_H))
        shape = np.interp(at_h, np.cumsum(times), [0.0, 1.0, 1.0, 0.0], left=0.0, right=0.0)
        colder = np.maximum(colder, depth * shape)  # two at once are one front
        next_h += float(np.clip(rng.exponential(_FRONT_EVERY_H), 48.0, 600.0))
    air = weather.air_c - colder
    dew = np.minimum(weather.dew_point_c - 1.2 * colder, air - 0.15)
    return replace(weather, air_c=air, dew_point_c=dew, sky_c=weather.sky_c - colder)


def spoil_sensors(
    seed: int,
    sensors: list[Records],
    faults: dict[str, dict[str, Any]],
    start: datetime,
    end: datetime,
) -> list[Records]:
    """Make sensors as yards have them; tells which of them there are.

    Half of the yards have no bare probe. Half of the air sensors speak once an hour, half in whole
    degrees, and a third have a head that is wet or iced for days: then it says saturation.
    """
    rng = np.random.default_rng([seed, 17])
    probe_is_there = rng.random() < 0.5
    kept = []
    for record in sensors:
        own = next(each for each in faults if record["sensor"].endswith(f"-{each}"))
        if record["mount"] == "surface" and not probe_is_there:
            del faults[own]
            continue
        kept.append(record)
        if record["mount"] != "air":
            continue
        wet = spells_between(rng, start, end, 1, (24.0 * _WET_DAYS[0], 24.0 * _WET_DAYS[1]))
        hourly, whole, wets = rng.random(3) < (0.5, 0.5, 1 / 3)
        faults[own] |= {
            "every_s": 3600.0 if hourly else 0.0,
            "resolution_c": 1.0 if whole else 0.01,
            "wet_spells": tuple(Outage(*spell) for spell in wet) if wets else (),
        }
        if hourly:
            record["interval_s"] = 3600.0
    return kept
