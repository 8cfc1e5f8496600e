"""Flags of ``laidup layup`` and of its verbs that show; those that enter stand beside."""

import argparse

from monitor.commands.parsers.flags import (
    Children,
    DeferredFunction,
    add_at,
    add_config,
    add_json,
    take_negative_quantities,
)
from monitor.commands.parsers.layup_entry import add_add, add_changes, add_confirm

_ABOUT_PLAN = "the job on each craft for a stated low, in working order, with quantities"
_ABOUT_SUPPLIES = "what all plans together take of each product, and when the work is done"


def add_parser(children: Children, about: str) -> None:
    """Add the command and its verbs."""
    parser = children.add_parser(
        "layup", help=about, description=f"{about[:1].upper()}{about[1:]}."
    )
    verbs = parser.add_subparsers(metavar="VERB", required=True)
    add_add(verbs)
    add_changes(verbs)
    add_confirm(verbs)
    _add_move(verbs)
    listed = _add_verb(
        verbs,
        "list",
        _function_of("command", "show_list"),
        "every craft and what it holds; for one craft, its record",
    )
    _add_low(listed)
    _add_verb(
        verbs,
        "protection",
        _function_of("command", "show_protection"),
        "what each circuit can stand, and how we know",
    )
    _add_low(
        _add_verb(
            verbs,
            "plan",
            _function_of("plan", "show_plans"),
            _ABOUT_PLAN,
            also=("missing",),
        )
    )
    _add_crew(_add_verb(verbs, "supplies", _function_of("plan", "show_supplies"), _ABOUT_SUPPLIES))
    _add_verb(
        verbs,
        "review",
        _function_of("plan", "show_review"),
        "the record held against the rules of the trade",
    )
    found = _add_verb(
        verbs,
        "findings",
        _function_of("command", "show_findings"),
        "what was found to need work",
    )
    found.add_argument("--all", action="store_true", help="those that were settled, too")
    _add_verb(
        verbs,
        "spring",
        _function_of("spring", "show_spring"),
        "what to do before the first start, in order, and what is done of it",
    )


def _add_verb(
    verbs: Children,
    name: str,
    show: DeferredFunction,
    about: str,
    also: tuple[str, ...] = (),
) -> argparse.ArgumentParser:
    parser = verbs.add_parser(name, help=about, description=about, aliases=also)
    parser.add_argument("craft", nargs="*", metavar="CRAFT", help="ids or names of craft (all)")
    add_at(parser, "as the record stood then")
    add_json(parser)
    add_config(parser)
    parser.set_defaults(
        run=DeferredFunction("monitor.commands.layup.command", "run_verb"), show=show
    )
    return parser


def _add_move(verbs: Children) -> None:
    parser = verbs.add_parser("move", help="a craft stands somewhere else from now on")
    parser.add_argument("craft", metavar="CRAFT")
    parser.add_argument("place", metavar="PLACE", help="SPACE or SPACE/BERTH")
    add_at(parser, "when it was moved")
    parser.add_argument(
        "--by",
        metavar="PERSON",
        help="who moved it (the user of this machine, where the yard knows that name)",
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.layup.moving", "move_craft"))


def _add_low(parser: argparse.ArgumentParser) -> None:
    """Add the low that circuits are to stand."""
    take_negative_quantities(parser)
    parser.add_argument(
        "--low", metavar="TEMP", help="coldest, like -12C or 10F (the yard's design_low)"
    )


def _add_crew(parser: argparse.ArgumentParser) -> None:
    """Add by how many hands, and how much of a day, the work is done."""
    _add_low(parser)
    parser.add_argument("--hands", type=int, help="people who work on it (`hands` of [duty])")
    parser.add_argument(
        "--day",
        metavar="TIME",
        help="what each of them works on it of a day, like 6h (half a day)",
    )


def _function_of(module: str, function: str) -> DeferredFunction:
    return DeferredFunction(f"monitor.commands.layup.{module}", function)
