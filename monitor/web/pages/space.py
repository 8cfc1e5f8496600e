"""One space's page: its air and the coming night, its season, its sensors, who stands in it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from operator import attrgetter

from monitor.craft.stored import StoredCraft
from monitor.phrases.names import Names
from monitor.phrases.standings import worst_first
from monitor.reports.air import read_air, read_hourly_air
from monitor.reports.sentences import OLD_AFTER, judged_long_ago
from monitor.store.store import Store
from monitor.web.night_chart import NightChart
from monitor.web.pages.sensor_rows import SensorRow, sensor_rows
from monitor.web.pages.space_chart import BEFORE, space_chart
from monitor.web.pages.space_season import WeekRow, days_of, season_begins, weeks_of
from monitor.web.season_chart import SeasonDrawing, draw_season
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Space, Yard

_STEP_MIN = 20
_SENSORS, _UNWELL_SENSORS = 3, 6  # that are not folded


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftRow:
    """One craft that stands there, with its worst circuit."""

    craft: StoredCraft
    worst: Assessment | None


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
    sensors: tuple[SensorRow, ...]  # those that are not heard as they should be first
    craft: tuple[CraftRow, ...]  # the worst first

    @property
    def sensors_shown(self) -> int:
        """How many of its sensors are not folded: a few that are well, no more of the others."""
        unwell = sum(not one.is_well for one in self.sensors)
        return min(max(unwell, _SENSORS), _UNWELL_SENSORS)


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
    names, alone = Names.of(yard, craft), replace(yard, spaces=(space,))
    with store.snapshot() as tx:
        judged = tx.assessments.latest_in([space_id])
        recorded = read_air(tx, alone, now - BEFORE, now, _STEP_MIN)[space_id]
        hourly = read_hourly_air(tx, alone, season_begins(tx, yard, space, now), now)[space_id]
        sensors = tuple(sensor_rows(tx, yard, space, judged, names, words))
    air = next((a for a in judged if a.hazard is Hazard.AIR and not a.subject.part), None)
    frost = [a for a in judged if a.hazard is Hazard.FROST]
    chart, left_out = space_chart(recorded, air, frost, names, words)
    days = days_of(hourly, words)
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
        weeks=tuple(weeks_of(hourly, words)),
        sensors=tuple(sorted(sensors, key=attrgetter("is_well"))),
        craft=tuple(_craft_rows(here, frost)),
    )


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
