"""The coming night as the air may go through it: one series a member, to each member's low."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.ensemble import COLD_MEMBER, chance_of, early_hours, first_below
from monitor.judgement.air.grid import STEP_H, Floats
from monitor.yard.space import Yard
from monitor.yard.sun import NightHours, night_hours_of

_AFTER_SUNSET_H = 2.0  # the evening's fast fall ends here and the slow one begins (FAO 10, ch. 5)
_BEFORE_SUNRISE_H = 10.0 / 60.0  # when the low usually comes
_DAY_BEGINS_H = 1.0  # after sunrise: from then on the next night counts
# ... or so long before the noon at which the night in progress ends: a front at midday is else not
# seen before the sun is up, and an act against it has to be told six hours ahead.
_AHEAD_AT_LEAST_H = 6.0
_SHAPED_BY = 3  # nights that make a usual course
_USUAL_NIGHTS = 14  # the newest of them
_OWN_NIGHTS = 14  # from so many on, each course goes as one of them did
_NEAREST = 7  # nights that fell about as far, among which a course has its own
_PULLED_OVER_H = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingNight:
    """The night that counts at one moment, and the hours until the noon after it."""

    dark: NightHours
    after_sunset_h: float  # now, on the night's own axis
    hours: Floats  # (n,) after now, on the grid's own step


def coming_night(now: datetime, yard: Yard) -> ComingNight:
    """Find the night that counts: the coming one from an hour after sunrise, or 06:00, on."""
    local = now.astimezone(yard.zone)
    evening = local.date() if local.time() >= time(12) else local.date() - timedelta(days=1)
    dark = night_hours_of(evening, yard)
    day_begins = min(
        dark.sunrise + timedelta(hours=_DAY_BEGINS_H),
        noon_after(evening, yard) - timedelta(hours=_AHEAD_AT_LEAST_H),
    )
    if now > day_begins:
        dark = night_hours_of(local.date(), yard)
    steps = max(int((noon_after(dark.evening, yard) - now) / timedelta(hours=STEP_H)), 1)
    return ComingNight(
        dark=dark,
        after_sunset_h=(now - dark.sunset) / timedelta(hours=1),
        hours=np.arange(1, steps + 1, dtype=np.float64) * STEP_H,
    )


def noon_after(evening: date, yard: Yard) -> datetime:
    """The noon that ends a night."""
    return datetime.combine(evening + timedelta(days=1), time(12), yard.zone)


def members_to_lows(now_c: float, lows_c: Floats, coming: ComingNight, shapes: Floats) -> Floats:
    """Members of the air from now on, each ending its fall at its own low.

    Parameters
    ----------
    now_c : float
        Air now [°C].
    lows_c : ndarray, shape (members,)
        Not above the air now; the coldest first.
    coming : ComingNight
    shapes : ndarray, shape (nights, n)
        How past nights went on from this hour, the newest last (see `past_weeks.night_shapes`).

    Returns
    -------
    ndarray, shape (members, n)

    Notes
    -----
    With two weeks of nights or more, each course goes as one of the seven that fell about as far,
    and is pulled bit by bit to its own low: nights come to their low early or late and stay there
    for an hour or for ten, and a mean of them all stays too cold for too long. With fewer it goes
    as their mean does; so does the one at the cold edge, which speaks for a night alone.
    """
    usual = _usual_members(now_c, lows_c, coming, shapes[-_USUAL_NIGHTS:])
    if shapes.shape[0] < _OWN_NIGHTS:
        return usual
    falls_k = -np.minimum(shapes.min(axis=1), 0.0)
    apart_k = np.abs(falls_k - (now_c - lows_c)[:, None])
    near = np.argsort(apart_k, axis=1, kind="stable")[:, :_NEAREST]
    # Five steps on among seven from member to member: each of them comes equally often.
    shape = shapes[np.take_along_axis(near, _turns(lows_c.size)[:, None], axis=1)[:, 0]]
    courses = pull_to_lows(now_c, now_c + shape, lows_c, coming.hours)
    if lows_c.size > COLD_MEMBER:
        courses[COLD_MEMBER] = usual[COLD_MEMBER]
    return courses


def _turns(count: int) -> NDArray[np.intp]:
    return np.arange(count) * 5 % _NEAREST


def pull_to_lows(now_c: float, courses_c: Floats, lows_c: Floats, hours: Floats) -> Floats:
    """The same courses, each pulled bit by bit, over an evening or more, to a low of its own.

    Parameters
    ----------
    now_c : float
        Air now [°C].
    courses_c : ndarray, shape (members, n)
        At ``hours`` after now [°C].
    lows_c : ndarray, shape (members,)
        Not above the air now.
    hours : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (members, n)
    """
    every = np.arange(lows_c.size)
    lowest = np.argmin(courses_c, axis=1)
    missing = lows_c - np.minimum(courses_c[every, lowest], now_c)
    over_h = np.maximum(hours[lowest], min(_PULLED_OVER_H, hours[-1]))
    pulled = courses_c + missing[:, None] * np.minimum(hours / over_h[:, None], 1.0)
    courses: Floats = np.maximum(pulled, lows_c[:, None])
    courses[every, np.argmin(courses, axis=1)] = lows_c
    return courses


def _usual_members(now_c: float, lows_c: Floats, coming: ComingNight, shapes: Floats) -> Floats:
    """Members of the mean shape, pulled bit by bit towards each low.

    Without three nights: flat until two hours after sunset, then down by the square root of time
    to shortly before sunrise (FAO 10, ch. 5). Where nights did not fall they do not tell when a
    fall begins: down so from sunset on.
    """
    hours, low_c = coming.hours, lows_c[:, None]
    known = shapes.shape[0] >= _SHAPED_BY
    shape = shapes.mean(axis=0) if known else np.zeros(hours.size)
    if shape.min() >= 0.0:
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
