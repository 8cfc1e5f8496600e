"""The evening page: gathers from one snapshot of the store what its template shows."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from monitor.craft.stored import StoredCraft
from monitor.phrases.air import cold_ahead_text
from monitor.phrases.backlog import backlog_line
from monitor.phrases.names import Names
from monitor.phrases.standings import is_well
from monitor.phrases.watch import due_lines
from monitor.reports.backlog import work_of_backlog
from monitor.reports.picture import Picture, read_picture
from monitor.reports.sentences import (
    coldest,
    crew_of_tonight,
    out_of_date,
    state_of_things,
    who_holds,
)
from monitor.reports.standing_work import cold_ahead, newest_forecast, standing_work_lines
from monitor.reports.tasks import Task
from monitor.store.store import Store
from monitor.web.pages.alarm_rows import AlarmRows, list_alarm_rows, read_holders, shelf_end
from monitor.web.pages.evening_blocks import (
    SilentSpace,
    Walk,
    WorkBlock,
    block_of_work,
    group_by_walk,
    list_silent_spaces,
    list_walks,
)
from monitor.web.pages.space_rows import (
    SHOWN_SPACES,
    SpaceRow,
    list_space_rows,
    rest_of_spaces_words,
)
from monitor.web.pages.work_rows import WorkRow, list_work_rows, place_of_alarm
from monitor.web.pages.yard_craft_list import MOST_LISTED
from monitor.wording import Wording
from monitor.yard.alarm import Alarm
from monitor.yard.calibration_due import due_calibrations
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.forecast import PublicForecast
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard
from monitor.yard.watch import MadeSafe, what_made_safe

_DUE = 5  # calibrations
_MOST_ICED_ROWS = 12  # craft with ice inside; more are told space by space
_SAFE_WITHIN = timedelta(hours=18)  # of an evening and the night after it
_SHOWN_LINES = 60  # of what can wait and of what is not laid up yet


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningPage:
    """What the template shows, in words."""

    yard: Yard
    wording: Wording
    at: datetime
    judged_at: datetime | None
    last_evening: date  # on which the night before this one began
    state: str
    coldest: str
    crew: str  # how long the work takes, and whether all can be made
    warning: str
    work: WorkBlock  # what can be saved in time, in the order of doing
    late: WorkBlock  # what comes too late even for a crew that keeps the order
    to_leave: tuple[WorkRow, ...]  # ice is or was in it
    iced: tuple[Walk, ...]  # the same space by space, where they are many
    waiting: WorkBlock  # what can wait
    undone: tuple[str, ...]  # a line for each craft that is not laid up yet
    undone_count: int
    backlog: str  # how many are left of all, and by when they are done; empty: none is
    safe: tuple[MadeSafe, ...]  # craft that were in danger lately and hold now
    holding: str
    spaces: tuple[SpaceRow, ...]
    more_spaces: str  # how many of them stand behind a fold, and how they are
    craft_count: int
    battery_count: int
    battery_well: int
    alarms: tuple[AlarmRows, ...]
    alarm_count: int
    shelf_end: datetime
    sensors: tuple[SilentSpace, ...]
    sensor_count: int
    calibrations: tuple[str, ...]  # that are due
    cautions: tuple[str, ...]

    @property
    def is_large(self) -> bool:
        """Whether it has more craft than are looked through, so that one is found by its name."""
        return self.craft_count > MOST_LISTED

    @property
    def is_empty(self) -> bool:
        """Whether the yard is new: neither a sensor nor a craft is in it."""
        return not (self.yard.sensors or self.craft_count)

    @property
    def batteries(self) -> str:
        """How many batteries are charged and safe from frost."""
        well, count = self.battery_well, self.battery_count
        which = f"All {count}" if well == count > 1 else f"{well} of {count}"
        return f"{which} batteries {'is' if well == 1 else 'are'} charged and safe from frost."


def read_evening_page(
    store: Store,
    yard: Yard,
    craft: Sequence[StoredCraft],
    now: datetime,
    old_after: timedelta,
    reader: Person | None = None,
) -> EveningPage:
    """Read one steady state of the store and lay the page out.

    A judgement older than ``old_after`` gets a warning.
    """
    with store.snapshot() as tx:
        picture = read_picture(tx, yard, craft, now)
        ended = tx.alarms.cleared_since(now - _SAFE_WITHIN)
        forecast = newest_forecast(tx, now)
        holders = read_holders(tx, picture.alarms)
    words = words_for(yard, now, reader)
    names = Names.of(yard, (one.craft for one in picture.craft))
    alarms = _alarms_by_place(picture.alarms)

    def rows_of(tasks: Iterable[Task]) -> list[WorkRow]:
        return list_work_rows(tasks, names, words, alarms, holders)

    def block_of(tasks: Sequence[Task], *, is_late: bool = False) -> WorkBlock:
        return block_of_work(tasks, rows_of, is_late=is_late)

    pressing = [task for task in picture.tasks if not task.can_wait]
    to_save = [task for task in pressing if not task.has_ice]
    iced = [task for task in pressing if task.has_ice]
    spaces = list_space_rows(picture.spaces, picture.craft, words)
    is_many = len(iced) > _MOST_ICED_ROWS
    judged = [one.battery for one in picture.craft if one.battery is not None]
    undone = picture.standing_work
    due = due_calibrations(yard.sensors, yard.calibration_days, now.astimezone(yard.zone).date())
    return EveningPage(
        yard=yard,
        wording=words,
        at=picture.at,
        judged_at=picture.judged_at,
        last_evening=now.astimezone(yard.zone).date() - timedelta(days=1),
        state=state_of_things(picture, words),
        coldest=coldest(picture, words),
        crew=crew_of_tonight(picture, words),
        warning=out_of_date(picture, words, old_after),
        work=block_of([task for task in to_save if not _comes_too_late(task)]),
        late=block_of([task for task in to_save if _comes_too_late(task)], is_late=True),
        to_leave=() if is_many else tuple(rows_of(iced)),
        iced=list_walks(group_by_walk(iced), rows_of) if is_many else (),
        waiting=block_of([task for task in picture.tasks if task.can_wait]),
        undone=_undone_lines(picture, forecast, words),
        undone_count=len(undone),
        backlog=_backlog_line(craft, yard, now),
        safe=_safe_lately(picture, ended),
        holding=who_holds(picture, words),
        spaces=spaces,
        more_spaces=rest_of_spaces_words(spaces[SHOWN_SPACES:]),
        craft_count=len(picture.craft),
        battery_count=len(judged),
        battery_well=sum(is_well(one) for one in judged),
        alarms=list_alarm_rows(picture.alarms, holders, words),
        alarm_count=len(picture.alarms),
        shelf_end=shelf_end(words),
        sensors=list_silent_spaces(picture, names, words),
        sensor_count=len(picture.sensors),
        calibrations=tuple(due_lines(due, names, _DUE)),
        cautions=tuple(words.in_reader_units(CAUTION_TEXT[one]) for one in picture.cautions()),
    )


def _backlog_line(craft: Sequence[StoredCraft], yard: Yard, now: datetime) -> str:
    """How many craft are not laid up, and by when they are; empty where all are."""
    left = work_of_backlog(craft, yard, now)
    return backlog_line(left.count, left.in_care, left.finish) if left.count else ""


def _comes_too_late(task: Task) -> bool:
    return task.turn is not None and task.turn.too_late


def _alarms_by_place(alarms: Iterable[Alarm]) -> Mapping[str, Sequence[Alarm]]:
    found: dict[str, list[Alarm]] = {}
    for alarm in alarms:
        found.setdefault(place_of_alarm(alarm), []).append(alarm)
    return found


def _undone_lines(
    picture: Picture, forecast: PublicForecast | None, wording: Wording
) -> tuple[str, ...]:
    """A line for each craft that is not laid up yet, with the coldest that it stands before."""
    airs = {one.space.id: one for one in picture.spaces}
    found = []
    shown = picture.standing_work[:_SHOWN_LINES]
    for work, job in zip(shown, standing_work_lines(shown, picture.yard, wording), strict=True):
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
