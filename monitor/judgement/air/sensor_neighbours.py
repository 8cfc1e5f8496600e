"""Sensors that their neighbours or a public forecast give the lie: in the sun, or damp alone."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.grid import Floats, SpaceAir, Traces, on_grid
from monitor.judgement.air.sensor_doubt import judge_doubtful
from monitor.physics.moist_air import dew_point
from monitor.yard.assessment import Assessment
from monitor.yard.facts import DoubtFacts, SensorFault
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor, SpaceKind, Yard
from monitor.yard.sun import night_hours_of

_LOOKED_AT_H = 48
# A shielded sensor reads 1 to 3 K warm in the sun, one without a shield 5 and more; at night both
# agree with their neighbours (common practice, no source).
_SUN_K = 5.0
_SUN_HOURS = 2  # of a day, on two days
_SUN_DAYS = 2
_NIGHT_K = 2.0
_LOW_SUN = timedelta(hours=1.5)  # after sunrise and before sunset it warms little
_DEW_K = 4.0  # two sensors of ±3 % RH are a kelvin apart; corners of one space two at the most
_DEW_H = 24
_WHOLE = 0.8  # share of a stretch that must be known


def judge_neighbours(
    air: SpaceAir, sensors: Sequence[Sensor], traces: Traces, yard: Yard
) -> list[Assessment]:
    """Judge each sensor of a space's air against the others there.

    Parameters
    ----------
    air : SpaceAir
        Sensors that are in doubt already are left out.
    sensors : sequence of Sensor
        The whole yard's.
    traces : mapping
    yard : Yard

    Returns
    -------
    list of Assessment
        One for each sensor that the sun shines on, or whose dew point has been far from the
        others' for a day.
    """
    here = [
        each
        for each in sensors
        if each.space == air.space.id and each.mount is Mount.AIR and each.name not in air.doubts
    ]
    if len(here) < 2:
        return []
    hours = _hours_back()
    air_c, rh_pct = (
        np.array([on_grid(traces.get((each.name, channel)), hours, air.now) for each in here])
        for channel in (Channel.TEMPERATURE, Channel.HUMIDITY)
    )
    judged = []
    if air.space.kind is not SpaceKind.WRAPPED:  # film is a greenhouse, and not evenly
        for row, sensor in enumerate(here):
            others = np.fmin.reduce(np.delete(air_c, row, axis=0), axis=0)
            apart_k = _warmed_by_sun(air_c[row] - others, hours, air.now, yard)
            if apart_k is not None:
                judged.append(_in_sun(air, sensor.name, apart_k))
    return judged + _damp_alone(air, here, dew_point(air_c, np.clip(rh_pct, 1.0, 100.0)))


def judge_sun_by_forecast(
    outside: SpaceAir | None, off_k: Floats, source: str, yard: Yard
) -> list[Assessment]:
    """Judge whether the sun warms the sensor outdoors, by a public forecast.

    Parameters
    ----------
    outside : SpaceAir or None
        Where one sensor alone tells the air; with others there they are the better judges.
    off_k : ndarray, shape (hours,)
        Its air less what was expected of it, hour by hour up to now; NaN where not known.
    source : str
        Of the forecast.
    yard : Yard
    """
    if outside is None or outside.space.kind is not SpaceKind.OPEN or not off_k.size:
        return []
    both = np.isfinite(outside.air_c) & np.isfinite(outside.warmest_c)
    if (outside.warmest_c[both] > outside.air_c[both]).any():
        return []
    apart_k = _warmed_by_sun(off_k[-_LOOKED_AT_H - 1 :], _hours_back(), outside.now, yard)
    return [] if apart_k is None else [_in_sun(outside, outside.coldest, apart_k, source)]


def _hours_back() -> Floats:
    return np.arange(-_LOOKED_AT_H, 1, dtype=np.float64)


def _warmed_by_sun(excess_k: Floats, hours: Floats, now: datetime, yard: Yard) -> float | None:
    """By how much it reads warm by day, if it does so day after day and not at night."""
    if excess_k.size != hours.size or np.isfinite(excess_k).mean() < _WHOLE:
        return None
    days, dark = _days_and_nights(hours, now, yard)
    warm = excess_k >= _SUN_K
    sunny = [day for day in days if (warm & day).sum() >= _SUN_HOURS]
    known = excess_k[dark & np.isfinite(excess_k)]
    if len(sunny) < _SUN_DAYS or not known.size or abs(float(np.median(known))) > _NIGHT_K:
        return None
    return float(np.median(excess_k[warm]))


def _days_and_nights(
    hours: Floats, now: datetime, yard: Yard
) -> tuple[list[NDArray[np.bool_]], NDArray[np.bool_]]:
    """Which of the hours have a high sun, day by day; and which of all are dark."""
    days, dark = [], np.zeros(hours.size, dtype=bool)
    first = (now + timedelta(hours=float(hours[0]))).astimezone(yard.zone).date()
    for back in range(-1, 4):
        night, after = (night_hours_of(first + timedelta(days=back + n), yard) for n in (0, 1))
        down, up, next_down = (
            (at - now) / timedelta(hours=1) for at in (night.sunset, night.sunrise, after.sunset)
        )
        low_h = _LOW_SUN / timedelta(hours=1)
        dark |= (hours > down + low_h) & (hours < up)
        days.append((hours > up + low_h) & (hours < next_down - low_h))
    return days, dark


def _in_sun(air: SpaceAir, sensor: str, apart_k: float, source: str = "") -> Assessment:
    facts = DoubtFacts(
        fault=SensorFault.IN_SUN, hours=float(_LOOKED_AT_H), apart_k=apart_k, source=source
    )
    return judge_doubtful(air.space.id, sensor, air.now, facts)


def _damp_alone(air: SpaceAir, sensors: Sequence[Sensor], dews_c: Floats) -> list[Assessment]:
    """The sensor whose dew point has been far on one side of the others' for a day.

    Of two nobody can tell which is wrong: the one is named that says the damper air.
    """
    recent = dews_c[:, -_DEW_H - 1 :]
    found = []
    for row, sensor in enumerate(sensors):
        others = np.delete(recent, row, axis=0)
        told = np.isfinite(others).any(axis=0)
        middle = np.full(recent.shape[1], np.nan)
        middle[told] = np.nanmedian(others[:, told], axis=0)
        apart = recent[row] - middle
        known = apart[np.isfinite(apart)]
        if known.size < _WHOLE * recent.shape[1]:
            continue
        one_sided = float(known.min()) > 0.0 or float(known.max()) < 0.0
        if one_sided and float(np.quantile(np.abs(known), 1.0 - _WHOLE)) >= _DEW_K:
            found.append((float(np.median(known)), sensor.name))
    if len(found) == 2 and len(sensors) == 2:
        found = [max(found)]
    return [
        judge_doubtful(
            air.space.id,
            name,
            air.now,
            DoubtFacts(fault=SensorFault.DEW_APART, hours=float(_DEW_H), apart_k=apart_k),
        )
        for apart_k, name in found
    ]
