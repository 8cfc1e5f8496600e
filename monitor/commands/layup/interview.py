"""The bench's questions, one step after another: answers are written, or kept for the next time."""

import sys
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from monitor.commands.layup.answers_so_far import answers_in_line
from monitor.commands.layup.form_entry import enter_form, entry_of_form, faults_of_form
from monitor.commands.layup.prompt import ask_for_entry
from monitor.commands.layup.question import NO, YES, BackError, Bench, LeftError
from monitor.commands.layup.unfinished import SavedAnswers, Unfinished
from monitor.commands.opening import Opened
from monitor.craft.fields import FIELDS
from monitor.craft.layup import Act
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, LaidupError
from monitor.settings.layup_form import EntryForm
from monitor.settings.written_times import in_zone
from monitor.yard.people import names_by_id

_COLUMNS = frozenset(one.column for one in FIELDS)


def ask_step_by_step(craft: str | None, bench: Opened, kept: SavedAnswers, *, as_json: bool) -> int:
    """Ask for one step after another on one craft, until there is none; tells the exit status.

    Parameters
    ----------
    craft : str or None
        Id of the craft, if it is known already.
    bench : Opened
    kept : SavedAnswers
        Takes each answer, and offers those of a bench that ended before it was done.
    as_json : bool
    """
    before: dict[str, str] | None = None
    written = 0
    while True:
        with bench.store.snapshot() as tx:
            records = tx.layup.all_records(bench.profiles)
        by_id = {one.craft.id: one for one in records}
        asked = _bench_now(bench)
        answered: Sequence[tuple[str, Any]] = ()
        try:
            resumed = _answers_taken_up(kept, by_id, asked)
        except (LeftError, EOFError):
            _tell_kept(kept)
            return 1
        if resumed is not None:
            craft, answered = resumed.craft, resumed.answers

        def refuse_form(craft: str, form: EntryForm) -> list[Fault]:
            return faults_of_form(form, by_id[craft], bench)  # noqa: B023  used at once

        def keep_answers(craft: str, answers: tuple[tuple[str, Any], ...]) -> None:
            _keep(kept, craft, answers, asked.now)  # noqa: B023  used at once

        try:
            answers = ask_for_entry(
                records, craft, asked, refuse_form, before, answered, keep_answers
            )
        except KeyboardInterrupt:
            _tell_kept(kept)
            raise
        if answers is None:
            print("Nothing was written." if not written else "Nothing more was written.")
            _tell_kept(kept)
            return 0 if written else 1
        craft, form = answers
        _mark_as_written(kept, form, by_id[craft], bench)
        if not _enter_answers(form, craft, bench, asked, as_json=as_json):
            _tell_kept(kept)
            return 1
        kept.forget_answers()
        written += 1
        at = in_zone(form.at, bench.yard.zone).astimezone(bench.yard.zone)
        before = {"by": form.by, "at": _time_of_next_step(at, hour_told=form.day_began is None)}
        more = _ask_another_step(asked, by_id[craft].craft.name)
        if more is None:
            return 0
        before["act"] = more


def _bench_now(bench: Opened) -> Bench:
    return Bench(
        answer=input,
        say=print,
        now=datetime.now(bench.yard.zone),
        names=names_by_id(bench.yard),
        shelf=bench.yard.shelf,
    )


def _answers_taken_up(
    kept: SavedAnswers, records: Mapping[str, CraftRecord], asked: Bench
) -> Unfinished | None:
    """Answers of a bench that ended before it was done, if the person goes on with them.

    An entry that was written although nobody was told is told now, and not offered.

    Raises
    ------
    LeftError, EOFError
        If the person neither goes on with it nor drops it: it stays.
    """
    found = kept.found
    kept.found = None
    if found is None:
        return None
    record = records.get(found.craft)
    said = dict(found.answers)
    if record is None or not _can_be_gone_on_with(said):
        kept.forget_answers()
        return None
    name = f"{record.craft.name} ({record.craft.id})"
    if any(one.id == found.entry for one in record.on_record):
        print(f"The last entry, {said['act']} on {name}, was written: {found.entry}.")
        kept.forget_answers()
        return None
    at = datetime.fromisoformat(found.kept_at)
    print(
        f"Not finished on {at.day} {at:%b, %H:%M}: {said['act']} on {name}: {answers_in_line(said)}"
    )
    try:
        goes_on = asked.ask_agreement("Go on with it? No drops it.", enter_is=None)
    except BackError:
        raise LeftError from None  # there is no question before it
    if not goes_on:
        kept.forget_answers()
    return found if goes_on else None


def _can_be_gone_on_with(said: Mapping[str, Any]) -> bool:
    return said.get("act") in set(Act) and set(said) <= _COLUMNS


def _keep(
    kept: SavedAnswers, craft: str, answers: tuple[tuple[str, Any], ...], now: datetime
) -> None:
    """Keep the answers of an entry that has an act; without one there is nothing to go on with."""
    if answers:
        kept.keep_answers(Unfinished(craft=craft, kept_at=now.isoformat(), answers=answers))
    else:
        kept.forget_answers()


def _mark_as_written(
    kept: SavedAnswers, form: EntryForm, record: CraftRecord, bench: Opened
) -> None:
    """Note the id that the entry will have, so that one that was written is not offered again."""
    entry = entry_of_form(form, record.craft.id, record, bench)
    kept.name_entry(entry.id)


def _tell_kept(kept: SavedAnswers) -> None:
    if kept.holds_answers:
        print("Your answers are kept: `laidup layup add` offers them.", file=sys.stderr)


def _time_of_next_step(at: datetime, *, hour_told: bool) -> str:
    """When the next step was done, unless the person says: not before the one that was written."""
    if hour_told and at.second:
        return at.isoformat(timespec="seconds")
    return f"{at.day} {at:%b %Y %H:%M}" if hour_told else f"{at.day} {at:%b %Y}"


def _ask_another_step(asked: Bench, name: str) -> str | None:
    """What was typed for its act, empty for a bare yes; None if there is none."""
    try:
        text = asked.read_typed(f"Another step on {name} (yes, or what was done)? [no]")
    except (LeftError, BackError, EOFError):
        return None
    if text.lower() in NO:
        return None
    return "" if text.lower() in YES else text or None


def _enter_answers(
    form: EntryForm, craft: str, bench: Opened, asked: Bench, *, as_json: bool
) -> bool:
    """Write what was answered; where the store refuses, keep it and try again as often as wanted.

    Returns
    -------
    bool
        False if the person left without it.
    """
    while True:
        try:
            enter_form(form, craft, bench, as_json=as_json)
        except LaidupError as error:
            print(f"Not written: {error}", file=sys.stderr)
        else:
            return True
        try:
            if not asked.ask_agreement("Your answers are kept. Write them now?", enter_is=True):
                return False
        except (LeftError, BackError, EOFError):
            return False
