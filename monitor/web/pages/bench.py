"""The bench of one craft: its steps in the plan's order, one a screen, and what each comes to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from monitor.craft.canonical import values_of
from monitor.craft.fields import BY_PATH
from monitor.craft.layup import LayupEntry
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import AGAINST_FROST, JobPlan, JobStep
from monitor.craft.profile import Profile
from monitor.craft.protection import LayupState, Protection
from monitor.craft.record import CraftRecord, layup_plan, protections_on_record
from monitor.errors import ActError
from monitor.phrases.bench import (
    COLD_ENGINE,
    PLAN_CHANGED,
    STAYS_OPEN,
    done_already_words,
    lacking_words,
    left_words,
    not_proven_words,
)
from monitor.phrases.names import plain
from monitor.phrases.plan import step_sentence
from monitor.phrases.step_in_words import capitalize_first
from monitor.store.store import Transaction
from monitor.wording import Wording, listed
from monitor.yard.space import Yard, shelters


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchCraft:
    """One craft as the bench has it now."""

    record: CraftRecord
    plan: JobPlan
    yard: Yard
    words: Wording

    @property
    def steps_by_key(self) -> dict[str, JobStep]:
        """The steps by their keys, in working order."""
        return {key_of_step(step): step for step in self.plan.steps}

    @property
    def work_left(self) -> str:
        """What is left of the job, in words."""
        return left_words(self.plan, self.words)

    @property
    def circuits_held(self) -> list[tuple[str, Protection]]:
        """Each circuit by name, with what it holds now."""
        found = self.protections_of(self.record)
        return [
            (plain(one.circuit.name), found[one.circuit.id]) for one in self.record.profile.circuits
        ]

    def protections_of(self, record: CraftRecord) -> dict[str, Protection]:
        """What each circuit of a record can stand now."""
        return protections_on_record(record, shelters(self.yard), self.words.now, self.words)

    def sentence_of(self, step: JobStep) -> str:
        """What a step asks for."""
        return step_sentence(step, self.record.profile, self.words)


def read_bench(
    tx: Transaction, yard: Yard, profiles: Mapping[str, Profile], craft: str, words: Wording
) -> BenchCraft | None:
    """Read a craft and plan what is left of its lay-up; None if it is not in the yard."""
    record = tx.layup.record_of(craft, profiles)
    if record is None or not record.in_yard_at(words.now):
        return None
    return BenchCraft(record=record, plan=_plan_of(record, yard, words.now), yard=yard, words=words)


def _plan_of(record: CraftRecord, yard: Yard, at: datetime) -> JobPlan:
    return layup_plan(record, shelters(yard), at, yard.design_low_c, yard.shelf or USUAL_SHELF)


def key_of_step(step: JobStep) -> str:
    """What a step is known by while the plan changes: its kind and circuits, or its finding."""
    finding = (step.finding.seen.id,) if step.finding is not None else ()
    return "/".join((step.kind, *step.circuits, *finding)).replace(" ", "-")


@dataclass(frozen=True, slots=True, kw_only=True)
class Objections:
    """What is said before an entry is on record."""

    beside: Mapping[str, str] = field(default_factory=dict)  # by column
    general: tuple[str, ...] = ()
    must_change: bool = False  # else it may be entered all the same

    def __bool__(self) -> bool:
        return bool(self.beside or self.general)


def objections_to(entry: LayupEntry, step: JobStep, bench: BenchCraft) -> Objections:
    """Why a step would stay open, or a part unproven, after an entry as it was told."""
    record = replace(bench.record, entries=(*bench.record.on_record, entry))
    after = bench.protections_of(record)
    plan = _plan_of(record, bench.yard, max(bench.words.now, entry.at))
    beside: dict[str, str] = {}
    general: list[str] = []
    said = values_of(entry)
    if "evidence.engine_hot" in said and entry.evidence.engine_hot is False:
        beside[BY_PATH["evidence.engine_hot"].column] = COLD_ENGINE
    unproven = [
        name
        for name in entry.circuits
        if step.kind in AGAINST_FROST and after[name].state is not LayupState.PROVEN
    ]
    still_open = key_of_step(step) in {key_of_step(one) for one in plan.steps}
    if not (unproven or still_open):
        return Objections()
    beside = {**lacking_words(step.asks, said), **beside}
    for why in dict.fromkeys(after[name].why for name in unproven):
        names = [
            plain(record.profile.find(name).circuit.name)
            for name in unproven
            if after[name].why == why
        ]
        general.append(not_proven_words(listed(names), bench.words.in_reader_units(why)))
    if not unproven and not beside:
        general.append(STAYS_OPEN)
    return Objections(beside=beside, general=tuple(general))


def work_since_opened(entry: LayupEntry, bench: BenchCraft, found: Objections) -> Objections:
    """That a step is no longer in the plan, before what else is said against its entry.

    Somebody entered it since its page was opened, or the plan has changed.
    """
    alike = [
        one
        for one in bench.record.standing(bench.words.now)
        if one.act is entry.act and set(entry.circuits) <= set(one.circuits or entry.circuits)
    ]
    last = max(alike, key=lambda one: one.at, default=None)
    words = bench.words
    why = (
        PLAN_CHANGED
        if last is None
        else done_already_words(str(entry.act), plain(words.person(last.by)), words.clock(last.at))
    )
    return replace(found, general=(why, *found.general))


def held_together(parts: Sequence[tuple[str, Protection]]) -> list[tuple[str, Protection]]:
    """Parts that hold the same for the same reason, under one name."""
    groups: list[tuple[list[str], Protection]] = []
    for name, held in parts:
        alike = next((one for one in groups if replace(one[1], circuit=held.circuit) == held), None)
        if alike is None:
            groups.append(([name], held))
        else:
            alike[0].append(name)
    return [(capitalize_first(listed(names)), held) for names, held in groups]


def entry_sent_before(draft: str, by: str, record: CraftRecord) -> LayupEntry | None:
    """The entry that a form made when it was sent before; None if it was not.

    Raises
    ------
    ActError
        If somebody else's entry has that id.
    """
    found = next((one for one in record.on_record if one.id == draft), None)
    if found is not None and found.by != by:
        raise ActError("this form is another person's; open the step again and enter it anew")
    return found
