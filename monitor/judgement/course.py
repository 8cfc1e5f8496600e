"""How cold it gets inside the craft of one space: every distinct lag and circuit once."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, isfinite, nan

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air import STEP_H, Floats, SpaceAir
from monitor.judgement.sky import sky_loss
from monitor.judgement.tonight import Tonight
from monitor.physics.freezing import freeze_course
from monitor.physics.lag import lag_response, unbroken_from
from monitor.yard.space import Yard

_ICE_STRIDE = 6  # past ice is followed hour by hour: exact for straight air, and cheap
_ICE_STRIDE_AHEAD = 3
_BEFORE_ANY_READING_K = 5.0  # a body may start this far from the first air that was read


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """What a space's craft stand in: its past air, then the pessimistic course to the noon."""

    now: datetime
    hours: Floats  # (n,) relative to now, rising through 0
    air_c: Floats  # (n,) coldest air less what the sky takes
    present: int  # index of now

    def at(self, hour: float) -> datetime | None:
        """Turn an hour on this axis into a time; None for one that never comes."""
        return self.now + timedelta(hours=hour) if isfinite(hour) else None


@dataclass(frozen=True, slots=True, order=True)
class Body:
    """What distinguishes one circuit from another as far as cold is concerned."""

    lag_h: float
    heat_capacity_kj_k: float
    liquid_kg: float
    ice_point_c: float
    locked_c: float  # ice point of water; where a third of a mix is ice


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One body's past and coming hours. Hours are relative to now; inf: not until the noon."""

    now_c: float
    low_c: float
    low_h: float
    first_ice_h: float  # negative: since then
    locked_h: float  # first time at the point where ice counts
    frozen_through_h: float
    ice_fraction: float  # computed share of ice now
    iced_last_h: float  # last time, up to now, at which there was ice; -inf: none seen
    unknown_share: float  # weight that the unknown start still has now
    guessed_low_c: float  # the low, if it was 5 K colder than the air before the first reading


def driver(air: SpaceAir, night: Tonight, yard: Yard) -> Driver:
    """Join what was with what is expected."""
    hours = np.concatenate([air.hours, night.hours])
    course = np.concatenate([air.air_c, night.cold_c])
    course = course - sky_loss(air.space.kind, hours, air.now, yard)
    return Driver(now=air.now, hours=hours, air_c=course, present=air.hours.size - 1)


def courses(drive: Driver, bodies: Iterable[Body]) -> dict[Body, Course]:
    """Follow every distinct body through the space's past and coming air.

    Parameters
    ----------
    drive : Driver
    bodies : iterable of Body
        Repeats cost nothing.

    Returns
    -------
    dict of Body to Course
        One lag response over the distinct time constants, and one freezing course over those
        bodies of water that come below their ice point; a mix has no plateau to follow.
    """
    distinct = sorted(set(bodies))
    if not distinct:
        return {}
    lags, row = np.unique([body.lag_h for body in distinct], return_inverse=True)
    response = lag_response(drive.hours, drive.air_c, lags)
    inside = response.body_c[row]
    share = response.unknown_share[row]
    cold = [
        index for index, body in enumerate(distinct) if np.nanmin(inside[index]) <= body.ice_point_c
    ]
    ice = _ice(drive, [distinct[index] for index in cold])
    return {
        body: _course(drive, body, inside[index], share[index], ice.get(body))
        for index, body in enumerate(distinct)
    }


def probed(drive: Driver, body: Body, probe_c: float) -> Course:
    """Follow one body whose own probe reads ``probe_c`` now: no guess is left in it."""
    ahead = slice(drive.present, None)
    hours, air = drive.hours[ahead], drive.air_c[ahead]
    inside = np.full(drive.hours.size, nan)
    inside[ahead] = lag_response(hours, air, body.lag_h, start_c=probe_c).body_c
    begun = Driver(now=drive.now, hours=hours, air_c=air, present=0)
    plain = body.locked_c == body.ice_point_c
    cold = plain and float(inside[ahead].min()) <= body.ice_point_c
    ice = _ice(begun, [body], start_c=probe_c) if cold else {}
    return _course(drive, body, inside, np.zeros(drive.hours.size), ice.get(body))


@dataclass(frozen=True, slots=True)
class _Ice:
    first_h: float
    through_h: float
    fraction: float
    last_h: float


def _ice(drive: Driver, bodies: list[Body], start_c: float | None = None) -> dict[Body, _Ice]:
    """Ice of bodies that come below their ice point. From the last gap in the readings on."""
    if not bodies:
        return {}
    first = unbroken_from(drive.hours, drive.air_c)
    keep = np.arange(drive.present, first - 1, -_ICE_STRIDE)[::-1]
    ahead = np.arange(drive.present + _ICE_STRIDE_AHEAD, drive.hours.size, _ICE_STRIDE_AHEAD)
    keep = np.concatenate([keep, ahead])
    hours = drive.hours[keep]
    course = freeze_course(
        hours,
        drive.air_c[keep],
        lag_h=[body.lag_h for body in bodies],
        heat_capacity_kj_k=[body.heat_capacity_kj_k for body in bodies],
        liquid_kg=[body.liquid_kg for body in bodies],
        ice_point_c=[body.ice_point_c for body in bodies],
        start_c=start_c,
    )
    until_now = hours <= 0.0
    found = {}
    for index, body in enumerate(bodies):
        fraction = course.ice_fraction[index]
        iced = np.flatnonzero((fraction > 0.0) & until_now)
        found[body] = _Ice(
            first_h=float(course.first_ice_h[index]),
            through_h=float(course.frozen_through_h[index]),
            fraction=float(fraction[until_now][-1]),
            last_h=float(hours[iced[-1]]) if iced.size else -inf,
        )
    return found


def _course(drive: Driver, body: Body, inside: Floats, share: Floats, ice: _Ice | None) -> Course:
    ahead = inside[drive.present :]
    low = int(np.nanargmin(ahead))
    below = inside <= body.ice_point_c
    return Course(
        now_c=float(ahead[0]),
        low_c=float(ahead[low]),
        low_h=low * STEP_H,
        first_ice_h=_first_crossing(drive, inside, body.ice_point_c),
        locked_h=_first_crossing(drive, inside, body.locked_c),
        frozen_through_h=ice.through_h if ice else inf,
        ice_fraction=ice.fraction if ice else 0.0,
        iced_last_h=_last_time(drive, below, ice),
        unknown_share=float(share[drive.present]),
        guessed_low_c=float(np.nanmin(ahead - share[drive.present :] * _BEFORE_ANY_READING_K)),
    )


def _first_crossing(drive: Driver, inside: Floats, limit_c: float) -> float:
    """When the body passes the limit, from now on; if it is below now, since when."""
    below = inside <= limit_c
    present = drive.present
    if below[present]:
        above = np.flatnonzero(~below[: present + 1])
        return float(drive.hours[above[-1] + 1]) if above.size else float(drive.hours[0])
    crossings = np.flatnonzero(below[present:])
    if not crossings.size:
        return inf
    after = present + int(crossings[0])
    upper, lower = inside[after - 1], inside[after]
    part = (upper - limit_c) / (upper - lower)
    return float(drive.hours[after - 1] + part * (drive.hours[after] - drive.hours[after - 1]))


def _last_time(drive: Driver, below: NDArray[np.bool_], ice: _Ice | None) -> float:
    seen = np.flatnonzero(below[: drive.present + 1])
    last = float(drive.hours[seen[-1]]) if seen.size else -inf
    return min(max(last, ice.last_h if ice else -inf), 0.0)
