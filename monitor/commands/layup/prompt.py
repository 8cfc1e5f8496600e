"""The questions of the bench: one at a time, only those that the act and the craft call for."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import Any

from monitor.commands.layup.answers_so_far import (
    FIELD_BY_COLUMN,
    AnswersSoFar,
    Keep,
    summary_of_answers,
)
from monitor.commands.layup.circuit_questions import ask_circuits
from monitor.commands.layup.question import (
    BackError,
    Bench,
    LeftError,
    ask_choice,
    ask_field,
)
from monitor.craft.acts import ActRow, is_gear_oil
from monitor.craft.asking import Asked, acts_that_fit, circuits_to_offer, fields_to_ask
from monitor.craft.fields import BY_PATH, Field, FieldKind
from monitor.craft.findings import new_finding_id, open_findings
from monitor.craft.layup import ANTIFREEZE, Act, FindingKind, Liquid, Posture
from monitor.craft.record import CraftRecord
from monitor.craft.work_order import standing_entries
from monitor.errors import ConfigurationError, Fault
from monitor.settings.entry_as_typed import from_shelf, written_form
from monitor.settings.layup_form import EntryForm
from monitor.settings.written_times import lasting_time

# Faults of an entry that is about to be written; empty if it may be.
Refuse = Callable[[str, EntryForm], list[Fault]]

_SOURCE = Path("layup add")
_HOW = (
    "Enter alone leaves a question open: nothing is assumed. < goes back to the question before,"
    " q leaves without an entry."
)
# What settles it hangs on its kind: left open, only a repair does.
_KIND_OF_FINDING = "What is it, if one of these?"
_PART = Field(path="part", kind=FieldKind.LINE, label="part", about="", question="On which part?")


def ask_for_entry(
    records: list[CraftRecord],
    craft: str | None,
    bench: Bench,
    refuse: Refuse,
    before: Mapping[str, str] | None = None,
    answered: Sequence[tuple[str, Any]] = (),
    keep: Keep | None = None,
) -> tuple[str, EntryForm] | None:
    """Ask for one entry, question by question; a refused answer is asked again, the others stay.

    Parameters
    ----------
    records : list of CraftRecord
        Craft to choose from.
    craft : str or None
        The craft, if it is known already.
    bench : Bench
        Where questions are put, and whose clock and people count.
    refuse : callable
        Tells what would keep an entry out of the record.
    before : mapping of str to str, optional
        ``by`` and ``at`` of the step before, which Enter takes over; ``act``: what was typed for
        the act already.
    answered : sequence of pairs, optional
        Columns and answers that were given before.
    keep : callable, optional
        Is told all answers after each, and that there are none once the person left with ``q``.

    Returns
    -------
    tuple of str and EntryForm, or None
        Craft and entry; None if the person left with ``q``, or nobody answers any more.
    """
    by_id = {record.craft.id: record for record in records}
    try:
        if before is None:
            bench.say(_HOW)
        if craft not in by_id:
            craft = _ask_craft(by_id, bench)
        entry = AnswersSoFar(record=by_id[craft], said={}, keep=keep)
        for column, answer in answered:
            entry.put_answer(column, answer)
        while True:
            _ask_what_is_open(entry, bench, before or {})
            form = _form_of_answers(entry, bench)
            faults = [] if form is None else refuse(craft, form)
            if form is None:
                continue
            if faults:
                for one in faults:
                    bench.say(f"  {one.problem}. {one.remedy}")
                entry.take_back(faults[0].key.rpartition(".")[2])
                entry.save_answers()
                continue
            answers = summary_of_answers(entry, form)
            bench.say(f"{form.act} on {entry.record.craft.name} ({craft}): {answers}")
            if _is_poison_for_people(entry):
                bench.say(
                    "  ! Ethylene glycol is poison, and people drink from there or wash with it."
                    " Was it propylene? If not, tag it and flush it into a drum."
                )
            if _is_to_be_written(bench):
                return craft, form
            entry.take_back()
            entry.save_answers()
    except LeftError:
        if keep is not None:
            keep(craft or "", ())
        return None
    except EOFError:
        return None


def _is_poison_for_people(entry: AnswersSoFar) -> bool:
    """Whether ethylene glycol is about to be entered where people drink or wash."""
    circuits = [entry.record.profile.find(name) for name in entry.said.get("circuits") or ()]
    ethylene = entry.said.get("liquid") == Liquid.ETHYLENE
    return ethylene and any(one.circuit.drinking for one in circuits)


def _is_to_be_written(bench: Bench) -> bool:
    """Ask until the person says; False where the last answer is wanted again.

    All that was answered hangs on this: neither Enter nor a no throws it away, only leaving does.
    """
    while True:
        try:
            if bench.ask_agreement("Write it into the record?", enter_is=None):
                return True
        except BackError:
            return False
        bench.say("  Not written yet. < changes the last answer, q leaves without an entry.")


def _show_craft(by_id: Mapping[str, CraftRecord], bench: Bench) -> None:
    for number, (key, record) in enumerate(by_id.items(), start=1):
        bench.say(f"  {number}: {record.craft.name} ({key}), {record.profile.name}")


def _ask_craft(by_id: Mapping[str, CraftRecord], bench: Bench) -> str:
    _show_craft(by_id, bench)
    also = [(record.craft.name.lower(), key) for key, record in by_id.items()]
    while True:
        try:
            return ask_choice(
                "Which craft (number, id or name)?",
                tuple(by_id),
                bench,
                needed=True,
                listed=True,
                also=also,
                names={key: f"{one.craft.name} ({key})" for key, one in by_id.items()},
                show=lambda: _show_craft(by_id, bench),
            )
        except BackError:
            bench.say("  This is the first question.")


def _ask_what_is_open(entry: AnswersSoFar, bench: Bench, before: Mapping[str, str]) -> None:
    """Ask until no question is open."""
    while (column := _next_column(entry, bench)) is not None:
        try:
            entry.put_answer(column, _answer_to(column, entry, bench, before))
        except BackError:
            if entry.order:
                entry.take_back()
            else:
                bench.say("  This is the first question.")
        entry.save_answers()


def _next_column(entry: AnswersSoFar, bench: Bench) -> str | None:
    """Column of the first question that has no answer yet."""
    for column in ("act", "by", "at"):
        if column not in entry.order:
            return column
    asked = fields_to_ask(_question_for(entry, bench))
    return next((one.column for one in asked if one.column not in entry.order), None)


def _question_for(entry: AnswersSoFar, bench: Bench) -> Asked:
    return Asked(
        act=Act(entry.said["act"]),
        profile=entry.record.profile,
        said={
            FIELD_BY_COLUMN[key].path: _plain_answer(key, value)
            for key, value in entry.said.items()
        },
        open_findings=bool(_open_circuits(entry.record, bench)),
        on_record=standing_entries(entry.record.entries),
    )


def _plain_answer(column: str, value: Any) -> Any:  # noqa: ANN401  any field's
    """An answer as the record would hold it, where further questions hang on it."""
    asked = FIELD_BY_COLUMN[column]
    if asked.choices is not None:
        return asked.choices(value)
    return value == "yes" if asked.kind is FieldKind.YES_NO else value


def _open_circuits(record: CraftRecord, bench: Bench) -> tuple[str, ...]:
    return tuple(one.seen.id for one in open_findings(record.entries, bench.now, record.profile))


def _answer_to(column: str, entry: AnswersSoFar, bench: Bench, before: Mapping[str, str]) -> Any:  # noqa: ANN401
    if column == "act":
        return _ask_act(entry, bench, before)
    if column == "by":
        return ask_field(BY_PATH["by"], bench, needed=True, open_is=before.get("by", ""))
    if column == "at":
        return lasting_time(
            ask_field(BY_PATH["at"], bench, open_is=before.get("at", "now")), bench.now
        )
    if column == "circuits":
        return ask_circuits(Act(entry.said["act"]), entry.record, bench)
    if column == "product":
        return _ask_product(entry, bench)
    if column == "findings":
        return _ask_finding(entry.record, bench)
    if column == "settles":
        found = ask_choice(BY_PATH["settles"].question, _open_circuits(entry.record, bench), bench)
        return [found] if found else None
    stands = column == "posture" and entry.said["act"] == Act.STOOD
    return ask_field(FIELD_BY_COLUMN[column], bench, needed=stands)


def _ask_act(entry: AnswersSoFar, bench: Bench, before: Mapping[str, str]) -> str:
    profile = entry.record.profile
    rows = acts_that_fit(profile)

    # What was typed in place of a yes to another step is the answer; the list is known by then.
    given = [before["act"]] if before.get("act") and not entry.seen_acts else []
    if not before and not entry.seen_acts:
        _show_acts(rows, bench)
    entry.seen_acts = True
    also = [(name.lower(), str(row.act)) for row in rows for name in (row.name, *row.also)]
    typed: list[str] = []

    def answer(question: str) -> str:
        typed.append(given.pop() if given else bench.answer(question))
        return typed[-1]

    while True:
        act = ask_choice(
            "What was done (number or words)?" if not before else "What was done (? lists it)?",
            tuple(str(row.act) for row in rows),
            replace(bench, answer=answer),
            needed=True,
            listed=True,
            also=also,
            names={str(row.act): row.name for row in rows},
            show=partial(_show_acts, rows, bench),
        )
        words = typed[-1].strip().lower()
        housing = circuits_to_offer(Act.OIL_CHANGED, profile)
        if act != Act.OIL_CHANGED or not is_gear_oil(words) or housing:
            break
        bench.say(
            f"  {profile.name} has no gearcase on file. Oil changed is the engine's own oil;"
            " tell that of a gearbox as a note."
        )
    _take_what_it_tells(entry, act, words, housing)
    return act


def _show_acts(rows: Sequence[ActRow], bench: Bench) -> None:
    """List the acts by their kind of work, numbered through."""
    for work, group in groupby(enumerate(rows, start=1), key=lambda pair: pair[1].work):
        bench.say(f"{work[:1].upper()}{work[1:]}")
        for number, row in group:
            bench.say(f"  {number}: {row.name}")


def _take_what_it_tells(
    entry: AnswersSoFar, act: str, words: str, housing: Collection[str]
) -> None:
    """Take up what the words for an act say beside the act: how it stood, and which oil."""
    # "stood upright" has told how it stands already.
    told = next((str(one) for one in Posture if f" {words}".endswith(f" {one}")), None)
    if act == Act.STOOD and told is not None:
        entry.put_answer("posture", told)
    if act == Act.OIL_CHANGED and is_gear_oil(words) and len(housing) == 1:
        entry.put_answer("circuits", list(housing))


def _ask_product(entry: AnswersSoFar, bench: Bench) -> str | None:
    """Which product; of one on the yard's shelf nothing more is asked."""
    shelf = bench.shelf if Act(entry.said["act"]) in ANTIFREEZE else ()
    for number, one in enumerate(shelf, start=1):
        bench.say(f"  {number}: {one.name}, {one.strength * 100:.3g} % {one.liquid}, lot {one.lot}")
    text: str | None = ask_field(BY_PATH["product.name"], bench)
    if text and text.isdigit() and 0 < int(text) <= len(shelf):
        text = shelf[int(text) - 1].name
    known = from_shelf(text, shelf)
    for column in ("liquid", "strength", "label_burst", "lot") if known else ():
        entry.put_answer(column, known.get(column))
    return known.get("product", text)


def _ask_finding(record: CraftRecord, bench: Bench) -> list[dict[str, str]] | None:
    """What needs work, with an id of its own that is made of the craft and the part."""
    words = bench.read_typed(BY_PATH["findings"].question)
    if not words:
        return None
    part = str(ask_field(_PART, bench, needed=True))
    kind = ask_choice(_KIND_OF_FINDING, tuple(FindingKind), bench)
    found = {
        "id": new_finding_id(record.craft.id, part, record.entries),
        "part": part,
        "words": words,
    }
    return [found | ({"kind": kind} if kind else {})]


def _form_of_answers(entry: AnswersSoFar, bench: Bench) -> EntryForm | None:
    """The form that the answers fill; None, with the reason said, where an answer cannot stand."""
    product = {"liquid", "strength", "label_burst", "lot"} if "product" not in entry.said else set()
    said = {key: value for key, value in entry.said.items() if key not in product}
    try:
        return written_form(said, bench.now, bench.names, _SOURCE)
    except ConfigurationError as error:
        for one in error.faults:
            bench.say(f"  {one.problem}. {one.remedy}")
        entry.take_back(error.faults[0].key)
        return None
