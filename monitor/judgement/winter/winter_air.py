"""The air of every space through a winter: by what past weeks showed of it, else by its kind."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import isfinite, nan

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.building import Building, unheated_air_series, usual_lag
from monitor.judgement.air.ensemble import MEMBERS, Draws, draws_of
from monitor.judgement.air.grid import Floats, Traces
from monitor.judgement.air.past_weeks import Memory, SpacePast
from monitor.judgement.air.sky_loss import clear_sky_depression, share_of_clear_sky
from monitor.judgement.air.tonight import level_of_heat, outdoor_air
from monitor.judgement.inputs import YardInputs
from monitor.yard.hard_winter import Following, SpaceWinter, WinterWeather, night_of_time
from monitor.yard.space import OUTDOORS, WARM, Space, Yard
from monitor.yard.sun import night_hours_of

_LEVELS_C = np.arange(-60.0, 31.0, 1.0)  # outdoor air by which a heat's level is tabulated
_NIGHT_HOURS_KNOWN = 40  # hours of the night in both airs, before they tell a difference
_NIGHT = (0, 6)  # hours of the clock in which two rows are compared
_FIRST_DAYS_H = 7 * 24.0  # whose mean a floor begins with: it follows within days


@dataclass(frozen=True, slots=True, kw_only=True)
class LearntSpace:
    """What readings of past weeks show of one space."""

    building: Building | None = None
    offset_k: float = 0.0  # by which its nights lie below the air that stands for outdoors
    levels_c: Floats | None = None  # what its heat holds, at `_LEVELS_C` outdoors
    heat_is_lost: bool = False  # it falls now, though it should be held


@dataclass(frozen=True, slots=True, kw_only=True)
class LearntYard:
    """What they show of all; ``at`` is the newest reading, None where there is none."""

    at: datetime | None = None
    spaces: Mapping[str, LearntSpace] = field(default_factory=dict)


def learn_spaces(yard: Yard, traces: Traces, now: datetime, memory: Memory) -> LearntYard:
    """Learn how each space follows the weather, from readings up to ``now``.

    Parameters
    ----------
    yard : Yard
    traces : mapping
        Readings of the last 98 hours by sensor and channel.
    now : datetime
        Of the newest of them.
    memory : Memory
        Of the weeks before.
    """
    inputs = YardInputs.gather(yard, [], traces, now, memory)
    outside = outdoor_air(inputs.airs)
    found = {}
    for space in yard.spaces:
        night, air = inputs.nights[space.id], inputs.airs[space.id]
        if night is None or not air.is_known:
            continue
        levels_c = None
        if outside is not None and space.kind in WARM:
            told = [level_of_heat(space, outside.space, each, memory) for each in _LEVELS_C]
            only_set = level_of_heat(space, space, nan, Memory())
            known = isfinite(told[0]) and told[0] != only_set
            levels_c = np.array(told) if known else None
        offset_k = 0.0
        if outside is not None and space.kind in OUTDOORS and air is not outside:
            offset_k = _night_offset(memory.spaces[space.id], memory.spaces[outside.space.id], yard)
        found[space.id] = LearntSpace(
            building=night.building,
            offset_k=offset_k,
            levels_c=levels_c,
            heat_is_lost=night.heat_is_lost,
        )
    return LearntYard(at=now, spaces=found)


def _night_offset(here: SpacePast, outside: SpacePast, yard: Yard) -> float:
    """By how much a row's nights lie below the outdoor air [K]; 0 where they lie above."""
    at_ms, own, other = np.intersect1d(here.at_ms, outside.at_ms, return_indices=True)
    local_h = np.array(
        [datetime.fromtimestamp(each / 1000.0, yard.zone).hour for each in at_ms.tolist()]
    )
    dark = (local_h >= _NIGHT[0]) & (local_h < _NIGHT[1])
    if dark.sum() < _NIGHT_HOURS_KNOWN:
        return 0.0
    return max(float((outside.air_c[other] - here.air_c[own])[dark].mean()), 0.0)


def winter_air(
    space: Space,
    outside_c: Floats,
    weather: WinterWeather,
    learnt: LearntSpace | None,
    heat_off_from: datetime | None = None,
) -> tuple[SpaceWinter, Floats]:
    """The course of one space's air through a winter, and on what it rests.

    Parameters
    ----------
    space : Space
    outside_c : ndarray, shape (n,)
        Outdoor air on the weather's grid [°C], without holes.
    weather : WinterWeather
    learnt : LearntSpace or None
        None: no reading tells of it.
    heat_off_from : datetime, optional
        Its heat is taken to fail then.

    Returns
    -------
    (SpaceWinter, ndarray of shape (n,))

    Notes
    -----
    A building's lag alone cools it: what else warms it (people, lamps, the sun) is not counted on.
    """
    if space.kind in OUTDOORS:
        offset_k = learnt.offset_k if learnt is not None else 0.0
        air_c = outside_c - offset_k
        follows = Following.WEATHER_COLDER if offset_k > 0.0 else Following.WEATHER
        return _space_winter(space, follows, air_c, weather, offset_k=offset_k), air_c
    building, follows = _building_of(space, learnt)
    if space.kind not in WARM:
        air_c = _unheated(building, outside_c, weather, 0, float(outside_c[0]))
        return _of_building(space, follows, air_c, weather, building), air_c
    level_c, held = _held_air(space, outside_c, learnt)
    if level_c is None:
        air_c = _unheated(building, outside_c, weather, 0, float(outside_c[0]))
        told = _of_building(space, follows, air_c, weather, building)
        return replace(told, heat_unknown=True), air_c
    lost = heat_off_from is None and learnt is not None and learnt.heat_is_lost
    heat_off_from = weather.begin if lost else heat_off_from
    if heat_off_from is None or heat_off_from > weather.end:
        freezing_c = float(level_c[outside_c.argmin()])
        return _space_winter(space, held, level_c, weather, level_c=freezing_c), level_c
    off = max(int((heat_off_from - weather.begin) / timedelta(hours=weather.step_h)), 0)
    falling = _unheated(building, outside_c, weather, off, float(level_c[off]))
    air_c = np.concatenate([level_c[:off], falling])
    told = _of_building(space, follows, air_c, weather, building)
    freezing_c = float(level_c[outside_c.argmin()])
    return (
        replace(told, heat_off_from=heat_off_from, level_c=freezing_c, heat_is_lost=lost),
        air_c,
    )


def _building_of(space: Space, learnt: LearntSpace | None) -> tuple[Building, Following]:
    if learnt is None or learnt.building is None:
        lag_h = space.lag_h or usual_lag(space.kind)
        building = Building(lag_h=lag_h, lift_k=0.0)
    else:
        # A day's sun or lamps are no warmth for a winter; what holds it below the air may stay.
        building = replace(learnt.building, lift_k=min(learnt.building.lift_k, 0.0))
    if building.floor is None and building.lag_h == space.lag_h:
        return building, Following.LAG_CONFIGURED
    if building.floor is None and building.lag_h == usual_lag(space.kind):
        return building, Following.LAG_USUAL
    return building, Following.LAG_LEARNT


def _held_air(
    space: Space, outside_c: Floats, learnt: LearntSpace | None
) -> tuple[Floats | None, Following]:
    """What the heat holds at each hour; None where nobody knows."""
    if learnt is not None and learnt.levels_c is not None:
        return np.interp(outside_c, _LEVELS_C, learnt.levels_c), Following.HEAT_LEARNT
    set_c = level_of_heat(space, space, nan, Memory())
    if isfinite(set_c):
        return np.full(outside_c.size, set_c), Following.HEAT_SET
    return None, Following.HEAT_SET


def _unheated(
    building: Building, outside_c: Floats, weather: WinterWeather, begin: int, inside_c: float
) -> Floats:
    """Air without heat from one step on, that step included."""
    if building.floor is not None:
        days = slice(begin, begin + round(_FIRST_DAYS_H / weather.step_h))
        floor = replace(building.floor, now_c=float(outside_c[days].mean()))
        building = replace(building, floor=floor)
    hours = weather.hours[begin:] - weather.hours[begin]
    if hours.size == 1:
        return np.array([inside_c])
    after = unheated_air_series(building, inside_c, outside_c[begin:], hours[1:])
    return np.concatenate([[inside_c], after])


def _of_building(
    space: Space, follows: Following, air_c: Floats, weather: WinterWeather, building: Building
) -> SpaceWinter:
    share = 0.0 if building.floor is None else building.floor.share_if_warm
    return _space_winter(
        space, follows, air_c, weather, lag_h=building.lag_h, floor_share=max(share, 0.0)
    )


def _space_winter(
    space: Space,
    follows: Following,
    air_c: Floats,
    weather: WinterWeather,
    **more: float,
) -> SpaceWinter:
    lowest = int(np.argmin(air_c))
    return SpaceWinter(
        space=space,
        follows=follows,
        low_c=float(air_c[lowest]),
        low_at=weather.time_of(lowest * weather.step_h),
        **more,  # type: ignore[arg-type]  # each is a number
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WinterNights:
    """The dark hours of a winter, and what the sky may take in each of its nights."""

    dark: NDArray[np.bool_]  # (n,)
    night: NDArray[np.intp]  # (n,) which of the nights each hour is of
    draws: tuple[Draws, ...]  # a night each: what a craft is stays, what the sky is changes

    @classmethod
    def of_weather(cls, weather: WinterWeather, yard: Yard) -> "WinterNights":
        """Those of a winter at a yard; the same for whoever asks again."""
        evenings = [night_of_time(weather.time_of(each), yard) for each in weather.hours.tolist()]
        first = evenings[0]
        night = np.array([(each - first).days for each in evenings])
        dark = np.zeros(night.size, dtype=bool)
        of_craft = draws_of(yard.id, first)
        draws = []
        for number in range(int(night[-1]) + 1):
            evening = first + timedelta(days=number)
            hours = night_hours_of(evening, yard)
            down, up = (
                (each - weather.begin) / timedelta(hours=1)
                for each in (hours.sunset, hours.sunrise)
            )
            dark |= (weather.hours >= down) & (weather.hours < up)
            draws.append(of_craft._replace(sky=draws_of(yard.id, evening).sky))
        return cls(dark=dark, night=night, draws=tuple(draws))

    @property
    def of_craft(self) -> Draws:
        """What stays the same of each member all winter: lag, start, mix, hull."""
        return self.draws[0]

    def around_craft(self, space: Space, air_c: Floats, dew_point_c: Floats) -> Floats:
        """The air less what the sky takes, in each member; (members, n)."""
        if space.kind not in OUTDOORS:
            return np.broadcast_to(air_c, (MEMBERS, air_c.size))
        clear_k = np.where(self.dark, clear_sky_depression(air_c, dew_point_c), 0.0)
        share = np.array([share_of_clear_sky(each, space.kind) for each in self.draws])
        around: Floats = air_c - clear_k * share[self.night].T
        return around
