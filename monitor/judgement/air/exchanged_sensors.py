"""Sensors of two spaces that may have been exchanged: found by what no building does.

Until somebody has put it right, both spaces are judged by the colder of the two, and by no
humidity: a cold building's craft is else judged by a warm shop's readings.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from math import nan
from typing import NamedTuple

import numpy as np

from monitor.judgement.air.grid import STEP_H, Floats, SpaceAir
from monitor.yard.space import OUTDOORS, WARM

# A night and a day and again: by day a cold building may lag behind the weather, by night none is
# colder than it for long, and none swings more. No source: what a building cannot do.
_LASTED_H = 48.0
_APART_K = 2.0
_SWINGS_MORE = 1.5
_WHOLE = 0.8  # share of a stretch that must be known
# Read at two places within an hour, by sensors that were carried from the one to the other: each
# goes on where the other was. Spaces closer to each other than the jump cannot be told apart.
_JUMP_K = 4.0
_SLIP_K = 1e-6  # of differences that are taken in another order
_GOES_ON_K = 1.5  # three sensor tolerances of half a kelvin (an estimate)
_ASIDE = round(1.0 / STEP_H)  # steps before and after: hourly readings show a jump over one hour
_CARRIED_H = 12.0  # without readings, at the most
_RIGHT_AGAIN_H = 24.0  # a warm space is the warmer one again all through it


class Exchanged(NamedTuple):
    """Two spaces whose sensors may have been exchanged; the warm one first where there is one."""

    space: str
    sensor: str
    other_space: str
    other_sensor: str


class ExchangeEvidence(NamedTuple):
    """What was found of two spaces."""

    pair: Exchanged
    apart_k: float  # by which the first is colder, at the least since then; NaN: is no more
    since_h: float  # hours before now
    carried: bool  # both jumped to where the other was


def find_exchanged(
    airs: Mapping[str, SpaceAir], known: frozenset[Exchanged] = frozenset()
) -> list[ExchangeEvidence]:
    """Find spaces whose sensors may have been exchanged.

    Parameters
    ----------
    airs : mapping of SpaceAir by space
        As read.
    known : frozenset of Exchanged
        Found before: such a warm space stays in doubt until it is the warmer one again for a day,
        or its sensor is entered elsewhere. Mild weather alone answers nothing.

    Returns
    -------
    list of ExchangeEvidence
        Warm spaces that are colder than the weather, or than a building without heat that stays
        warmer than the weather was; and spaces of any kind that took each other's place within an
        hour. Not told apart: spaces within 4 K of each other then, two outdoors, and two of one
        kind whose sensors were exchanged before the hours looked at.
    """
    heard = [air for air in airs.values() if air.coldest]
    outside = [air for air in heard if air.space.kind in OUTDOORS]
    jumped = _may_have_jumped(heard)
    found = []
    for air, other in _pairs(heard):
        pair = Exchanged(air.space.id, air.coldest, other.space.id, other.coldest)
        moved = frozenset((air.space.id, other.space.id)) in jumped
        one = _exchange_evidence(
            air, other, outside, pair, was_known=pair in known, may_have_jumped=moved
        )
        if one is not None:
            found.append(one)
    # A sensor that has fallen silent answers nothing either.
    silent = {air.space.id for air in airs.values() if not air.coldest}
    found += [
        ExchangeEvidence(pair, nan, _LASTED_H, carried=False)
        for pair in sorted(known)
        if {pair.space, pair.other_space} <= set(airs) and {pair.space, pair.other_space} & silent
    ]
    return found


def _pairs(airs: Sequence[SpaceAir]) -> Iterator[tuple[SpaceAir, SpaceAir]]:
    """Every two spaces, a warm one before one that is not; two under one sky are never told."""
    for one, other in combinations(airs, 2):
        if {one.space.kind, other.space.kind} <= OUTDOORS:
            continue  # the sun leaves the one and comes to the other
        later = other.space.kind in WARM and one.space.kind not in WARM
        yield (other, one) if later else (one, other)


def _exchange_evidence(
    air: SpaceAir,
    other: SpaceAir,
    outside: Sequence[SpaceAir],
    pair: Exchanged,
    *,
    was_known: bool,
    may_have_jumped: bool,
) -> ExchangeEvidence | None:
    warm_and_not = air.space.kind in WARM and other.space.kind not in WARM
    carried_h = _carried_at(air, other) if may_have_jumped else nan
    if np.isfinite(carried_h):
        after = air.hours > carried_h + 1.0
        least_k = _least((other.air_c - air.air_c)[after])
        if not warm_and_not or least_k > 0.0:
            return ExchangeEvidence(
                pair, least_k if warm_and_not else nan, -carried_h, carried=True
            )
    if not warm_and_not:
        return None
    # Of an even grid: whatever is not older than so many hours.
    recent = slice(int(np.searchsorted(air.hours, -_LASTED_H)), None)
    if _has_traded_places(air, other, outside, recent):
        colder_k = other.air_c[recent] - air.air_c[recent]
        return ExchangeEvidence(pair, _least(colder_k), _LASTED_H, carried=False)
    if was_known and not _is_right_again(air, other):
        return ExchangeEvidence(pair, nan, _LASTED_H, carried=False)
    return None


def _is_right_again(air: SpaceAir, other: SpaceAir) -> bool:
    """Whether a warm space has been the warmer one through a day."""
    warmer_k = (air.air_c - other.air_c)[air.hours >= -_RIGHT_AGAIN_H]
    return bool(np.isfinite(warmer_k).mean() >= _WHOLE and _least(warmer_k) >= _APART_K)


def _may_have_jumped(airs: Sequence[SpaceAir]) -> set[frozenset[str]]:
    """Pairs of spaces of which one may have risen where the other fell: see `_carried_at`.

    A jump to where the other was needs that, and of spaces without a gap all pairs are gone
    through at once. A space with a gap may be in any pair.
    """
    whole = [air for air in airs if np.isfinite(air.air_c).all()]
    gaps = [air.space.id for air in airs if not np.isfinite(air.air_c).all()]
    found = {frozenset((one, each.space.id)) for one in gaps for each in airs}
    if len(whole) > 1:
        courses_c = np.array([air.air_c for air in whole])
        moved_k = courses_c[:, 2 * _ASIDE :] - courses_c[:, : -2 * _ASIDE]
        least_k = _JUMP_K - _GOES_ON_K - _SLIP_K
        rose, fell = moved_k >= least_k, moved_k <= -least_k
        for one, at in zip(whole, rose, strict=True):
            for other in np.flatnonzero((at & fell).any(axis=1)):
                found.add(frozenset((one.space.id, whole[other].space.id)))
    return found


def _has_traded_places(
    air: SpaceAir, other: SpaceAir, outside: Sequence[SpaceAir], recent: slice
) -> bool:
    """Whether a warm space is colder than one without heat that itself is as no such one can be."""
    inside_c, other_c = air.mean_c[recent], other.mean_c[recent]
    if np.fmin.reduce(other_c - inside_c) < _APART_K:
        return False
    known = np.isfinite(inside_c) & np.isfinite(other_c)
    if known.mean() < _WHOLE:
        return False
    inside_c, other_c = inside_c[known], other_c[known]
    if np.ptp(inside_c) < _SWINGS_MORE * np.ptp(other_c):
        return False
    if other.space.kind in OUTDOORS:
        return True
    # Days of weather are in what is looked at: no building stays warmer than all of it.
    warmest_c = [_most(each.air_c) for each in outside]
    return bool(warmest_c) and float(other_c.min()) >= max(warmest_c) + _APART_K


def _carried_at(air: SpaceAir, other: SpaceAir) -> float:
    """When each last went on where the other had been, within an hour [h before now, negative].

    NaN where they did not, and where they came back since.
    """
    known = np.flatnonzero(np.isfinite(air.air_c) & np.isfinite(other.air_c))
    if known.size <= 2 * _ASIDE:
        return nan
    one, two, at_h = air.air_c[known], other.air_c[known], air.hours[known]
    before, after = slice(None, -2 * _ASIDE), slice(2 * _ASIDE, None)
    jumps = (
        (np.abs(one[after] - two[before]) <= _GOES_ON_K)
        & (np.abs(two[after] - one[before]) <= _GOES_ON_K)
        & (np.abs(one[before] - two[before]) >= _JUMP_K)
        & (at_h[after] - at_h[before] <= 2.0 * _ASIDE * STEP_H + _CARRIED_H)
    )
    edges = np.flatnonzero(np.diff(np.concatenate([[False], jumps]).astype(np.int8)) == 1)
    if edges.size % 2 == 0:  # there and back again
        return nan
    return float(at_h[_ASIDE:-_ASIDE][edges[-1]])


def judged_by_worse(
    airs: Mapping[str, SpaceAir], found: Sequence[ExchangeEvidence]
) -> dict[str, SpaceAir]:
    """The same airs, those in doubt by the colder of both at each time and without humidity.

    Nothing is known now of a space of which either sensor is silent.
    """
    judged = dict(airs)
    for each in found:
        pair = each.pair
        for here, there in ((pair.space, pair.other_space), (pair.other_space, pair.space)):
            judged[here] = _worse_of(judged[here], airs[there])
    return judged


def _worse_of(air: SpaceAir, other: SpaceAir) -> SpaceAir:
    colder_c: Floats = np.fmin(air.air_c, other.air_c)
    if not (air.is_known and other.is_known):
        colder_c[-1] = nan
    nobody_knows = np.full(air.hours.size, nan)
    return replace(
        air,
        air_c=colder_c,
        warmest_c=colder_c,
        mean_c=np.fmin(air.mean_c, other.mean_c),
        coldest=air.coldest if air.now_c <= other.now_c else other.coldest,
        rh_pct=nobody_knows,
        dew_point_c=nobody_knows,
        condensation_c=nobody_knows,
    )


def _least(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.min()) if known.size else nan


def _most(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.max()) if known.size else nan
