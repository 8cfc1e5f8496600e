"""How low will this space's air go, and when? Its own last nights, carried over to the next."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import inf, nan

import numpy as np

from monitor.judgement.air import STEP_H, Floats, SpaceAir
from monitor.judgement.dark import Dark, dark_of
from monitor.yard.space import SpaceKind, Yard

NIGHTS = 3  # whose lowest low stands for the next one
_WHOLE = 0.75  # share of a night's dark hours that must be known for it to count
# Fall from evening to morning where no night is known yet. Common practice, no source.
_UNSEEN_FALL_K = {
    SpaceKind.OPEN: 6.0,
    SpaceKind.WRAPPED: 6.0,
    SpaceKind.COLD: 4.0,
    SpaceKind.HEATED: 1.0,
    SpaceKind.BENCH: 1.0,
}
_AFTER_SUNSET_H = 2.0  # the evening's fast fall ends here and the slow one begins (FAO 10, ch. 5)
_BEFORE_SUNRISE_H = 10.0 / 60.0  # when the low usually comes


@dataclass(frozen=True, slots=True, kw_only=True)
class PastNight:
    """How low a space went in one night, from noon to noon in the yard's zone."""

    evening: date
    low_c: float
    low_at: datetime
    fall_k: float  # from the same time of day as now to the low; NaN if not known


@dataclass(frozen=True, slots=True, kw_only=True)
class Tonight:
    """The coming low of one space, and the course of its air until the noon after it.

    ``low_c`` is the pessimistic edge, on which everything is judged. ``cold_c`` is the course
    to that edge, at ``hours`` after now on the grid's own step.
    """

    night: Dark
    low_c: float
    low_at: datetime
    band_low_c: float
    band_high_c: float
    hours: Floats  # (m,) after now, the first one step on
    cold_c: Floats  # (m,)
    how: str  # half a sentence: what the low rests on
    nights: tuple[PastNight, ...]


def tonight(air: SpaceAir, yard: Yard) -> Tonight | None:
    """Forecast from the lowest of the last three nights; None if the air now is not known.

    Parameters
    ----------
    air : SpaceAir
    yard : Yard

    Returns
    -------
    Tonight or None
        The low is never warmer than the air now less what it fell on those nights from this
        time of day on: a first cold evening is not judged by the mild nights before it.
    """
    if not air.known:
        return None
    local = air.now.astimezone(yard.zone)
    evening = local.date() if local.time() >= time(12) else local.date() - timedelta(days=1)
    coming = dark_of(evening, yard)
    nights = past_nights(air, yard, evening)
    lowest = min(nights, key=lambda night: night.low_c, default=None)
    low_at = _low_time(coming, lowest)
    if low_at - air.now < timedelta(hours=0.5):  # that low has been: the next night counts
        evening += timedelta(days=1)
        coming = dark_of(evening, yard)
        nights = past_nights(air, yard, evening)
        lowest = min(nights, key=lambda night: night.low_c, default=None)
        low_at = _low_time(coming, lowest)
    fall_k = _plausible_fall(air, coming, nights)
    low_c = min(lowest.low_c if lowest else inf, air.now_c - fall_k)
    high_c = max((night.low_c for night in nights), default=nan)
    hours = _hours_to_noon(air.now, evening, yard)
    return Tonight(
        night=coming,
        low_c=low_c,
        low_at=low_at,
        band_low_c=low_c,
        band_high_c=max(high_c, low_c) if nights else air.now_c,
        hours=hours,
        cold_c=_course(air, coming, low_c, low_at, hours),
        how=_how(nights, lowest, low_c, fall_k),
        nights=nights,
    )


def past_nights(air: SpaceAir, yard: Yard, before: date) -> tuple[PastNight, ...]:
    """Lows of the three nights before an evening, as far as their dark hours are known."""
    found = []
    for back in range(1, NIGHTS + 1):
        evening = before - timedelta(days=back)
        dark = dark_of(evening, yard)
        low = _low_of(air, evening, dark, yard, back)
        if low is not None:
            found.append(low)
    return tuple(found)


def _low_of(air: SpaceAir, evening: date, dark: Dark, yard: Yard, back: int) -> PastNight | None:
    noon = datetime.combine(evening, time(12), yard.zone)
    next_noon = datetime.combine(evening + timedelta(days=1), time(12), yard.zone)
    inside = _between(air, noon, next_noon)
    in_dark = _between(air, dark.sunset, dark.sunrise)
    due = dark.length_h / STEP_H
    values = air.air_c[inside]
    if np.isfinite(air.air_c[in_dark]).sum() < _WHOLE * due or not np.isfinite(values).any():
        return None
    low = int(np.nanargmin(values))
    then_h = -24.0 * back
    then_c = float(air.air_c[np.abs(air.hours - then_h).argmin()])
    return PastNight(
        evening=evening,
        low_c=float(values[low]),
        low_at=air.now + timedelta(hours=float(air.hours[inside][low])),
        fall_k=then_c - float(values[low]) if then_h >= air.hours[0] else nan,
    )


def _between(air: SpaceAir, since: datetime, until: datetime) -> slice:
    first = (since - air.now).total_seconds() / 3600.0
    last = (until - air.now).total_seconds() / 3600.0
    start, stop = np.searchsorted(air.hours, [first, last])
    return slice(int(start), int(stop))


def _low_time(coming: Dark, lowest: PastNight | None) -> datetime:
    """The same time of day as the lowest night's low; without one, shortly before sunrise."""
    if lowest is None:
        return coming.sunrise - timedelta(hours=_BEFORE_SUNRISE_H)
    days = (coming.evening - lowest.evening).days
    return lowest.low_at + timedelta(days=days)


def _plausible_fall(air: SpaceAir, coming: Dark, nights: tuple[PastNight, ...]) -> float:
    """What it usually falls from this time of day on [K], 0 or more."""
    falls = [night.fall_k for night in nights if np.isfinite(night.fall_k)]
    if falls:
        return max(float(np.mean(falls)), 0.0)
    left_h = (coming.sunrise - max(air.now, coming.sunset)).total_seconds() / 3600.0
    return _UNSEEN_FALL_K[air.space.kind] * float(
        np.sqrt(min(max(left_h / coming.length_h, 0.0), 1.0))
    )


def _hours_to_noon(now: datetime, evening: date, yard: Yard) -> Floats:
    noon = datetime.combine(evening + timedelta(days=1), time(12), yard.zone)
    steps = max(int((noon - now).total_seconds() / 3600.0 / STEP_H), 1)
    return np.arange(1, steps + 1, dtype=np.float64) * STEP_H


def _course(air: SpaceAir, coming: Dark, low_c: float, low_at: datetime, hours: Floats) -> Floats:
    """Flat until two hours after sunset, down by the square root of time, back up by noon.

    The square root is the shape of a clear night (FAO 10, ch. 5); it falls early, so a time of
    first ice errs to the early side.
    """
    start = max((coming.sunset - air.now).total_seconds() / 3600.0 + _AFTER_SUNSET_H, 0.0)
    low_h = (low_at - air.now).total_seconds() / 3600.0
    start = min(start, low_h - STEP_H)
    falling = np.clip((hours - start) / (low_h - start), 0.0, 1.0)
    rising = np.clip((hours - low_h) / max(hours[-1] - low_h, STEP_H), 0.0, 1.0)
    course: Floats = air.now_c + (low_c - air.now_c) * (np.sqrt(falling) - rising)
    # The low falls between two steps: without this the course would miss it by a little.
    course[np.abs(hours - low_h).argmin()] = low_c
    return course


def _how(
    nights: tuple[PastNight, ...], lowest: PastNight | None, low_c: float, fall_k: float
) -> str:
    if lowest is None:
        return f"no whole night is known here yet, so a fall of {fall_k:.0f} K is assumed"
    counted = {1: "the one night known so far", 2: "the lowest of the two nights known so far"}
    source = counted.get(len(nights), "the lowest of the last three nights")
    if low_c < lowest.low_c:
        return (
            f"it is colder now than {source} was at this hour, so the usual fall counts from here"
        )
    return source
