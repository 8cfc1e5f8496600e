"""How low may each space's air go, and when? An ensemble of courses of the coming night."""

from collections.abc import Mapping
from dataclasses import replace
from math import isfinite, nan

import numpy as np

from monitor.judgement.air.building import (
    Building,
    building_alone,
    building_of,
    building_over_floor,
    fit_building_floor,
    unheated_air_series,
)
from monitor.judgement.air.ensemble import (
    MEMBERS,
)
from monitor.judgement.air.grid import MS_PER_H, Floats, SpaceAir
from monitor.judgement.air.heat_loss import (
    WORKS_WITHIN_K,
    fall_rate,
    heat_lost,
    heating_level,
    level_of_starts,
    level_set,
)
from monitor.judgement.air.night_members import (
    pull_to_lows,
)
from monitor.judgement.air.own_nights import (
    HALF_TRUSTED_NIGHTS,
    Tonight,
    night_by_own_past,
    time_of_low,
)
from monitor.judgement.air.past_weeks import (
    Memory,
)
from monitor.physics.building import time_of_reaching
from monitor.physics.floor import FloorFit
from monitor.yard.air_facts import LowBasis, LowMethod
from monitor.yard.space import OUTDOORS, WARM, Space, SpaceKind, Yard


def forecast_nights(
    airs: Mapping[str, SpaceAir], yard: Yard, memory: Memory
) -> dict[str, Tonight | None]:
    """Forecast every space: outdoors first, because buildings follow it.

    Parameters
    ----------
    airs : mapping of SpaceAir by space
    yard : Yard
    memory : Memory
        Of past nights; these airs have been learnt already.

    Returns
    -------
    dict
        By space; None where the air now is not known.
    """
    outside = outdoor_air(airs)
    found: dict[str, Tonight | None] = {}
    sky = night_by_own_past(outside, yard, memory) if outside is not None else None
    for space_id, air in airs.items():
        if not air.is_known:
            found[space_id] = None
        elif sky is not None and outside is not None and air is outside:
            found[space_id] = sky
        elif sky is None or outside is None:
            found[space_id] = _night_without_outdoors(air, yard, memory)
        elif air.space.kind in OUTDOORS:
            found[space_id] = night_by_own_past(air, yard, memory)
        else:
            found[space_id] = _night_indoors(air, outside, sky, yard, memory)
    return found


def outdoor_air(airs: Mapping[str, SpaceAir]) -> SpaceAir | None:
    """The space whose air stands for outdoors: an open one, else a wrapped one, known now."""
    for kind in (SpaceKind.OPEN, SpaceKind.WRAPPED):
        here = [air for air in airs.values() if air.space.kind is kind and air.is_known]
        if here:
            return max(here, key=lambda air: int(np.isfinite(air.air_c).sum()))
    return None


def _night_without_outdoors(air: SpaceAir, yard: Yard, memory: Memory) -> Tonight:
    """A space of a yard where no outdoor air is known; if it loses its heat, by its own fall."""
    own = night_by_own_past(air, yard, memory)
    building = building_alone(air)
    if not heat_lost(air, nan, building.lag_h, level_set(air.space.thermostat_c)):
        return own
    # As fast as it falls now it would end so far below: that stands for the outdoor air, and a
    # fall measured over twenty minutes may be half as fast, or half as fast again.
    fall_k = max(fall_rate(air), 0.0) * building.lag_h * (1.5 - own.draws.low)
    outside_c = np.broadcast_to((air.now_c - fall_k)[:, None], (MEMBERS, own.hours.size + 1))
    courses_c = unheated_air_series(building, air.now_c, outside_c, own.hours)
    basis = replace(own.basis, method=LowMethod.HEAT_LOST_UNSEEN)
    falling = _by_building(own, air, courses_c, basis, building)
    return replace(falling, heat_is_lost=True)


def _night_indoors(
    air: SpaceAir, outside: SpaceAir, sky: Tonight, yard: Yard, memory: Memory
) -> Tonight:
    """A building: its own nights, and how it follows the outdoor forecast."""
    own = night_by_own_past(air, yard, memory)
    building = _building(air, outside, memory)
    level_c = _level(air, outside, memory)
    lost = heat_lost(air, outside.now_c, building.lag_h, level_c)
    loss_k_h = max(air.now_c - building.driven_c(outside.now_c), 0.0) / building.lag_h
    heated = air.space.kind in WARM
    if heated and not lost:
        course = np.concatenate([[outside.now_c], sky.cold_c])
        times = np.concatenate([[0.0], sky.hours])
        zero_h = float(time_of_reaching(0.0, times, course, air.now_c, building.lag_h))
        working = _raised_to_heat(own, air, level_c)
        return replace(working, building=building, zero_without_heat_h=zero_h, loss_k_h=loss_k_h)
    outdoor_c = np.concatenate([np.full((MEMBERS, 1), outside.now_c), sky.courses_c], axis=1)
    followed_c = unheated_air_series(building, air.now_c, outdoor_c, sky.hours)
    if lost:
        basis = replace(own.basis, method=LowMethod.HEAT_LOST, lag_h=building.lag_h)
        falling = _by_building(own, air, followed_c, basis, building)
        return replace(falling, heat_is_lost=True, loss_k_h=loss_k_h)
    courses_c = followed_c
    if building.floor is None:
        # What else keeps it warm is not known: its own nights tell half of what they will.
        nights = own.forecast.nights
        share = 0.5 * nights / (nights + HALF_TRUSTED_NIGHTS)
        lows_c = np.minimum(followed_c.min(axis=1), air.now_c)
        lows_c += share * (own.lows_c - lows_c)
        courses_c = pull_to_lows(air.now_c, followed_c, lows_c, sky.hours)
    basis = replace(own.basis, method=LowMethod.OUTDOOR_LAG, lag_h=building.lag_h)
    return _by_building(own, air, courses_c, basis, building)


def _raised_to_heat(own: Tonight, air: SpaceAir, level_c: float) -> Tonight:
    """Raise the courses to the lowest temperature that the space's heat has allowed.

    A mild week's falls tell nothing of a held shop.
    """
    floor_c = min(level_c - WORKS_WITHIN_K, air.now_c)
    if not own.cold_c.min() < floor_c:
        return own
    return replace(
        own,
        lows_c=np.maximum(own.lows_c, floor_c),
        courses_c=np.maximum(own.courses_c, floor_c),
        expected_low_c=max(own.expected_low_c, floor_c),
        basis=replace(own.basis, held_by_heat=True),
    )


def _building(air: SpaceAir, outside: SpaceAir, memory: Memory) -> Building:
    """The building's lag, fitted anew every six hours, and the share of its floor every day."""
    key = ("building", air.space.id, int(air.now.timestamp() // 21600))
    known = memory.worked_out.get(key)
    if not isinstance(known, Building):
        known = _building_over_floor(air, outside, memory) or building_of(air, outside)
        memory.worked_out[key] = known
    return known


def _building_over_floor(air: SpaceAir, outside: SpaceAir, memory: Memory) -> Building | None:
    past, beyond = (memory.spaces[each.space.id] for each in (air, outside))
    key = ("floor", air.space.id, int(air.now.timestamp() // 86400))
    if key not in memory.worked_out:
        memory.worked_out[key] = fit_building_floor(air, past, beyond)
    fit = memory.worked_out[key]
    return building_over_floor(fit, past, beyond) if isinstance(fit, FloorFit) else None


def _level(air: SpaceAir, outside: SpaceAir, memory: Memory) -> float:
    """Lowest air that the space's heat lets it come to; worked out once an hour."""
    if air.space.kind is not SpaceKind.HEATED:
        return nan
    key = ("level", air.space.id, int(air.now.timestamp() // 3600))
    known = memory.worked_out.get(key)
    if isinstance(known, float):
        return known
    level_c = level_of_heat(air.space, outside.space, outside.now_c, memory)
    memory.worked_out[key] = level_c
    return level_c


def level_of_heat(space: Space, outdoors: Space, outside_c: float, memory: Memory) -> float:
    """Lowest air that a heated space's heat lets it come to, with so cold an air outdoors [°C].

    By the heater's starts, else by what was held in the cold of past weeks, else by the
    thermostat's setting; NaN where none of these is known.
    """
    inside, beyond = (memory.spaces.get(each.id) for each in (space, outdoors))
    starts = memory.starts.get(space.id)
    level_c = nan
    if inside is not None and beyond is not None and beyond.at_ms.size:
        at_h = beyond.at_ms / MS_PER_H
        if starts is not None and starts.at_h.size:
            starts_out_c = np.interp(starts.at_h, at_h, beyond.air_c)
            level_c = level_of_starts(starts.air_c, starts_out_c, outside_c)
        if not isfinite(level_c):
            beyond_c = np.interp(inside.at_ms / MS_PER_H, at_h, beyond.air_c)
            level_c = heating_level(inside.air_c, beyond_c, outside_c)
    return level_c if isfinite(level_c) else level_set(space.thermostat_c)


def _by_building(
    own: Tonight, air: SpaceAir, courses_c: Floats, basis: LowBasis, building: Building
) -> Tonight:
    """The same night with courses that a building's own lag gives."""
    lows_c = np.minimum(courses_c.min(axis=1), air.now_c)
    return replace(
        own,
        lows_c=lows_c,
        courses_c=courses_c,
        low_at=time_of_low(air.now, own.hours, courses_c),
        expected_low_c=float(np.median(lows_c)),
        basis=basis,
        building=building,
    )
