"""Weather over a yard: synthetic by seed, scripted by hand, or from an open hourly set.

The synthetic winter is a season's mean, slow swings, and episodes laid over them: cold spells
that clear the sky and still the wind, and warm damp fronts. Nights cool by a surface balance of
sun, sky and mixing, so a clear calm night falls far and a cloudy one hardly at all.
"""

import csv
import gzip
from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.signal import lfilter

from simulator.air import dew_point, saturation_over_water
from simulator.sky import sky_temperature, sunshine

Array = NDArray[np.float64]

STEP_S = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """What is outdoors, as arrays of one length over Unix time."""

    at_s: Array
    air_c: Array
    dew_point_c: Array
    sky_c: Array  # a black sky of this temperature sends down the same infrared
    sun_w_m2: Array
    wind_m_s: Array

    def __post_init__(self) -> None:
        if not np.all(np.diff(self.at_s) > 0):
            raise ValueError("weather: times must rise")
        for field in fields(self):
            values = getattr(self, field.name)
            if values.shape != self.at_s.shape or not np.isfinite(values).all():
                raise ValueError(f"weather: {field.name} has gaps or another length than at_s")

    @property
    def vapour_pa(self) -> Array:
        """Outdoor vapour pressure [Pa]."""
        return saturation_over_water(self.dew_point_c)

    def during(self, at_s: Array) -> "Weather":
        """The same weather at other times, straight between; the ends are held."""
        parts = {
            field.name: np.interp(at_s, self.at_s, getattr(self, field.name))
            for field in fields(self)
            if field.name != "at_s"
        }
        return Weather(at_s=at_s, **parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Where a synthetic winter happens; the defaults are a northern inland lake."""

    latitude: float = 44.5
    longitude: float = -88.0
    year_mean_c: float = 7.5
    year_swing_k: float = 12.5  # half of July minus January
    slow_swing_k: float = 3.0  # standard deviation of the changes over days
    days_between_episodes: float = 4.5
    cold_share: float = 0.55  # of the episodes; the rest are warm damp fronts


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One line of a script: what it is like outdoors at one moment."""

    at: datetime
    air_c: float
    rh_pct: float
    cloud: float = 0.0
    wind_m_s: float = 1.0


def swings(rng: np.random.Generator, count: int, step_h: float, hours: float) -> Array:
    """Noise of unit spread that forgets itself over some hours, without sharp corners."""
    keep = np.exp(-2.0 * step_h / hours)
    spread = np.sqrt((1.0 + keep**2) / (1.0 - keep**2) ** 3)
    lead = round(4.0 * hours / step_h)  # until it has forgotten that it began at nothing
    pushes = rng.normal(size=count + lead) / spread
    once = lfilter([1.0], [1.0, -keep], pushes)
    return np.asarray(lfilter([1.0], [1.0, -keep], once))[lead:]


def _episode(at_h: Array, start_h: float, rise_h: float, stay_h: float, fall_h: float) -> Array:
    """A ramp up, a plateau and a ramp down, 0 to 1."""
    corners = np.cumsum([start_h, rise_h, stay_h, fall_h])
    return np.interp(at_h, corners, [0.0, 1.0, 1.0, 0.0], left=0.0, right=0.0)


def synthetic(seed: int, start: datetime, end: datetime, climate: Climate | None = None) -> Weather:
    """Make weather between two aware moments; one seed is one winter."""
    climate = climate or Climate()
    rng = np.random.default_rng(seed)
    at_s = np.arange(start.timestamp(), end.timestamp() + STEP_S, STEP_S)
    at_h = (at_s - at_s[0]) / 3600.0
    count, hours = len(at_s), STEP_S / 3600.0
    year_day = (at_s % (365.2425 * 86400.0)) / 86400.0
    season = -np.cos(2.0 * np.pi * (year_day - 20.0) / 365.2425)
    air = climate.year_mean_c + climate.year_swing_k * season
    air = air + climate.slow_swing_k * swings(rng, count, hours, 38.0)
    cloud = 1.0 / (1.0 + np.exp(-(2.0 * swings(rng, count, hours, 16.0))))
    wind = 2.6 * np.exp(0.6 * swings(rng, count, hours, 9.0))
    dry = 2.5 + 1.5 * np.abs(swings(rng, count, hours, 20.0))  # air above its dew point

    next_h = float(rng.exponential(climate.days_between_episodes * 12.0))
    while next_h < at_h[-1]:
        if rng.random() < climate.cold_share:
            stay = float(rng.uniform(20.0, 110.0))
            shape = _episode(at_h, next_h, rng.uniform(5.0, 12.0), stay, rng.uniform(12.0, 30.0))
            air = air - rng.uniform(4.0, 11.0) * shape
            cloud = cloud * (1.0 - 0.95 * shape)
            wind = wind * (1.0 - shape) + shape * rng.uniform(0.4, 1.5)
            dry = dry * (1.0 - shape) + shape * rng.uniform(2.0, 5.0)
        else:
            stay = float(rng.uniform(8.0, 40.0))
            shape = _episode(at_h, next_h, rng.uniform(3.0, 9.0), stay, rng.uniform(4.0, 12.0))
            air = air + rng.uniform(5.0, 12.0) * shape
            cloud = cloud * (1.0 - shape) + shape
            wind = wind * (1.0 - shape) + shape * rng.uniform(2.5, 6.0)
            dry = dry * (1.0 - shape) + shape * rng.uniform(0.4, 1.2)
        pause = rng.exponential(climate.days_between_episodes * 24.0)
        next_h += stay + float(np.clip(pause, 12.0, 400.0))

    sun = sunshine(at_s, climate.latitude, climate.longitude, cloud)
    dew = air - dry
    air = air + _day_and_night(sun, cloud, wind)
    dew = np.minimum(dew, air - 0.15)
    sky = sky_temperature(air, dew, cloud)
    return Weather(at_s=at_s, air_c=air, dew_point_c=dew, sky_c=sky, sun_w_m2=sun, wind_m_s=wind)


def _day_and_night(sun_w_m2: Array, cloud: Array, wind_m_s: Array) -> Array:
    """How far the air near the ground stands off the day's mean [K]: sun in, sky out, mixing."""
    hours = STEP_S / 3600.0
    push = (0.0062 * sun_w_m2 - 1.6 * (1.0 - 0.85 * cloud)) * hours
    keep = np.exp(-hours / np.interp(wind_m_s, [0.5, 5.0], [5.5, 2.0]))
    offset = np.empty_like(push)
    now = 0.0
    for index, (gain, stays) in enumerate(zip(push.tolist(), keep.tolist(), strict=True)):
        now = now * stays + gain
        offset[index] = now
    return offset + 1.6


def scripted(
    marks: Sequence[Mark], latitude: float, longitude: float, wobble_k: float = 0.0, seed: int = 0
) -> Weather:
    """Weather through marks, smooth and without overshoot between them; some wobble if wanted."""
    times = np.array([mark.at.timestamp() for mark in marks])
    at_s = np.arange(times[0], times[-1] + STEP_S, STEP_S)
    at_s = at_s[at_s <= times[-1]]

    def through(values: list[float]) -> Array:
        return np.asarray(PchipInterpolator(times, values)(at_s))

    wobble = wobble_k * swings(np.random.default_rng(seed), len(at_s), STEP_S / 3600.0, 1.0)
    air = through([mark.air_c for mark in marks]) + wobble
    rh = np.clip(through([mark.rh_pct for mark in marks]), 5.0, 100.0)
    cloud = np.clip(through([mark.cloud for mark in marks]), 0.0, 1.0)
    vapour = rh / 100.0 * saturation_over_water(air)
    dew = dew_point(vapour)
    return Weather(
        at_s=at_s,
        air_c=air,
        dew_point_c=dew,
        sky_c=sky_temperature(air, dew, cloud),
        sun_w_m2=sunshine(at_s, latitude, longitude, cloud),
        wind_m_s=np.maximum(through([mark.wind_m_s for mark in marks]), 0.1),
    )


def from_hourly_file(
    path: Path, start: datetime, end: datetime, utc_offset_h: float = 0.0
) -> Weather:
    """Weather from an hourly typical-year table, its calendar laid over the wanted years.

    Parameters
    ----------
    path : Path
        CSV, may be gzipped, with a header and the columns ``month``, ``day``, ``hour_ending``
        (1 to 24, local standard time), ``t_c``, ``td_c``; if there, ``ir_horiz_w_m2``,
        ``ghi_w_m2`` and ``wind_m_s`` are used too.
    start, end : aware datetime
    utc_offset_h : float
        Local standard time of the table, hours east of UTC.

    Raises
    ------
    ValueError
        If a needed column or hour is missing; the text names the file.
    """
    data = path.read_bytes()
    text = (gzip.decompress(data) if path.suffix == ".gz" else data).decode("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    needed = {"month", "day", "hour_ending", "t_c", "td_c"}
    if not rows or not needed <= rows[0].keys():
        raise ValueError(f"{path}: needs the columns {', '.join(sorted(needed))}")
    by_hour = {(int(r["month"]), int(r["day"]), int(r["hour_ending"])): r for r in rows}
    zone = timedelta(hours=utc_offset_h)
    first = start.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    hours = int((end - first).total_seconds() // 3600) + 2
    moments = [first + timedelta(hours=hour) for hour in range(hours)]
    picked = []
    for moment in moments:
        local = moment + zone
        ending = local.hour or 24
        day = local - timedelta(hours=1) if ending == 24 else local
        row = by_hour.get((day.month, min(day.day, 28) if day.month == 2 else day.day, ending))
        if row is None:
            raise ValueError(f"{path}: no row for {day:%d %B}, hour ending {ending}")
        picked.append(row)

    def column(name: str, otherwise: float) -> Array:
        return np.array([float(row.get(name) or otherwise) for row in picked])

    air, dew = column("t_c", 0.0), column("td_c", 0.0)
    infrared = column("ir_horiz_w_m2", 0.0)
    radiant = (np.maximum(infrared, 1.0) / 5.670e-8) ** 0.25 - 273.15
    return Weather(
        at_s=np.array([moment.timestamp() for moment in moments]),
        air_c=air,
        dew_point_c=np.minimum(dew, air),
        sky_c=np.where(infrared > 0, radiant, sky_temperature(air, dew, 0.5)),
        sun_w_m2=column("ghi_w_m2", 0.0),
        wind_m_s=column("wind_m_s", 2.0),
    )
