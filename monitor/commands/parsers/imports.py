"""Flags of ``laidup import`` and what it takes in."""

from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction, add_config, add_json


def add_parser(children: Children, about: str) -> None:
    """Add the command and what can be imported."""
    parser = children.add_parser(
        "import", help=about, description=f"{about[:1].upper()}{about[1:]}."
    )
    kinds = parser.add_subparsers(metavar="WHAT", required=True)
    _add_craft(kinds)
    _add_work(kinds)
    _add_readings(kinds)
    _add_photos(kinds)


def _add_craft(kinds: Children) -> None:
    parser = kinds.add_parser(
        "craft",
        help="craft, moves and lay-up work (TOML), or a season's list of craft (CSV)",
        description=(
            "Take in craft from a file: all of it, or nothing if anything in it is wrong. The same"
            " file again adds nothing. Of a craft that is on record, what a file leaves out (a"
            " column, a key, an empty cell) stays as it was, and - clears it."
        ),
    )
    parser.add_argument("file", type=Path, metavar="FILE")
    parser.add_argument(
        "--by", metavar="PERSON", help="whose doing a change is (the user of this machine)"
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.imports.command", "run"))


def _add_readings(kinds: Children) -> None:
    """Add the command under ``import``."""
    parser = kinds.add_parser(
        "readings",
        help="readings (CSV)",
        description=(
            "Take in readings from a CSV file. Columns: at (with its zone, like"
            " 2026-01-10T03:15:00-06:00), sensor (as in the yard's file), and either one for each"
            " channel with its unit, like temperature [degF] or humidity [%], or label, unit,"
            " value. Rows that cannot be used are kept aside with their line numbers; readings that"
            " are there already are left as they are."
        ),
    )
    parser.add_argument("file", type=Path, metavar="FILE.csv")
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.imports.command", "run_readings"))


def _add_work(kinds: Children) -> None:
    """Add what can be imported."""
    parser = kinds.add_parser(
        "work",
        help="whole jobs on many craft: a row a step (CSV), or steps under their craft (TOML)",
        description=(
            "Take in a work list: all of it, or nothing if anything in it is wrong. The same list"
            " again adds nothing. In CSV an empty craft, time or person is that of the row above;"
            " same_as takes over the work done on another craft, but nothing that was seen there."
        ),
    )
    parser.add_argument("file", type=Path, metavar="FILE")
    parser.add_argument("--by", metavar="PERSON", help="who did it, where the list does not say")
    parser.add_argument("--at", metavar="TIME", help="when, where the list does not say (now)")
    parser.add_argument(
        "--try", dest="only_try", action="store_true", help="say what it comes to, write nothing"
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.imports.work", "run"))


def _add_photos(kinds: Children) -> None:
    """Add what can be imported."""
    parser = kinds.add_parser(
        "photos",
        help="photos of the record (a folder of `laidup export photos`)",
        description=(
            "Take in photos that were exported: all of them, or none if one is not what its name"
            " vouches for. Take them in before the work that names them."
        ),
    )
    parser.add_argument("folder", type=Path, metavar="FOLDER")
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.photo_files", "import_photos"))
