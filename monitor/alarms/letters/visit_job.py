"""The job of one visit, in as few words as its line has room for, and the cautions beside it."""

import math
from collections.abc import Iterable, Sequence

from monitor.alarms.definitions import title_of
from monitor.alarms.entry import Entry, planned_act
from monitor.alarms.letters.entry_reading import (
    act_of,
    craft_title,
    has_ice,
    names_of,
)
from monitor.craft.plan.step import StepKind
from monitor.phrases.causes import call_of
from monitor.phrases.frost import chance_ice_breaks
from monitor.phrases.frost_act import LEAVE_ALONE_ACT, steps_of_act
from monitor.phrases.names import part_name
from monitor.phrases.numbers import nights_in_short
from monitor.phrases.short_job import job_verb, short_job, short_job_if_it_runs
from monitor.phrases.step_in_words import CircuitNames, capitalize_first
from monitor.phrases.watch import short_silence_act
from monitor.wording import Wording, listed_first
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Caution, Hazard
from monitor.yard.facts import SilenceFacts
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.space import Yard

DRYING_ACT = "The metal has passed the dew point: move the air until it is dry."
FEWEST_WORDS = 5  # words that an act has in any case
_RUNS_ENGINE = frozenset({StepKind.RUN_ANTIFREEZE, StepKind.RUN_TREATED_FUEL})
_LOOKS = frozenset({StepKind.THAW, StepKind.INSPECT_AFTER_ICE})
_PARTS = 2  # of a craft that are named
_FITTED = frozenset({Topic.FROST, Topic.BATTERY})  # whose craft are many


def job_of_visit(
    visit: Sequence[Entry],
    leads: Entry,
    yard: Yard,
    words: Wording,
    most_words: int,
    *,
    part_iced: bool = False,
) -> tuple[str, str]:
    """What is to be done, and the same in a few words with the name still open.

    Where another part of the craft has ice, no engine is run before somebody has looked.
    """
    if has_ice(leads):
        return (
            LEAVE_ALONE_ACT,
            call_of("ice", "{name}"),
        )
    planned = planned_act(leads)
    moved = next((each for each in visit if each.alarm.cause == "moved-out"), None)
    if planned is not None:
        steps = steps_of_act(planned, leads.alarm.part)
        back = _way_back(moved, planned, leads, yard)
        kinds = {step.kind for step in steps}
        if part_iced and kinds & _RUNS_ENGINE and not kinds & _LOOKS:
            back += "thaw it, look for leaks, then "
        room = most_words - len(back.split())
        looks = planned.occasion is Occasion.IF_IT_RUNS
        say = short_job_if_it_runs if looks else short_job
        job = say(steps, CircuitNames.of_craft(leads.craft), words, max(room, FEWEST_WORDS))
        verb = "try the drain of {name}" if looks else f"{job_verb(steps)} {{name}}"
        call = call_of("moved-out", "{name}") if moved else verb
        return f"{capitalize_first(back + job)}.", call
    leads = leads if moved is None else moved
    part = "" if moved else _parts_of(visit)
    asked = _asked_act(leads, yard, words)
    if len(f"{part}{asked}".split()) > most_words and leads.definition.topic in _FITTED:
        asked = words.in_reader_units(leads.definition.act) or asked
    # Whose ice somebody has looked into is to be saved like any other.
    cause = "frost" if leads.iced else leads.alarm.cause
    return f"{part}{asked}", call_of(cause, "{name}")


def _asked_act(entry: Entry, yard: Yard, words: Wording) -> str:
    """The act of an alarm without a plan of steps, as short as its cause has it."""
    facts = None if entry.assessment is None else entry.assessment.facts
    if isinstance(facts, SilenceFacts) and entry.alarm.part:
        return short_silence_act(facts)
    return DRYING_ACT if entry.drying else act_of(entry, yard, words)


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


def chance_of_damage(entry: Entry) -> str:
    """How often ice breaks it on such a night; empty where no chance was worked out."""
    seen = entry.assessment
    facts = None if seen is None else seen.facts
    if not isinstance(facts, FrostFacts):
        return ""
    chance = chance_ice_breaks(facts)
    return f"Ice breaks it {nights_in_short(chance)}." if math.isfinite(chance) else ""


def cautions_of_entry(entry: Entry) -> list[Caution]:
    """The cautions of an act, those of its own steps first."""
    planned, seen = planned_act(entry), entry.assessment
    if planned is not None:
        return list(dict.fromkeys(Caution(care) for s in planned.steps for care in s.cautions))
    asked = [*(seen.cautions if seen is not None else ()), *entry.definition.cautions]
    if has_ice(entry):  # which is left alone: what its job will ask is told with its job
        asked = [each for each in asked if each is Caution.FROZEN_BATTERY]
    return [each for each in dict.fromkeys(asked) if each is not Caution.NOT_LIFE_SAFETY]


def wet_metal(entries: Sequence[Entry]) -> str:
    """On how many craft of a space metal is wet or will be, and where it is worst."""
    worst = wettest_of(entries)
    what = "Metal is still wet" if worst.drying else title_of(worst.definition, worst.assessment)
    alike = [entry for entry in entries if entry.drying is worst.drying]
    craft = {entry.alarm.craft for entry in alike if entry.alarm.craft}
    if not craft:
        return what
    where = f"{craft_title(worst)}, {part_name(worst.craft, worst.alarm.part)}"
    now = {entry.alarm.craft for entry in alike if not entry.dew_ahead}
    later = set() if worst.dew_ahead else craft - now
    more = f", and will on {len(later)} more" if later else ""
    return f"{what} on {len(craft - later)} craft{more}; worst on {where}"


def wettest_of(entries: Iterable[Entry]) -> Entry:
    """The one that decides what is to be done about a space's damp."""
    return min(entries, key=_wettest)


def _wettest(entry: Entry) -> tuple[bool, bool, float]:
    margin_k = math.nan if entry.assessment is None else entry.assessment.margin_k
    return math.isnan(margin_k), entry.dew_ahead, margin_k
