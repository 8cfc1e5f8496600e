"""What is to be done in the yard, one task a visit, in the order of the yard's work."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import groupby

from monitor.craft.stored import StoredCraft
from monitor.phrases.standings import row_of
from monitor.yard.assessment import (
    Assessment,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
    WorkTurn,
)
from monitor.yard.battery_facts import BatteryFacts
from monitor.yard.facts import EarlierSentences
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.space import Space

_SEVEREST_FIRST = {severity: rank for rank, severity in enumerate(Severity)}
_HEAT = frozenset({Hazard.AIR, Hazard.POWER})
_PRESSING = frozenset({Urgency.IMMEDIATE, Urgency.EXPECTED})
_FAR = datetime.max.replace(tzinfo=UTC)
_Place = tuple[str, str, str]  # space; craft, or empty for the whole space; what the errand is of
_Pressing = tuple[bool, datetime, bool, int, float, Subject]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to go and do: at one craft, or for a whole space.

    ``reasons`` holds the judgements that ask for it, the most pressing first.
    """

    space: Space
    craft: tuple[StoredCraft, ...]
    reasons: tuple[Assessment, ...]
    by: datetime | None  # act before then; None: now, or no time to name

    @property
    def first(self) -> Assessment:
        """The most pressing reason."""
        return self.reasons[0]

    @property
    def steps(self) -> tuple[Assessment, ...]:
        """The reasons that each ask for something else; damp asks one thing of all metal."""
        if all(each.hazard is Hazard.DAMP for each in self.reasons):
            return self.reasons[:1]
        first_of_act: dict[tuple[object, ...], Assessment] = {}
        for reason in self.reasons:
            first_of_act.setdefault(key_of_act(reason), reason)
        return tuple(first_of_act.values())

    @property
    def turn(self) -> WorkTurn | None:
        """Its place in the order of the yard's work; None where it takes nobody's time."""
        turns = [reason.turn for reason in self.reasons if reason.turn is not None]
        return min(turns, key=lambda one: one.order, default=None)

    @property
    def has_ice(self) -> bool:
        """Whether nothing of it can be saved: there is or was ice in it."""
        return row_of(self.first).too_late

    @property
    def holds_ice(self) -> bool:
        """Whether there is or was ice in any part of it, so that nobody may start it."""
        return any(row_of(reason).too_late for reason in self.reasons)

    def is_pressing_at(self, at: datetime) -> bool:
        """Whether it is to be done now: its hour has passed, or it is wanted at once."""
        if self.can_wait or (self.by is not None and self.by > at):
            return False
        return self.by is not None or self.first.urgency is Urgency.IMMEDIATE

    @property
    def can_wait(self) -> bool:
        """True if nothing presses: no time to beat, or only a margin that has become thin."""
        if self.first.urgency in _PRESSING:
            return False
        return self.by is None or self.first.standing is Standing.THIN


def list_visits(
    judged: Iterable[Assessment], kept: Mapping[str, StoredCraft], places: Mapping[str, Space]
) -> dict[_Place, Task]:
    """One task for each place where somebody has to go."""

    def place(assessment: Assessment) -> _Place:
        return _place_of_act(assessment, kept)

    asking = sorted((a for a in judged if a.calls_for_act), key=lambda a: (place(a), _leads(a)))
    tasks = {}
    for where, group in groupby(asking, key=place):
        reasons = tuple(group)
        craft = dict.fromkeys(a.subject.craft for a in reasons if a.subject.craft)
        tasks[where] = Task(
            space=places[where[0]],
            craft=tuple(kept[one] for one in craft),
            reasons=reasons,
            by=None if reasons[0].urgency is Urgency.IMMEDIATE else reasons[0].deadline,
        )
    return tasks


def _place_of_act(assessment: Assessment, kept: Mapping[str, StoredCraft]) -> _Place:
    """Where to go for it: a craft, whatever is wrong with it, or a whole space.

    Damp, air and silence are seen to for a whole space at a time: shutting one door serves every
    craft behind it.
    """
    subject, hazard = assessment.subject, assessment.hazard
    at_craft = (subject.space, subject.craft, "")
    if hazard is Hazard.FROST:
        # Where nobody knows how cold a circuit is, the space's thermometer wants reading.
        unseen = assessment.standing is Standing.NOT_KNOWN
        return (subject.space, "", Hazard.AIR) if unseen else at_craft
    if hazard is Hazard.DAMP:  # of one craft only by the way it is kept
        return (subject.space, "", hazard) if row_of(assessment).asks else at_craft
    if hazard in {Hazard.BATTERY, Hazard.CHARGING}:
        # Whoever goes to the bench sees to all batteries there.
        aboard = kept[subject.craft].space == subject.space
        return at_craft if aboard else (subject.space, "", hazard)
    return at_craft if hazard is Hazard.RECORD else (subject.space, "", Hazard.AIR)


def merge_damp(tasks: dict[_Place, Task]) -> tuple[Task, ...]:
    """The tasks in order; damp on one craft alone goes with what else is to be done there.

    Unless that can wait and damp cannot: nobody reads of the same craft twice.
    """
    for where, errand in list(tasks.items()):
        of = {a.subject.craft for a in errand.reasons}
        aboard = (where[0], max(of), "")
        visit = tasks.get(aboard) if where[2] == Hazard.DAMP and len(of) == 1 else None
        if visit is not None and (errand.can_wait or not visit.can_wait):
            tasks[aboard] = replace(visit, reasons=(*visit.reasons, *tasks.pop(where).reasons))
    return tuple(sorted(tasks.values(), key=_task_order))


def key_of_act(assessment: Assessment) -> tuple[object, ...]:
    """Key that is equal for judgements which ask for one and the same act."""
    subject, hazard = assessment.subject, assessment.hazard
    if isinstance(assessment.facts, EarlierSentences | FrostFacts):
        return (assessment.facts.act,)  # a craft's circuits share the first steps of its job
    if assessment.standing is Standing.NOT_KNOWN and hazard in {Hazard.FROST, Hazard.AIR}:
        return (assessment.standing, subject.space)  # one thermometer to read
    if hazard is Hazard.BATTERY:
        # On one bench the same is to be done with every battery that stands alike.
        return (hazard, assessment.standing, *_battery_act_key(assessment))
    return (hazard, assessment.standing, subject.part)


def _battery_act_key(assessment: Assessment) -> tuple[object, ...]:
    facts = assessment.facts
    if not isinstance(facts, BatteryFacts):
        return ()
    frozen = facts.memory.may_be_frozen_at is not None
    fault = None if facts.fault is None else facts.fault.kind
    return (frozen, facts.only_feared, fault, facts.load_a > 0.0)


def _leads(assessment: Assessment) -> tuple[int, _Pressing]:
    """Order within one craft: what can be saved, then ice, which no lesser act may hide."""
    lesser = assessment.urgency is Urgency.FUTURE or assessment.hazard is Hazard.RECORD
    # A battery of which nothing is known wants reading some time: no hour of it is known.
    lesser |= assessment.hazard is Hazard.BATTERY and assessment.urgency is Urgency.UNKNOWN
    exposed = assessment.standing is Standing.EXPOSED
    ice = row_of(assessment).too_late
    return (1 if ice else 2 if lesser and not exposed else 0, _pressing(assessment))


def _task_order(task: Task) -> tuple[int, float, _Pressing]:
    """What can be saved, in the order of the yard's work; damp; what has ice; what can wait.

    Damp is seen to after frost: rust can wait for an hour, ice cannot. Letters have one order
    with this.
    """
    damp = task.first.hazard is Hazard.DAMP
    kind = 3 if task.can_wait else 2 if task.has_ice else 1 if damp else 0
    turn = task.turn
    return (kind, math.inf if turn is None else turn.order, _pressing(task.first))


def _pressing(assessment: Assessment) -> _Pressing:
    """Sorting key: what can still be saved, by when it is lost; heat first; then what is lost."""
    # What the record says has happened already; when it will have cost something, frost tells.
    if assessment.urgency is Urgency.IMMEDIATE and assessment.hazard is not Hazard.RECORD:
        runs_out = assessment.at
    else:
        runs_out = assessment.deadline or _FAR
    margin_k = assessment.margin_k
    return (
        row_of(assessment).too_late,
        runs_out,
        assessment.hazard not in _HEAT,
        _SEVEREST_FIRST[assessment.severity],
        math.inf if math.isnan(margin_k) else margin_k,
        assessment.subject,
    )
