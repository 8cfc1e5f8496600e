"""The coming night as the air may go through it: one course a member, to each member's low."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from monitor.judgement.air.ensemble import chance_of, early_hours, first_below
from monitor.judgement.air.grid import STEP_H, Floats
from monitor.judgement.air.night_hours import Dark, dark_of
from monitor.yard.space import Yard

_AFTER_SUNSET_H = 2.0  # the evening's fast fall ends here and the slow one begins (FAO 10, ch. 5)
_BEFORE_SUNRISE_H = 10.0 / 60.0  # when the low usually comes
_DAY_BEGINS_H = 1.0  # after sunrise: from then on the next night counts


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingNight:
    """The night that counts at one moment, and the hours until the noon after it."""

    dark: Dark
    after_sunset_h: float  # now, on the night's own axis
    hours: Floats  # (n,) after now, on the grid's own step


def coming_night(now: datetime, yard: Yard) -> ComingNight:
    """Find the night that counts: from noon on the coming one, until an hour after sunrise."""
    local = now.astimezone(yard.zone)
    evening = local.date() if local.time() >= time(12) else local.date() - timedelta(days=1)
    dark = dark_of(evening, yard)
    if now > dark.sunrise + timedelta(hours=_DAY_BEGINS_H):
        dark = dark_of(local.date(), yard)
    steps = max(int((noon_after(dark.evening, yard) - now) / timedelta(hours=STEP_H)), 1)
    return ComingNight(
        dark=dark,
        after_sunset_h=(now - dark.sunset) / timedelta(hours=1),
        hours=np.arange(1, steps + 1, dtype=np.float64) * STEP_H,
    )


def noon_after(evening: date, yard: Yard) -> datetime:
    """The noon that ends a night."""
    return datetime.combine(evening + timedelta(days=1), time(12), yard.zone)


def courses_to(now_c: float, lows_c: Floats, coming: ComingNight, shape: Floats | None) -> Floats:
    """Courses of the air from now on, each ending its fall at its own low.

    Parameters
    ----------
    now_c : float
        Air now [°C].
    lows_c : ndarray, shape (members,)
        Not above the air now.
    coming : ComingNight
    shape : ndarray, shape (n,), or None
        How past nights went on from this hour (see `past_weeks.night_shape`), pulled bit by bit
        towards each low. Without it, or with holes in it: flat until two hours after sunset,
        then down by the square root of time to shortly before sunrise (FAO 10, ch. 5). Where those
        nights did not fall they do not tell when a fall begins: down so from sunset on.

    Returns
    -------
    ndarray, shape (members, n)
    """
    hours, low_c = coming.hours, lows_c[:, None]
    known = shape is not None and bool(np.isfinite(shape).all())
    if shape is None or not known or shape.min() >= 0.0:
        low_h = max(coming.dark.length_h - _BEFORE_SUNRISE_H - coming.after_sunset_h, 2 * STEP_H)
        falls_from_h = 0.0 if known else _AFTER_SUNSET_H
        start_h = min(max(falls_from_h - coming.after_sunset_h, 0.0), low_h - STEP_H)
        falling = np.clip((hours - start_h) / (low_h - start_h), 0.0, 1.0)
        rising = np.clip((hours - low_h) / max(hours[-1] - low_h, STEP_H), 0.0, 1.0)
        courses: Floats = now_c + (low_c - now_c) * (np.sqrt(falling) - rising)
        courses[:, np.abs(hours - low_h).argmin()] = lows_c
        return courses
    lowest = int(np.argmin(shape))
    missing = low_c - (now_c + float(shape[lowest]))
    pulled = now_c + shape + missing * np.minimum(hours / hours[lowest], 1.0)
    courses = np.maximum(pulled, low_c)
    courses[:, lowest] = lows_c
    return courses


def hours_to_pass(
    limit_c: float, now_c: float, hours: Floats, courses_c: Floats
) -> tuple[float, float]:
    """When the air passes a limit on its way down, and the chance that it does before the noon.

    Returns
    -------
    (float, float)
        Hours: the early one, before which one of ten courses that pass it does; 0 if it is there
        now, inf if fewer pass than are worth saying. And the share of courses that pass it.
    """
    if now_c <= limit_c:
        return 0.0, 1.0
    times = np.concatenate([[0.0], hours])
    whole = np.concatenate([np.full((courses_c.shape[0], 1), now_c), courses_c], axis=1)
    passes = first_below(times, whole, limit_c)
    return float(early_hours(passes)), chance_of(np.isfinite(passes))
