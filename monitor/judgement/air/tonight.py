"""How low will each space's air go, and when? Past nights carried over, an agency mixed in."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.judgement.air.building import (
    Building,
    building_alone,
    building_of,
    unheated_course,
)
from monitor.judgement.air.grid import MS_PER_H, STEP_H, Floats, SpaceAir
from monitor.judgement.air.heat_loss import (
    WORKS_WITHIN_K,
    fall_rate,
    heat_lost,
    level_held,
    level_of_starts,
    level_set,
)
from monitor.judgement.air.low_forecast import LowForecast, PastErrors, forecast_low, track
from monitor.judgement.air.night_hours import Dark, dark_of
from monitor.judgement.air.past_weeks import Memory, NightTable, night_shape, night_table
from monitor.physics.building import time_of_reaching
from monitor.yard.air_facts import LowBasis, LowMethod
from monitor.yard.space import OUTDOORS, WARM, SpaceKind, Yard

# Fall from evening to morning where no night is known yet. Common practice, no source.
_UNSEEN_FALL_K = {
    SpaceKind.OPEN: 6.0,
    SpaceKind.WRAPPED: 6.0,
    SpaceKind.COLD: 4.0,
    SpaceKind.HEATED: 1.0,
    SpaceKind.BENCH: 1.0,
}
_AFTER_SUNSET_H = 2.0  # the evening's fast fall ends here and the slow one begins (FAO 10, ch. 5)
_BEFORE_SUNRISE_H = 10.0 / 60.0  # when the low usually comes
_DAY_BEGINS_H = 1.0  # after sunrise: from then on the next night counts
_SHAPED_BY = 3  # nights that make a usual course
_HALF_TRUSTED_NIGHTS = 3.0  # after so many a building's own nights tell half of what they will
_MEMO_AT_MOST = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Tonight:
    """The coming low of one space, and the course of its air until the noon after it.

    ``low_c`` is the pessimistic edge, on which everything is judged; ``cold_c`` is the course
    to it at ``hours`` after now, on the grid's own step.
    """

    night: Dark
    low_c: float
    low_at: datetime
    expected_low_c: float
    high_c: float  # the other edge of the band
    hours: Floats  # (m,) after now, the first one step on
    cold_c: Floats  # (m,)
    basis: LowBasis  # what the low rests on
    forecast: LowForecast
    building: Building | None = None  # None outdoors, and where no outdoor air is known
    heat_is_lost: bool = False
    loss_k_h: float = 0.0  # how fast a building without heat would cool now
    zero_without_heat_h: float = inf  # of a heated space: hours to 0 °C if its heat stopped now


@dataclass(frozen=True, slots=True, kw_only=True)
class _Coming:
    """The night that counts at one moment, and the hours until the noon after it."""

    dark: Dark
    after_sunset_h: float  # now, on the night's own axis
    hours: Floats


def tonights(airs: Mapping[str, SpaceAir], yard: Yard, memory: Memory) -> dict[str, Tonight | None]:
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
    outside = outdoors(airs)
    found: dict[str, Tonight | None] = {}
    sky = _by_nights(outside, yard, memory) if outside is not None else None
    for space_id, air in airs.items():
        if not air.known:
            found[space_id] = None
        elif sky is not None and outside is not None and air is outside:
            found[space_id] = sky
        elif sky is None or outside is None:
            found[space_id] = _alone(air, yard, memory)
        elif air.space.kind in OUTDOORS:
            found[space_id] = _by_nights(air, yard, memory)
        else:
            found[space_id] = _indoors(air, outside, sky, yard, memory)
    return found


def outdoors(airs: Mapping[str, SpaceAir]) -> SpaceAir | None:
    """The space whose air stands for outdoors: an open one, else a wrapped one, known now."""
    for kind in (SpaceKind.OPEN, SpaceKind.WRAPPED):
        here = [air for air in airs.values() if air.space.kind is kind and air.known]
        if here:
            return max(here, key=lambda air: int(np.isfinite(air.air_c).sum()))
    return None


def _coming(now: datetime, yard: Yard) -> _Coming:
    local = now.astimezone(yard.zone)
    evening = local.date() if local.time() >= time(12) else local.date() - timedelta(days=1)
    dark = dark_of(evening, yard)
    if now > dark.sunrise + timedelta(hours=_DAY_BEGINS_H):
        dark = dark_of(local.date(), yard)
    noon = _noon_after(dark.evening, yard)
    steps = max(int((noon - now) / timedelta(hours=STEP_H)), 1)
    return _Coming(
        dark=dark,
        after_sunset_h=(now - dark.sunset) / timedelta(hours=1),
        hours=np.arange(1, steps + 1, dtype=np.float64) * STEP_H,
    )


def _noon_after(evening: date, yard: Yard) -> datetime:
    return datetime.combine(evening + timedelta(days=1), time(12), yard.zone)


def _by_nights(air: SpaceAir, yard: Yard, memory: Memory) -> Tonight:
    """From this space's own past nights alone."""
    coming = _coming(air.now, yard)
    past = memory.spaces[air.space.id]
    outlook = memory.outlook if air.space.kind in OUTDOORS else None
    table = night_table(past, yard, coming.dark.evening, coming.after_sunset_h, outlook=outlook)
    until = _noon_after(coming.dark.evening, yard)
    public_c = nan if outlook is None else outlook.low_c(air.now, air.now, until)
    record = _track(table, air, coming, memory, public=isfinite(public_c))
    forecast = forecast_low(
        table, record, air.now_c, float(air.dew_point_c[-1]), _unseen_fall(air, coming), public_c
    )
    shape = None
    if len(table.evening) >= _SHAPED_BY:
        shape = night_shape(past, yard, table.evening[-14:], coming.after_sunset_h, coming.hours)
    cold_c = _course(air.now_c, forecast.band_low_c, coming, shape)
    low = int(np.argmin(cold_c))
    return Tonight(
        night=coming.dark,
        low_c=min(forecast.band_low_c, air.now_c),
        low_at=air.now + timedelta(hours=float(coming.hours[low])),
        expected_low_c=forecast.low_c,
        high_c=forecast.band_high_c,
        hours=coming.hours,
        cold_c=cold_c,
        basis=_low_basis(forecast, memory.outlook.source),
        forecast=forecast,
    )


def _track(
    table: NightTable, air: SpaceAir, coming: _Coming, memory: Memory, *, public: bool
) -> PastErrors:
    """How forecasts from about this hour did; worked out once an hour and not every minute."""
    newest = table.evening[-1] if table.evening else None
    issued = int(np.isfinite(table.public_low_c).sum()) if public else -1
    key = (air.space.id, newest, len(table.evening), round(coming.after_sunset_h), issued)
    known = memory.worked_out.get(key)
    if not isinstance(known, PastErrors):
        known = track(table, _unseen_fall(air, coming), public=public)
        if len(memory.worked_out) > _MEMO_AT_MOST:
            memory.worked_out.clear()
        memory.worked_out[key] = known
    return known


def _unseen_fall(air: SpaceAir, coming: _Coming) -> float:
    return unseen_fall(air.space.kind, coming.after_sunset_h, coming.dark.length_h)


def unseen_fall(kind: SpaceKind, after_sunset_h: float, night_h: float) -> float:
    """What to expect the air to fall by from now on if no night is known [K]."""
    left = min(max(1.0 - after_sunset_h / night_h, 0.0), 1.0)
    return _UNSEEN_FALL_K[kind] * float(np.sqrt(left))


def _course(now_c: float, low_c: float, coming: _Coming, shape: Floats | None) -> Floats:
    """Air from now on, ending its fall at the given low.

    By the usual course of past nights, pulled towards the low bit by bit; without one, flat
    until two hours after sunset, then down by the square root of time to shortly before
    sunrise (FAO 10, ch. 5), which falls early and so errs to the safe side.
    """
    hours = coming.hours
    if shape is None or not np.isfinite(shape).all():
        low_h = max(coming.dark.length_h - _BEFORE_SUNRISE_H - coming.after_sunset_h, 2 * STEP_H)
        start_h = min(max(_AFTER_SUNSET_H - coming.after_sunset_h, 0.0), low_h - STEP_H)
        falling = np.clip((hours - start_h) / (low_h - start_h), 0.0, 1.0)
        rising = np.clip((hours - low_h) / max(hours[-1] - low_h, STEP_H), 0.0, 1.0)
        course: Floats = now_c + (low_c - now_c) * (np.sqrt(falling) - rising)
        course[np.abs(hours - low_h).argmin()] = low_c
        return course
    lowest = int(np.argmin(shape))
    missing = low_c - (now_c + float(shape[lowest]))
    pulled = now_c + shape + missing * np.minimum(hours / hours[lowest], 1.0)
    course = np.maximum(pulled, low_c)
    course[lowest] = low_c
    return course


def _alone(air: SpaceAir, yard: Yard, memory: Memory) -> Tonight:
    """A space of a yard where no outdoor air is known; if it loses its heat, by its own fall."""
    own = _by_nights(air, yard, memory)
    building = building_alone(air)
    if not heat_lost(air, nan, building.lag_h, level_set(air.space.thermostat_c)):
        return own
    # As fast as it falls now it would end so far below: that stands for the outdoor air.
    end_c = air.now_c - max(fall_rate(air), 0.0) * building.lag_h
    outside_c = np.full(own.hours.size + 1, end_c)
    cold_c = unheated_course(building, air.now_c, outside_c, own.hours)
    basis = replace(own.basis, method=LowMethod.HEAT_LOST_UNSEEN)
    falling = _changed(own, air, cold_c, own.expected_low_c, own.high_c, basis, building)
    return replace(falling, heat_is_lost=True)


def _indoors(air: SpaceAir, outside: SpaceAir, sky: Tonight, yard: Yard, memory: Memory) -> Tonight:
    """A building: its own nights, and how it follows the outdoor forecast."""
    own = _by_nights(air, yard, memory)
    building = _building(air, outside, memory)
    level_c = _level(air, outside, memory)
    lost = heat_lost(air, outside.now_c, building.lag_h, level_c)
    loss_k_h = max(air.now_c - outside.now_c - building.lift_k, 0.0) / building.lag_h
    heated = air.space.kind in WARM
    if heated and not lost:
        course = _outdoor(outside, sky, sky.low_c)
        times = np.concatenate([[0.0], sky.hours])
        zero_h = float(time_of_reaching(0.0, times, course, air.now_c, building.lag_h))
        working = _kept_up(own, air, level_c)
        return replace(working, building=building, zero_without_heat_h=zero_h, loss_k_h=loss_k_h)
    lows = (sky.low_c, sky.expected_low_c, sky.high_c)
    outdoor_c = np.array([_outdoor(outside, sky, low) for low in lows])
    cold_c, expected_c, warm_c = unheated_course(building, air.now_c, outdoor_c, sky.hours)
    if lost:
        basis = replace(own.basis, method=LowMethod.HEAT_LOST, lag_h=building.lag_h)
        falling = _changed(
            own, air, cold_c, float(expected_c.min()), float(warm_c.min()), basis, building
        )
        return replace(falling, heat_is_lost=True, loss_k_h=loss_k_h)
    nights = own.forecast.nights
    share = 0.5 * nights / (nights + _HALF_TRUSTED_NIGHTS)  # of its own nights
    return _changed(
        own,
        air,
        cold_c + share * (own.cold_c - cold_c),
        _between(min(float(expected_c.min()), air.now_c), own.expected_low_c, share),
        _between(min(float(warm_c.min()), air.now_c), own.high_c, share),
        replace(own.basis, method=LowMethod.OUTDOOR_LAG, lag_h=building.lag_h),
        building,
    )


def _kept_up(own: Tonight, air: SpaceAir, level_c: float) -> Tonight:
    """No lower than its heat lets it come: a mild week's falls tell nothing of a held shop."""
    floor_c = min(level_c - WORKS_WITHIN_K, air.now_c)
    if not own.low_c < floor_c:
        return own
    return replace(
        own,
        low_c=floor_c,
        expected_low_c=max(own.expected_low_c, floor_c),
        high_c=max(own.high_c, floor_c),
        cold_c=np.maximum(own.cold_c, floor_c),
        basis=replace(own.basis, held_by_heat=True),
    )


def _between(first: float, second: float, share: float) -> float:
    return first + share * (second - first)


def _building(air: SpaceAir, outside: SpaceAir, memory: Memory) -> Building:
    """The building's lag, fitted anew every six hours."""
    key = ("building", air.space.id, int(air.now.timestamp() // 21600))
    known = memory.worked_out.get(key)
    if not isinstance(known, Building):
        known = building_of(air, outside)
        memory.worked_out[key] = known
    return known


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


def _outdoor(outside: SpaceAir, sky: Tonight, low_c: float) -> Floats:
    """Outdoor air now and along the night, if its low is this one and not the pessimistic."""
    course = sky.cold_c
    fall = outside.now_c - sky.low_c
    if fall > 0.0 and isfinite(low_c):
        # Only what lies below the air now is a matter of the low; a warmer day stays.
        scale = (outside.now_c - min(low_c, outside.now_c)) / fall
        course = np.where(
            course < outside.now_c, outside.now_c + (course - outside.now_c) * scale, course
        )
    return np.concatenate([[outside.now_c], course])


def _changed(
    own: Tonight,
    air: SpaceAir,
    cold_c: Floats,
    expected_low_c: float,
    high_c: float,
    basis: LowBasis,
    building: Building,
) -> Tonight:
    low = int(np.argmin(cold_c))
    low_c = min(float(cold_c[low]), air.now_c)
    return Tonight(
        night=own.night,
        low_c=low_c,
        low_at=air.now + timedelta(hours=float(own.hours[low])),
        expected_low_c=max(expected_low_c, low_c),
        high_c=max(high_c, expected_low_c),
        hours=own.hours,
        cold_c=cold_c,
        basis=basis,
        forecast=own.forecast,
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
