"""What a letter asks for: one line for each visit to a craft, a space or a sensor, in order."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.alarms.entry import Entry, planned_act
from monitor.alarms.letters.entry_reading import craft_name, has_ice, work_order
from monitor.alarms.letters.visit_job import (
    FEWEST_WORDS,
    cautions_of_entry,
    chance_of_damage,
    job_of_visit,
    wet_metal,
    wettest_of,
)
from monitor.phrases.names import Names, place_name, space_name
from monitor.wording import Wording
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Caution, Hazard, WorkTurn
from monitor.yard.space import Yard

LINE_WORDS = 25  # of one line, the craft's name and place among them
_PART_ICED_WORDS = 8  # that ice is in part of it
_ICE, _JOB = "ice", "job"  # two kinds of visit to a craft
_OF_A_SPACE = frozenset({Topic.HEAT, Topic.DAMP})
_OF_A_SENSOR = frozenset({Topic.SILENCE, Topic.PATH})


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """One visit: by when, where, what to do there, for how long, and how likely it is needed."""

    by: datetime | None  # do it before then; None: at no known hour
    is_ahead: bool  # that hour can still be met
    due: str  # in a word: ``20:20``, ``now``, ``today``
    name: str
    place: str  # space and berth; of damp, on what; empty where the name is the space's
    space: str
    job: str
    minutes: float | None
    chance: str  # empty where none was worked out
    caution: Caution | None  # the first that no line above it has told
    call: str  # the job in a few words, with ``{name}`` for its name: for a subject line
    has_ice: bool  # nothing to save: it is left alone
    part_iced: bool  # another part of the craft has ice, so that nobody may start it
    was_iced: bool  # its alarm is of ice, which somebody has looked into since or not
    too_late: bool  # a crew that keeps the order comes after its hour
    news: bool
    alarm: str  # id of the alarm that presses most

    @property
    def words(self) -> int:
        """How many words of it a reader meets, its hour and its caution apart."""
        return len(f"{self.name} {self.place} {self.job} {self.chance}".split())


def list_work(entries: Iterable[Entry], yard: Yard, words: Wording) -> list[WorkLine]:
    """One line a visit, in order; each caution stands at the first line that calls for it.

    Of a craft that has ice in one part, and another to save, one line tells both.
    """
    visits: dict[tuple[str, ...], list[Entry]] = {}
    for entry in sorted(entries, key=work_order):
        visits.setdefault(_visit_of(entry), []).append(entry)
    lost = {entry.alarm.craft for entry in entries if entry.alarm.craft and has_ice(entry)}
    found = []
    for key, visit in visits.items():
        first = visit[0]
        if first.alarm.cause in _ASK_FOR_THE_JOB and first.alarm.craft in lost:
            continue  # to move it or lay it up anew waits until somebody has looked
        craft = first.alarm.craft
        ice = visits.get((craft, _ICE), []) if key == (craft, _JOB) else []
        if key == (craft, _ICE) and _is_saved(visits.get((craft, _JOB), [])):
            continue
        found.append((_line_of(visit, yard, words, ice), first))
    # What no crew reaches in time stands behind what can be saved: it is left for last.
    found.sort(key=lambda one: (one[0].has_ice, one[0].too_late))
    told: set[Caution] = set()
    lines = []
    for line, first in found:
        caution = next((one for one in cautions_of_entry(first) if one not in told), None)
        if caution is not None:
            told.add(caution)
        lines.append(replace(line, caution=caution))
    return lines


def _is_saved(job: Sequence[Entry]) -> bool:
    """Whether a craft has a line of its own for what frost still threatens."""
    return bool(job) and job[0].definition.hazard is not Hazard.RECORD


def _visit_of(entry: Entry) -> tuple[str, ...]:
    """Key of the line in which it stands; a craft's circuits share one, and so does its record."""
    topic, alarm = entry.definition.topic, entry.alarm
    if topic in _OF_A_SPACE:
        return (str(topic), alarm.space)
    if topic in _OF_A_SENSOR or topic is Topic.BATTERY:
        return (entry.subject, str(entry.definition.hazard))
    if has_ice(entry):
        return (alarm.craft, _ICE)
    of_record = entry.definition.hazard is Hazard.RECORD and alarm.cause not in _ASK_FOR_THE_JOB
    return (alarm.craft or alarm.space, alarm.cause if of_record else _JOB)


# What a record says that the job against the frost puts right.
_ASK_FOR_THE_JOB = frozenset({"moved-out", "voided"})


def _line_of(visit: Sequence[Entry], yard: Yard, words: Wording, ice: Sequence[Entry]) -> WorkLine:
    leads = next((each for each in visit if planned_act(each) is not None), visit[0])
    alarm, seen = leads.alarm, leads.assessment
    planned = planned_act(leads)
    turn = next((t for t in map(_turn_of, visit) if t is not None), None)
    iced = has_ice(leads)
    by = alarm.deadline if planned is None else planned.by
    saved_by, saving_turn = (None, None) if iced else (by, turn)
    name, place = _where(leads, yard)
    if leads.definition.topic is Topic.DAMP:
        leads, place = wettest_of(visit), wet_metal(visit)
    chance = "" if iced else chance_of_damage(leads)
    room = LINE_WORDS - len(f"{name} {place} {chance}".split()) - bool(ice) * _PART_ICED_WORDS
    job, call = job_of_visit(
        visit, leads, yard, words, max(room, FEWEST_WORDS), part_iced=bool(ice)
    )
    return WorkLine(
        by=saved_by,
        is_ahead=saved_by is not None and saved_by > words.now,
        due=_due_word(leads, by, words),
        name=name,
        place=place,
        space=space_name(yard, alarm.space),
        job=job,
        minutes=None if saving_turn is None else saving_turn.minutes,
        chance=chance,
        caution=None,
        call=call,
        has_ice=iced,
        part_iced=bool(ice),
        was_iced=leads.iced,
        too_late=saving_turn is not None and saving_turn.too_late,
        news=any(each.news for each in (*visit, *ice)),
        alarm=visit[0].alarm.id if seen is None else alarm.id,
    )


def _turn_of(entry: Entry) -> WorkTurn | None:
    return None if entry.assessment is None else entry.assessment.turn


def _due_word(entry: Entry, by: datetime | None, words: Wording) -> str:
    if by is not None:
        return words.clock(by) if by > words.now else "now"
    at_once = entry.definition.topic in {Topic.HEAT, Topic.SILENCE}
    pressing = at_once and entry.definition.never_missed
    return "now" if pressing else "today"


def _where(entry: Entry, yard: Yard) -> tuple[str, str]:
    """What a line is of and where that stands; a space is its own place."""
    topic, alarm, craft = entry.definition.topic, entry.alarm, entry.craft
    space = space_name(yard, alarm.space)
    if topic in _OF_A_SENSOR and not alarm.craft:
        return space, Names(yard).sensor_place(alarm.part)
    if topic in _OF_A_SPACE or not alarm.craft:
        return space, ""
    return craft_name(entry), place_name(space, craft.berth if craft is not None else "")


def total_minutes(lines: Iterable[WorkLine]) -> float:
    """One person's time for all lines."""
    return sum(line.minutes or 0.0 for line in lines)


SHOWN = 12  # lines that a letter spells out; the rest are counted, and attached as a table
