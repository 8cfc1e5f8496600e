"""Bare metal followed through all courses of the coming night: in how many of them it gets wet.

Arrays have a row a surface, a column a member and, last, the coming hours. The air keeps the water
that it holds now, but for what a public forecast brings, and for how far such a word is off.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.ensemble import bands_of, early_hours
from monitor.judgement.air.grid import STEP_H, Floats, SpaceAir
from monitor.judgement.air.lagged_members import follow_members, lags_of
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.public_forecast import ComingAir
from monitor.judgement.damp.forecast import air_ahead
from monitor.judgement.damp.hull import Hull, humidity_within
from monitor.judgement.damp.inputs import DampInputs, SurfaceCase
from monitor.judgement.damp.metal import DRY_G_M2, SurfaceKind, SurfaceSeries
from monitor.physics.moist_air import condensation_point, dew_point, relative_humidity
from monitor.physics.wetness import condensation_rate, film_coefficient, film_series, share_let_in

_STRIDE = round(1.0 / STEP_H)  # hour by hour: metal that sweats lags three hours and more
_ROWS_AT_ONCE = 256
_DIGITS = 8.0  # of a draw: members that agree in the first are spread evenly in the second

_READ_K = 0.5  # two sensors of ±3 % RH are so much dew point apart
_BEGAN_WITHIN_K = 5.0  # metal may have started this far from the first air that was read
_WANDERS_K = 2.0  # dew point within half a day, where it was not measured yet (common practice)
_MOST_WANDERED_K = 5.0
_WANDERS_WITHIN_H = 6.0  # so fast does it come to what it wanders in a day
_HALF_DAY_H = 12.0
_WANDERED_BY_THEN = 1.0 - exp(-_HALF_DAY_H / _WANDERS_WITHIN_H)
_TRUSTED_H = 24.0  # hours of readings after which half of its wandering is the yard's own


@dataclass(frozen=True, slots=True, kw_only=True)
class WettingAhead:
    """What becomes of one surface until the noon, over all members."""

    chance: float  # share of the members in which water lies on it, as dew or rime
    chance_of_frost: float  # share in which it begins with rime
    early_h: float  # before which water condenses in one of ten in which it does; inf: see there
    room_k: float  # the middle of the least that it lies above the dew or frost point of its air
    room_band_k: tuple[float, float]  # of the middle four fifths of that


@dataclass(frozen=True, slots=True)
class _MemberAir:
    """One space's coming air in every member, each of shape (members, k)."""

    air_c: Floats
    beside_c: Floats  # what metal follows: less what the sky takes
    rh_pct: Floats


def follow_wetting(
    cases: Sequence[SurfaceCase],
    courses: Mapping[SurfaceKind, SurfaceSeries],
    inputs: DampInputs,
) -> list[WettingAhead]:
    """Follow surfaces and the water on them through all members, up to the noon.

    Parameters
    ----------
    cases : sequence of SurfaceCase
        In spaces whose air and night are known.
    courses : mapping of SurfaceSeries
        Past of both ends of each one's lag.
    inputs : DampInputs

    Returns
    -------
    list of WettingAhead
        In their order.
    """
    if not cases:
        return []
    hours = _coming_hours(inputs.drives[cases[0].slow.space])
    spaces = dict.fromkeys(case.slow.space for case in cases)
    airs = {
        space: _air_in_members(
            inputs.airs[space], inputs.nights[space], inputs.drives[space], inputs.coming, hours
        )
        for space in spaces
    }
    found: list[WettingAhead] = []
    for begin in range(0, len(cases), _ROWS_AT_ONCE):
        few = cases[begin : begin + _ROWS_AT_ONCE]
        found += _follow_together(few, courses, inputs.drives, airs, hours)
    return found


def _coming_hours(drive: DrivingAir) -> Floats:
    ahead: Floats = np.concatenate([[0.0], drive.hours[drive.present + _STRIDE :: _STRIDE]])
    return ahead


def _air_in_members(
    air: SpaceAir,
    night: Tonight | None,
    drive: DrivingAir,
    coming: ComingAir | None,
    hours: Floats,
) -> _MemberAir:
    """A space's coming air: temperatures of the night's members, and a dew point for each."""
    assert night is not None  # noqa: S101
    mean_c, dew_c = float(air.mean_c[-1]), float(air.dew_point_c[-1])
    courses_c = np.column_stack(
        [np.full(drive.draws.low.size, air.now_c), night.courses_c[:, _STRIDE - 1 :: _STRIDE]]
    )
    if coming is None:
        air_c = courses_c + (mean_c - air.now_c)
        dews_c = np.full(hours.size, dew_c)
        wanders_k = dew_wandering(air)
    else:
        ahead_c, ahead_pct = air_ahead(air, night, coming, floor_takes=True)
        middle_c = np.interp(hours, coming.hours, ahead_c)
        air_c = middle_c + courses_c - np.median(courses_c, axis=0)
        dews_c = np.interp(hours, coming.hours, dew_point(ahead_c, np.maximum(ahead_pct, 1.0)))
        wanders_k = coming.error_k if np.isfinite(coming.error_k) else _WANDERS_K
    mix = drive.draws.mix
    wandered = _standard_logistic((mix * _DIGITS) % 1.0)[:, None] * wanders_k
    moved_k = wandered * -np.expm1(-hours / _WANDERS_WITHIN_H)
    dews_c = np.minimum(dews_c, air_c) + moved_k + _READ_K * (2.0 * mix - 1.0)[:, None]
    # Air that brings water in is warm: it comes with a front, and metal stays behind it.
    air_c = air_c + np.maximum(moved_k, 0.0)
    dark = np.concatenate([drive.sky.dark[:1], drive.sky.dark[_STRIDE - 1 :: _STRIDE]])
    return _MemberAir(
        air_c=air_c,
        beside_c=air_c - np.where(dark, drive.sky.ahead_k[:, None], 0.0),
        rh_pct=np.clip(relative_humidity(air_c, np.minimum(dews_c, air_c)), 0.0, 100.0),
    )


def dew_wandering(air: SpaceAir) -> float:
    """By how much a space's dew point moves within a day, as its readings of late show it [K]."""
    apart = round(_HALF_DAY_H / STEP_H)
    moved_k = air.dew_point_c[apart:] - air.dew_point_c[:-apart]
    known = moved_k[np.isfinite(moved_k)]
    own_h = known.size * STEP_H
    squares = _TRUSTED_H * _WANDERS_K**2 + float(np.square(known).sum()) * STEP_H
    in_half_a_day_k = sqrt(squares / (_TRUSTED_H + own_h))
    return min(in_half_a_day_k / _WANDERED_BY_THEN, _MOST_WANDERED_K)


def _standard_logistic(shares: Floats) -> Floats:
    """Quantiles of the logistic distribution of unit spread: as a normal one, with fatter tails."""
    inside = np.clip(shares, 0.01, 0.99)
    quantiles: Floats = np.log(inside / (1.0 - inside)) * np.sqrt(3.0) / np.pi
    return quantiles


def _follow_together(
    cases: Sequence[SurfaceCase],
    courses: Mapping[SurfaceKind, SurfaceSeries],
    drives: Mapping[str, DrivingAir],
    airs: Mapping[str, _MemberAir],
    hours: Floats,
) -> list[WettingAhead]:
    names = list(dict.fromkeys(case.slow.space for case in cases))
    of_space = np.array([names.index(case.slow.space) for case in cases])
    start_c, lag_h, film_g_m2, brought = (np.array(each) for each in zip(
        *(_begin_of(case, courses, drives[case.slow.space]) for case in cases), strict=True
    ))  # fmt: skip
    beside_c = np.array([airs[name].beside_c for name in names])
    metal_c = follow_members(hours, beside_c, of_space, start_c, lag_h)
    hulls = list(dict.fromkeys((case.slow.space, case.slow.hull) for case in cases))
    row = np.array([hulls.index((case.slow.space, case.slow.hull)) for case in cases])
    air_c, rh_pct = (np.array(each) for each in zip(
        *(_air_within(airs[name], hull) for name, hull in hulls), strict=True
    ))  # fmt: skip
    point_c = condensation_point(air_c, rh_pct)[row]
    around_c = air_c[row]
    heights = np.array([case.slow.length_m for case in cases])[:, None, None]
    coefficient = film_coefficient(np.maximum(np.abs(around_c - metal_c), 0.5), heights)
    rate = condensation_rate(around_c, rh_pct[row], metal_c, coefficient)
    let_in = share_let_in(coefficient, brought[..., None])
    film = film_series(hours, rate * let_in, film_g_m2)
    lies = film > DRY_G_M2
    condenses = lies & (metal_c < point_c)
    first_h = np.where(condenses.any(axis=-1), hours[np.argmax(condenses, axis=-1)], np.inf)
    first = np.argmax(lies, axis=-1)[..., None]
    in_frost = np.take_along_axis(metal_c, first, -1)[..., 0] < 0.0
    room_k = (metal_c - point_c).min(axis=-1)
    is_wet = lies.any(axis=-1)
    figures = np.column_stack(
        [
            is_wet.mean(axis=-1),
            (is_wet & in_frost).mean(axis=-1),
            early_hours(first_h),
            np.median(room_k, axis=-1),
        ]
    )
    bands_k = bands_of(np.sort(room_k, axis=-1))
    return [
        WettingAhead(
            chance=chance,
            chance_of_frost=of_frost,
            early_h=early_h,
            room_k=middle_k,
            room_band_k=(least_k, most_k),
        )
        for (chance, of_frost, early_h, middle_k), (least_k, most_k) in zip(
            figures.tolist(), bands_k.tolist(), strict=True
        )
    ]


def _air_within(around: _MemberAir, hull: Hull) -> tuple[Floats, Floats]:
    """Air around the metal of a craft kept so, and its humidity in every member."""
    hulls = [hull] * around.air_c.shape[0]
    return around.air_c, humidity_within(around.air_c, around.rh_pct, hulls)


def _begin_of(
    case: SurfaceCase, courses: Mapping[SurfaceKind, SurfaceSeries], drive: DrivingAir
) -> tuple[Floats, Floats, Floats, Floats]:
    """One surface now in every member: its temperature, lag, water, and what wets it get in."""
    usual, slow = courses[case.usual], courses[case.slow]
    draws = drive.draws
    slower = 2.0 * draws.lag - 1.0  # 0: the usual lag; 1: the long end
    usual_c, slow_c = (float(each.metal_c[each.present]) for each in (usual, slow))
    start_c = usual_c + (slow_c - usual_c) * slower
    start_c = start_c + slow.share * _BEGAN_WITHIN_K * (2.0 * draws.start - 1.0)
    if case.probe_c is not None:
        start_c = np.full(slower.size, case.probe_c)
    usual_g, slow_g = (float(each.film_g_m2[each.present]) for each in (usual, slow))
    film = np.maximum(usual_g + (slow_g - usual_g) * slower, 0.0)
    shut, open_m_h = case.usual.brought_m_h, case.slow.brought_m_h
    brought = shut * (open_m_h / shut) ** ((draws.lag * _DIGITS) % 1.0)
    lag_h = lags_of(case.surface.lag_low_h, case.surface.lag_high_h, draws)
    return start_c, lag_h, film, brought
