"""Flags of ``laidup labels`` and ``laidup work-sheet``, which write pages to be printed."""

import argparse
from pathlib import Path

from monitor.commands.parsers.flags import (
    Children,
    DeferredFunction,
    add_at,
    add_config,
    add_json,
    take_negative_quantities,
)

# As `monitor.sheets.paper.Paper` has them.
_LABELS = ("62x100", "a4", "letter")
_SHEETS = ("a4", "letter")


def add_labels(children: Children, about: str) -> None:
    """Add the labels."""
    parser = children.add_parser(
        "labels",
        help=about,
        description=(
            "Writes a PDF with a label for each craft in the yard: DO NOT START, name and berth,"
            " what its weakest circuit holds and by whom, and a code that opens its page. On a"
            " sheet the labels stand with marks to cut by."
        ),
    )
    _add_shared(parser, _LABELS, "; 62x100 is one label a page, and usual")
    parser.set_defaults(run=DeferredFunction("monitor.commands.labels", "run"))


def add_work_sheet(children: Children, about: str) -> None:
    """Add the work sheets."""
    parser = children.add_parser(
        "work-sheet",
        help=about,
        description=(
            "Writes a PDF with the plan of each craft that has work left, one craft a page, with"
            " boxes for quantity, reading, colour and initials, and at the end what would also do."
        ),
    )
    _add_shared(parser, _SHEETS, " (a4; letter where the yard pours in fluid ounces)")
    take_negative_quantities(parser)
    parser.add_argument(
        "--low", metavar="TEMP", help="coldest, like -12C or 10F (the yard's design_low)"
    )
    parser.add_argument(
        "--spring",
        action="store_true",
        help="the steps before the first start that are open, in place of the lay-up",
    )
    parser.set_defaults(run=DeferredFunction("monitor.commands.work_sheet", "run"))


def _add_shared(parser: argparse.ArgumentParser, papers: tuple[str, ...], about: str) -> None:
    parser.add_argument("craft", nargs="*", metavar="CRAFT", help="ids or names of craft (all)")
    parser.add_argument(
        "--out", type=Path, required=True, metavar="FILE", help="write the PDF there"
    )
    parser.add_argument("--paper", choices=papers, help=f"what is in the printer{about}")
    parser.add_argument(
        "--font",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="a TrueType file with letters that the usual font lacks; repeat it for several",
    )
    add_at(parser, "as the record stood then")
    add_json(parser)
    add_config(parser)
