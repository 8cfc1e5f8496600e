"""The week's letter to the yard's people as data: what to do first, what changed, each space."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.phrases.backlog import backlog_line
from monitor.phrases.judgements import short_act_text
from monitor.phrases.names import Names, plain
from monitor.phrases.watch import due_lines
from monitor.reports.alarm_rates import MANAGEABLE_PER_DAY, AlarmFigures
from monitor.reports.backlog import work_of_backlog
from monitor.reports.standing_work import short_work_lines
from monitor.reports.tasks import Task
from monitor.reports.week import SpaceWeek, WeeklyReport
from monitor.reports.week_changes import change_lines
from monitor.wording import Wording, hours_in_words, listed_first
from monitor.yard.assessment import Caution
from monitor.yard.calibration_due import due_calibrations
from monitor.yard.caution import CAUTION_NOTES
from monitor.yard.people import display_name
from monitor.yard.space import STAFF, WARM, Yard

_WORK = 10  # errands that are told one by one; the page has the rest
_UNDONE = 6  # craft not laid up yet
_NAMED = 12  # craft of one line
_NAMED_OF_SPACE = 6
_DUE = 3  # calibrations


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """One thing to go and do."""

    where: str  # craft and space, or the space
    by: str  # the hour, if one is ahead
    job: str
    caution: str  # the first that no errand above has told


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceLine:
    """One space: which of its craft hold the yard's coldest, and how cold its air was."""

    name: str
    holds: str
    air: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffWeek:
    """What the letter says, in the order in which it says it."""

    errands: tuple[Errand, ...]
    iced: str  # names of craft to leave alone until somebody has looked
    more_errands: int
    undone: tuple[str, ...]
    more_undone: int
    backlog: str  # how many of all are left, and by when; empty: none is
    changes: tuple[str, ...]
    design_low: str
    spaces: tuple[SpaceLine, ...]
    watched: tuple[str, ...]
    alarms: tuple[str, ...]  # how they behaved
    calibrations: tuple[str, ...]  # of sensors, that are due


def compose_staff_week(report: WeeklyReport, words: Wording) -> StaffWeek:
    """Gather what one of the yard's own people reads of a week.

    Parameters
    ----------
    report : WeeklyReport
    words : Wording
        The reader's units and the yard's clock.
    """
    picture = report.picture
    names = Names.of(picture.yard, (one.craft for one in picture.craft))
    to_do = [task for task in picture.tasks if not task.has_ice]
    # Also where another of its parts, or its battery, leads the visit: nobody may start it.
    iced = dict.fromkeys(
        plain(one.name) for task in picture.tasks if task.holds_ice for one in task.craft
    )
    left = work_of_backlog([one.craft for one in picture.craft], picture.yard, words.now)
    undone = short_work_lines(picture.standing_work[:_UNDONE], picture.yard, words)
    return StaffWeek(
        errands=_errands(to_do[:_WORK], names, words),
        iced=listed_first(list(iced), _NAMED),
        more_errands=max(len(to_do) - _WORK, 0),
        undone=tuple(undone),
        more_undone=max(len(picture.standing_work) - _UNDONE, 0),
        backlog=backlog_line(left.count, left.in_care, left.finish) if left.count else "",
        changes=change_lines(report, words),
        design_low=words.temperature(picture.yard.design_low_c, 0),
        spaces=tuple(_space_line(one, report, words) for one in report.spaces),
        watched=_watched_lines(report),
        alarms=() if report.rates is None else _alarm_lines(report.rates, picture.yard),
        calibrations=_calibration_lines(picture.yard, words, names),
    )


def _errands(tasks: Iterable[Task], names: Names, words: Wording) -> tuple[Errand, ...]:
    told: set[Caution] = {Caution.NOT_LIFE_SAFETY}
    found = []
    for task in tasks:
        cautions = [c for reason in task.reasons for c in reason.cautions if c not in told]
        told.update(cautions[:1])
        where = plain(task.space.name)
        if len(task.craft) == 1:
            where = f"{plain(task.craft[0].name)}, {where}"
        found.append(
            Errand(
                where=where,
                by=words.clock(task.by) if task.by and task.by > words.now else "",
                job=short_act_text(task.first, names, words),
                caution=CAUTION_NOTES[cautions[0]] if cautions else "",
            )
        )
    return tuple(found)


def _space_line(one: SpaceWeek, report: WeeklyReport, words: Wording) -> SpaceLine:
    here = [each.craft for each in report.picture.craft if each.craft.space == one.space.id]
    return SpaceLine(
        name=plain(one.space.name),
        holds=_holds_sentence(here, report.picture.yard, warm=one.space.kind in WARM),
        air=_air_sentence(one, words),
    )


def _holds_sentence(here: Sequence[StoredCraft], yard: Yard, *, warm: bool) -> str:
    """How many of the craft of a space hold the yard's coldest, and which do not."""
    if not here:
        return "no craft"
    short = [one for one in here if not holds_cold(one, yard.design_low_c)]
    heated = [one for one in short if warm and _by_heat_alone(one, yard.design_low_c)]
    rest = [one for one in short if one not in heated]
    said = f"{len(here) - len(short)} of {len(here)}"
    for words, craft in (("by heat alone", heated), ("not", rest)):
        if craft:
            said += f"; {words} {listed_first([plain(one.name) for one in craft], _NAMED_OF_SPACE)}"
    return said


def holds_cold(craft: StoredCraft, low_c: float) -> bool:
    """Whether what is on record keeps every circuit of a craft free of ice at a temperature.

    What is not proven counts as water (`monitor.craft.protection`).
    """
    return all(held.ice_point_c <= low_c for held in craft.protection.values())


def _by_heat_alone(craft: StoredCraft, low_c: float) -> bool:
    """Whether all that does not hold the cold was left to the heat on purpose."""
    short = [held for held in craft.protection.values() if held.ice_point_c > low_c]
    return all(held.state is LayupState.HEAT_ONLY for held in short)


def _air_sentence(one: SpaceWeek, words: Wording) -> str:
    low = one.air.low
    if low is None:
        return "nothing was read: not known"
    said = [
        f"coldest {words.temperature(low.value_c)} ({low.at.astimezone(words.zone):%a %H:%M})",
        f"{hours_in_words(one.air.below_zero_h)} below freezing",
        f"{hours_in_words(one.air.wet_h)} wet",
    ]
    if one.air.unseen_h >= 1.0:
        said.append(f"{hours_in_words(one.air.unseen_h)} not read")
    return ", ".join(said)


def _watched_lines(report: WeeklyReport) -> tuple[str, ...]:
    """Craft that were not watched for the whole week, those of one time together."""
    alike: dict[str, list[str]] = {}
    for one in report.picture.craft:
        if one.craft.id in report.watched:
            lasted = watched_in_words(report.watched[one.craft.id])
            alike.setdefault(lasted, []).append(plain(one.craft.name))
    every = len(report.picture.craft)
    return tuple(
        f"{lasted[:1].upper()}{lasted[1:]}:"
        f" {f'all {every} craft' if len(named) == every > 1 else listed_first(named, _NAMED)}."
        for lasted, named in alike.items()
    )


def watched_in_words(hours_h: float) -> str:
    """Write for how long a craft has been watched, where that is not the whole week."""
    if hours_h <= 0.0:
        return "not watched this week"
    lasted = f"{hours_h * 60.0:.0f} min" if hours_h < 1.0 else hours_in_words(hours_h)
    return f"watched only for {lasted} of this week"


def _calibration_lines(yard: Yard, words: Wording, names: Names) -> tuple[str, ...]:
    """Sensors that are to be compared with a standard again."""
    today = words.now.astimezone(words.zone).date()
    due = due_calibrations(yard.sensors, yard.calibration_days, today)
    return tuple(due_lines(due, names, _DUE))


def _alarm_lines(figures: AlarmFigures, yard: Yard) -> tuple[str, ...]:
    """How the alarms behaved, in three sentences; `laidup status` has all figures."""
    if not figures.raised and not figures.standing:
        return ("No alarm.",)
    stale = f", {len(figures.stale)} of them for more than a day" if figures.stale else ""
    lines = [
        f"{figures.raised} alarms, {figures.per_day:.1f} a day; {figures.standing} still"
        f" open{stale}. From about {MANAGEABLE_PER_DAY} a day on one person misses some"
        " (EEMUA 191).",
        "Nobody answered one."
        if figures.answered_min is None
        else f"Half of the answers came within {figures.answered_min:.0f} min.",
    ]
    staff = {person.id for person in yard.people if person.roles & STAFF}
    told = [
        f"{plain(display_name(yard, who))} {rate:.1f}"
        for who, rate in figures.messages_per_day.items()
        if who in staff
    ]
    if told:
        lines.append(f"Letters about them, a day: {listed_first(told, _NAMED)}.")
    return tuple(lines)
