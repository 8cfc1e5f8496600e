"""Where a tap on "Done" leads: each step of a craft's job with the few things that prove it.

That work is done is no matter of a tap: a step counts by what was seen or read of it, and without
that it goes on record as done and proves nothing, which the page then says.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from monitor.alarms.acts.alarm_acts import GIVE_BACK_WITHIN
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import Ask, JobStep
from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.errors import ActError
from monitor.judgement.craft_job import is_led
from monitor.judgement.frost.act import plan_frost_steps, planned_low
from monitor.phrases.figures import figures_of
from monitor.phrases.names import part_name, plain
from monitor.phrases.plan import asked_words, sentence_of_step
from monitor.phrases.step_in_words import CircuitNames
from monitor.reports.standing_work import list_standing_work
from monitor.store.entering import enter
from monitor.store.store import Store, Transaction
from monitor.units import TEMPERATURE, VOLUME, Dimension, parse_quantity
from monitor.web.api.entry_body import EntryBody
from monitor.web.pages.bench import key_of_step
from monitor.wording import Wording
from monitor.yard.space import Yard

# What ticking a box says in the entry's evidence.
_SEEN: Mapping[Ask, tuple[str, Any]] = {
    Ask.DRY: ("dry", True),
    Ask.OUTFLOW: ("outflow", "full colour"),
    Ask.CLEAR_WATER: ("outflow", "clear water"),
    Ask.HOT_ENGINE: ("engine_hot", True),
    Ask.CLEAR_OIL: ("oil", "clear"),
    Ask.TREATED_FUEL: ("treated_fuel_seen", True),
}
_LABELS: Mapping[Ask, str] = {
    Ask.DRY: "I probed it and saw it dry",
    Ask.OUTFLOW: "It came out at the jug's colour",
    Ask.CLEAR_WATER: "Clear water came out",
    Ask.HOT_ENGINE: "The engine was hot",
    Ask.CLEAR_OIL: "The oil was clear",
    Ask.TREATED_FUEL: "I saw treated fuel",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepToProve:
    """One step as its form shows it."""

    number: int
    key: str  # of the step itself: a job that has changed since is not entered by an old form
    sentence: str
    asked: str
    boxes: tuple[tuple[str, str], ...]  # field and what ticking it says
    litres: str  # what the plan pours; empty: nothing is poured
    reading: str  # what a sample must read; empty: none is asked
    scale: str  # of the glycol that the plan pours
    can_be_entered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class EnteredStep:
    """What the last tap put on record, and what that proves."""

    id: str
    at: datetime
    by: str
    can_be_undone: bool
    proven: tuple[str, ...]  # parts that it made safe
    open: tuple[tuple[str, str], ...]  # parts that it did not, and why


def read_job(store: Store, yard: Yard, craft: StoredCraft) -> tuple[JobStep, ...]:
    """The steps against the frost that are left on a craft: tonight's, else those of its lay-up.

    They are planned from the record as it is now, so that a step goes as soon as it is proven.
    """
    with store.snapshot() as tx:
        judged = tx.assessments.latest_in([craft.space], craft.id)
    exposed = [seen for seen in judged if is_led(seen)]
    start = craft.plan_start
    if start is None or not exposed:
        work = list_standing_work([craft], yard)
        return work[0].steps if work else ()
    coldest_c = min(figures_of(seen).get("low_band_low_c", seen.low_c) for seen in exposed)
    tonight = replace(
        start,
        held=craft.protection,
        low_c=planned_low(min(yard.design_low_c, coldest_c)),
        only=frozenset(seen.subject.part for seen in exposed),
    )
    return plan_frost_steps(tonight, yard.shelf)


def steps_to_prove(
    steps: Sequence[JobStep], craft: StoredCraft, words: Wording
) -> tuple[StepToProve, ...]:
    """Each step with the boxes and numbers that prove it, and nothing that it cannot use."""
    names = CircuitNames.of_craft(craft)
    return tuple(
        StepToProve(
            number=number,
            key=key_of_step(step),
            sentence=sentence_of_step(step, names, words),
            asked=asked_words(step),
            boxes=tuple((str(ask), _LABELS[ask]) for ask in step.asks if ask in _SEEN),
            litres="" if step.quantity_l is None else words.about(step.quantity_l),
            reading="" if step.reading_c is None else words.ice_point(step.reading_c),
            scale="" if step.product is None else str(step.product.liquid),
            can_be_entered=step.act is not None,
        )
        for number, step in enumerate(steps, start=1)
    )


def enter_step(
    tx: Transaction,
    yard: Yard,
    craft: StoredCraft,
    step: JobStep,
    form: Mapping[str, str],
    by: str,
    words: Wording,
) -> LayupEntry:
    """Put a step on record, with what its form says was seen.

    Raises
    ------
    ActError
        If the step is entered by nothing.
    ValueError
        If a number is none; says how to write it.
    """
    if step.act is None or craft.plan_start is None:
        raise ActError("this step is entered with the one after it")
    seen = dict(value for ask, value in _SEEN.items() if ask in step.asks and form.get(ask))
    if step.reading_c is not None and form.get("reading", "").strip():
        seen["ice_point_c"] = _number_in(form["reading"], TEMPERATURE, words)
        if form.get("scale"):
            seen["scale"] = form["scale"]
        if form.get("zeroed"):
            seen["zeroed_on"] = words.now.astimezone(words.zone).date().isoformat()
    said: dict[str, Any] = {
        "at": words.now.isoformat(),
        "by": by,
        "act": step.act,
        "circuits": list(step.circuits),
        "evidence": seen,
    }
    if step.product is not None:
        said["product"] = {"name": step.product.name}
    if step.quantity_l is not None and form.get("litres", "").strip():
        said["quantity_l"] = _number_in(form["litres"], VOLUME, words)
    if step.posture is not None:
        said["posture"] = str(step.posture)
    return _enter(tx, yard, craft, said, words)


def take_entry_back(
    tx: Transaction, yard: Yard, craft: StoredCraft, entry: str, by: str, words: Wording
) -> LayupEntry:
    """Withdraw an entry of one's own that is a few minutes old.

    Raises
    ------
    ActError
        If there is none such.
    """
    start = craft.plan_start
    mine = next((one for one in start.entries if one.id == entry), None) if start else None
    if mine is None or mine.by != by or words.now - mine.at > GIVE_BACK_WITHIN:
        raise ActError("this work was not entered by you within the last 10 minutes")
    said = {"at": words.now.isoformat(), "by": by, "act": str(Act.WITHDRAWN), "replaces": entry}
    return _enter(tx, yard, craft, said, words)


def _enter(
    tx: Transaction, yard: Yard, craft: StoredCraft, said: Mapping[str, Any], words: Wording
) -> LayupEntry:
    assert craft.plan_start is not None  # noqa: S101 - both callers have looked
    profile = craft.plan_start.profile
    body = EntryBody.model_validate(said)
    entry = body.to_layup_entry(craft.id, words.people, yard.shelf or USUAL_SHELF)
    enter(tx.layup, [entry], {profile.id: profile}, words.now, "page")
    return entry


def _number_in(text: str, dimension: Dimension, words: Wording) -> float:
    """A number in SI; without a unit it is in the reader's, where that is only one."""
    bare = not any(sign.isalpha() for sign in text)
    units = words.units
    if bare and units is not None:
        if dimension is TEMPERATURE:
            text += units.temperature
        elif units.volume == "L":
            text += "L"
    return parse_quantity(text, dimension)


def what_was_proven(craft: StoredCraft, entry: LayupEntry, by: str, now: datetime) -> EnteredStep:
    """What a craft's record says now of the parts that an entry was of."""
    parts = {name: craft.protection[name] for name in entry.circuits if name in craft.protection}
    return EnteredStep(
        id=entry.id,
        at=entry.at,
        by=entry.by,
        can_be_undone=entry.by == by and now - entry.at <= GIVE_BACK_WITHIN,
        proven=tuple(
            part_name(craft, name)
            for name, held in parts.items()
            if held.state is LayupState.PROVEN
        ),
        open=tuple(
            (part_name(craft, name), plain(held.why, limit=300))
            for name, held in parts.items()
            if held.state is not LayupState.PROVEN
        ),
    )
