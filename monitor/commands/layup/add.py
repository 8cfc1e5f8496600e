"""``laidup layup add``: one piece of work into the record, by flags or question by question."""

import argparse
import re
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.commands.layup.form_entry import SOURCE, enter_form, missing_value
from monitor.commands.layup.interview import ask_step_by_step
from monitor.commands.layup.unfinished import answers_kept
from monitor.commands.opening import (
    Opened,
    add_config,
    craft_named,
    names_on_record,
    open_to_enter,
)
from monitor.craft.fields import ENTERED_FIELDS, Field, FieldKind
from monitor.craft.naming import said_of_craft
from monitor.errors import RecordError, fault_from
from monitor.settings.layup_written import written_form
from monitor.yard.people import names_by_id

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
            craft = None
            if arguments.craft is not None:
                craft = craft_named(arguments.craft, names_on_record(bench))
            with answers_kept(Path(arguments.config).resolve()) as answers:
                return ask_step_by_step(craft, bench, answers, as_json=arguments.json)
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
        enter_form(form, craft, bench, as_json=arguments.json)
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
