"""What is to be done about a circuit in the cold: the steps of its craft's job, and by when."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from monitor.craft.plan.step import JobStep, StepKind
from monitor.craft.protection import LayupState
from monitor.phrases.brief_job import brief_job
from monitor.phrases.names import Names
from monitor.phrases.step_in_words import CircuitNames, capitalize_first
from monitor.wording import Wording
from monitor.yard.assessment import Assessment
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct

LEAVE_ALONE_ACT = "Do not start it. Look for leaks once it has thawed."


def frost_act_text(facts: FrostFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """Say what a circuit's craft, or the circuit by itself, calls for; empty for nothing."""
    act = facts.act
    if act is None:
        return ""
    if act.written:
        return act.written
    subject = seen.subject
    steps = steps_of_act(act, subject.part)
    circuits = CircuitNames.of_craft(names.craft.get(subject.craft))
    if act.occasion is Occasion.AFTER_ICE:
        mixed = facts.layup is LayupState.PROVEN
        return _after_ice(act, steps, circuits, words, seen.at, mixed=mixed)
    job = brief_job(steps, circuits, words)
    when = before_deadline(act.by, words, seen.at)
    space = names.space(subject.space)
    match act.occasion:
        case Occasion.IF_IT_RUNS:
            return (
                "It may hold ice already, so start nothing yet: open its lowest drain or hose now."
                f" If water runs out, {job}. If nothing comes, leave it, thaw it slowly and do not"
                " start it."
            )
        case Occasion.OR_HEAT_BACK:
            return f"Get the heat in {space} going again {when}, or {job}."
        case Occasion.BEFORE_COLDER_NIGHT:
            return f"Keep an eye on {space}; before a colder night, {job}."
        case Occasion.WHEN_CONVENIENT:
            return f"{capitalize_first(job)} when convenient."
    return f"{capitalize_first(when)}, {job}."


def steps_of_act(act: PlannedAct, part: str) -> tuple[JobStep, ...]:
    """The steps of an act, those that name no circuit on the circuit that was judged."""
    return tuple(step if step.circuits else replace(step, circuits=(part,)) for step in act.steps)


def before_deadline(by: datetime | None, words: Wording, at: datetime) -> str:
    """``before 20:20``, ``now`` once that has passed; ``today`` where no deadline is known.

    Parameters
    ----------
    by : datetime or None
    words : Wording
    at : datetime
        When it was judged, for a reader whose own time is not known.
    """
    if by is None:
        return "today"
    return f"before {words.clock(by)}" if words.is_ahead(by) and by > at else "now"


def _after_ice(
    act: PlannedAct,
    steps: Sequence[JobStep],
    circuits: CircuitNames,
    words: Wording,
    at: datetime,
    *,
    mixed: bool,
) -> str:
    """What is done first of the steps after ice; of a mix that was proven, what makes it so again.

    Nobody is told to run an engine in which ice may have broken something: that is only counted.
    """
    frozen = steps[0].kind is StepKind.THAW
    job = brief_job(steps, circuits, words, told_steps=1 + frozen + mixed)
    if frozen:
        return f"{capitalize_first(job)}."
    by = f"; all {before_deadline(act.by, words, at)}" if act.by is not None else ""
    return f"Do not start it: {job}{by}."
