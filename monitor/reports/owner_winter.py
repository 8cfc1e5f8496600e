"""An owner's own craft as the store knows them, and nothing of anybody else's."""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from monitor.craft.account import season
from monitor.craft.record import CraftRecord
from monitor.craft.spring_progress import SpringProgress, spring_progress
from monitor.craft.stored import StoredCraft
from monitor.phrases.owner_catalogue import OWNER_CAUSES
from monitor.phrases.standings import row_of
from monitor.reports.air import read_hourly_air
from monitor.reports.craft_nights import (
    NIGHT_BEGINS,
    PastNight,
    past_nights,
    read_craft_course,
    weakest_circuit,
)
from monitor.reports.picture import Picture, compose_picture
from monitor.reports.week import AlarmOfWeek, SpaceWeek, WeeklyReport, alarm_of_week
from monitor.store.standing_history import PastJudgement
from monitor.store.store import Transaction
from monitor.yard.alarm import Alarm, AlarmState
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.space import Sensor, Yard, shelters

_WEEK = timedelta(days=7)


class NightKept(StrEnum):
    """How a craft came through a night; the worst first."""

    ICED = "iced"
    UNSAFE = "unsafe"
    UNKNOWN = "unknown"
    HELD = "held"


@dataclass(frozen=True, slots=True, kw_only=True)
class WinterNight:
    """One night of a craft: how cold it was around it, and how it came through."""

    evening: date
    low_c: float | None
    kept: NightKept


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnedCraft:
    """One craft with its winter; the newest night last."""

    record: CraftRecord
    nights: tuple[WinterNight, ...]
    alarms: tuple[AlarmOfWeek, ...]  # of which owners hear, the newest first
    spring: SpringProgress | None = None  # once its first step is ticked off


def yard_cut_down(yard: Yard, craft: Iterable[StoredCraft]) -> Yard:
    """The yard as far as it is of these craft: the spaces that they stand in, and no other."""
    places = {one.space for one in craft}
    own = {None, *(each.id for each in craft)}

    def kept(sensors: Iterable[Sensor]) -> tuple[Sensor, ...]:
        return tuple(one for one in sensors if one.space in places and one.craft in own)

    return replace(
        yard,
        spaces=tuple(space for space in yard.spaces if space.id in places),
        sensors=kept(yard.sensors),
        earlier_sensors=kept(yard.earlier_sensors),
    )


def read_owner_report(
    tx: Transaction, yard: Yard, craft: Sequence[StoredCraft], now: datetime
) -> WeeklyReport:
    """The last seven days of some craft alone, in the form that an owner's letter is made of.

    Parameters
    ----------
    tx : Transaction
    yard : Yard
        Cut down to them, see `yard_cut_down`.
    craft : sequence of StoredCraft
    now : datetime
    """
    since = now - _WEEK
    spaces = [space.id for space in yard.spaces]
    judged: list[Assessment] = list(tx.assessments.latest_in(spaces, ""))
    alarms: list[Alarm] = []
    for one in craft:
        judged += tx.assessments.latest_in(_places_of(one), one.id)
        alarms += tx.alarms.of_craft(one.id)
    lately = [a for a in alarms if a.raised_at >= since or a.state is not AlarmState.NORMAL]
    histories = tx.alarms.histories_of([a.id for a in lately])
    airs = read_hourly_air(tx, yard, _on_the_hour(since), now)
    is_open = [a for a in lately if a.state is not AlarmState.NORMAL]
    return WeeklyReport(
        week=f"{now:%G-W%V}",
        since=since,
        until=now,
        picture=compose_picture(yard, craft, judged, is_open, now),
        spaces=tuple(SpaceWeek(space=each, air=airs[each.id]) for each in yard.spaces),
        alarms=tuple(alarm_of_week(a, histories[a.id], yard) for a in lately),
        rates=None,
        skill=None,
        worse={},
        watched={},
        slush={},
    )


def read_owned_craft(
    tx: Transaction, yard: Yard, record: CraftRecord, picture: Picture, now: datetime
) -> OwnedCraft:
    """One craft's winter: each night's cold, and how it came through."""
    seen = next((one for one in picture.craft if one.craft.id == record.craft.id), None)
    weakest = None if seen is None else weakest_circuit(seen.circuits)
    local = now.astimezone(yard.zone)
    begins = datetime(season(local), 7, 1, tzinfo=yard.zone)
    changes = [
        change
        for change in tx.standing_history.changes_of_craft(record.craft.id, begins)
        if change.seen.hazard is Hazard.FROST
    ]
    told = [a for a in tx.alarms.of_craft(record.craft.id) if a.cause in OWNER_CAUSES]
    histories = tx.alarms.histories_of([a.id for a in told])
    alarms = tuple(
        alarm_of_week(a, histories[a.id], yard) for a in told[::-1] if a.raised_at >= begins
    )
    spring = spring_progress(record, shelters(yard), now) if _is_readied(record, now) else None
    if not changes:
        return OwnedCraft(record=record, nights=(), alarms=alarms, spring=spring)
    first = max(begins, changes[0].seen.at - timedelta(hours=12))
    course = read_craft_course(tx, yard, record.stays, weakest, first, now)
    nights = past_nights(course, record.stays, yard, now)
    winter = tuple(_winter_nights(nights[::-1], changes, yard))
    return OwnedCraft(record=record, nights=winter, alarms=alarms, spring=spring)


def _is_readied(record: CraftRecord, now: datetime) -> bool:
    """Whether a step before this year's first start is ticked off."""
    of_season = (one for one in record.standing(now) if season(one.at) == season(now))
    return any(one.readied is not None for one in of_season)


def _winter_nights(
    nights: Sequence[PastNight], changes: Sequence[PastJudgement], yard: Yard
) -> Iterable[WinterNight]:
    """Each night with the worst that any circuit was judged in it."""
    standing: dict[str, Assessment] = {}
    left = deque(change.seen for change in changes)
    for night in nights:
        begins = datetime.combine(night.evening, NIGHT_BEGINS, yard.zone)
        ends = datetime.combine(night.evening + timedelta(days=1), time(12), yard.zone)
        _take_until(begins, left, standing)
        within = [*standing.values(), *_take_until(ends, left, standing)]
        yield WinterNight(
            evening=night.evening, low_c=night.air_low_c, kept=_worst_kept(within, night)
        )


def _take_until(
    at: datetime, left: deque[Assessment], standing: dict[str, Assessment]
) -> list[Assessment]:
    """Take the changes up to a time off the queue, and put each in place of the one before."""
    taken = []
    while left and left[0].at <= at:
        change = left.popleft()
        standing[change.subject.part] = change
        taken.append(change)
    return taken


def _worst_kept(within: Sequence[Assessment], night: PastNight) -> NightKept:
    found = NightKept.HELD if within else NightKept.UNKNOWN
    for seen in within:
        here = NightKept.HELD
        if row_of(seen).too_late:
            here = NightKept.ICED
        elif seen.standing is Standing.EXPOSED:
            here = NightKept.UNSAFE
        elif seen.standing is Standing.NOT_KNOWN:
            here = NightKept.UNKNOWN
        found = min(found, here, key=list(NightKept).index)
    if found is NightKept.HELD and night.air_low_c is None:
        return NightKept.UNKNOWN
    return found


def _places_of(craft: StoredCraft) -> list[str]:
    battery = [] if craft.battery is None or not craft.battery.space else [craft.battery.space]
    return [craft.space, *battery]


def _on_the_hour(at: datetime) -> datetime:
    return at.replace(minute=0, second=0, microsecond=0)
