"""The spring list of one craft: each step before its first start, and the entry that a tap makes.

A tick is an entry of the lay-up record, and taking it back is a further one.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from monitor.craft.canonical import entry_from
from monitor.craft.layup import SEVERAL_LINES, Act, LayupEntry, OilAppearance, Outflow
from monitor.craft.plan.step import Ask, JobStep, StepKind
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.craft.spring import READY_STEPS
from monitor.craft.spring_progress import SpringProgress, spring_progress
from monitor.errors import ActError, BadValueError
from monitor.phrases.spring_progress import (
    ANY_NOTE,
    LACKING,
    NOTE_NEEDED,
    NOTE_QUESTIONS,
    needs_note,
    step_words,
    ticked_words,
)
from monitor.store.entering import enter
from monitor.store.store import Transaction
from monitor.units import VOLTAGE, parse_quantity
from monitor.web.pages.bench import key_of_step
from monitor.web.pages.bench_answers import when_done
from monitor.wording import Wording
from monitor.yard.space import Yard, shelters

_LONGEST_NOTE = 500
_DRAFT = re.compile(r"s-[0-9a-f]{16}")
_SOURCE = "spring"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepOfSpring:
    """One line of the list."""

    number: int
    key: str
    title: str
    sentence: str
    step: JobStep
    done: str  # who, when, what was read; empty: open
    entry: str  # id of the entry that ticked it off, where it can be taken back here
    question: str  # beside the note
    note_needed: bool
    asks: tuple[str, ...]
    can_be_ticked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringPage:
    """What the template shows."""

    record: CraftRecord
    progress: SpringProgress
    steps: tuple[StepOfSpring, ...]
    words: Wording

    @property
    def next_step(self) -> str:
        """Key of the first step that is open and can be ticked off; empty if there is none."""
        return next((one.key for one in self.steps if not one.done and one.can_be_ticked), "")


def read_spring_page(
    tx: Transaction, yard: Yard, profiles: Mapping[str, Profile], craft: str, words: Wording
) -> SpringPage | None:
    """Read a craft and how far it is; None if there is no such craft in the yard."""
    record = tx.layup.record_of(craft, profiles)
    if record is None or not record.in_yard_at(words.now):
        return None
    progress = spring_progress(record, shelters(yard), words.now)
    return SpringPage(
        record=record,
        progress=progress,
        steps=tuple(_lines(record, progress, words)),
        words=words,
    )


def _lines(record: CraftRecord, progress: SpringProgress, words: Wording) -> list[StepOfSpring]:
    found = []
    for number, one in enumerate(progress.steps, start=1):
        title, sentence = step_words(one, record.profile, words)
        after = one.step.kind in {StepKind.FIRST_START, StepKind.COMMISSION}
        closed = one.step.kind is StepKind.SIGN_OFF and bool(progress.open_before_start)
        found.append(
            StepOfSpring(
                number=number,
                key=key_of_step(one.step),
                title=title,
                sentence=sentence,
                step=one.step,
                done="" if one.done_by is None else ticked_words(one.done_by, words),
                entry="" if one.done_by is None else one.done_by.id,
                question=NOTE_QUESTIONS.get(one.step.kind, ANY_NOTE),
                note_needed=one.step.kind in NOTE_NEEDED,
                asks=tuple(ask.name for ask in one.step.asks),
                can_be_ticked=not closed and (progress.may_be_started or not after),
            )
        )
    return found


def tick_step(
    tx: Transaction, page: SpringPage, form: Mapping[str, str], by: str
) -> tuple[str, dict[str, str]]:
    """Enter the step that a form ticks off.

    Parameters
    ----------
    tx : Transaction
    page : SpringPage
        Read in it.
    form : mapping of str to str
    by : str
        Who enters it.

    Returns
    -------
    tuple of str and dict
        The step's key, and why nothing was entered, by field; empty if it was, or had been sent
        before.

    Raises
    ------
    ActError
        If the list has changed so that there is no such step to tick off.
    RecordError
        If the record does not take the entry.
    """
    draft, key = form.get("draft", ""), form.get("step", "")
    if not _DRAFT.fullmatch(draft):
        raise ActError("this form was not made here; open the page again")
    sent = next((one for one in page.record.on_record if one.id == draft), None)
    if sent is not None:
        if sent.by != by:
            raise ActError("this form is another person's; open the page again")
        if any(one.act is Act.WITHDRAWN and one.replaces == draft for one in page.record.on_record):
            raise ActError("it was ticked off, and taken back since; look at the list anew")
        return key, {}
    line = next((one for one in page.steps if one.key == key), None)
    if line is None:
        raise ActError("that step is no longer on the list; look at it anew")
    if line.done:
        raise ActError(f"that step is on record already: {line.done}")
    if not line.can_be_ticked or line.step.act is None:
        raise ActError("DO NOT START: steps before it are open")
    said, wrong = _read_form(line.step, form, page.words)
    if wrong:
        return key, wrong
    entry = entry_from(
        {
            **said,
            "id": draft,
            "craft": page.record.craft.id,
            "by": by,
            "act": line.step.act,
            "circuits": _circuits_of(line.step),
            "readied": READY_STEPS.get(line.step.kind),
            "settles": (line.step.finding.seen.id,) if line.step.finding else (),
        }
    )
    _write(tx, page, entry)
    return key, {}


def take_tick_back(tx: Transaction, page: SpringPage, entry: str, by: str) -> None:
    """Withdraw the entry that ticked a step off, by a further entry.

    Raises
    ------
    ActError
        If no step of the list is done by it.
    """
    if entry not in {one.entry for one in page.steps if one.entry}:
        raise ActError("no step is on record by that entry; look at the list anew")
    _write(
        tx,
        page,
        entry_from(
            {
                "id": f"{entry[:60]}-back",
                "craft": page.record.craft.id,
                "at": page.words.now,
                "by": by,
                "act": Act.WITHDRAWN,
                "replaces": entry,
            }
        ),
    )


def _write(tx: Transaction, page: SpringPage, entry: LayupEntry) -> None:
    profile = page.record.profile
    enter(tx.layup, [entry], {profile.id: profile}, page.words.now, _SOURCE)


def _circuits_of(step: JobStep) -> tuple[str, ...]:
    """What the entry names: the first run is of every engine, a battery of no circuit."""
    return step.circuits if step.finding is None else ()


def _read_form(
    step: JobStep, form: Mapping[str, str], words: Wording
) -> tuple[dict[str, Any], dict[str, str]]:
    """The values of an entry by path, and what cannot be used, by field."""
    said: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    if text := form.get("at", "").strip():
        _read_time(text, words, said, wrong)
    else:
        try:
            said["at"] = when_done(form, words.now)
        except BadValueError as error:
            wrong["at"] = f"{error}"
    note = form.get("note", "").replace("\r\n", "\n").strip()
    if len(note) > _LONGEST_NOTE or not re.search(SEVERAL_LINES, note):
        wrong["note"] = f"Write it in {_LONGEST_NOTE} letters at most, by hand."
    elif note:
        said["note"] = note
    elif step.kind in NOTE_NEEDED:
        wrong["note"] = needs_note(step.kind)
    if Ask.CLEAR_OIL in step.asks:
        said["evidence.oil"] = OilAppearance.CLEAR
        if form.get("oil") != OilAppearance.CLEAR:
            wrong["oil"] = LACKING[Ask.CLEAR_OIL] if form.get("oil") else "How did it look?"
    if Ask.CLEAR_WATER in step.asks:
        said["evidence.outflow"] = Outflow.CLEAR_WATER
        if form.get("outflow") != Outflow.CLEAR_WATER:
            wrong["outflow"] = LACKING[Ask.CLEAR_WATER]
    if Ask.RESTED_VOLTAGE in step.asks:
        try:
            said["rested_v"] = _volts_in(form.get("rested", ""))
        except ValueError as error:
            wrong["rested"] = f"{error}" if form.get("rested") else LACKING[Ask.RESTED_VOLTAGE]
    return said, wrong


def _read_time(text: str, words: Wording, said: dict[str, Any], wrong: dict[str, str]) -> None:
    try:
        at = datetime.fromisoformat(text).replace(tzinfo=words.zone)
    except ValueError:
        wrong["at"] = "Write it as 2027-04-18T10:00."
        return
    if at > words.now:
        wrong["at"] = "That is still to come."
        return
    said["at"] = at


def _volts_in(text: str) -> float:
    text = text.strip().replace(",", ".")
    volts = parse_quantity(text if "V" in text.upper() else f"{text} V", VOLTAGE)
    if not 0.0 < volts <= 60.0:
        raise BadValueError(f"{volts:g} V at rest", "a craft's battery has 0 to 60 V")
    return volts
