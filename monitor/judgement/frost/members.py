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
    lows_c = np.fmin.reduce(liquid_c, axis=2)
    low_h = hours[np.nanargmin(liquid_c, axis=2)]
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
    cold = np.flatnonzero(((found.ice_room_k <= 0.0) | (water.ice > 0.0)).any(axis=1))
    mixed = water.locked_c < water.ice_point_c
    for begin in range(0, cold.size, _ROWS_AT_ONCE):
        few = cold[begin : begin + _ROWS_AT_ONCE]
        inside = liquid_c[row[few]]
        found.first_ice_h[few] = first_below(hours, inside, point_c[few])
        found.locked_h[few] = first_below(hours, inside, locked_c[few])
        found.third_h[few] = found.locked_h[few]
        wet = few[~mixed[few]]
        if wet.size:
            found.third_h[wet], found.through_h[wet] = _frozen(
                hours,
                around_c[of_drive[row[wet]]],
                liquid_c[row[wet]],
                lag_h[row[wet]],
                point_c[wet],
                water.latent_k[wet, None],
                water.ice[wet],
            )
    iced = water.ice > 0.0
    found.first_ice_h[iced] = found.locked_h[iced] = 0.0
    return found


def _frozen(
    hours: Floats,
    around_c: Floats,
    liquid_c: Floats,
    lag_h: Floats,
    point_c: Floats,
    latent_k: Floats,
    ice: Floats,
) -> tuple[Floats, Floats]:
    """When a third of each body is ice, and when all of it.

    From first ice on its latent heat leaves by the degree-hours of its air below the ice point,
    and warm hours give it back; supercooled or not, ice counts from the ice point.
    """
    third = np.full(point_c.shape, np.inf)
    through = np.full(point_c.shape, np.inf)
    gone_k = ice * latent_k
    began = gone_k > 0.0
    third[gone_k >= THIRD * latent_k - 1e-9] = 0.0
    through[gone_k >= latent_k - 1e-9] = 0.0
    below = liquid_c <= point_c[..., None]
    for n in range(1, hours.size):
        step_h = float(hours[n] - hours[n - 1])
        deficit_k = point_c - 0.5 * (around_c[..., n - 1] + around_c[..., n])
        with np.errstate(invalid="ignore"):
            fresh = below[..., n] & ~began
            above_k = np.maximum(liquid_c[..., n - 1] - point_c, 0.0)
            under_k = np.maximum(point_c - liquid_c[..., n], 0.0)
            part = above_k / np.maximum(above_k + under_k, 1e-9)
            lasts_h = np.where(fresh, (1.0 - part) * step_h, np.where(began, step_h, 0.0))
            more_k = np.where(np.isfinite(deficit_k), deficit_k, 0.0) * lasts_h / lag_h
        before_k = gone_k
        gone_k = np.clip(before_k + more_k, 0.0, latent_k)
        began = (began | fresh) & (gone_k > 0.0)
        for when, level_k in ((third, THIRD * latent_k), (through, latent_k)):
            passed = (gone_k >= level_k - 1e-9) & (before_k < level_k - 1e-9) & np.isinf(when)
            share = np.where(passed, (level_k - before_k) / np.maximum(more_k, 1e-12), 0.0)
            when[passed] = (hours[n] - lasts_h * (1.0 - np.clip(share, 0.0, 1.0)))[passed]
    return third, through
