"""One space's page: its air and the coming night, its season, its sensors, who stands in it."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isfinite

import numpy as np

from monitor.clock import from_ms, to_ms
from monitor.craft.account import season
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import Names
from monitor.phrases.space_tonight import (
    calibration_text,
    heard_text,
    limit_of_several,
    place_of_sensor,
    quality_text,
)
from monitor.phrases.standings import worst_first
from monitor.reports.air import HourlyAir, RecordedAir, read_air, read_hourly_air
from monitor.reports.sentences import OLD_AFTER, judged_long_ago
from monitor.store.store import Store, Transaction
from monitor.web.night_chart import (
    Chart,
    ChartLimit,
    ChartLine,
    NightChart,
    draw_chart,
    is_known,
)
from monitor.web.pages.craft_chart import AFTER, DEEPEST_K, LEAD, coming_air_low
from monitor.web.season_chart import DayOfAir, SeasonDrawing, draw_season
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.calibration_due import next_calibrations
from monitor.yard.hourly import HOUR_MS
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Person, Sensor, Space, Yard

_BEFORE, _STEP_MIN = timedelta(days=3), 20
_SEASON_MONTH = 7
_LIMITS = 4  # lines of a chart; more would be a grid
_ALIKE_C = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorRow:
    """One sensor: where it hangs, when it was heard, how its readings come, its calibration."""

    place: str
    heard: str
    quality: str
    calibration: str
    seen: Assessment | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftRow:
    """One craft that stands there, with its worst circuit."""

    craft: StoredCraft
    worst: Assessment | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekRow:
    """A week of its air; None where nothing was read."""

    monday: datetime
    low_c: float | None
    high_c: float | None
    frost_h: int  # hours in which it was below 0 °C
    unseen_h: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacePage:
    """What the template shows."""

    yard: Yard
    space: Space
    wording: Wording
    names: Names
    air: Assessment | None
    warning: str
    chart: NightChart | None
    left_out: str  # limits that lie too deep for the chart
    season: tuple[SeasonDrawing, ...]
    weeks: tuple[WeekRow, ...]  # the newest first
    sensors: tuple[SensorRow, ...]
    craft: tuple[CraftRow, ...]  # the worst first


def read_space_page(
    store: Store,
    yard: Yard,
    craft: Sequence[StoredCraft],
    space_id: str,
    now: datetime,
    reader: Person | None = None,
    old_after: timedelta = OLD_AFTER,
) -> SpacePage | None:
    """Read one steady state of the store and lay the page out; None if there is no such space."""
    space = next((each for each in yard.spaces if each.id == space_id), None)
    if space is None:
        return None
    words, here = words_for(yard, now, reader), [one for one in craft if one.space == space_id]
    names, alone = Names.of(yard, here), replace(yard, spaces=(space,))
    with store.snapshot() as tx:
        judged = tx.assessments.latest_in([space_id])
        recorded = read_air(tx, alone, now - _BEFORE, now, _STEP_MIN)[space_id]
        hourly = read_hourly_air(tx, alone, _season_begins(tx, yard, space, now), now)[space_id]
        sensors = tuple(_sensor_rows(tx, yard, space, judged, names, words))
    air = next((a for a in judged if a.hazard is Hazard.AIR and not a.subject.part), None)
    frost = [a for a in judged if a.hazard is Hazard.FROST]
    chart, left_out = _chart_of(recorded, air, frost, names, words)
    days = _days_of(hourly, words)
    return SpacePage(
        yard=yard,
        space=space,
        wording=words,
        names=names,
        air=air,
        warning=judged_long_ago(None if air is None else air.at, words, old_after),
        chart=chart,
        left_out=left_out,
        season=draw_season(days, now.astimezone(yard.zone).date(), words),
        weeks=tuple(_weeks_of(hourly, words)),
        sensors=sensors,
        craft=tuple(_craft_rows(here, frost)),
    )


def _season_begins(tx: Transaction, yard: Yard, space: Space, now: datetime) -> datetime:
    """July's first hour, or that of the first reading since: nobody draws months of nothing."""
    begins = datetime(season(now.astimezone(yard.zone)), _SEASON_MONTH, 1, tzinfo=yard.zone)
    names = [each.name for each in yard.sensors if each.space == space.id]
    hours = tx.rollups.hours_between(names, to_ms(begins) // HOUR_MS * HOUR_MS, to_ms(now))
    first = [int(trace.hour_ms[0]) for trace in hours.values() if trace.hour_ms.size]
    return from_ms(min(first)) if first else now - timedelta(days=1)


def _chart_of(
    recorded: RecordedAir,
    air: Assessment | None,
    frost: Sequence[Assessment],
    names: Names,
    words: Wording,
) -> tuple[NightChart | None, str]:
    low = coming_air_low(air)
    lines = (
        ChartLine(key="air", name="air", at_ms=recorded.at_ms, value_c=recorded.coldest_c),
        ChartLine(key="dew", name="dew point", at_ms=recorded.at_ms, value_c=recorded.dew_point_c),
    )
    first = [int(line.at_ms[np.isfinite(line.value_c)][0]) for line in lines if is_known(line)]
    if not first and low is None:
        return None, ""
    since = from_ms(min(first)) - LEAD if first else words.now - LEAD
    air_c = recorded.coldest_c[recorded.seen]
    deepest = min([*air_c.tolist(), *([low.cold_c] if low else [])], default=0.0) - DEEPEST_K
    limits, left_out = _limits_of(frost, deepest, names, words)
    chart = Chart(
        lines=lines,
        lows=() if low is None else (low,),
        limits=limits,
        since=max(since, words.now - _BEFORE),
        until=max(words.now + AFTER, low.at + timedelta(hours=2)) if low else words.now + AFTER,
    )
    return draw_chart(chart, names.space(recorded.space), words), left_out


def _limits_of(
    frost: Sequence[Assessment], deepest_c: float, names: Names, words: Wording
) -> tuple[tuple[ChartLimit, ...], str]:
    """Limits of the circuits that stand there, alike ones together, and how many lie too deep."""
    groups: dict[float, list[Assessment]] = defaultdict(list)
    for each in frost:
        if isfinite(each.limit_c):
            groups[round(each.limit_c / _ALIKE_C) * _ALIKE_C].append(each)
    shown = [c for c in sorted(groups, reverse=True) if c >= deepest_c][:_LIMITS]
    deep = {each.subject.craft for c in groups if c not in shown for each in groups[c]}
    left_out = f"Circuits of {len(deep)} craft can stand more than is drawn." if deep else ""
    return tuple(
        ChartLimit(
            name=limit_of_several(groups[c], max(a.limit_c for a in groups[c]), names, words),
            value_c=max(a.limit_c for a in groups[c]),
        )
        for c in shown
    ), left_out


def _sensor_rows(
    tx: Transaction,
    yard: Yard,
    space: Space,
    judged: Iterable[Assessment],
    names: Names,
    words: Wording,
) -> Iterable[SensorRow]:
    heard = {a.subject.part: a for a in judged if a.hazard is Hazard.SILENCE}
    today = words.now.astimezone(yard.zone).date()
    for sensor in yard.sensors:
        if sensor.space != space.id:
            continue
        seen = heard.get(sensor.name)
        yield SensorRow(
            place=place_of_sensor(sensor, names),
            heard=heard_text(seen, words),
            quality=quality_text(_flag_counts(tx, sensor, words.now)),
            calibration=calibration_text(next_calibrations([sensor], yard.calibration_days), today),
            seen=seen,
        )


def _flag_counts(tx: Transaction, sensor: Sensor, now: datetime) -> list[tuple[str, int]]:
    """How many readings of the last day have which flag."""
    channels = list(dict.fromkeys(sensor.labels.values())) or list(Channel)
    keys = [(sensor.name, channel) for channel in channels]
    traces = tx.readings.traces_between(keys, to_ms(now - timedelta(days=1)), to_ms(now))
    flags = np.concatenate([trace.flag for trace in traces.values()] or [np.empty(0, np.int8)])
    return [(str(flag.name).lower().replace("_", " "), int((flags == flag).sum())) for flag in Flag]


def _days_of(hourly: HourlyAir, words: Wording) -> list[DayOfAir]:
    values: dict[object, list[float]] = defaultdict(list)
    for at_ms, value_c in zip(hourly.at_ms.tolist(), hourly.coldest_c.tolist(), strict=True):
        if isfinite(value_c):
            values[from_ms(at_ms).astimezone(words.zone).date()].append(value_c)
    return [
        DayOfAir(day=day, low_c=min(seen), high_c=max(seen))  # type: ignore[arg-type]
        for day, seen in values.items()
    ]


def _weeks_of(hourly: HourlyAir, words: Wording) -> list[WeekRow]:
    """Weeks since the first reading, the newest first."""
    values: dict[datetime, list[float]] = defaultdict(list)
    for at_ms, value_c in zip(hourly.at_ms.tolist(), hourly.coldest_c.tolist(), strict=True):
        at = from_ms(at_ms).astimezone(words.zone)
        monday = (at - timedelta(days=at.weekday())).replace(hour=12, minute=0, second=0)
        values[monday].append(value_c)
    found = []
    for monday, all_h in values.items():
        seen = [each for each in all_h if isfinite(each)]
        found.append(
            WeekRow(
                monday=monday,
                low_c=min(seen, default=None),
                high_c=max(seen, default=None),
                frost_h=sum(each < 0.0 for each in seen),
                unseen_h=len(all_h) - len(seen),
            )
        )
    return found[::-1]


def _craft_rows(here: Sequence[StoredCraft], frost: Sequence[Assessment]) -> list[CraftRow]:
    by_craft: dict[str, list[Assessment]] = defaultdict(list)
    for each in frost:
        by_craft[each.subject.craft].append(each)
    rows = [
        CraftRow(craft=one, worst=min(by_craft[one.id], key=worst_first, default=None))
        for one in here
    ]
    known = [row for row in rows if row.worst is not None]
    return [
        *sorted(known, key=lambda row: worst_first(row.worst)),  # type: ignore[arg-type]
        *(row for row in rows if row.worst is None),
    ]
