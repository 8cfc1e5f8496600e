"""One form of the bench on its way into the record: written once, or what is said against it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from monitor.craft.admission import faults_of_new_work
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.plan.step import JobStep, StepKind
from monitor.errors import ActError, BadValueError, Fault, RecordError
from monitor.store.entering import enter
from monitor.store.store import Transaction
from monitor.web.pages.bench import (
    BenchCraft,
    Objections,
    entry_sent_before,
    key_of_step,
    objections_to,
    work_since_opened,
)
from monitor.web.pages.bench_answers import (
    entry_of_finding,
    entry_of_step,
    read_answers,
    when_done,
)

_SOURCE = "bench"
_DRAFT = re.compile(r"b-[0-9a-f]{16}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a form: on record, unless something is said against it."""

    step: JobStep | None = None
    against: Objections = field(default_factory=Objections)
    wrong: Mapping[str, str] = field(default_factory=dict)  # of a finding, by field


def enter_form(tx: Transaction, bench: BenchCraft, form: Mapping[str, str], by: str) -> Outcome:
    """Enter what a form says, if nothing is to be said before; one sent before enters nothing."""
    draft = form.get("draft", "")
    try:
        if not _DRAFT.fullmatch(draft):
            raise BadValueError("this form was not made here", "open the page again")
        if entry_sent_before(draft, by, bench.record) is not None:
            return Outcome()
        at = when_done(form, bench.words.now)
        enter_one = _enter_finding if form.get("found") else _enter_step
        return enter_one(tx, bench, form, draft, by, at)
    except (ActError, BadValueError) as error:
        said = Objections(general=(str(error),), must_change=True)
        return Outcome(against=said, wrong={"": str(error)})


def _enter_finding(
    tx: Transaction, bench: BenchCraft, form: Mapping[str, str], draft: str, by: str, at: datetime
) -> Outcome:
    entry, wrong = entry_of_finding(form, bench.record, draft=draft, by=by, at=at)
    if entry is not None:
        faults = _write(tx, entry, bench)
        wrong = {"": " ".join(f"{one.problem}. {one.remedy}" for one in faults)} if faults else {}
    return Outcome(wrong=wrong)


def _enter_step(
    tx: Transaction, bench: BenchCraft, form: Mapping[str, str], draft: str, by: str, at: datetime
) -> Outcome:
    step = bench.steps_by_key.get(form.get("step", "")) or _step_told(form, bench)
    answers = read_answers(form, step, bench.record, bench.yard, bench.words)
    entry = entry_of_step(
        answers, step, draft=draft, craft=bench.record.craft.id, by=by, at=at, words=bench.words
    )
    against = _objections(entry, answers.wrong, step, bench, form)
    if entry is not None and not against and (faults := _write(tx, entry, bench)):
        against = _faults_beside_fields(faults)
    return Outcome(step=step, against=against)


def _objections(
    entry: LayupEntry | None,
    wrong: Mapping[str, str],
    step: JobStep,
    bench: BenchCraft,
    form: Mapping[str, str],
) -> Objections:
    if entry is None:
        general = (wrong[""],) if "" in wrong else ()
        return Objections(beside=wrong, general=general, must_change=True)
    if faults := faults_of_new_work(entry, bench.record, _SOURCE, bench.words.now):
        return _faults_beside_fields(faults)
    if form.get("knowing"):
        return Objections()
    found = objections_to(entry, step, bench)
    if key_of_step(step) in bench.steps_by_key:
        return found
    return work_since_opened(entry, bench, found)


def _faults_beside_fields(faults: Sequence[Fault]) -> Objections:
    """Each fault beside the field that makes it, and all of them on top: a field may not show."""
    told = {one.key.rpartition(".")[2]: f"{one.problem}. {one.remedy}" for one in faults}
    told = {key: f"{text[:1].upper()}{text[1:]}" for key, text in told.items()}
    return Objections(beside=told, general=tuple(told.values()), must_change=True)


def _step_told(form: Mapping[str, str], bench: BenchCraft) -> JobStep:
    """A step that the plan no longer holds, as the page that was open told it.

    Raises
    ------
    ActError
        If it is none of this craft.
    """
    kind, *circuits = form.get("step", "").split("/")
    try:
        step = JobStep(
            kind=StepKind(kind.replace("-", " ")),
            circuits=tuple(circuits),
            act=Act(form.get("act", "")),
        )
    except ValueError as error:
        raise ActError(
            "the plan has changed since this page was opened; look at it anew"
        ) from error
    if not set(circuits) <= set(bench.record.profile.circuit_ids):
        raise ActError("the plan has changed since this page was opened; look at it anew")
    return step


def _write(tx: Transaction, entry: LayupEntry, bench: BenchCraft) -> Sequence[Fault]:
    """Write an entry; what keeps it out, if anything does, and then nothing was written."""
    profile = bench.record.profile
    try:
        enter(tx.layup, [entry], {profile.id: profile}, bench.words.now, _SOURCE)
    except RecordError as error:
        return error.faults
    return ()
