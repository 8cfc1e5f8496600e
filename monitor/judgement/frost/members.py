"""Every circuit followed through all courses of the coming night: what becomes of it in each.

Arrays have a row a body, a column a member and, last, the coming hours. The work grows with the
distinct lags of each space's air, not with the number of craft.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.ensemble import Draws, first_below
from monitor.judgement.air.grid import Floats

THIRD = 1.0 / 3.0  # of ice: from then on a mix counts as frozen, and a passage may be plugged
_ROWS_AT_ONCE = 512  # bodies: a season's looks together would not fit into memory


class Water(NamedTuple):
    """What of each body counts for its ice; each of shape (bodies,), ``ice`` (bodies, members)."""

    ice_point_c: Floats
    locked_c: Floats  # ice point of water; where a third of a mix is ice
    weaker_k: Floats  # by which a tenth less glycol, which is counted on, raises both
    misread_k: Floats  # by which a sample may be misread, either way
    latent_k: Floats  # kelvins of the body that its latent heat is worth
    ice: Floats  # share of it that is ice now


class Fates(NamedTuple):
    """What becomes of bodies in each member. Hours after now; inf: not before the noon."""

    low_c: Floats  # as if it stayed liquid
    low_h: Floats
    ice_room_k: Floats  # of the low over its first crystals, that point's own error included
    first_ice_h: Floats
    locked_h: Floats  # first ice of water, a third of ice in a mix
    third_h: Floats
    through_h: Floats


def freeze_members(
    hours: Floats,
    around_c: Floats,
    of_drive: NDArray[np.intp],
    liquid_c: Floats,
    lag_h: Floats,
    row: NDArray[np.intp],
    water: Water,
    draws: Sequence[Draws],
) -> Fates:
    """Hold every body's courses against its ice point, and freeze what comes below.

    Parameters
    ----------
    hours, around_c, of_drive, lag_h : ndarray
        As for `monitor.judgement.air.lagged_members.follow_members`.
    liquid_c : ndarray, shape (rows, members, k)
        What that returned.
    row : ndarray, shape (bodies,)
        Each body's row there.
    water : Water
    draws : sequence of Draws
        Of each drive.

    Returns
    -------
    Fates
        Each of shape (bodies, MEMBERS).
    """
    lows_c, low_h = _lows(hours, liquid_c)
    mix = np.array([each.mix for each in draws])[of_drive[row]]
    # Short of a computed mix by 0 to 20 %, one in two by less than 5; both points are stated for
    # a mix a tenth short.
    moved = water.misread_k[:, None] * (1.0 - 2.0 * mix)
    moved -= water.weaker_k[:, None] * (1.0 - 2.0 * (1.0 - mix) ** 2)
    point_c, locked_c = water.ice_point_c[:, None] + moved, water.locked_c[:, None] + moved
    low_c = lows_c[row]
    never = np.full(low_c.shape, np.inf)
    found = Fates(
        low_c=low_c,
        low_h=low_h[row],
        ice_room_k=low_c - point_c,
        first_ice_h=never,
        locked_h=never.copy(),
        third_h=never.copy(),
        through_h=never.copy(),
    )
    mixed = water.locked_c < water.ice_point_c
    cold = np.flatnonzero(((found.ice_room_k <= 0.0) | (water.ice > 0.0)).any(axis=1))
    for begin in range(0, cold.size, _ROWS_AT_ONCE):
        few = cold[begin : begin + _ROWS_AT_ONCE]
        found.first_ice_h[few] = _first_below(hours, liquid_c, row[few], low_c[few], point_c[few])
        found.locked_h[few] = found.first_ice_h[few]  # of water both are one
        mixes, wet = few[mixed[few]], few[~mixed[few]]
        found.locked_h[mixes] = _first_below(
            hours, liquid_c, row[mixes], low_c[mixes], locked_c[mixes]
        )
        found.third_h[mixes] = found.locked_h[mixes]
        if wet.size:
            found.third_h[wet], found.through_h[wet] = _frozen(
                hours,
                around_c,
                of_drive,
                liquid_c,
                row[wet],
                lag_h,
                low_c[wet],
                point_c[wet],
                water.latent_k[wet],
                water.ice[wet],
            )
    iced = water.ice > 0.0
    found.first_ice_h[iced] = found.locked_h[iced] = 0.0
    return found


def _lows(hours: Floats, liquid_c: Floats) -> tuple[Floats, Floats]:
    """The low of each course, and its first hour; (rows, members). NaN after a course's end."""
    courses = np.moveaxis(liquid_c, -1, 0)
    low_c, low_h = courses[0].copy(), np.full(courses[0].shape, hours[0])
    for hour, here in zip(hours[1:], courses[1:], strict=True):
        lower = here < low_c
        np.copyto(low_c, here, where=lower)
        low_h[lower] = hour
    return low_c, low_h


def _first_below(
    hours: Floats, liquid_c: Floats, row: NDArray[np.intp], low_c: Floats, limit_c: Floats
) -> Floats:
    """When each body's courses first come to a limit; only those whose low does are gone through.

    ``low_c`` and ``limit_c`` are of shape (bodies, members).
    """
    first_h = np.full(low_c.shape, np.inf)
    which = np.nonzero(low_c <= limit_c)
    body, member = which
    first_h[which] = first_below(hours, liquid_c[row[body], member], limit_c[which])
    return first_h


def _frozen(
    hours: Floats,
    around_c: Floats,
    of_drive: NDArray[np.intp],
    liquid_c: Floats,
    row: NDArray[np.intp],
    lag_h: Floats,
    low_c: Floats,
    point_c: Floats,
    latent_k: Floats,
    ice: Floats,
) -> tuple[Floats, Floats]:
    """When a third of each body is ice, and when all of it.

    From first ice on its latent heat leaves by the degree-hours of its air below the ice point,
    and warm hours give it back; supercooled or not, ice counts from the ice point. Only members
    in which there is ice at some time are followed.
    """
    third, through = np.full((2, *point_c.shape), np.inf)
    which = np.nonzero((low_c <= point_c) | (ice > 0.0))
    body, member = which
    inside_c = np.moveaxis(liquid_c, -1, 0)[:, row[body], member]
    air_c = np.moveaxis(around_c, -1, 0)[:, of_drive[row[body]], member]
    point_c, latent_k, ice = point_c[which], latent_k[body], ice[which]
    lag_h = lag_h[row[body], member]
    third_k = THIRD * latent_k
    levels = [(np.full(body.size, np.inf), each - 1e-9, each) for each in (third_k, latent_k)]
    gone_k = ice * latent_k
    began = gone_k > 0.0
    for when, nearly_k, _ in levels:
        when[gone_k >= nearly_k] = 0.0
    below = inside_c <= point_c
    deficit_k = point_c - 0.5 * (air_c[:-1] + air_c[1:])
    deficit_k[~np.isfinite(deficit_k)] = 0.0
    deficit_k /= lag_h
    for n in range(1, hours.size):
        step_h = float(hours[n] - hours[n - 1])
        lasts_h = np.where(began, step_h, 0.0)
        fresh = np.flatnonzero(below[n] & ~began)
        if fresh.size:
            point = point_c[fresh]
            above_k = np.maximum(inside_c[n - 1, fresh] - point, 0.0)
            under_k = np.maximum(point - inside_c[n, fresh], 0.0)
            part = above_k / np.maximum(above_k + under_k, 1e-9)
            lasts_h[fresh] = (1.0 - part) * step_h
            began[fresh] = True
        more_k = deficit_k[n - 1] * lasts_h
        before_k, gone_k = gone_k, np.clip(gone_k + more_k, 0.0, latent_k)
        began &= gone_k > 0.0
        for when, nearly_k, level_k in levels:
            passed = np.flatnonzero((gone_k >= nearly_k) & (before_k < nearly_k) & np.isinf(when))
            if passed.size:
                share = (level_k - before_k)[passed] / np.maximum(more_k[passed], 1e-12)
                when[passed] = hours[n] - lasts_h[passed] * (1.0 - np.clip(share, 0.0, 1.0))
    third[which], through[which] = levels[0][0], levels[1][0]
    return third, through
