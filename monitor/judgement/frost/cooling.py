"""Cooling of circuits, past and in every member: each distinct lag and liquid once a space."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, nan, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.ensemble import MEMBERS, bands_of, early_hours
from monitor.judgement.air.grid import Floats
from monitor.judgement.air.lagged_members import (
    follow_members,
    lag_class,
    lags_of,
    start_temperatures,
)
from monitor.judgement.frost.members import THIRD, Fates, Water, freeze_members
from monitor.physics.freezing import FreezeCourse, freeze_course
from monitor.physics.ice import LATENT_KJ_KG
from monitor.physics.lag import LagResponse, lag_response, unbroken_from
from monitor.yard.frost_facts import Chances
from monitor.yard.losses import chance_of_loss

_ICE_STRIDE = 6  # past ice is followed hour by hour: exact for straight air, and cheap
_AT_ONCE = 1024  # bodies: a season's looks together would not fit into memory
_LAGS = 4  # of a range, by which the past is followed
_SPREAD = np.concatenate([[0.5], (np.arange(_LAGS) + 0.5) / _LAGS])  # the middle, then those

Where = tuple[int, str]  # one of several moments, and a space


@dataclass(frozen=True, slots=True, order=True)
class Body:
    """What distinguishes one circuit from another as far as cold is concerned."""

    lag_low_h: float
    lag_high_h: float
    heat_capacity_kj_k: float
    liquid_kg: float
    ice_point_c: float
    locked_c: float  # ice point of water; where a third of a mix is ice
    weaker_k: float = 0.0  # by which a tenth less glycol, which is counted on, raised the points
    misread_k: float = 0.0  # by which a sample may be misread, either way
    since_h: float = -inf  # it came into this air then, before now; -inf: before the first reading
    came_from: str = ""  # space in whose air it stood before that; empty: nobody knows

    @property
    def lag_h(self) -> float:
        """The middle of its range, on a scale of ratios."""
        return sqrt(self.lag_low_h * self.lag_high_h)


class Cooling(NamedTuple):
    """One body's past, and what becomes of it. Hours are relative to now.

    Of hours to come the early one is given, before which it happens in one of ten courses in which
    it does; inf where fewer do than are worth saying.
    """

    now_c: float  # by the middle of its lags
    first_ice_h: float  # negative: since then
    locked_h: float  # first time at the point where ice counts; negative: since then
    frozen_through_h: float
    ice_fraction: float  # computed share of ice now
    # Last time, up to now, at which there was ice in one, two, ... of the lags, and a third of ice;
    # -inf: never. In a mix, and where only now is known, any ice counts as a third.
    iced_last_h: Floats  # (2, lags) each falling
    unknown_share: float  # weight that the unknown start still has now
    low_c: float  # the middle low
    low_band_c: tuple[float, float]  # of four fifths of the courses
    low_h: float
    chance: Chances
    ice_rooms_k: Floats  # (members,) of the low over its first crystals, rising

    def iced_since(self, act_from_chance: float) -> float:
        """Last hour at which the chance of a loss by ice was worth an act; -inf: at none."""
        first_h, third_h = self.iced_last_h
        last_h = -inf
        for n, (first, third) in enumerate(zip(first_h, third_h, strict=True), start=1):
            share = n / first_h.size
            if chance_of_loss(share, 0.0) >= act_from_chance:
                last_h = max(last_h, float(first))
            if chance_of_loss(share, share) >= act_from_chance:
                last_h = max(last_h, float(third))
        return last_h


def cool_bodies(
    drives: Mapping[Where, DrivingAir], bodies: Mapping[Where, Iterable[Body]]
) -> dict[Where, dict[Body, Cooling]]:
    """Follow every distinct body of every space through its past and coming air.

    Parameters
    ----------
    drives : mapping of DrivingAir by moment and space
        Along the same past hours; those ahead may end at different times.
    bodies : mapping of Body by the same
        Repeats cost nothing.

    Returns
    -------
    dict
        By moment, space and body. One lag response over all, with some rows for each distinct
        range of time constants of a space (and as many more for each time at which craft came in
        during the hours looked at, and each space out of which). Past ice only of water that came
        below its ice point, and ice to come only of bodies that do in some member.
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
    """Each body's past by the middle of its lags, and what becomes of it in every member."""
    rows = _Rows.of(driven)
    hours = driven[0][0].past.hours
    response = lag_response(hours, rows.air_c, rows.lag_h, start_c=start_c)
    by_lag = response.body_c.reshape(len(rows.ranges), _LAGS + 1, -1)[rows.of_body]
    middle = rows.of_body * (_LAGS + 1)
    inside, share = by_lag[:, 0], response.unknown_share[middle, -1]
    ice_point_c, locked_c = np.array([(body.ice_point_c, body.locked_c) for _, body in driven]).T
    past = _past_ice(driven, by_lag, start_c)
    fraction = past.fraction[:, 0]
    solid_h = np.where(fraction >= 1.0, past.through_h, inf)
    since_h = [_since(hours, inside, limit_c) for limit_c in (ice_point_c, locked_c)]
    coming = _fates(driven, rows, response, past.fraction[:, 1:])
    early_h = [
        np.where(np.isfinite(since), since, early_hours(comes))
        for since, comes in zip(since_h, (coming.first_ice_h, coming.locked_h), strict=True)
    ]
    middle_member = np.argsort(coming.low_c, axis=1)[:, coming.low_c.shape[1] // 2, None]
    bands_c = bands_of(np.sort(coming.low_c, axis=1))
    chances = np.isfinite([coming.first_ice_h, coming.third_h, coming.through_h]).mean(axis=2).T
    low_c = np.median(coming.low_c, axis=1)
    low_h = np.take_along_axis(coming.low_h, middle_member, axis=1)[:, 0]
    through_h = np.minimum(solid_h, early_hours(coming.through_h))
    ice_rooms_k = np.sort(coming.ice_room_k, axis=1)
    return [
        Cooling(
            now_c=float(inside[n, -1]),
            first_ice_h=float(early_h[0][n]),
            locked_h=float(early_h[1][n]),
            frozen_through_h=float(through_h[n]),
            ice_fraction=float(fraction[n]),
            iced_last_h=past.iced_last_h[n],
            unknown_share=float(share[n]),
            low_c=float(low_c[n]),
            low_band_c=(float(bands_c[n, 0]), float(bands_c[n, 1])),
            low_h=float(low_h[n]),
            chance=Chances(*chances[n].tolist()),
            ice_rooms_k=ice_rooms_k[n],
        )
        for n in range(len(driven))
    ]


@dataclass(frozen=True, slots=True)
class _Rows:
    """Every air and range of lags that occurs, once: by the middle lag, then by some of it."""

    drives: list[DrivingAir]
    of_drive: NDArray[np.intp]  # (rows,)
    ranges: list[tuple[float, float]]
    of_body: NDArray[np.intp]  # (bodies,)
    air_c: Floats  # (rows * lags, n) past
    lag_h: Floats  # (rows * lags,)

    @classmethod
    def of(cls, driven: Sequence[tuple[DrivingAir, Body]]) -> "_Rows":
        drives: dict[int, int] = {}
        known: dict[tuple[int, float, float], int] = {}
        distinct: list[DrivingAir] = []
        of_body = []
        for drive, body in driven:
            at = drives.setdefault(id(drive), len(drives))
            if at == len(distinct):
                distinct.append(drive)
            key = at, body.lag_low_h, body.lag_high_h
            of_body.append(known.setdefault(key, len(known)))
        return cls(
            drives=distinct,
            of_drive=np.array([at for at, *_ in known]),
            ranges=[(low, high) for _, low, high in known],
            of_body=np.array(of_body),
            air_c=np.repeat([distinct[at].past.air_c for at, *_ in known], _LAGS + 1, axis=0),
            lag_h=np.concatenate([_lags_over(low, high) for _, low, high in known]),
        )


def _fates(
    driven: Sequence[tuple[DrivingAir, Body]], rows: _Rows, response: LagResponse, ice: Floats
) -> Fates:
    """Follow the rows through all members, and hold every body against its own ice point.

    ``ice`` is the share of each body that is ice now, by each of the lags; (bodies, lags).
    """
    hours = max((drive.ahead_h for drive in rows.drives), key=lambda each: each.size)
    around_c = np.full((len(rows.drives), MEMBERS, hours.size), nan)
    for at, drive in enumerate(rows.drives):
        around_c[at, :, : drive.ahead_h.size] = drive.ahead_c
    lag_h, start_c = np.empty((2, len(rows.ranges), MEMBERS))
    for row, (low_h, high_h) in enumerate(rows.ranges):
        drive = rows.drives[rows.of_drive[row]]
        few = slice(row * (_LAGS + 1) + 1, (row + 1) * (_LAGS + 1))
        lag_h[row] = lags_of(low_h, high_h, drive.draws)
        start_c[row] = start_temperatures(
            response.body_c[few, -1],
            response.unknown_share[few, -1],
            drive.sky.ahead_k - drive.sky.middle_k,
            lag_h[row],
            drive.sky.dark_so_far_h if drive.hours.size > 1 else 0.0,
            drive.draws,
        )
    liquid_c = follow_members(hours, around_c, rows.of_drive, start_c, lag_h)
    bodies = [body for _, body in driven]
    draws = [drive.draws for drive in rows.drives]
    lag_of = np.array([lag_class(each, _LAGS) for each in draws])[rows.of_drive[rows.of_body]]
    water = Water(
        ice_point_c=np.array([body.ice_point_c for body in bodies]),
        locked_c=np.array([body.locked_c for body in bodies]),
        weaker_k=np.array([body.weaker_k for body in bodies]),
        misread_k=np.array([body.misread_k for body in bodies]),
        latent_k=np.array([_latent_k(body) for body in bodies]),
        ice=np.take_along_axis(ice, lag_of, axis=1),
    )
    return freeze_members(
        hours, around_c, rows.of_drive, liquid_c, lag_h, rows.of_body, water, draws
    )


def _air_stood_in(drive: DrivingAir, since_h: float, earlier: DrivingAir | None) -> DrivingAir:
    """The air that a craft has stood in: until it came, that of the space where it was before.

    What this space did before it came did not touch it. Where it was is not always known.
    """
    if since_h <= drive.hours[0]:
        return drive
    before = np.nan if earlier is None else earlier.air_c
    return replace(drive, air_c=np.where(drive.hours < since_h, before, drive.air_c))


def _latent_k(body: Body) -> float:
    """Kelvins of the body that its latent heat is worth."""
    return LATENT_KJ_KG * body.liquid_kg / body.heat_capacity_kj_k


def cool_from_probe(drive: DrivingAir, body: Body, probe_c: float) -> Cooling:
    """Follow one body whose own probe reads ``probe_c`` now: no guess is left in it."""
    now = slice(drive.present, drive.present + 1)
    begun = replace(drive, hours=drive.hours[now], air_c=drive.air_c[now], present=0)
    return _cool_together([(begun, body)], start_c=probe_c)[0]


class _PastIce(NamedTuple):
    """Ice of bodies up to now: by the middle of each one's lags, then by some of its range."""

    fraction: Floats  # (bodies, 1 + lags) now, of water; 0 in a mix
    through_h: Floats  # (bodies,) first time at which all was ice, by the middle; inf: at none
    iced_last_h: Floats  # (bodies, 2, lags): see `Cooling.iced_last_h`


def _past_ice(
    driven: Sequence[tuple[DrivingAir, Body]], by_lag: Floats, start_c: float | None
) -> _PastIce:
    """Ice that there was and is: from a third on in a mix by temperature, in water by its heat.

    ``by_lag`` is the temperature of each body at the past hours, by the middle of its lags and by
    some of its range; (bodies, 1 + lags, n).
    """
    hours = driven[0][0].past.hours
    ice_point_c, locked_c = np.array([(body.ice_point_c, body.locked_c) for _, body in driven]).T
    there = by_lag[:, 1:] <= locked_c[:, None, None]
    last_h = np.repeat(_last_time(hours, there)[:, None], 2, axis=1)
    fraction = np.zeros(by_lag.shape[:2])
    through_h = np.full(len(driven), inf)
    water = locked_c == ice_point_c
    if hours.size > 1:
        last_h[water] = -inf
        wet = np.flatnonzero(water & (by_lag <= ice_point_c[:, None, None]).any(axis=(1, 2)))
        if wet.size:
            course = _freeze_past([driven[each] for each in wet.tolist()], start_c)
            share = course.ice_fraction.reshape(wet.size, _LAGS + 1, -1)
            fraction[wet] = share[..., -1]
            through_h[wet] = course.frozen_through_h.reshape(wet.size, -1)[:, 0]
            steps_h = hours[_past_steps(driven)]
            for at, there in enumerate((share[:, 1:] > 0.0, share[:, 1:] >= THIRD)):
                last_h[wet, at] = _last_time(steps_h, there)
    falling = np.sort(last_h, axis=-1)[..., ::-1]
    return _PastIce(fraction, through_h, np.minimum(falling, 0.0))


def _past_steps(driven: Sequence[tuple[DrivingAir, Body]]) -> NDArray[np.intp]:
    """Every hour of the past up to now: past ice is followed in such steps."""
    return np.arange(driven[0][0].present, -1, -_ICE_STRIDE)[::-1]


def _freeze_past(wanted: Sequence[tuple[DrivingAir, Body]], start_c: float | None) -> FreezeCourse:
    """Follow the ice of water from its last gap in the readings on; some rows for each body."""
    drives = [drive.past for drive, _ in wanted]
    keep = _past_steps(wanted)
    whole: dict[int, tuple[Floats, int]] = {}
    for (drive, _), past in zip(wanted, drives, strict=True):
        if id(drive) not in whole:
            whole[id(drive)] = _bridge_gaps(past)
    air_c = np.empty((len(wanted), keep.size))
    for row, (drive, body) in enumerate(wanted):
        air, begin = whole[id(drive)]
        air_c[row] = air[keep]
        # Before the last gap in the readings: air that freezes nothing.
        air_c[row, keep < begin] = max(float(air[begin]), body.ice_point_c)
    bodies = [body for _, body in wanted]
    return freeze_course(
        drives[0].hours[keep],
        np.repeat(air_c, _LAGS + 1, axis=0),
        lag_h=np.concatenate([_lags_over(body.lag_low_h, body.lag_high_h) for body in bodies]),
        heat_capacity_kj_k=np.repeat([body.heat_capacity_kj_k for body in bodies], _LAGS + 1),
        liquid_kg=np.repeat([body.liquid_kg for body in bodies], _LAGS + 1),
        ice_point_c=np.repeat([body.ice_point_c for body in bodies], _LAGS + 1),
        start_c=start_c,
    )


def _lags_over(low_h: float, high_h: float) -> Floats:
    """The middle of a range of lags, then some of it, on a scale of ratios."""
    lags: Floats = low_h * (high_h / low_h) ** _SPREAD
    return lags


def _bridge_gaps(drive: DrivingAir) -> tuple[Floats, int]:
    """The air with its short holes bridged, and where what follows its last gap begins."""
    begin = unbroken_from(drive.hours, drive.air_c)
    known = np.isfinite(drive.air_c)
    if known.all():
        return drive.air_c, begin
    air: Floats = np.interp(drive.hours, drive.hours[known], drive.air_c[known])
    return air, begin


def _since(hours: Floats, inside: Floats, limit_c: Floats) -> Floats:
    """Since when each body has been at its limit now; inf: it is not.

    From the last time above the limit on; without one, from the first hour.
    """
    above = inside > limit_c[:, None]
    last = hours.size - 1 - np.argmax(above[:, ::-1], axis=1)
    begun = np.where(above.any(axis=1), np.minimum(last + 1, hours.size - 1), 0)
    found: Floats = np.where(inside[:, -1] <= limit_c, hours[begun], inf)
    return found


def _last_time(hours: Floats, there: NDArray[np.bool_]) -> Floats:
    """The last of the hours (last axis) at which it was there; -inf: at none."""
    last = there.shape[-1] - 1 - np.argmax(there[..., ::-1], axis=-1)
    found: Floats = np.where(there.any(axis=-1), hours[last], -inf)
    return found
