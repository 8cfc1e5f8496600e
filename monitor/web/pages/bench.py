"""The bench of one craft: its steps in the plan's order, one a screen, and what each comes to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from monitor.craft.canonical import values_of
from monitor.craft.fields import BY_PATH
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.plan.step import AGAINST_FROST, JobPlan, JobStep
from monitor.craft.profile import Profile
from monitor.craft.protection import LayupState, Protection
from monitor.craft.record import CraftRecord, protections_on_record
from monitor.errors import ActError
from monitor.phrases.bench import (
    COLD_ENGINE,
    PLAN_CHANGED,
    STAYS_OPEN,
    done_already_words,
    held_words,
    lacking_words,
    left_words,
    not_proven_words,
    too_warm_words,
)
from monitor.phrases.names import plain
from monitor.phrases.plan import step_sentence
from monitor.phrases.step_in_words import capitalize_first
from monitor.store.store import Transaction
from monitor.web.pages.bench_job import JobTonight, find_job_tonight, plan_of_job
from monitor.wording import Wording, listed
from monitor.yard.space import Yard, shelters

# Of these nobody expects proof: the step behind them in the plan is what proves.
_LEAD_ON = frozenset({Act.CIRCUIT_OPENED, Act.FLUSHED})


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchCraft:
    """One craft as the bench has it now."""

    record: CraftRecord
    plan: JobPlan
    yard: Yard
    words: Wording
    tonight: JobTonight | None = None  # the plan is of that alone; None: of the whole lay-up

    @property
    def steps_of_job(self) -> int:
        """How many steps the whole job has, those that are done among them.

        A lay-up is counted as from nothing; of tonight's job only what is left is known.
        """
        left = len(self.plan.steps)
        if self.tonight is not None:
            return left
        bare = replace(self.record, entries=())
        return max(left, len(plan_of_job(bare, self.yard, self.words.now).steps))

    def plan_after(self, record: CraftRecord, at: datetime) -> JobPlan:
        """What is left of the same job by another record of the craft."""
        return plan_of_job(record, self.yard, at, self.tonight)

    @property
    def steps_by_key(self) -> dict[str, JobStep]:
        """The steps by their keys, in working order."""
        return {key_of_step(step): step for step in self.plan.steps}

    @property
    def work_left(self) -> str:
        """What is left of the job, in words."""
        return left_words(self.plan, self.words, tonight=self.tonight is not None)

    @property
    def circuits_held(self) -> list[tuple[str, Protection, str]]:
        """The circuits by name, with what they hold now; see `held_by`."""
        return self.held_by(self.record.profile.circuit_ids)

    def held_by(self, circuits: Sequence[str]) -> list[tuple[str, Protection, str]]:
        """Names, protection and its words of some circuits; those that hold the same, together."""
        found = self.protections_of(self.record)
        groups: list[tuple[list[str], Protection, str]] = []
        for name in circuits:
            one, held = self.record.profile.find(name), found[name]
            told = held_words(held, one.kind, self.words)
            called = plain(one.circuit.name)
            for names, other, words in groups:
                if words == told and replace(other, circuit=name) == held:
                    names.append(called)
                    break
            else:
                groups.append(([called], held, told))
        return [(capitalize_first(listed(names)), held, words) for names, held, words in groups]

    def protections_of(self, record: CraftRecord) -> dict[str, Protection]:
        """What each circuit of a record can stand now."""
        return protections_on_record(record, shelters(self.yard), self.words.now, self.words)

    def sentence_of(self, step: JobStep) -> str:
        """What a step asks for."""
        return step_sentence(step, self.record.profile, self.words)


def read_bench(
    tx: Transaction,
    yard: Yard,
    profiles: Mapping[str, Profile],
    craft: str,
    words: Wording,
    *,
    only_tonight: bool = False,
) -> BenchCraft | None:
    """Read a craft and plan what is left of its job; None if it is not in the yard.

    ``only_tonight`` leaves the part against the coming low, by the latest judgement; where there
    is none, or nothing of it is left, the whole lay-up is planned.
    """
    record = tx.layup.record_of(craft, profiles)
    if record is None or not record.in_yard_at(words.now):
        return None
    tonight = find_job_tonight(tx, record, yard, words.now) if only_tonight else None
    plan = plan_of_job(record, yard, words.now, tonight)
    if tonight is not None and not plan.steps:
        tonight, plan = None, plan_of_job(record, yard, words.now)
    return BenchCraft(record=record, plan=plan, yard=yard, words=words, tonight=tonight)


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
    plan = bench.plan_after(record, max(bench.words.now, entry.at))
    unproven = [
        name
        for name in entry.circuits
        if step.kind in AGAINST_FROST
        and step.act not in _LEAD_ON
        and after[name].state is not LayupState.PROVEN
    ]
    still_open = key_of_step(step) in {key_of_step(one) for one in plan.steps}
    if not (unproven or still_open):
        return Objections()
    beside = _objections_beside(entry, step, bench.words, still_open=still_open)
    general = [
        not_proven_words(listed(names), bench.words.in_reader_units(why))
        for why, names in _names_by_reason(unproven, after, record.profile).items()
    ]
    if not unproven and not beside:
        general.append(STAYS_OPEN)
    return Objections(beside=beside, general=tuple(general))


def _objections_beside(
    entry: LayupEntry, step: JobStep, words: Wording, *, still_open: bool
) -> dict[str, str]:
    """What stands beside single fields, by their columns: what lacks, and what does not suffice."""
    said = values_of(entry)
    beside = dict(lacking_words(step.asks, said))
    if "evidence.engine_hot" in said and entry.evidence.engine_hot is False:
        beside[BY_PATH["evidence.engine_hot"].column] = COLD_ENGINE
    read_c = entry.evidence.ice_point_c
    if still_open and read_c is not None and step.reading_c is not None and read_c > step.reading_c:
        told = too_warm_words(read_c, step.reading_c, words)
        beside[BY_PATH["evidence.ice_point_c"].column] = told
    return beside


def _names_by_reason(
    unproven: Sequence[str], after: Mapping[str, Protection], profile: Profile
) -> dict[str, list[str]]:
    """The parts that are not proven by why they are not; those of one reason together."""
    names: dict[str, list[str]] = {}
    for name in unproven:
        names.setdefault(after[name].why, []).append(plain(profile.find(name).circuit.name))
    return names


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
