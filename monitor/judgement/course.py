"""How cold it gets inside the craft of a yard: every distinct lag and circuit of a space once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby
from math import inf, isfinite

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
    since_h: float = -inf  # it came into this air then, before now; -inf: before the first reading


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
    course = course - sky_loss(air, hours, yard)
    return Driver(now=air.now, hours=hours, air_c=course, present=air.hours.size - 1)


def courses(
    drives: Mapping[str, Driver], bodies: Mapping[str, Iterable[Body]]
) -> dict[str, dict[Body, Course]]:
    """Follow every distinct body of every space through its past and coming air.

    Parameters
    ----------
    drives : mapping of Driver by space
        All along the same hours.
    bodies : mapping of Body by space
        Repeats cost nothing.

    Returns
    -------
    dict
        By space and body. One lag response a space, over its distinct time constants (and one
        more for each time at which craft came in during the hours looked at); and one
        freezing course over the whole yard, for bodies of water that come below their ice
        point. A mix has no plateau to follow.
    """
    followed = []
    for space, drive in drives.items():
        distinct = sorted(set(bodies.get(space, ())), key=lambda body: (body.since_h, body))
        for since_h, arrived in groupby(distinct, key=lambda body: body.since_h):
            together = list(arrived)
            stood_in = _since(drive, since_h)
            lags, row = np.unique([body.lag_h for body in together], return_inverse=True)
            response = lag_response(stood_in.hours, stood_in.air_c, lags)
            followed += [
                _Followed(space, stood_in, body, response.body_c[at], response.unknown_share[at])
                for body, at in zip(together, row, strict=True)
            ]
    cold = [each for each in followed if each.freezes]
    ice = _ice([(each.drive, each.body) for each in cold])
    icy = {(each.space, each.body): found for each, found in zip(cold, ice, strict=True)}
    result: dict[str, dict[Body, Course]] = {space: {} for space in drives}
    for each in followed:
        result[each.space][each.body] = _course(each, icy.get((each.space, each.body)))
    return result


def _since(drive: Driver, since_h: float) -> Driver:
    """The air that a craft has stood in: what a space did before it came did not touch it."""
    if since_h <= drive.hours[0]:
        return drive
    return replace(drive, air_c=np.where(drive.hours < since_h, np.nan, drive.air_c))


@dataclass(frozen=True, slots=True)
class _Followed:
    """One body's own temperature along its space's hours."""

    space: str
    drive: Driver
    body: Body
    inside_c: Floats
    share: Floats  # weight of the unknown start

    @property
    def freezes(self) -> bool:
        """Whether it holds water that comes below its ice point."""
        plain = self.body.locked_c == self.body.ice_point_c
        return plain and bool(np.nanmin(self.inside_c) <= self.body.ice_point_c)


def probed(drive: Driver, body: Body, probe_c: float) -> Course:
    """Follow one body whose own probe reads ``probe_c`` now: no guess is left in it."""
    ahead = slice(drive.present, None)
    hours, air = drive.hours[ahead], drive.air_c[ahead]
    inside = lag_response(hours, air, body.lag_h, start_c=probe_c).body_c
    begun = Driver(now=drive.now, hours=hours, air_c=air, present=0)
    one = _Followed("", begun, body, inside, np.zeros(hours.size))
    ice = _ice([(begun, body)], start_c=probe_c)[0] if one.freezes else None
    return _course(one, ice)


@dataclass(frozen=True, slots=True)
class _Ice:
    through_h: float
    fraction: float
    last_h: float


def _ice(wanted: Sequence[tuple[Driver, Body]], start_c: float | None = None) -> list[_Ice]:
    """Ice of bodies that come below their ice point, each from its last gap in readings on."""
    if not wanted:
        return []
    first = wanted[0][0]
    keep = np.arange(first.present, -1, -_ICE_STRIDE)[::-1]
    ahead = np.arange(first.present + _ICE_STRIDE_AHEAD, first.hours.size, _ICE_STRIDE_AHEAD)
    keep = np.concatenate([keep, ahead])
    hours = first.hours[keep]
    bodies = [body for _, body in wanted]
    course = freeze_course(
        hours,
        np.array([_unbroken(drive, body)[keep] for drive, body in wanted]),
        lag_h=[body.lag_h for body in bodies],
        heat_capacity_kj_k=[body.heat_capacity_kj_k for body in bodies],
        liquid_kg=[body.liquid_kg for body in bodies],
        ice_point_c=[body.ice_point_c for body in bodies],
        start_c=start_c,
    )
    until_now = hours <= 0.0
    found = []
    for row in range(len(wanted)):
        fraction = course.ice_fraction[row]
        iced = np.flatnonzero((fraction > 0.0) & until_now)
        found.append(
            _Ice(
                through_h=float(course.frozen_through_h[row]),
                fraction=float(fraction[until_now][-1]),
                last_h=float(hours[iced[-1]]) if iced.size else -inf,
            )
        )
    return found


def _unbroken(drive: Driver, body: Body) -> Floats:
    """The air, before the last gap in the readings replaced by some that freezes nothing."""
    begin = unbroken_from(drive.hours, drive.air_c)
    air = drive.air_c.copy()
    known = np.isfinite(air)
    air[~known] = np.interp(drive.hours[~known], drive.hours[known], air[known])
    air[:begin] = max(float(air[begin]), body.ice_point_c)
    return air


def _course(one: _Followed, ice: _Ice | None) -> Course:
    drive, body, inside = one.drive, one.body, one.inside_c
    ahead = inside[drive.present :]
    low = int(np.nanargmin(ahead))
    below = inside <= body.ice_point_c
    guess_k = one.share[drive.present :] * _BEFORE_ANY_READING_K
    return Course(
        now_c=float(ahead[0]),
        low_c=float(ahead[low]),
        low_h=low * STEP_H,
        first_ice_h=_first_crossing(drive, inside, body.ice_point_c),
        locked_h=_first_crossing(drive, inside, body.locked_c),
        frozen_through_h=ice.through_h if ice else inf,
        ice_fraction=ice.fraction if ice else 0.0,
        iced_last_h=_last_time(drive, below, ice),
        unknown_share=float(one.share[drive.present]),
        guessed_low_c=float(np.nanmin(ahead - guess_k)),
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
