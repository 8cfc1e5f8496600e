"""The yard's record stood through a winter that has not come yet; the store is only read."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from monitor.clock import from_ms, to_ms
from monitor.craft.profile import Profile
from monitor.errors import LaidupError
from monitor.intake.weather_rows import WeatherRow, WeatherRows
from monitor.intake.winter_weather import lay_over_winter
from monitor.judgement.air.ensemble import MEMBERS
from monitor.judgement.air.grid import MS_PER_H, Floats, series_needed
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.recent_readings import SPAN_H, read_past_traces
from monitor.judgement.inputs import craft_in_care
from monitor.judgement.round import load_past_weeks
from monitor.judgement.winter.stand_winter import stand_winter
from monitor.judgement.winter.winter_air import LearntYard, learn_spaces
from monitor.judgement.winter.winter_fates import Part
from monitor.reports.air import HourlyAir, read_hourly_air
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.assessment import Hazard
from monitor.yard.facts import past_ice_of
from monitor.yard.hard_winter import (
    HardWinter,
    WinterWeather,
    standard_zone,
)
from monitor.yard.hourly import HOUR_MS
from monitor.yard.space import SpaceKind, Yard

_PAST_WINTERS = 8
_KNOWN = 0.5  # share of a past winter's hours that must have been read
_DAY_H = 24
Tell = Callable[[str], None]


def _tell_nobody(_: str) -> None:
    pass


def prove_winter(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    weather: WinterWeather,
    now: datetime,
    *,
    heat_off: Mapping[str, datetime] | None = None,
    tell: Tell = _tell_nobody,
) -> HardWinter:
    """Stand the yard's record through a winter.

    Parameters
    ----------
    store : Store
    yard : Yard
    profiles : mapping of Profile by id
    weather : WinterWeather
    now : datetime
        The record counts as it stands then.
    heat_off : mapping of datetime by space, optional
        When the heat of spaces is taken to fail.
    tell : callable, optional
        Called with what is being done.

    Raises
    ------
    StoreError
        If the store cannot be read.
    """
    tell("Adding up the record")
    with store.snapshot() as tx:
        records = tx.layup.all_records(profiles, check_chains=True)
        suspect = _suspect_parts(tx)
    craft = craft_in_care(records, yard, now)
    tell("Learning how the spaces follow the weather")
    learnt = _learn(store, yard, now)
    spaces, found = stand_winter(
        yard, craft, weather, learnt, heat_off or {}, suspect=suspect, tell=tell
    )
    return HardWinter(
        yard=yard,
        made_at=now,
        weather=weather,
        spaces=spaces,
        learnt_at=learnt.at,
        craft=found,
        members=MEMBERS,
    )


def _suspect_parts(tx: Transaction) -> dict[Part, datetime]:
    """Circuits that judgement has seen in ice, and when last; nobody has looked into them since."""
    found = {}
    for each in tx.assessments.latest_judgements():
        at = past_ice_of(each.facts).at if each.hazard is Hazard.FROST else None
        if at is not None:
            found[each.subject.craft, each.subject.part] = at
    return found


def _learn(store: Store, yard: Yard, now: datetime) -> LearntYard:
    """Learn from the newest readings; without any, nothing is learnt."""
    with store.snapshot() as tx:
        newest_ms = tx.yard_readings.newest_at_ms({one.sent_as for one in yard.sensors}, to_ms(now))
        if newest_ms is None:
            return LearntYard()
        begin_ms = newest_ms + 1 - int(SPAN_H * MS_PER_H)
        traces = read_past_traces(tx, series_needed(yard), begin_ms, newest_ms + 1)
    at = from_ms(newest_ms)
    memory: Memory = load_past_weeks(store, yard, at)
    return learn_spaces(yard, traces, at, memory)


def worst_past_winter(
    store: Store,
    yard: Yard,
    now: datetime,
    begin: datetime,
    end: datetime,
    tell: Tell = _tell_nobody,
) -> WinterWeather:
    """The yard's own worst winter as its sensors outdoors read it, laid over the coming one.

    Parameters
    ----------
    store : Store
    yard : Yard
    now : datetime
    begin, end : datetime
        Of the coming winter, see `monitor.yard.hard_winter.winter_ahead`.
    tell : callable, optional
        Called with what is being done.

    Raises
    ------
    LaidupError
        If of no past winter half of the hours outdoors are on record.
    """
    outdoors = _outdoors_only(yard)
    found: list[tuple[float, int, HourlyAir]] = []
    for back in range(1, _PAST_WINTERS + 1):
        tell(f"Reading the winter that ended in {end.year - back}")
        since, until = (_years_before(each, back) for each in (begin, end))
        if until > now:
            continue
        with store.snapshot() as tx:
            airs = read_hourly_air(tx, outdoors, since.astimezone(UTC), until.astimezone(UTC))
        found += [
            (_coldest_day(air.coldest_c), end.year - back, air)
            for air in airs.values()
            if np.isfinite(air.coldest_c).mean() >= _KNOWN
        ]
    if not found:
        raise LaidupError(
            "No past winter can be taken: of none are half of the hours outdoors on record."
            " Give a weather file: laidup prove --weather FILE"
        )
    _, year, air = min(found, key=lambda each: each[:2])
    zone = standard_zone(yard)
    rows = []
    for at_ms, air_c, dew_c in zip(
        air.at_ms.tolist(), air.coldest_c.tolist(), air.dew_point_c.tolist(), strict=True
    ):
        # An hour's low stands at its begin, so that none of it is lost between two hours.
        at = datetime.fromtimestamp((at_ms - HOUR_MS // 2) / 1000.0, zone)
        rows.append(WeatherRow(0, at.month, at.day, at.hour * 60 + at.minute, air_c, dew_c))
    place = yard.space(air.space).name
    name = f"{yard.name}'s own winter that ended in {year}, as read in {place}"
    return lay_over_winter(WeatherRows(name=name, rows=tuple(rows), field=""), yard, begin, end)


def _outdoors_only(yard: Yard) -> Yard:
    """The yard as if it had only the spaces whose air stands for outdoors."""
    for kind in (SpaceKind.OPEN, SpaceKind.WRAPPED):
        some = tuple(space for space in yard.spaces if space.kind is kind)
        if some:
            return replace(yard, spaces=some)
    return replace(yard, spaces=())


def _years_before(at: datetime, back: int) -> datetime:
    try:
        return at.replace(year=at.year - back)
    except ValueError:  # 29 February
        return (at - timedelta(days=1)).replace(year=at.year - back)


def _coldest_day(air_c: Floats) -> float:
    """The coldest mean of a day's length [°C], hours that nobody read left out."""
    known = np.isfinite(air_c)
    sums = np.convolve(np.where(known, air_c, 0.0), np.ones(_DAY_H), mode="valid")
    count = np.convolve(known.astype(float), np.ones(_DAY_H), mode="valid")
    whole = count >= _DAY_H / 2
    return float((sums[whole] / count[whole]).min()) if whole.any() else float(np.nanmin(air_c))
