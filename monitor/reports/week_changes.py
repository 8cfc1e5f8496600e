"""What came and what went in a week, in a line for each cause, and what people saved."""

from datetime import datetime

from monitor.phrases.causes import cause_title
from monitor.phrases.names import Names, plain, space_name
from monitor.phrases.standings import is_well, row_of
from monitor.reports.alarm_groups import AlarmGroup, by_cause
from monitor.reports.week import WeeklyReport
from monitor.wording import Wording, listed, listed_first
from monitor.yard.people import display_name
from monitor.yard.watch import MadeSafe, what_made_safe

_CHANGES = 10  # lines; the page has the rest
_NAMED = 12  # craft of one line
_ICE = frozenset({"ice", "third-ice"})
_FROST = "frost"


def change_lines(report: WeeklyReport, words: Wording) -> tuple[str, ...]:
    """Say what came and what went: ice first, then what people saved, then one line a cause."""
    lines = [*_ice_lines(report, words), *_safe_lines(report, words)]
    iced, safe = _iced_craft(report), {one.craft for one in _craft_made_safe(report)}
    for group in by_cause(one.alarm for one in report.alarms if one.alarm.cause not in _ICE):
        told = iced | safe if group.cause == _FROST else set()
        line = _line_of_cause(group, told, report, words)
        if line:
            lines.append(line)
    named = {one.craft.id: plain(one.craft.name) for one in report.picture.craft}
    for craft, parts in report.slush.items():
        lines.append(f"Slush in {named[craft]}, {listed(parts)}: read a sample again.")
    more = len(lines) - _CHANGES
    return (*lines[:_CHANGES], *((f"And {more} more, which the page shows.",) if more > 0 else ()))


def _iced_craft(report: WeeklyReport) -> set[str]:
    """Craft into which ice came in the week, by their alarms and by how they stood."""
    by_alarm = {one.alarm.craft for one in report.alarms if one.alarm.cause in _ICE}
    return by_alarm | {craft for craft, then in report.worse.items() if row_of(then).too_late}


def _ice_lines(report: WeeklyReport, words: Wording) -> list[str]:
    iced = _iced_craft(report)
    if not iced:
        return []
    begun = [one.alarm.raised_at for one in report.alarms if one.alarm.cause in _ICE]
    since = f" from {words.clock(min(begun))} on" if begun else ""
    # Those that have it still stand above, with what to do.
    still = {one.id for task in report.picture.tasks if task.holds_ice for one in task.craft}
    looked_into = [
        plain(one.craft.name)
        for one in report.picture.craft
        if one.craft.id in iced and one.craft.id not in still
    ]
    named = f"; no more in {listed_first(looked_into, _NAMED)}" if looked_into else ""
    return [f"Ice came into {len(iced)} craft{since}{named}."]


def _craft_made_safe(report: WeeklyReport) -> list[MadeSafe]:
    """Craft that were warned of, of which every part holds now."""
    still_open = {alarm.craft for alarm in report.picture.alarms}
    well = {
        one.craft.id: one.craft
        for one in report.picture.craft
        if one.craft.id not in still_open and all(is_well(part) for part in one.circuits)
    }
    over = [one.alarm for one in report.alarms if one.alarm.cause in {_FROST, *_ICE}]
    found = {
        alarm.craft: what_made_safe(alarm, well[alarm.craft])
        for alarm in over
        if alarm.craft in well and alarm.cleared_at is not None
    }
    return sorted(found.values(), key=lambda one: (one.at, one.craft))


def _safe_lines(report: WeeklyReport, words: Wording) -> list[str]:
    yard, safe = report.picture.yard, _craft_made_safe(report)
    saved = [
        f"{plain(one.name)} ({words.clock(one.at)}, by {plain(display_name(yard, one.by))})"
        for one in safe
        if one.by
    ]
    milder = [plain(one.name) for one in safe if not one.by]
    lines = [f"Made safe: {listed_first(saved, _NAMED)}."] if saved else []
    return [*lines, f"In no danger any more: {listed_first(milder, _NAMED)}."] if milder else lines


def _line_of_cause(group: AlarmGroup, told: set[str], report: WeeklyReport, words: Wording) -> str:
    """When it began, on what, and whether it is over; of frost only craft not told of already."""
    alarms = [alarm for alarm in group.alarms if alarm.craft not in told]
    if not alarms:
        return ""
    names = Names.of(report.picture.yard, (one.craft for one in report.picture.craft))
    subjects = dict.fromkeys(
        plain(names.craft_name(a.craft) if a.craft else space_name(report.picture.yard, a.space))
        for a in alarms
    )
    span = words.clock(min(alarm.raised_at for alarm in alarms))
    ended = [alarm.cleared_at for alarm in alarms if alarm.cleared_at is not None]
    if len(ended) == len(alarms):
        last: datetime = max(ended)
        span += f" to {words.clock(last)}"
    else:
        span = f"since {span}"
    return f"{cause_title(group.cause)}: {listed_first(list(subjects), _NAMED)}, {span}."
