"""A yard's craft stood through a winter, its missing hours once as usual and once as cold."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

import numpy as np

from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import Floats
from monitor.judgement.winter.winter_air import LearntYard, WinterNights, winter_air
from monitor.judgement.winter.winter_fates import (
    Fates,
    Part,
    bodies_by_space,
    follow_winter,
    judge_craft,
)
from monitor.yard.hard_winter import UNREAD_COLDER_K, CraftWinter, SpaceWinter, WinterWeather
from monitor.yard.space import Space, SpaceKind, Yard

Tell = Callable[[str], None]


class _Stood(NamedTuple):
    """What each space's air rests on, and what becomes of every kind of circuit."""

    spaces: tuple[SpaceWinter, ...]
    fates: Fates


def _tell_nobody(_: str) -> None:
    pass


def stand_winter(
    yard: Yard,
    craft: Sequence[StoredCraft],
    weather: WinterWeather,
    learnt: LearntYard,
    heat_off: Mapping[str, datetime],
    *,
    suspect: Mapping[Part, datetime],
    tell: Tell = _tell_nobody,
) -> tuple[tuple[SpaceWinter, ...], tuple[CraftWinter, ...]]:
    """Stand a yard's craft through a winter.

    Parameters
    ----------
    yard : Yard
    craft : sequence of StoredCraft
        Those in its care.
    weather : WinterWeather
        At least one hour of it known.
    learnt : LearntYard
    heat_off : mapping of datetime by space
        When the heat of spaces is taken to fail.
    suspect : mapping of datetime by part
        What has been through ice, when last; nobody has looked since.
    tell : callable, optional
        Called with what is being done.

    Returns
    -------
    (tuple of SpaceWinter, tuple of CraftWinter)
        In the yard's order, and in the order of doing.
    """
    nights = WinterNights.of_weather(weather, yard)
    between = _stood(yard, craft, weather, _bridged(weather), nights, learnt, heat_off, tell)
    cold = between
    if weather.unread_h:
        cold = _stood(
            yard, craft, weather, _as_cold_as_counted_on(weather), nights, learnt, heat_off, tell,
            ", its missing hours as cold as they may be",
        )  # fmt: skip
    tell("Planning the work")
    return between.spaces, judge_craft(yard, craft, weather, between.fates, cold.fates, suspect)


def _stood(
    yard: Yard,
    craft: Sequence[StoredCraft],
    weather: WinterWeather,
    outside_c: Floats,
    nights: WinterNights,
    learnt: LearntYard,
    heat_off: Mapping[str, datetime],
    tell: Tell,
    how: str = "",
) -> _Stood:
    airs = {
        space.id: winter_air(
            space, outside_c, weather, learnt.spaces.get(space.id), heat_off.get(space.id)
        )
        for space in (*yard.spaces, *_spaces_unknown(yard, craft))
    }
    bodies = bodies_by_space(craft)
    done = iter(range(1, len(bodies) + 1))

    def tell_space(space: str) -> None:
        tell(f"Space {next(done)} of {len(bodies)}: {airs[space][0].space.name}{how}")

    fates = follow_winter(airs, bodies, weather, nights, tell_space)
    return _Stood(tuple(told for told, _ in airs.values()), fates)


def _spaces_unknown(yard: Yard, craft: Sequence[StoredCraft]) -> list[Space]:
    """Spaces in which craft stand by the record, and which the yard has not: as if in the open."""
    known = {space.id for space in yard.spaces}
    missing = dict.fromkeys(one.space for one in craft if one.space not in known)
    return [Space(id=one, name=one, kind=SpaceKind.OPEN) for one in missing]


def _bridged(weather: WinterWeather) -> Floats:
    """The outdoor air, its holes taken as what lies between the hours around them."""
    known = np.isfinite(weather.air_c)
    bridged: Floats = np.interp(weather.hours, weather.hours[known], weather.air_c[known])
    return bridged


def _as_cold_as_counted_on(weather: WinterWeather) -> Floats:
    """The same, its holes colder than anything in it: what nobody knows is never safe."""
    coldest_c = float(np.nanmin(weather.air_c))
    cold: Floats = np.where(np.isfinite(weather.air_c), weather.air_c, coldest_c - UNREAD_COLDER_K)
    return cold
