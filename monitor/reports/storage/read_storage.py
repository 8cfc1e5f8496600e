"""A yard's quality of storage over a season, read from hourly rollups, record, nights, alarms."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms
from monitor.craft.layup import LEAVES, WITH_OWNER, Act
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.reports.season.answers import sensor_doubts
from monitor.reports.season.figures import Kept
from monitor.reports.season.night_hours import NightRows, NightSpan, night_spans
from monitor.reports.season.read_season import season_bounds
from monitor.reports.season.space_hours import AirHours, Floats, Hours, SeasonAir
from monitor.reports.season.work import kept_in
from monitor.reports.skill import skill_of
from monitor.reports.storage.alarm_account import AlarmAccount, read_alarm_account
from monitor.reports.storage.figures import (
    FROST_C,
    SensorUptime,
    SpaceStorage,
    StorageFigures,
    StorageHours,
    StorageLimits,
    StorageNight,
    StorageQuality,
    sum_answers_of,
    sum_hours_of,
)
from monitor.store.transaction import Transaction
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Mount, Space, Yard
from monitor.yard.standing import Standing

WORST = 5  # nights of a space that are told
_BEFORE = 2  # seasons
_HEARD_NIGHT = 0.8  # less of a night is not known, as in a season record
_DIGITS = 6  # sums of shares of hours carry the noise of floats
_PLACES_BATTERY = frozenset({Act.BATTERY_REMOVED, Act.BATTERY_LEFT_ABOARD, Act.BATTERY_CONNECTED})
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Season:
    """What is read once for all spaces."""

    yard: Yard
    air: SeasonAir
    since: datetime
    until: datetime
    spans: Sequence[NightSpan]
    said: Sequence[SaidNight]
    stood: Mapping[str, Sequence[tuple[str, Kept]]]  # by space: craft, and when
    account: AlarmAccount


def read_storage_seasons(
    tx: Transaction,
    yard: Yard,
    profiles: Mapping[str, Profile],
    year: int,
    now: datetime,
    program: str,
) -> list[StorageFigures]:
    """The quality of storage of one season up to now, and of up to two before it, newest first.

    Those before it reach to the same day of their year, so that all are of one part of the winter;
    one in which nothing stood in the yard ends the row.

    Parameters
    ----------
    tx : Transaction
        A snapshot.
    yard : Yard
    profiles : mapping of str to Profile
        The library: craft of a type that is not in it stand in the yard like any other.
    year : int
        In whose July the season began; one that lies ahead has no hours.
    now : datetime
        What comes later is left out.
    program : str
        Version of laidup.
    """
    records = tx.layup.all_records(profiles)
    found: list[StorageFigures] = []
    for before in range(_BEFORE + 1):
        until = _years_earlier(now.astimezone(yard.zone), before)
        figures = _read_season(tx, yard, records, year - before, until)
        if before and not figures.whole.hours.of_h:
            break
        found.append(replace(figures, made_at=now, program=program))
    return found


def _years_earlier(local: datetime, years: int) -> datetime:
    is_leap_day = (local.month, local.day) == (2, 29)
    return local.replace(year=local.year - years, day=28 if is_leap_day and years else local.day)


def _read_season(
    tx: Transaction, yard: Yard, records: Sequence[CraftRecord], year: int, now: datetime
) -> StorageFigures:
    begins, ends = season_bounds(year, yard)
    until = max(min(ends, now.astimezone(UTC)), begins)
    hours = Hours.hours_between(begins, until)
    air = SeasonAir(tx, yard, hours, _stretches_in_doubt(tx, yard, begins, until))
    first, last = (one.astimezone(yard.zone).date() for one in (begins, until))
    season = _Season(
        yard=yard,
        air=air,
        since=begins,
        until=until,
        spans=night_spans(hours, yard, begins, until),
        said=[one for one in tx.said_nights.nights_since(first) if one.evening < last],
        stood=_stays_by_space(records, begins, until),
        account=read_alarm_account(tx, yard, air, records, now.astimezone(UTC)),
    )
    spaces = tuple(_space_storage(season, one) for one in yard.spaces)
    return StorageFigures(
        season=year,
        since=begins,
        until=until,
        made_at=until,
        program="",
        yard=yard.id,
        yard_name=yard.name,
        spaces=spaces,
        whole=_whole(season, spaces),
    )


def _space_storage(season: _Season, space: Space) -> SpaceStorage:
    air, hours = season.air.of_space(space.id), season.air.hours
    limits = StorageLimits.limits_of(space, season.yard)
    count = _craft_count(season, space.id)
    cold_h, damp_h, heard_h = _hours_outside(air, hours, limits)
    stood = count > 0
    summed = _sum_hours(air, hours, count, cold_h, damp_h, heard_h)
    low_c = np.where(stood, air.low_c, np.nan)
    at = None if np.isnan(low_c).all() else int(np.nanargmin(low_c))
    nights = list(_nights(season, space, count, cold_h, damp_h, heard_h))
    outside = [one for one in nights if one.too_cold_h + one.too_damp_h > 0.0]
    outside.sort(key=lambda one: (-one.too_cold_h, -one.too_damp_h, one.low_c or 0.0, one.evening))
    return SpaceStorage(
        space=space.id,
        name=space.name,
        kind=space.kind,
        limits=limits,
        hours=StorageHours(craft=len({one for one, _ in season.stood.get(space.id, ())}), **summed),
        low_c=None if at is None else round(float(low_c[at]), _DIGITS),
        low_at=None if at is None else from_ms(int(hours.begin_ms[at])),
        frost_kh=_sum(np.nan_to_num(air.frost_kh)),
        nights=len(nights),
        nights_unheard=sum(one.heard_h < _HEARD_NIGHT * one.of_h for one in nights),
        worst=tuple(outside[:WORST]),
        skill=skill_of([one for one in season.said if one.space == space.id]),
        sensors=tuple(_uptimes(season, space, stood)),
        answers=season.account.answers.get(space.id, sum_answers_of(())),
        saved=season.account.saved_in(space.id),
    )


def _whole(season: _Season, spaces: Sequence[SpaceStorage]) -> StorageQuality:
    craft = {one for several in season.stood.values() for one, _ in several}
    counts = [_craft_count(season, one.space) for one in spaces]
    any_stood = sum(counts, np.zeros(season.air.hours.begin_ms.size, dtype=np.int64)) > 0
    span_h = _sum(season.air.hours.length_h[any_stood])
    return StorageQuality(
        hours=sum_hours_of([one.hours for one in spaces], len(craft), span_h),
        skill=skill_of(season.said),
        sensors=tuple(each for one in spaces for each in one.sensors),
        answers=sum_answers_of(season.account.answers.values()),
        saved=season.account.saved_in(None),
    )


def _hours_outside(
    air: AirHours, hours: Hours, limits: StorageLimits
) -> tuple[Floats, Floats, Floats]:
    """What of each hour was too cold, too damp, and heard of all that has a limit [h].

    Below 0 °C it is known by the minute; of another limit an hour whose lowest passed it counts
    whole, as far as it was heard.
    """
    if limits.low_c == FROST_C:
        cold_h = np.minimum(np.nan_to_num(air.frost_min) / 60.0, hours.length_h)
    else:
        cold_h = np.where(air.low_c < limits.low_c, air.heard * hours.length_h, 0.0)
    if not limits.has_damp_limit:
        return cold_h, np.zeros(cold_h.size), air.heard * hours.length_h
    damp_h = np.minimum(np.nan_to_num(air.wet_min) / 60.0, hours.length_h)
    return cold_h, damp_h, air.both_heard * hours.length_h


def _sum_hours(
    air: AirHours, hours: Hours, count: Ints, cold_h: Floats, damp_h: Floats, heard_h: Floats
) -> dict[str, float]:
    stood = count > 0
    air_heard_h = air.heard * hours.length_h
    # Several sensors: each hour by the worst of them, so an hour may be too cold and too damp.
    inside_h = np.clip(np.minimum(heard_h, air_heard_h) - cold_h - damp_h, 0.0, None)
    of_h = _sum(hours.length_h[stood])
    return {
        "craft_h": _sum(count * hours.length_h),
        "span_h": of_h,
        "of_h": of_h,
        "air_heard_h": _sum(air_heard_h[stood]),
        "heard_h": _sum(heard_h[stood]),
        "warm_enough_h": _sum(np.clip(air_heard_h - cold_h, 0.0, None)[stood]),
        "dry_enough_h": _sum(np.clip(heard_h - damp_h, 0.0, None)[stood]),
        "inside_h": _sum(inside_h[stood]),
        "too_cold_h": _sum(cold_h[stood]),
        "too_damp_h": _sum(damp_h[stood]),
    }


def _nights(
    season: _Season, space: Space, count: Ints, cold_h: Floats, damp_h: Floats, heard_h: Floats
) -> Iterator[StorageNight]:
    """Every night that is over in which something stood there for half of it at least."""
    hours, rows, stood = season.air.hours, NightRows(season.spans), count > 0
    lows_c = rows.lows_known(np.where(stood, season.air.of_space(space.id).low_c, np.nan))
    expected = {one.evening: one.expected_c for one in season.said if one.space == space.id}
    of_h, of_heard, of_cold, of_damp = (
        rows.sum_hours(np.where(stood, each, 0.0))
        for each in (hours.length_h, heard_h, cold_h, damp_h)
    )
    for n, span in enumerate(season.spans):
        if of_h[n] < (span.until - span.since) / timedelta(hours=2):
            continue
        yield StorageNight(
            evening=span.evening,
            of_h=round(float(of_h[n]), _DIGITS),
            heard_h=round(float(of_heard[n]), _DIGITS),
            too_cold_h=round(float(of_cold[n]), _DIGITS),
            too_damp_h=round(float(of_damp[n]), _DIGITS),
            low_c=None if np.isnan(lows_c[n]) else round(float(lows_c[n]), _DIGITS),
            expected_c=expected.get(span.evening),
            craft=int(count[span.hours].max()),
        )


def _uptimes(season: _Season, space: Space, stood: NDArray[np.bool_]) -> Iterator[SensorUptime]:
    """Sensors that hang or hung in a space, over the hours in which craft stood there."""
    for one in (*season.yard.sensors, *season.yard.earlier_sensors):
        counts = stood & season.air.is_placed(one.name)
        if one.space != space.id or not counts.any():
            continue
        heard_h = None if one.mount is Mount.BATTERY else season.air.heard_by(one.name)[counts]
        yield SensorUptime(
            sensor=one.sent_as,
            mount=one.mount,
            of_h=_sum(season.air.hours.length_h[counts]),
            heard_h=None if heard_h is None else _sum(heard_h),
        )


def _craft_count(season: _Season, space: str) -> Ints:
    """How many craft stood in a space in each hour; two stays of one craft count once."""
    count = np.zeros(season.air.hours.begin_ms.size, dtype=np.int64)
    ends_ms = -1
    several = sorted(season.stood.get(space, ()), key=lambda one: (one[0], one[1].since))
    last = ""
    for craft, stay in several:
        part = season.air.hours.slice_between(stay.since, stay.until)
        start = part.start if craft != last else max(part.start, ends_ms)
        count[start : part.stop] += 1
        ends_ms = part.stop if craft != last else max(ends_ms, part.stop)
        last = craft
    return count


def _stays_by_space(
    records: Sequence[CraftRecord], since: datetime, until: datetime
) -> dict[str, list[tuple[str, Kept]]]:
    found: dict[str, list[tuple[str, Kept]]] = {}
    for record in records:
        for stay in (*kept_in(record, since, until), *_battery_stays(record, since, until)):
            found.setdefault(stay.space, []).append((record.craft.id, stay))
    return found


def _battery_stays(record: CraftRecord, since: datetime, until: datetime) -> Iterator[Kept]:
    """Where the battery of a craft stood apart from it."""
    removed_at, space = until, ""
    entries = [one for one in record.standing(until) if one.act in _PLACES_BATTERY | LEAVES]
    for at, to in [
        *((one.at, one.space if one.act is Act.BATTERY_REMOVED else "") for one in entries),
        (until, ""),
    ]:
        begins, ends = max(removed_at, since), min(at, until)
        if space and space != WITH_OWNER and begins < ends:
            yield Kept(space=space, berth="", since=begins, until=ends, by="")
        removed_at, space = at, to or ""


def _stretches_in_doubt(
    tx: Transaction, yard: Yard, since: datetime, until: datetime
) -> dict[str, list[tuple[datetime, datetime]]]:
    """When each sensor's readings were judged not to be of its air."""
    whole = [Kept(space=one.id, berth="", since=since, until=until, by="") for one in yard.spaces]
    changes = tx.standing_history.bare_changes([""], since, until)[""]
    found: dict[str, list[tuple[datetime, datetime]]] = {}
    for one in sensor_doubts(changes, whole):
        if one.standing is Standing.DOUBTED:
            found.setdefault(one.sensor, []).append((one.since, one.until or until))
    return found


def _sum(values: Floats) -> float:
    return round(float(np.sum(values)), _DIGITS)
