"""Flags of ``laidup record`` and ``laidup storage``: what a season leaves behind."""

from pathlib import Path

from monitor.commands.parsers.flags import (
    Children,
    DeferredFunction,
    add_config,
    add_json,
    add_pdf_paper,
)


def add_parser(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "record",
        help=about,
        description=(
            "One craft's winter in figures: who kept it and where, the work with its evidence, the"
            " air, every night that came near, alarms and answers, and the gaps of the watch."
            " Without --out it is told in short."
        ),
    )
    parser.add_argument("craft", metavar="CRAFT", nargs="*", help="id or name")
    parser.add_argument(
        "--all", action="store_true", help="every craft that stood in the yard in that season"
    )
    parser.add_argument(
        "--season",
        metavar="YEAR",
        help="the year in whose July the season began, like 2026 (default: this season)",
    )
    parser.add_argument(
        "--out",
        type=Path,
        metavar="PLACE",
        help="a file (.pdf or .json) for one craft, or a folder for several: both forms of each",
    )
    add_pdf_paper(parser)
    parser.add_argument(
        "--send",
        action="store_true",
        help="put a mail with the PDF to each craft's owner into the outbox; one that was put in"
        " already is not sent again, unless the craft turned out to be handed over another day",
    )
    parser.add_argument(
        "--due",
        action="store_true",
        help="put in the mails that are due by themselves: of craft that were handed over, and of"
        " the season that is over (the watch does it each morning)",
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.record", "run"))


def add_storage(children: Children, about: str) -> None:
    """Add ``storage``."""
    parser = children.add_parser(
        "storage",
        help=about,
        description=(
            "The quality of storage of one season: for each space how many of its hours were inside"
            " the limits of cold and damp while craft stood there, its worst nights, how true the"
            " forecasts were, how much its sensors were heard, which alarms were answered in time,"
            " and craft that were saved. Hours that were not heard count as outside. Up to two"
            " seasons before stand beside it, to the same day of their year."
        ),
    )
    parser.add_argument(
        "--season",
        metavar="YEAR",
        help="the year in whose July the season began, like 2026 (default: this season)",
    )
    parser.add_argument(
        "--beside",
        type=Path,
        metavar="FILE",
        action="append",
        default=[],
        help="JSON of another yard of the shop, to compare with; may be given again",
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="a file to write: .pdf, .csv or .json"
    )
    add_pdf_paper(parser)
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.storage", "run"))
