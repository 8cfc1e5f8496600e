"""Cooling of circuits, past and in every member: each distinct lag and liquid once a space."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, nan

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
from monitor.judgement.frost.ice_so_far import (
    LAGS,
    Body,
    Cooling,
    follow_past_ice,
    lags_over,
    since_at_limit,
)
from monitor.judgement.frost.known_ice import known_ice
from monitor.judgement.frost.members import Fates, Water, freeze_members
from monitor.physics.ice import LATENT_KJ_KG
from monitor.physics.lag import LagResponse, lag_response
from monitor.yard.frost_facts import Chances

_AT_ONCE = 1024  # bodies: a season's looks together would not fit into memory

Where = tuple[int, str]  # one of several moments, and a space


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
    stood_in: dict[tuple[Where, float, str, float], DrivingAir] = {}
    driven = []
    for where, body in wanted:
        way = where, body.since_h, body.came_from, body.outside_c
        if way not in stood_in:
            earlier = drives.get((where[0], body.came_from))
            stood_in[way] = _fill_missing_air(drives[where], body, earlier)
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
    by_lag = response.body_c.reshape(len(rows.ranges), LAGS + 1, -1)
    middle = rows.of_body * (LAGS + 1)
    now_c, share = response.body_c[middle, -1], response.unknown_share[middle, -1]
    ice_point_c, locked_c = np.array([(body.ice_point_c, body.locked_c) for _, body in driven]).T
    past = follow_past_ice(driven, by_lag, rows.of_body, start_c)
    fraction = past.fraction[:, 0]
    solid_h = np.where(fraction >= 1.0, past.through_h, inf)
    since_h = [
        since_at_limit(hours, by_lag[:, 0], rows.of_body, limit_c)
        for limit_c in (ice_point_c, locked_c)
    ]
    coming = _fates(driven, rows, response, past.fraction[:, 1:])
    early_h = [
        np.where(np.isfinite(since), since, early_hours(comes))
        for since, comes in zip(since_h, (coming.first_ice_h, coming.locked_h), strict=True)
    ]
    share_by_lag = response.unknown_share.reshape(by_lag.shape)
    known = known_ice(driven, rows.of_body, by_lag, share_by_lag, past)
    order = np.argsort(coming.low_c, axis=1)
    rising_c, half = np.take_along_axis(coming.low_c, order, axis=1), MEMBERS // 2
    bands_c = bands_of(rising_c)
    chances = np.isfinite([coming.first_ice_h, coming.third_h, coming.through_h]).mean(axis=2).T
    low_c = rising_c[:, half - 1 : half + 1].mean(axis=1)  # the median of an even number
    low_h = np.take_along_axis(coming.low_h, order[:, half, None], axis=1)[:, 0]
    through_h = np.minimum(solid_h, early_hours(coming.through_h))
    ice_rooms_k = np.sort(coming.ice_room_k, axis=1)
    columns: list[list[float]] = [
        each.tolist()
        for each in (now_c, *early_h, through_h, fraction, share, low_c, low_h, *bands_c.T)
    ]
    return [
        Cooling(
            now_c=columns[0][n],
            first_ice_h=columns[1][n],
            locked_h=columns[2][n],
            frozen_through_h=columns[3][n],
            ice_fraction=columns[4][n],
            unknown_share=columns[5][n],
            low_c=columns[6][n],
            low_h=columns[7][n],
            low_band_c=(columns[8][n], columns[9][n]),
            chance=Chances(*chance),
            iced_last_h=past.iced_last_h[n],
            ice_rooms_k=ice_rooms_k[n],
            known=known[n],
        )
        for n, chance in enumerate(chances.tolist())
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
            air_c=np.repeat([distinct[at].past.air_c for at, *_ in known], LAGS + 1, axis=0),
            lag_h=np.concatenate([lags_over(low, high) for _, low, high in known]),
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
        few = slice(row * (LAGS + 1) + 1, (row + 1) * (LAGS + 1))
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
    lag_of = np.array([lag_class(each, LAGS) for each in draws])[rows.of_drive[rows.of_body]]
    water = Water(
        ice_point_c=np.array([body.ice_point_c for body in bodies]),
        locked_c=np.array([body.locked_c for body in bodies]),
        weaker_k=np.array([body.weaker_k for body in bodies]),
        misread_k=np.array([body.misread_k for body in bodies]),
        latent_k=np.array([latent_kelvins(body) for body in bodies]),
        ice=np.take_along_axis(ice, lag_of, axis=1),
    )
    return freeze_members(
        hours, around_c, rows.of_drive, liquid_c, lag_h, rows.of_body, water, draws
    )


def _fill_missing_air(drive: DrivingAir, body: Body, earlier: DrivingAir | None) -> DrivingAir:
    """The air that a craft has stood in: until it came, that of the space where it was before.

    What this space did before it came did not touch it. Where it was is not always known: then it
    begins as a guess, with this air or, where that is colder, with the air outside.
    """
    if body.since_h <= drive.hours[0]:
        return drive
    before = np.nan if earlier is None else earlier.air_c
    air_c: Floats = np.where(drive.hours < body.since_h, before, drive.air_c)
    came = int(np.searchsorted(drive.hours, body.since_h))
    if earlier is None and body.outside_c < drive.air_c[came]:
        air_c[came - 1] = body.outside_c
    return replace(drive, air_c=air_c)


def latent_kelvins(body: Body) -> float:
    """Kelvins of the body that its latent heat is worth."""
    return LATENT_KJ_KG * body.liquid_kg / body.heat_capacity_kj_k


def cool_from_probe(drive: DrivingAir, body: Body, probe_c: float) -> Cooling:
    """Follow one body whose own probe reads ``probe_c`` now: no guess is left in it."""
    now = slice(drive.present, drive.present + 1)
    begun = replace(drive, hours=drive.hours[now], air_c=drive.air_c[now], present=0)
    return _cool_together([(begun, body)], start_c=probe_c)[0]
