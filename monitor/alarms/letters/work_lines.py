"""What a letter asks for: one line for each visit to a craft, a space or a sensor, in order."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from monitor.alarms.entry import Entry
from monitor.alarms.letters.entry_words import act_of, craft_name, names_of
from monitor.alarms.letters.wet_metal import DRYING_ACT, wet_metal, wettest_of
from monitor.phrases.causes import call_of
from monitor.phrases.chance import nights_in_short
from monitor.phrases.frost import chance_ice_breaks
from monitor.phrases.frost_act import steps_of_act
from monitor.phrases.names import part_name, plain, space_name
from monitor.phrases.short_job import job_verb, short_job
from monitor.phrases.standings import row_of
from monitor.phrases.told_step import CircuitNames, capitalize_first
from monitor.phrases.watch import short_silence_act
from monitor.wording import Wording, listed_first
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Caution, Hazard, WorkTurn
from monitor.yard.facts import SilenceFacts
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.space import Yard

LINE_WORDS = 25  # of one line, the craft's name and place among them
_PARTS = 2  # of a craft that are named
_PART_ICED_WORDS = 6  # that ice is in part of it
_FEWEST = 5  # words that an act has in any case
_ICE, _JOB = "ice", "job"  # two kinds of visit to a craft
_FAR = datetime.max.replace(tzinfo=UTC)
_OF_A_SPACE = frozenset({Topic.HEAT, Topic.DAMP})
_FITTED = frozenset({Topic.FROST, Topic.BATTERY})  # whose craft are many
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


def has_ice(entry: Entry) -> bool:
    """Whether there is or was ice in it now, whatever its alarm waits for.

    The page shows the same standings, so both say the same of one round.
    """
    seen = entry.assessment
    if seen is None or seen.hazard is not Hazard.FROST:
        return entry.iced
    return row_of(seen).too_late


def work_order(entry: Entry) -> tuple[bool, bool, bool, float, datetime, int, float, str]:
    """Sorting key: what can be saved, in the order of the yard's work; damp; then what has ice."""
    seen = entry.assessment
    turn = None if seen is None else seen.turn
    margin_k = math.inf if seen is None else seen.margin_k
    return (
        has_ice(entry),
        entry.definition.topic is Topic.DAMP,
        entry.definition.topic is not Topic.HEAT,  # which saves everything there at once
        math.inf if turn is None else turn.order,
        entry.alarm.deadline or _FAR,
        -entry.rank,
        math.inf if math.isnan(margin_k) else margin_k,
        entry.subject,
    )


def list_work(entries: Iterable[Entry], yard: Yard, words: Wording) -> list[WorkLine]:
    """One line a visit, in order; each caution stands at the first line that calls for it.

    Of a craft that has ice in one part, and another to save, one line tells both.
    """
    visits: dict[tuple[str, ...], list[Entry]] = {}
    for entry in sorted(entries, key=work_order):
        visits.setdefault(_visit_of(entry), []).append(entry)
    lost = {entry.alarm.craft for entry in entries if entry.alarm.craft and has_ice(entry)}
    told: set[Caution] = set()
    lines = []
    for key, visit in visits.items():
        first = visit[0]
        if first.definition.hazard is Hazard.RECORD and first.alarm.craft in lost:
            continue  # what its record asks cannot be done before somebody has looked
        craft = first.alarm.craft
        ice = visits.get((craft, _ICE), []) if key == (craft, _JOB) else []
        if key == (craft, _ICE) and _is_saved(visits.get((craft, _JOB), [])):
            continue
        line = _line_of(visit, yard, words, ice)
        caution = next((one for one in _cautions_of(first) if one not in told), None)
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
    chance = "" if iced else _chance_of(leads)
    room = LINE_WORDS - len(f"{name} {place} {chance}".split()) - bool(ice) * _PART_ICED_WORDS
    job, call = _job_of(visit, leads, yard, words, max(room, _FEWEST))
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


def planned_act(entry: Entry) -> PlannedAct | None:
    """The steps that an entry's judgement asks for before the frost."""
    seen = entry.assessment
    facts = None if seen is None else seen.facts
    if not isinstance(facts, FrostFacts) or facts.act is None or not facts.act.steps:
        return None
    return None if facts.act.occasion is Occasion.AFTER_ICE else facts.act


def _turn_of(entry: Entry) -> WorkTurn | None:
    return None if entry.assessment is None else entry.assessment.turn


def _due_word(entry: Entry, by: datetime | None, words: Wording) -> str:
    if by is not None:
        return words.clock(by) if by > words.now else "now"
    pressing = entry.definition.topic is Topic.HEAT and entry.definition.never_missed
    return "now" if pressing else "today"


def _where(entry: Entry, yard: Yard) -> tuple[str, str]:
    """What a line is of and where that stands; a space is its own place."""
    topic, alarm, craft = entry.definition.topic, entry.alarm, entry.craft
    space = space_name(yard, alarm.space)
    if topic in _OF_A_SENSOR and not alarm.craft:
        return space, _sensor_place(entry, yard)
    if topic in _OF_A_SPACE or not alarm.craft:
        return space, ""
    berth = f" {plain(craft.berth)}" if craft is not None and craft.berth else ""
    return craft_name(entry), f"{space}{berth}"


def _sensor_place(entry: Entry, yard: Yard) -> str:
    """Where a sensor hangs, as the yard's file notes it; else what stands on its label."""
    known = next((each for each in yard.sensors if each.name == entry.alarm.part), None)
    if known is not None and known.note:
        return plain(known.note)
    return part_name(None, entry.alarm.part)


def _job_of(
    visit: Sequence[Entry], leads: Entry, yard: Yard, words: Wording, most_words: int
) -> tuple[str, str]:
    """What is to be done, and the same in a few words with the name still open."""
    if has_ice(leads):
        return (
            "Do not start it. Look for leaks once it has thawed.",
            call_of("ice", "{name}"),
        )
    planned = planned_act(leads)
    moved = next((each for each in visit if each.alarm.cause == "moved-out"), None)
    if planned is not None:
        steps = steps_of_act(planned, leads.alarm.part)
        back = _way_back(moved, planned, leads, yard)
        room = most_words - len(back.split())
        job = short_job(steps, CircuitNames.of_craft(leads.craft), words, max(room, _FEWEST))
        call = call_of("moved-out", "{name}") if moved else f"{job_verb(steps)} {{name}}"
        return f"{capitalize_first(back + job)}.", call
    leads = leads if moved is None else moved
    part = "" if moved else _parts_of(visit)
    facts = None if leads.assessment is None else leads.assessment.facts
    if isinstance(facts, SilenceFacts) and leads.alarm.part:
        asked = short_silence_act(facts)
    else:
        asked = DRYING_ACT if leads.drying else act_of(leads, yard, words)
    if len(f"{part}{asked}".split()) > most_words and leads.definition.topic in _FITTED:
        asked = words.told(leads.definition.act) or asked
    # Whose ice somebody has looked into is to be saved like any other.
    cause = "frost" if leads.iced else leads.alarm.cause
    return f"{part}{asked}", call_of(cause, "{name}")


def _parts_of(visit: Sequence[Entry]) -> str:
    """The parts of a craft that an act is on, where its whole job is not known."""
    frost = [each for each in visit if each.definition.hazard is Hazard.FROST]
    new = [each for each in frost if each.news] or frost
    names = list(dict.fromkeys(part_name(each.craft, each.alarm.part) for each in new))
    return f"{capitalize_first(listed_first(names, _PARTS))}: " if names else ""


def _way_back(moved: Entry | None, planned: PlannedAct, leads: Entry, yard: Yard) -> str:
    """What comes before the job and makes it needless."""
    if planned.occasion is Occasion.OR_HEAT_BACK:
        return "get the heat going again, or "
    if moved is None:
        return ""
    came_from = "" if leads.craft is None else leads.craft.came_from
    warm = names_of(leads, yard).space(came_from) if came_from else "the warm"
    return f"move it back into {warm}, or "


def _chance_of(entry: Entry) -> str:
    seen = entry.assessment
    facts = None if seen is None else seen.facts
    if not isinstance(facts, FrostFacts):
        return ""
    chance = chance_ice_breaks(facts)
    return f"Ice breaks it {nights_in_short(chance)}." if math.isfinite(chance) else ""


def _cautions_of(entry: Entry) -> list[Caution]:
    """The cautions of an act, those of its own steps first."""
    planned, seen = planned_act(entry), entry.assessment
    if planned is not None:
        return list(dict.fromkeys(Caution(care) for s in planned.steps for care in s.cautions))
    asked = [*(seen.cautions if seen is not None else ()), *entry.definition.cautions]
    if has_ice(entry):  # which is left alone: what its job will ask is told with its job
        asked = [each for each in asked if each is Caution.FROZEN_BATTERY]
    return [each for each in dict.fromkeys(asked) if each is not Caution.NOT_LIFE_SAFETY]


def total_minutes(lines: Iterable[WorkLine]) -> float:
    """One person's time for all lines."""
    return sum(line.minutes or 0.0 for line in lines)
