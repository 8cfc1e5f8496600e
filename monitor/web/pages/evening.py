"""The evening page: gathers from one snapshot of the store what its template shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from monitor.craft.stored import StoredCraft
from monitor.phrases.air import cold_ahead_text
from monitor.phrases.names import Names
from monitor.phrases.standings import is_well, worst_first
from monitor.phrases.watch import due_lines
from monitor.reports.air import RecordedAir, read_air
from monitor.reports.alarm_groups import AlarmGroup, by_cause
from monitor.reports.picture import (
    CraftPicture,
    Picture,
    SpacePicture,
    read_picture,
)
from monitor.reports.sentences import (
    coldest,
    crew_of_tonight,
    out_of_date,
    state_of_things,
)
from monitor.reports.standing_work import cold_ahead, newest_forecast, standing_work_lines
from monitor.reports.tasks import Task
from monitor.store.store import Store
from monitor.web.plot import BEFORE, SpacePlot, common_scale, space_plot
from monitor.wording import Wording
from monitor.yard.alarm import Alarm
from monitor.yard.assessment import Assessment, Standing, Subject
from monitor.yard.calibration_due import due_calibrations
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.forecast import PublicForecast
from monitor.yard.readers import words_for
from monitor.yard.space import Yard
from monitor.yard.watch import MadeSafe, what_made_safe

_PLOT_STEP_MIN = 20
_DUE = 5  # calibrations
_SAFE_WITHIN = timedelta(hours=18)  # of an evening and the night after it

Batteries = tuple[tuple[CraftPicture, Assessment], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningPage:
    """What the template shows."""

    picture: Picture
    wording: Wording
    state: str
    pressing: tuple[Task, ...]
    waiting: tuple[Task, ...]  # tasks that can wait
    undone: tuple[str, ...]  # a line for each craft that is not laid up yet
    safe: tuple[MadeSafe, ...]  # craft that were in danger lately and hold now
    crew: str  # how long the work takes, and whether all can be made
    coldest: str
    warning: str
    spaces: tuple[tuple[SpacePicture, SpacePlot], ...]
    batteries: tuple[Batteries, ...]  # those that need a look, alike ones together
    battery_count: int
    battery_well: int
    alarms: tuple[AlarmGroup, ...]
    sensors: tuple[Assessment, ...]  # only those not heard as they should be
    calibrations: tuple[str, ...]  # that are due
    cautions: tuple[str, ...]
    names: Names


def read_evening_page(
    store: Store, yard: Yard, craft: Sequence[StoredCraft], now: datetime, old_after: timedelta
) -> EveningPage:
    """Read one steady state of the store and lay the page out.

    A judgement older than ``old_after`` gets a warning.
    """
    with store.snapshot() as tx:
        picture = read_picture(tx, yard, craft, now)
        ended = tx.alarms.cleared_since(now - _SAFE_WITHIN)
        airs = read_air(tx, yard, now - BEFORE, now, _PLOT_STEP_MIN)
        forecast = newest_forecast(tx, now)
    wording = words_for(yard, now)
    names = Names.of(yard, (one.craft for one in picture.craft))
    today = now.astimezone(yard.zone).date()
    due = due_calibrations(yard.sensors, yard.calibration_days, today)
    judged = [(one, one.battery) for one in picture.craft if one.battery is not None]
    ill = sorted((pair for pair in judged if not is_well(pair[1])), key=_urgency_key)
    return EveningPage(
        picture=picture,
        wording=wording,
        state=state_of_things(picture, wording),
        pressing=tuple(task for task in picture.tasks if not task.can_wait),
        waiting=tuple(task for task in picture.tasks if task.can_wait),
        undone=_undone_lines(picture, forecast, wording),
        safe=_safe_lately(picture, ended),
        crew=crew_of_tonight(picture, wording),
        coldest=coldest(picture, wording),
        warning=out_of_date(picture, wording, old_after),
        spaces=_space_plots(picture, airs, wording),
        batteries=tuple(tuple(group) for _, group in groupby(ill, key=_standing_of)),
        battery_count=len(judged),
        battery_well=len(judged) - len(ill),
        alarms=by_cause(picture.alarms),
        sensors=tuple(a for a in picture.sensors if not is_well(a)),
        calibrations=tuple(due_lines(due, names, _DUE)),
        cautions=tuple(wording.in_reader_units(CAUTION_TEXT[one]) for one in picture.cautions()),
        names=names,
    )


def _undone_lines(
    picture: Picture, forecast: PublicForecast | None, wording: Wording
) -> tuple[str, ...]:
    """A line for each craft that is not laid up yet, with the coldest that it stands before."""
    airs = {one.space.id: one for one in picture.spaces}
    found = []
    jobs = standing_work_lines(picture.standing_work, picture.yard, wording)
    for work, job in zip(picture.standing_work, jobs, strict=True):
        here = airs[work.craft.space]
        ahead = cold_ahead(here.space, here.air, forecast, picture.at)
        found.append(f"{job} {cold_ahead_text(ahead, here.space, wording)}")
    return tuple(found)


def _safe_lately(picture: Picture, ended: Sequence[Alarm]) -> tuple[MadeSafe, ...]:
    """Craft whose last alarm is over and of which every part holds, the newest last."""
    still_open = {alarm.craft for alarm in picture.alarms}
    well = {
        one.craft.id: one.craft
        for one in picture.craft
        if one.craft.id not in still_open and all(is_well(part) for part in one.circuits)
    }
    found = {
        alarm.craft: what_made_safe(alarm, well[alarm.craft])
        for alarm in ended
        if alarm.craft in well
    }
    return tuple(sorted(found.values(), key=lambda one: (one.at, one.craft)))


def _urgency_key(pair: tuple[CraftPicture, Assessment]) -> tuple[int, float, Subject]:
    return worst_first(pair[1])


def _standing_of(pair: tuple[CraftPicture, Assessment]) -> Standing:
    return pair[1].standing


def _space_plots(
    picture: Picture, airs: dict[str, RecordedAir], wording: Wording
) -> tuple[tuple[SpacePicture, SpacePlot], ...]:
    scale = common_scale(airs.values(), (one.air for one in picture.spaces), wording.now)
    return tuple(
        (one, space_plot(one.space.name, airs[one.space.id], one.air, scale, wording))
        for one in picture.spaces
    )
