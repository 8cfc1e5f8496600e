"""One form of the bench on its way into the record: written once, or what is said against it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import chain

from monitor.alarms.acts.alarm_acts import GIVE_BACK_WITHIN
from monitor.craft.admission import faults_of_new_work
from monitor.craft.canonical import derived_id
from monitor.craft.layup import PHOTO_SHA256, Act, LayupEntry
from monitor.craft.plan.step import JobStep, StepKind
from monitor.errors import ActError, BadValueError, Fault, RecordError
from monitor.intake.photos import KeptPhoto
from monitor.phrases.bench import same_moment_words
from monitor.phrases.names import plain
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
from monitor.web.pages.bench_fields import fields_at_bench

PHOTO = "photo"  # the column of photos, as they are sent
KEPT_PHOTOS = "kept_photos"  # of those that came with the form when something was said against it
MOST_PHOTOS = 4
_SOURCE = "bench"
_DRAFT = re.compile(r"b-[0-9a-f]{16}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SentPhotos:
    """The photos of one form: those that can be kept, and what is wrong with another."""

    photos: tuple[KeptPhoto, ...] = ()
    wrong: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a form: on record, unless something is said against it."""

    step: JobStep | None = None
    against: Objections = field(default_factory=Objections)
    wrong: Mapping[str, str] = field(default_factory=dict)  # of a finding, by field
    photos: tuple[str, ...] = ()  # kept meanwhile, so that nobody takes them anew


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """One form, with what was read of it already."""

    form: Mapping[str, str]
    draft: str
    by: str
    at: datetime
    photos: tuple[str, ...]
    wrong_photo: str


def enter_form(
    tx: Transaction, bench: BenchCraft, form: Mapping[str, str], by: str, sent: SentPhotos
) -> Outcome:
    """Enter what a form says, if nothing is to be said before; one sent before enters nothing."""
    draft = form.get("draft", "")
    try:
        if not _DRAFT.fullmatch(draft):
            raise BadValueError("this form was not made here", "open the page again")
        if entry_sent_before(draft, by, bench.record) is not None:
            return Outcome()
        at = when_done(form, bench.words.now)
        photos = _keep_photos(tx, bench, form, by, sent)
        enter_one = _enter_finding if form.get("found") else _enter_step
        said = _Said(form=form, draft=draft, by=by, at=at, photos=photos, wrong_photo=sent.wrong)
        return replace(enter_one(tx, bench, said), photos=photos)
    except (ActError, BadValueError) as error:
        refusal = Objections(general=(str(error),), must_change=True)
        return Outcome(against=refusal, wrong={"": str(error)})


def _keep_photos(
    tx: Transaction, bench: BenchCraft, form: Mapping[str, str], by: str, sent: SentPhotos
) -> tuple[str, ...]:
    """Keep the photos of a form; the names of all that it has, those of an earlier try first."""
    craft = bench.record.craft.id
    before = [
        name
        for name in form.get(KEPT_PHOTOS, "").split()[:MOST_PHOTOS]
        if re.fullmatch(PHOTO_SHA256, name) and tx.photos.sent_to(name, craft)
    ]
    for one in sent.photos:
        tx.photos.keep_photo(one.sha256, one.content, craft, by, bench.words.now)
    names = dict.fromkeys(chain(before, (one.sha256 for one in sent.photos)))
    return tuple(names)[:MOST_PHOTOS]


def _enter_finding(tx: Transaction, bench: BenchCraft, said: _Said) -> Outcome:
    entry, wrong = entry_of_finding(
        said.form, bench.record, draft=said.draft, by=said.by, at=said.at, photos=said.photos
    )
    if said.wrong_photo:
        return Outcome(wrong={**wrong, PHOTO: said.wrong_photo})
    if entry is not None:
        faults = _write(tx, entry, bench)
        wrong = {"": " ".join(f"{one.problem}. {one.remedy}" for one in faults)} if faults else {}
    return Outcome(wrong=wrong)


def _enter_step(tx: Transaction, bench: BenchCraft, said: _Said) -> Outcome:
    form = said.form
    step = bench.steps_by_key.get(form.get("step", "")) or _step_told(form, bench)
    answers = read_answers(form, step, bench.record, bench.yard, bench.words)
    answers.said["evidence.photo_sha256"] = said.photos
    if said.wrong_photo:
        answers.wrong[PHOTO] = said.wrong_photo
    entry = entry_of_step(
        answers,
        step,
        draft=said.draft,
        craft=bench.record.craft.id,
        by=said.by,
        at=said.at,
        words=bench.words,
    )
    against = _objections(entry, answers.wrong, step, bench, form)
    if entry is not None and not against and (faults := _write(tx, entry, bench)):
        against = _faults_beside_fields(faults, step, bench)
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
        return _faults_beside_fields(faults, step, bench)
    if form.get("knowing"):
        return Objections()
    found = objections_to(entry, step, bench)
    if key_of_step(step) in bench.steps_by_key:
        return found
    return work_since_opened(entry, bench, found)


def _faults_beside_fields(faults: Sequence[Fault], step: JobStep, bench: BenchCraft) -> Objections:
    """Each fault beside the field that makes it; on top what no field of the step shows."""
    shown = {one.column for one in fields_at_bench(step, bench.record)}
    told = {one.key.rpartition(".")[2]: f"{one.problem}. {one.remedy}" for one in faults}
    told = {key: f"{text[:1].upper()}{text[1:]}" for key, text in told.items()}
    return Objections(
        beside={key: text for key, text in told.items() if key in shown},
        general=tuple(text for key, text in told.items() if key not in shown),
        must_change=True,
    )


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
    profile, words = bench.record.profile, bench.words
    for one in bench.record.standing(words.now):
        if (one.act, one.at, set(one.circuits)) == (entry.act, entry.at, set(entry.circuits)):
            told = same_moment_words(plain(words.person(one.by)), words.clock(one.at))
            return [Fault(file=_SOURCE, key="", problem=told[0], remedy=told[1])]
    try:
        enter(tx.layup, [entry], {profile.id: profile}, words.now, _SOURCE)
    except RecordError as error:
        return error.faults
    return ()


def take_entry_back(tx: Transaction, bench: BenchCraft, entry: str, by: str) -> None:
    """Withdraw an entry of one's own that is a few minutes old.

    Raises
    ------
    ActError
        If there is none such.
    """
    now = bench.words.now
    mine = next((one for one in bench.record.on_record if one.id == entry), None)
    if mine is None or not can_take_back(mine, by, now):
        raise ActError("this work was not entered by you within the last 10 minutes")
    gone = LayupEntry(
        id="new", craft=mine.craft, at=max(now, mine.at), by=by, act=Act.WITHDRAWN, replaces=entry
    )
    profile = bench.record.profile
    gone = replace(gone, id=derived_id(gone))
    enter(tx.layup, [gone], {profile.id: profile}, now, _SOURCE)


def can_take_back(entry: LayupEntry, by: str, now: datetime) -> bool:
    """Whether somebody may still take an entry back by one tap."""
    return entry.by == by and now - entry.at <= GIVE_BACK_WITHIN
