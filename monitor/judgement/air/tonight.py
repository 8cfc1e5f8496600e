"""How low may each space's air go, and when? An ensemble of courses of the coming night."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.air.building import (
    Building,
    building_alone,
    building_of,
    building_over_floor,
    fit_building_floor,
    unheated_course,
)
from monitor.judgement.air.ensemble import (
    COLD_MEMBER,
    MEMBERS,
    Draws,
    band_of,
    draws_of,
)
from monitor.judgement.air.fall_regression import FallPrior, fall_prior
from monitor.judgement.air.grid import MS_PER_H, Floats, SpaceAir
from monitor.judgement.air.heat_loss import (
    WORKS_WITHIN_K,
    fall_rate,
    heat_lost,
    level_held,
    level_of_starts,
    level_set,
)
from monitor.judgement.air.low_forecast import (
    LowForecast,
    PastErrors,
    check_past_nights,
    forecast_low,
)
from monitor.judgement.air.night_courses import (
    ComingNight,
    coming_night,
    courses_to,
    noon_after,
    pull_to_lows,
)
from monitor.judgement.air.past_weeks import (
    Memory,
    NightTable,
    night_shapes,
    night_table,
    signs_at,
)
from monitor.physics.building import time_of_reaching
from monitor.physics.floor import FloorFit
from monitor.yard.air_facts import LowBasis, LowMethod
from monitor.yard.space import OUTDOORS, WARM, SpaceKind, Yard
from monitor.yard.sun import DarkHours

# Fall from evening to morning where no night is known yet. Common practice, no source.
_UNSEEN_FALL_K = {
    SpaceKind.OPEN: 6.0,
    SpaceKind.WRAPPED: 6.0,
    SpaceKind.COLD: 4.0,
    SpaceKind.HEATED: 1.0,
    SpaceKind.BENCH: 1.0,
}
_NIGHTS = 60  # past nights whose errors make the members
_HALF_TRUSTED_NIGHTS = 3.0  # after so many a building's own nights tell half of what they will
_MEMO_AT_MOST = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Tonight:
    """Equally likely courses of one space's air from now to the noon after the coming night.

    The members of all spaces belong together: the first is the coldest night in each of them.
    """

    night: DarkHours
    draws: Draws
    lows_c: Floats  # (members,) the coldest first
    courses_c: Floats  # (members, m) at ``hours`` after now
    hours: Floats  # (m,) the first one step on
    low_at: datetime  # of the middle one
    expected_low_c: float  # of the forecast that the members lie around
    basis: LowBasis  # what the low rests on
    forecast: LowForecast
    building: Building | None = None  # None outdoors, and where no outdoor air is known
    heat_is_lost: bool = False
    loss_k_h: float = 0.0  # how fast a building without heat would cool now
    zero_without_heat_h: float = inf  # of a heated space: hours to 0 °C if its heat stopped now
    low_c: float = field(init=False)  # the middle one: as likely to be colder as to be warmer

    def __post_init__(self) -> None:
        """Take the median once: every circuit of the space states it."""
        object.__setattr__(self, "low_c", float(np.median(self.lows_c)))

    @property
    def band_c(self) -> tuple[float, float]:
        """Range of the middle four fifths of the lows."""
        return band_of(self.lows_c)

    @property
    def cold_c(self) -> Floats:
        """The course to the cold end of that range; shape (m,)."""
        course: Floats = self.courses_c[COLD_MEMBER]
        return course


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
    sky = _by_nights(outside, yard, memory) if outside is not None else None
    for space_id, air in airs.items():
        if not air.is_known:
            found[space_id] = None
        elif sky is not None and outside is not None and air is outside:
            found[space_id] = sky
        elif sky is None or outside is None:
            found[space_id] = _night_without_outdoors(air, yard, memory)
        elif air.space.kind in OUTDOORS:
            found[space_id] = _by_nights(air, yard, memory)
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


def _by_nights(air: SpaceAir, yard: Yard, memory: Memory) -> Tonight:
    """From this space's own past nights alone."""
    coming = coming_night(air.now, yard)
    past = memory.spaces[air.space.id]
    outlook = memory.outlook if air.space.kind in OUTDOORS else None
    table = night_table(
        past, yard, coming.dark.evening, coming.after_sunset_h, _NIGHTS, outlook=outlook
    )
    until = noon_after(coming.dark.evening, yard)
    public_c = nan if outlook is None else outlook.low_c(air.now, air.now, until)
    prior = _fall_prior(air, coming)
    record = _track(table, air, coming, prior, memory, public=isfinite(public_c))
    now_h = to_ms(air.now) / MS_PER_H
    usual_c = float(table.air_c.mean()) if table.air_c.size else nan
    (signs_k,) = signs_at(past, np.array([now_h]), air.air_c[-1:], air.dew_point_c[-1:], usual_c)
    forecast = forecast_low(table, record, air.now_c, signs_k, prior, public_c)
    shapes = night_shapes(past, yard, table.evening, coming.after_sunset_h, coming.hours)
    courses_c = courses_to(air.now_c, forecast.lows_c, coming, shapes)
    return Tonight(
        night=coming.dark,
        draws=draws_of(yard.id, coming.dark.evening),
        lows_c=forecast.lows_c,
        courses_c=courses_c,
        hours=coming.hours,
        low_at=_low_at(air.now, coming.hours, courses_c),
        expected_low_c=forecast.low_c,
        basis=_low_basis(forecast, memory.outlook.source),
        forecast=forecast,
    )


def _low_at(now: datetime, hours: Floats, courses_c: Floats) -> datetime:
    """When half of the courses have come to their low."""
    lowest = int(np.median(np.argmin(courses_c, axis=1)))
    return now + timedelta(hours=float(hours[lowest]))


def _track(
    table: NightTable,
    air: SpaceAir,
    coming: ComingNight,
    prior: FallPrior,
    memory: Memory,
    *,
    public: bool,
) -> PastErrors:
    """How forecasts from about this hour did; worked out once an hour and not every minute."""
    newest = table.evening[-1] if table.evening else None
    issued = int(np.isfinite(table.public_low_c).sum()) if public else -1
    key = (air.space.id, newest, len(table.evening), round(coming.after_sunset_h), issued)
    known = memory.worked_out.get(key)
    if not isinstance(known, PastErrors):
        known = check_past_nights(table, prior, public=public)
        if len(memory.worked_out) > _MEMO_AT_MOST:
            memory.worked_out.clear()
        memory.worked_out[key] = known
    return known


def _fall_prior(air: SpaceAir, coming: ComingNight) -> FallPrior:
    return unseen_fall(air.space.kind, coming.after_sunset_h, coming.dark.length_h)


def unseen_fall(kind: SpaceKind, after_sunset_h: float, night_h: float) -> FallPrior:
    """What to expect the air to fall by from an hour on if no night is known."""
    left = min(max(1.0 - after_sunset_h / night_h, 0.0), 1.0)
    fall_k = _UNSEEN_FALL_K[kind] * float(np.sqrt(left))
    outdoors = kind in OUTDOORS
    share = 1.0 if outdoors else _UNSEEN_FALL_K[kind] / _UNSEEN_FALL_K[SpaceKind.COLD]
    return fall_prior(after_sunset_h, fall_k, outdoors=outdoors, share=share)


def _night_without_outdoors(air: SpaceAir, yard: Yard, memory: Memory) -> Tonight:
    """A space of a yard where no outdoor air is known; if it loses its heat, by its own fall."""
    own = _by_nights(air, yard, memory)
    building = building_alone(air)
    if not heat_lost(air, nan, building.lag_h, level_set(air.space.thermostat_c)):
        return own
    # As fast as it falls now it would end so far below: that stands for the outdoor air, and a
    # fall measured over twenty minutes may be half as fast, or half as fast again.
    fall_k = max(fall_rate(air), 0.0) * building.lag_h * (1.5 - own.draws.low)
    outside_c = np.broadcast_to((air.now_c - fall_k)[:, None], (MEMBERS, own.hours.size + 1))
    courses_c = unheated_course(building, air.now_c, outside_c, own.hours)
    basis = replace(own.basis, method=LowMethod.HEAT_LOST_UNSEEN)
    falling = _by_building(own, air, courses_c, basis, building)
    return replace(falling, heat_is_lost=True)


def _night_indoors(
    air: SpaceAir, outside: SpaceAir, sky: Tonight, yard: Yard, memory: Memory
) -> Tonight:
    """A building: its own nights, and how it follows the outdoor forecast."""
    own = _by_nights(air, yard, memory)
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
    followed_c = unheated_course(building, air.now_c, outdoor_c, sky.hours)
    if lost:
        basis = replace(own.basis, method=LowMethod.HEAT_LOST, lag_h=building.lag_h)
        falling = _by_building(own, air, followed_c, basis, building)
        return replace(falling, heat_is_lost=True, loss_k_h=loss_k_h)
    courses_c = followed_c
    if building.floor is None:
        # What else keeps it warm is not known: its own nights tell half of what they will.
        nights = own.forecast.nights
        share = 0.5 * nights / (nights + _HALF_TRUSTED_NIGHTS)
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
    inside, beyond = (memory.spaces[each.space.id] for each in (air, outside))
    starts = memory.starts.get(air.space.id)
    level_c = nan
    if beyond.at_ms.size:
        at_h = beyond.at_ms / MS_PER_H
        if starts is not None and starts.at_h.size:
            starts_out_c = np.interp(starts.at_h, at_h, beyond.air_c)
            level_c = level_of_starts(starts.air_c, starts_out_c, outside.now_c)
        if not isfinite(level_c):
            beyond_c = np.interp(inside.at_ms / MS_PER_H, at_h, beyond.air_c)
            level_c = level_held(inside.air_c, beyond_c, outside.now_c)
    if not isfinite(level_c):
        level_c = level_set(air.space.thermostat_c)
    memory.worked_out[key] = level_c
    return level_c


def _by_building(
    own: Tonight, air: SpaceAir, courses_c: Floats, basis: LowBasis, building: Building
) -> Tonight:
    """The same night with courses that a building's own lag gives."""
    lows_c = np.minimum(courses_c.min(axis=1), air.now_c)
    return replace(
        own,
        lows_c=lows_c,
        courses_c=courses_c,
        low_at=_low_at(air.now, own.hours, courses_c),
        expected_low_c=float(np.median(lows_c)),
        basis=basis,
        building=building,
    )


def _low_basis(forecast: LowForecast, source: str) -> LowBasis:
    return LowBasis(
        method=LowMethod.PAST_NIGHTS if forecast.nights else LowMethod.USUAL_FALL,
        nights=forecast.nights,
        error_k=forecast.error_k,
        public_source=source if forecast.public_share > 0.0 else "",
        public_share=forecast.public_share,
    )
