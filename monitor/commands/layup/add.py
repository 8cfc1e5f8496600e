"""``laidup layup add``: one piece of work into the record, by flags or question by question."""

import argparse
import re
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from monitor.commands.layup.after_entry import print_consequence
from monitor.commands.layup.prompt import ask_for_entry
from monitor.commands.layup.question import NO, YES, BackError, Bench, LeftError
from monitor.commands.opening import (
    Opened,
    add_config,
    craft_named,
    names_on_record,
    open_to_enter,
    tell_marked,
)
from monitor.craft.acts import all_circuits
from monitor.craft.admission import claims_beyond_reach, faults
from monitor.craft.fields import ENTERED_FIELDS, Field, FieldKind
from monitor.craft.layup import LayupEntry
from monitor.craft.naming import said_of_craft
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, LaidupError, RecordError, fault_from
from monitor.settings.layup_form import EntryForm, in_zone
from monitor.settings.layup_written import written_form
from monitor.store.entering import enter
from monitor.yard.people import names_by_id

SOURCE = Path("layup add")
_NOT_FLAGS = frozenset({"id", "craft"})  # the craft stands behind the verb
_META = {
    FieldKind.MOMENT: "TIME",
    FieldKind.DAY: "DATE",
    FieldKind.ID: "ID",
    FieldKind.FINDING: "ID:PART:WORDS",
}


def add_verb(verbs: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the verb."""
    parser = verbs.add_parser(
        "add",
        help="enter a piece of work; without flags it asks",
        description=(
            "Enter one piece of work on one craft. Without --act it asks, question by question."
            " Nothing on record is ever edited: `layup correct` puts a mistake right."
        ),
    )
    parser.add_argument("craft", nargs="?", metavar="CRAFT")
    add_field_flags(parser)
    parser.add_argument("--json", action="store_true", help="for machines, in SI units")
    add_config(parser)
    parser.set_defaults(run=run)


def add_field_flags(parser: argparse.ArgumentParser) -> None:
    """Add one flag for each field of an entry."""
    # argparse takes -12C for an unknown flag, because it knows -12 only as a bare number.
    parser._negative_number_matcher = re.compile(r"-\.?\d")
    for field in ENTERED_FIELDS:
        if field.path not in _NOT_FLAGS:
            parser.add_argument(
                field.flag,
                # As the column of a list is called: `--circuits` beside `--circuit`.
                *({f"--{field.column.replace('_', '-')}"} - {field.flag} if field.many else ()),
                action="append" if field.many else "store",
                metavar=_metavar_of(field),
                dest=field.column,
                help=_help_of(field),
            )


def _metavar_of(field: Field) -> str | None:
    if field.path == "act":
        return "ACT"
    if field.words:
        return f"{{{','.join(field.words)}}}"
    if field.dimension is not None:
        return field.dimension.name.upper()
    return _META.get(field.kind, "TEXT")


def _help_of(field: Field) -> str:
    about = f"{field.about}; repeat it for several" if field.many else field.about
    if field.path == "act":
        about = f"one of {', '.join(field.words)}"
    return about.replace("%", "%%")


def said_by_flags(arguments: argparse.Namespace) -> dict[str, Any]:
    """What the flags said, by column; only what was given."""
    return {
        field.column: value
        for field in ENTERED_FIELDS
        if field.path not in _NOT_FLAGS
        and (value := getattr(arguments, field.column, None)) is not None
    }


def run(arguments: argparse.Namespace) -> int:
    """Enter the work and say what it adds up to."""
    with open_to_enter(arguments, craft_files=True) as bench:
        if arguments.act is None:
            if not sys.stdin.isatty():
                raise missing_value(
                    SOURCE, "--act", "Name the act, or run it at a terminal to be asked."
                )
            return _ask_step_by_step(arguments, bench)
        if arguments.craft is None:
            raise missing_value(SOURCE, "CRAFT", "Name the craft by its id or name.")
        craft = craft_named(arguments.craft, names_on_record(bench))
        form = written_form(
            _said_of(craft, arguments, bench),
            datetime.now(bench.yard.zone),
            names_by_id(bench.yard),
            SOURCE,
            shelf=bench.yard.shelf,
        )
        _enter_form(form, craft, bench, as_json=arguments.json)
    return 0


def _said_of(craft: str, arguments: argparse.Namespace, bench: Opened) -> dict[str, Any]:
    """What the flags said of a craft, its circuits by the names that they have there."""
    with bench.store.snapshot() as tx:
        record = tx.layup.record_of(craft, bench.profiles)
    said = said_by_flags(arguments)
    try:
        return said if record is None else said_of_craft(said, record.profile)
    except ValueError as error:
        raise RecordError([fault_from(error, str(SOURCE), "--circuit")]) from error


def _ask_step_by_step(arguments: argparse.Namespace, bench: Opened) -> int:
    """Ask for one step after another on one craft, until there is none."""
    said, before, written = arguments.craft, None, 0
    craft = None if said is None else craft_named(said, names_on_record(bench))
    while True:
        with bench.store.snapshot() as tx:
            records = tx.layup.all_records(bench.profiles)
        by_id = {one.craft.id: one for one in records}
        now = datetime.now(bench.yard.zone)
        asked = Bench(
            answer=input,
            say=print,
            now=now,
            names=names_by_id(bench.yard),
            shelf=bench.yard.shelf,
        )

        def refuse_form(craft: str, form: EntryForm) -> list[Fault]:
            return _faults_of_form(form, by_id[craft], bench)  # noqa: B023  used at once

        answers = ask_for_entry(records, craft, asked, refuse_form, before)
        if answers is None:
            print("Nothing was written." if not written else "Nothing more was written.")
            return 0 if written else 1
        craft, form = answers
        if not _enter_answers(form, craft, bench, asked, as_json=arguments.json):
            return 1
        written += 1
        at = in_zone(form.at, bench.yard.zone).astimezone(bench.yard.zone)
        before = {"by": form.by, "at": _time_of_next_step(at, hour_told=form.day_began is None)}
        more = _ask_another_step(asked, by_id[craft].craft.name)
        if more is None:
            return 0
        before["act"] = more


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


def _faults_of_form(form: EntryForm, record: CraftRecord, bench: Opened) -> list[Fault]:
    """All that would keep a form out of the record, so that it is asked for before it is written.

    As in `enter`: a record that cannot be believed is no reason, for what is entered is kept.
    """
    try:
        entry = entry_of_form(form, record.craft.id, record, bench)
    except RecordError as error:
        return error.faults
    whole = replace(record, entries=record.on_record)
    return [
        *faults(entry, whole, str(SOURCE), "", datetime.now(UTC)),
        *claims_beyond_reach(entry, whole, str(SOURCE), ""),
    ]


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
            _enter_form(form, craft, bench, as_json=as_json)
        except LaidupError as error:
            print(f"Not written: {error}", file=sys.stderr)
        else:
            return True
        try:
            if not asked.ask_agreement("Your answers are kept. Write them now?", enter_is=True):
                return False
        except (LeftError, BackError, EOFError):
            return False


def _enter_form(form: EntryForm, craft: str, bench: Opened, *, as_json: bool) -> None:
    with bench.store.transaction() as tx:
        before = tx.layup.record_of(craft, bench.profiles)
        entry = entry_of_form(form, craft, before, bench)
        new = enter(tx.layup, [entry], bench.profiles, datetime.now(UTC), str(SOURCE))
        after = tx.layup.record_of(craft, bench.profiles)
        tell_marked(tx.layup.chain.marked)
    if before is not None and after is not None:
        print_consequence(bench, [entry], before, after, new, as_json=as_json)


def entry_of_form(
    form: EntryForm, craft: str, record: CraftRecord | None, bench: Opened
) -> LayupEntry:
    """The entry that a form says, "all" circuits put in by name.

    Raises
    ------
    RecordError
        If it cannot be an entry.
    """
    try:
        known = None if record is None else all_circuits(form.act, record.profile)
        return form.to_layup_entry(craft, bench.yard.zone, known)
    except ValueError as error:
        raise RecordError([fault_from(error, str(SOURCE), craft)]) from error


def missing_value(source: Path, key: str, remedy: str) -> RecordError:
    """What a person left out, with what to do."""
    fault = Fault(file=str(source), key=key, problem="it is missing", remedy=remedy)
    return RecordError([fault])
