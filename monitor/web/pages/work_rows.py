"""The rows of work on the evening page: one visit a row, in the words that letters have for it."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

from monitor.craft.stored import StoredCraft
from monitor.phrases.frost import chance_ice_breaks
from monitor.phrases.frost_act import LEAVE_ALONE_ACT
from monitor.phrases.judgements import short_act_text
from monitor.phrases.names import Names, place_name, plain
from monitor.phrases.numbers import nights_in_words
from monitor.phrases.standings import row_of
from monitor.phrases.supplies import minutes_words
from monitor.phrases.watch import short_silence_act
from monitor.reports.tasks import Task
from monitor.web.page_templates import craft_path, space_path, work_done_path
from monitor.wording import Wording, listed_first
from monitor.yard.alarm import Alarm, AlarmState
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_NOTES
from monitor.yard.facts import SilenceFacts
from monitor.yard.frost_facts import FrostFacts

_ASKS = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED})
_NAMED_CRAFT = 3
TONIGHT = "tonight"  # part of a craft's page that says why


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """Who has taken an alarm on, and since when."""

    person: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkRow:
    """One visit: by when, where, what to do there, for how long, how likely it is needed."""

    key: str  # of its place on the page
    due: str  # ``20:20``, ``now``, ``soon``, ``any``
    is_dated: bool
    name: str
    place: str
    space: str  # name of the space that it stands in
    path: str
    job: str
    minutes: str
    chance: str
    caution: str
    part_iced: bool
    done_path: str  # where it is entered; empty: nothing is, for a sensor shows when it is done
    asks: tuple[str, ...]  # ids of its alarms that nobody has taken on
    taken: tuple[str, ...]  # ids of those that somebody has
    holder: Holder | None


def list_work_rows(
    tasks: Iterable[Task],
    names: Names,
    words: Wording,
    alarms: Mapping[str, Sequence[Alarm]],
    holders: Mapping[str, Holder],
) -> list[WorkRow]:
    """A row for each task, in their order; a caution stands at the first row that calls for it.

    Parameters
    ----------
    tasks : iterable of Task
    names : Names
    words : Wording
        Of the reader.
    alarms : mapping of alarms by place
        Open ones, see `place_of_alarm`.
    holders : mapping of Holder by alarm id
    """
    told: set[Caution] = set()
    rows = []
    for task in tasks:
        row = _row_of(task, names, words, alarms, holders)
        asked = () if task.has_ice else _cautions_of(task)
        caution = next((one for one in asked if one not in told), None)
        if caution is not None:
            told.add(caution)
            row = replace(row, caution=CAUTION_NOTES[caution])
        rows.append(row)
    return rows


def place_of_alarm(alarm: Alarm) -> str:
    """Key by which an alarm finds its row: its craft, or else its space."""
    return alarm.craft or alarm.space


def _row_of(
    task: Task,
    names: Names,
    words: Wording,
    alarms: Mapping[str, Sequence[Alarm]],
    holders: Mapping[str, Holder],
) -> WorkRow:
    craft = task.craft[0] if len(task.craft) == 1 else None
    about = alarms.get(task.space.id if craft is None else craft.id, ())
    mine = [alarm for alarm in about if _is_of_task(alarm, task)]
    taken = [alarm for alarm in mine if alarm.state is AlarmState.ACKNOWLEDGED]
    held = [holders[alarm.id] for alarm in taken if alarm.id in holders]
    due, is_dated = _due_words(task, words)
    where = _of_space(task) if craft is None else _of_craft(task, craft)
    turn = None if task.has_ice else task.turn
    return WorkRow(
        key=where.key,
        due=due,
        is_dated=is_dated,
        name=where.name,
        place=where.place,
        space=plain(task.space.name),
        path=where.path,
        job=_job_of(task, names, words),
        minutes="" if turn is None else minutes_words(turn.minutes),
        chance="" if task.has_ice else _chance_of(task),
        caution="",
        part_iced=task.holds_ice and not task.has_ice,
        done_path=where.done_path,
        asks=tuple(alarm.id for alarm in mine if alarm.state in _ASKS),
        taken=tuple(alarm.id for alarm in taken),
        holder=max(held, key=lambda one: one.at, default=None),
    )


class _Where(NamedTuple):
    """What a row is of, where that stands, and where its pages are."""

    key: str
    name: str
    place: str
    path: str
    done_path: str = ""


def _of_craft(task: Task, craft: StoredCraft) -> _Where:
    return _Where(
        key=f"at-{craft.id}",
        name=plain(craft.name),
        place=place_name(task.space.name, craft.berth, "\N{NO-BREAK SPACE}"),
        path=craft_path(craft.id, TONIGHT),
        done_path=work_done_path(craft.id) if _is_entered(task) else "",
    )


def _of_space(task: Task) -> _Where:
    return _Where(
        key=f"at-{task.space.id}-{task.first.hazard}",
        name=plain(task.space.name),
        place=listed_first([plain(one.name) for one in task.craft], _NAMED_CRAFT),
        path=space_path(task.space.id),
    )


def _is_of_task(alarm: Alarm, task: Task) -> bool:
    """Whether an alarm is of what a task is about: a craft's every one, a space's by its parts."""
    if alarm.craft:
        return True
    return any(
        reason.subject.part == alarm.part and not reason.subject.craft for reason in task.reasons
    )


def _is_entered(task: Task) -> bool:
    """Whether its work has steps that go on record."""
    facts = task.first.facts
    act = facts.act if isinstance(facts, FrostFacts) else None
    return act is not None and bool(act.steps) and not task.has_ice


def _due_words(task: Task, words: Wording) -> tuple[str, bool]:
    if task.by is not None and task.by > words.now:
        return words.clock(task.by), True
    if task.can_wait:
        return "any", False
    return ("now" if task.is_pressing_at(words.now) else "soon"), False


def _job_of(task: Task, names: Names, words: Wording) -> str:
    if task.has_ice:
        return LEAVE_ALONE_ACT
    facts = task.first.facts
    if isinstance(facts, SilenceFacts) and task.first.subject.part:
        return f"{names.sensor_place(task.first.subject.part)}: {short_silence_act(facts)}"
    return short_act_text(task.first, names, words)


def _chance_of(task: Task) -> str:
    """How often ice breaks it on such a night, at its worst part."""
    chances = [
        chance_ice_breaks(each.facts)
        for each in task.reasons
        if isinstance(each.facts, FrostFacts) and not row_of(each).too_late
    ]
    known = [chance for chance in chances if math.isfinite(chance)]
    return f"Ice breaks it {nights_in_words(max(known))}." if known else ""


def _cautions_of(task: Task) -> list[Caution]:
    """The cautions of what is done first, those of its own steps before the others."""
    facts = task.first.facts
    act = facts.act if isinstance(facts, FrostFacts) else None
    of_steps = [] if act is None else [Caution(care) for s in act.steps for care in s.cautions]
    asked = [*of_steps, *task.first.cautions]
    return [one for one in dict.fromkeys(asked) if one is not Caution.NOT_LIFE_SAFETY]
