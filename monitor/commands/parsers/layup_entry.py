"""Flags of the verbs of ``laidup layup`` that write: add, correct, confirm and their like."""

import argparse

from monitor.commands.parsers.flags import (
    Children,
    DeferredFunction,
    add_config,
    add_json,
    take_negative_quantities,
)
from monitor.craft.fields import ENTERED_FIELDS, Field, FieldKind

_ABOUT_CONFIRM = "say that a broken record was compared with the paper, so that it counts again"
_WHO_WRITES = "who puts it right (the user of this machine, where the yard knows that name)"
NOT_FLAGS = frozenset({"id", "craft"})  # the craft stands behind the verb
_META = {
    FieldKind.MOMENT: "TIME",
    FieldKind.DAY: "DATE",
    FieldKind.ID: "ID",
    FieldKind.FINDING: "ID:PART:WORDS",
}


def add_add(verbs: Children) -> None:
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
    _add_field_flags(parser)
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.layup.add", "run"))


def _add_field_flags(parser: argparse.ArgumentParser) -> None:
    """Add one flag for each field of an entry."""
    take_negative_quantities(parser)
    for field in ENTERED_FIELDS:
        if field.path not in NOT_FLAGS:
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


def add_changes(verbs: Children) -> None:
    """Add the three verbs."""
    correct = _add_change(
        verbs, "correct", "run_correct", "name what was wrong in an entry, and only that"
    )
    _add_field_flags(correct)
    correct.add_argument(
        "--clear",
        action="append",
        default=[],
        metavar="FIELD",
        help="a field nobody said after all",
    )
    withdraw = _add_change(
        verbs, "withdraw", "run_withdraw", "an entry never happened; of a withdrawal: it did"
    )
    reassign = _add_change(verbs, "reassign", "run_reassign", "an entry belongs to another craft")
    reassign.add_argument("to", metavar="CRAFT", help="id or name of the right craft")
    for parser in (withdraw, reassign):
        parser.add_argument(
            "--entered-by", "--by", dest="entered_by", metavar="PERSON", help=_WHO_WRITES
        )
        parser.add_argument("--note", metavar="TEXT", help="why")


def _add_change(
    verbs: Children,
    name: str,
    run: str,
    about: str,
) -> argparse.ArgumentParser:
    parser = verbs.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}.")
    parser.add_argument("entry", metavar="ENTRY", help="its id, or the beginning of it")
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.layup.change", run))
    return parser


def add_confirm(verbs: Children) -> None:
    """Add the verb."""
    parser = verbs.add_parser(
        "confirm",
        help=_ABOUT_CONFIRM,
        description=(
            "Tells where the record of a craft is not what was written; with --all of every craft,"
            " and of the yard's list of links as a whole. With --compared, enters that this was"
            " compared with a backup or the paper, and what was missing entered: the record counts"
            " again. An entry that was changed is answered by a correction or a withdrawal only."
        ),
    )
    parser.add_argument("craft", metavar="CRAFT", nargs="*", help="id or name of the craft")
    parser.add_argument("--all", action="store_true", help="every craft, and the yard's whole list")
    parser.add_argument("--by", required=True, metavar="PERSON", help="who compared it")
    parser.add_argument("--compared", action="store_true", help="it is done; without it, only tell")
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.layup.confirm", "run_confirm"))
