"""Flags of ``laidup storage``."""

from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction, add_config, add_json


def add_parser(children: Children, about: str) -> None:
    """Add the command."""
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
    parser.add_argument(
        "--paper",
        choices=("a4", "letter"),
        help="of the PDF (default: Letter where the yard pours in fluid ounces, else A4)",
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.storage", "run"))
