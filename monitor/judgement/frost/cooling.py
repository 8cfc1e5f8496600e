"""Cooling of circuits: each distinct lag and liquid of a space is computed once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import STEP_H, Floats
from monitor.physics.freezing import freeze_course
from monitor.physics.lag import lag_response, unbroken_from

_ICE_STRIDE = 6  # past ice is followed hour by hour: exact for straight air, and cheap
_ICE_STRIDE_AHEAD = 3
_BEFORE_ANY_READING_K = 5.0  # a body may start this far from the first air that was read
_AT_ONCE = 4096  # bodies: a season's looks together would not fit into memory

Where = tuple[int, str]  # one of several moments, and a space


@dataclass(frozen=True, slots=True, order=True)
class Body:
    """What distinguishes one circuit from another as far as cold is concerned."""

    lag_h: float
    heat_capacity_kj_k: float
    liquid_kg: float
    ice_point_c: float
    locked_c: float  # ice point of water; where a third of a mix is ice
    since_h: float = -inf  # it came into this air then, before now; -inf: before the first reading
    came_from: str = ""  # space in whose air it stood before that; empty: nobody knows


class Cooling(NamedTuple):
    """Temperature and ice of one body, past and ahead. Hours from now; inf: not before noon."""

    now_c: float
    low_c: float
    low_h: float
    first_ice_h: float  # negative: since then
    locked_h: float  # first time at the point where ice counts
    frozen_through_h: float
    ice_fraction: float  # computed share of ice now
    iced_last_h: float  # last time, up to now, at which there was ice that counts; -inf: none
    unknown_share: float  # weight that the unknown start still has now
    guessed_low_c: float  # the low, if it was 5 K colder than the air before the first reading


def cool_bodies(
    drives: Mapping[Where, DrivingAir], bodies: Mapping[Where, Iterable[Body]]
) -> dict[Where, dict[Body, Cooling]]:
    """Compute the cooling of every distinct body of every space in its past and coming air.

    Parameters
    ----------
    drives : mapping of DrivingAir by moment and space
        Along the same past hours; those ahead may end at different times.
    bodies : mapping of Body by the same
        Repeats cost nothing.

    Returns
    -------
    dict
        By moment, space and body. One lag response over all, with a row for each distinct
        time constant of a space (and one more for each time at which craft came in during the
        hours looked at, and each space out of which); and one freezing course, for bodies of
        water that come below their ice point. A mix has no plateau to follow.
    """
    wanted = [(where, body) for where in drives for body in dict.fromkeys(bodies.get(where, ()))]
    result: dict[Where, dict[Body, Cooling]] = {where: {} for where in drives}
    stood_in: dict[tuple[Where, float, str], DrivingAir] = {}
    driven = []
    for where, body in wanted:
        way = where, body.since_h, body.came_from
        if way not in stood_in:
            earlier = drives.get((where[0], body.came_from))
            stood_in[way] = _air_stood_in(drives[where], body.since_h, earlier)
        driven.append((stood_in[way], body))
    for begin in range(0, len(wanted), _AT_ONCE):
        few = slice(begin, begin + _AT_ONCE)
        for (where, body), course in zip(wanted[few], _cool_together(driven[few]), strict=True):
            result[where][body] = course
    return result


def _cool_together(
    driven: Sequence[tuple[DrivingAir, Body]], start_c: float | None = None
) -> list[Cooling]:
    """Cooling of bodies, each in its own air; all along the same past hours."""
    hours, present = _longest_hours(driven), driven[0][0].present
    lag_h, ice_point_c, locked_c = np.array(
        [(body.lag_h, body.ice_point_c, body.locked_c) for _, body in driven]
    ).T
    air_c, lags, row = _distinct_courses(driven, lag_h, hours.size)
    response = lag_response(hours, air_c, lags, start_c=start_c)
    inside, share = response.body_c[row], response.unknown_share[row, present:]
    known = np.array([drive.hours.size for drive, _ in driven])
    inside[np.arange(hours.size) >= known[:, None]] = np.nan
    below = inside <= ice_point_c[:, None]
    wet = np.flatnonzero(below.any(axis=1) & (locked_c == ice_point_c))
    ice = _ice_in_water([driven[each] for each in wet.tolist()], start_c)
    through_h = np.full(len(driven), inf)
    fraction = np.zeros(len(driven))
    # Ice in a mix counts from a third of it on; in water at once, for there the two are one.
    counts = inside[:, : present + 1] <= locked_c[:, None]
    iced_last_h = _last_time(hours, counts)
    if ice is not None:
        through_h[wet], fraction[wet] = ice.through_h, ice.fraction
        iced_last_h[wet] = np.maximum(iced_last_h[wet], ice.last_h)
    ahead = inside[:, present:]
    low = np.nanargmin(ahead, axis=1)
    columns = (
        ahead[:, 0],
        ahead[np.arange(low.size), low],
        low * STEP_H,
        _first_crossing(hours, present, inside, ice_point_c),
        _first_crossing(hours, present, inside, locked_c),
        through_h,
        fraction,
        np.minimum(iced_last_h, 0.0),
        share[:, 0],
        np.nanmin(ahead - share * _BEFORE_ANY_READING_K, axis=1),
    )
    return [Cooling(*each) for each in zip(*(column.tolist() for column in columns), strict=True)]


def _longest_hours(driven: Iterable[tuple[DrivingAir, Body]]) -> Floats:
    """The hours that reach furthest ahead; those of all others are their beginning."""
    return max((drive.hours for drive, _ in driven), key=lambda hours: hours.size)


def _as_long(air_c: Floats, size: int) -> Floats:
    """Air held at its last value to the end of the longest; what it does then is left out."""
    if air_c.size == size:
        return air_c
    return np.concatenate([air_c, np.full(size - air_c.size, air_c[-1])])


def _distinct_courses(
    driven: Sequence[tuple[DrivingAir, Body]], lag_h: Floats, size: int
) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Air and lag of every pair that occurs, and which of them is each body's."""
    pairs: dict[tuple[int, float], int] = {}
    airs, row = [], []
    for (drive, _), lag in zip(driven, lag_h.tolist(), strict=True):
        pair = (id(drive.air_c), lag)
        if pair not in pairs:
            pairs[pair] = len(pairs)
            airs.append(_as_long(drive.air_c, size))
        row.append(pairs[pair])
    return np.array(airs), np.array([lag for _, lag in pairs]), np.array(row)


def _air_stood_in(drive: DrivingAir, since_h: float, earlier: DrivingAir | None) -> DrivingAir:
    """The air that a craft has stood in: until it came, that of the space where it was before.

    What this space did before it came did not touch it. Where it was is not always known.
    """
    if since_h <= drive.hours[0]:
        return drive
    before = np.nan if earlier is None else earlier.air_c
    return replace(drive, air_c=np.where(drive.hours < since_h, before, drive.air_c))


def cool_from_probe(drive: DrivingAir, body: Body, probe_c: float) -> Cooling:
    """Cooling of one body from what its own probe reads now: no unknown start is left in it."""
    ahead = slice(drive.present, None)
    begun = DrivingAir(now=drive.now, hours=drive.hours[ahead], air_c=drive.air_c[ahead], present=0)
    return _cool_together([(begun, body)], start_c=probe_c)[0]


class _Ice(NamedTuple):
    """Of bodies of water that come below their ice point, each of shape (bodies,)."""

    through_h: Floats
    fraction: Floats  # now
    last_h: Floats  # last time, up to now, at which there was ice; -inf: none


def _ice_in_water(wanted: Sequence[tuple[DrivingAir, Body]], start_c: float | None) -> _Ice | None:
    """Ice of these bodies, each followed from its last gap in the readings on."""
    if not wanted:
        return None
    every_h, present = _longest_hours(wanted), wanted[0][0].present
    keep = np.arange(present, -1, -_ICE_STRIDE)[::-1]
    ahead = np.arange(present + _ICE_STRIDE_AHEAD, every_h.size, _ICE_STRIDE_AHEAD)
    keep = np.concatenate([keep, ahead])
    hours = every_h[keep]
    bodies = [body for _, body in wanted]
    whole: dict[int, tuple[Floats, int]] = {}
    for drive, _ in wanted:
        if id(drive.air_c) not in whole:
            air, begin = _bridge_gaps(drive)
            whole[id(drive.air_c)] = _as_long(air, every_h.size), begin
    air_c = np.empty((len(wanted), keep.size))
    for row, (drive, body) in enumerate(wanted):
        air, begin = whole[id(drive.air_c)]
        air_c[row] = air[keep]
        # Before the last gap in the readings: air that freezes nothing.
        air_c[row, keep < begin] = max(float(air[begin]), body.ice_point_c)
    course = freeze_course(
        hours,
        air_c,
        lag_h=[body.lag_h for body in bodies],
        heat_capacity_kj_k=[body.heat_capacity_kj_k for body in bodies],
        liquid_kg=[body.liquid_kg for body in bodies],
        ice_point_c=[body.ice_point_c for body in bodies],
        start_c=start_c,
    )
    past = hours <= 0.0
    # No ice is told of after the last of a body's own hours that was followed.
    known = np.array([drive.hours.size for drive, _ in wanted])
    last_h = hours[np.searchsorted(keep, known) - 1]
    return _Ice(
        through_h=np.where(course.frozen_through_h <= last_h, course.frozen_through_h, inf),
        fraction=course.ice_fraction[:, past][:, -1],
        last_h=_last_time(hours[past], course.ice_fraction[:, past] > 0.0),
    )


def _bridge_gaps(drive: DrivingAir) -> tuple[Floats, int]:
    """The air with its short holes bridged, and where what follows its last gap begins."""
    begin = unbroken_from(drive.hours, drive.air_c)
    known = np.isfinite(drive.air_c)
    if known.all():
        return drive.air_c, begin
    air: Floats = np.interp(drive.hours, drive.hours[known], drive.air_c[known])
    return air, begin


def _first_crossing(hours: Floats, present: int, inside: Floats, limit_c: Floats) -> Floats:
    """When each body passes its limit, from now on; if it is below now, since when. inf: never."""
    below = inside <= limit_c[:, None]
    rows = np.arange(limit_c.size)
    above = ~below[:, : present + 1]
    # From the last time above the limit on; without one, from the first hour.
    since = np.where(above.any(axis=1), present + 1 - np.argmax(above[:, ::-1], axis=1), 0)
    coming = below[:, present:]
    after = present + np.argmax(coming, axis=1)
    before = np.maximum(after - 1, 0)
    upper, lower = inside[rows, before], inside[rows, after]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = (upper - limit_c) / (upper - lower)
        crossing = hours[before] + part * (hours[after] - hours[before])
    ahead = np.where(coming.any(axis=1), crossing, inf)
    found: Floats = np.where(below[:, present], hours[np.minimum(since, hours.size - 1)], ahead)
    return found


def _last_time(hours: Floats, there: NDArray[np.bool_]) -> Floats:
    """The last of the hours at which it was there, for each row; -inf: at none."""
    last = there.shape[1] - 1 - np.argmax(there[:, ::-1], axis=1)
    found: Floats = np.where(there.any(axis=1), hours[last], -inf)
    return found
