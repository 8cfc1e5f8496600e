"""Flags of ``laidup export`` and what it writes."""

import argparse
from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction, add_config

_MODULE = "monitor.commands.export"


def add_parser(children: Children, about: str) -> None:
    """Add the command and what can be written."""
    parser = children.add_parser(
        "export",
        help=about,
        description=(
            "Writes CSV, or Parquet where FILE ends in .parquet (extra: data). Without --out, CSV"
            " to stdout. Readings and the record are taken in again by `laidup import`."
        ),
    )
    kinds = parser.add_subparsers(metavar="WHAT", required=True)
    readings = _add_kind(kinds, "readings", "readings as their sensors sent them")
    record = _add_kind(kinds, "record", "every entry of the lay-up record, as a work list")
    record.add_argument("craft", nargs="*", metavar="CRAFT", help="ids or names of craft (all)")
    record.add_argument(
        "--lines",
        action="store_true",
        help="the links of every chain instead, a line of JSON each, to be checked by SHA-256",
    )
    alarms = _add_kind(kinds, "alarms", "alarms, by when they were raised")
    _add_photos(kinds)
    _add_kind(kinds, "yard", "the yard's file, with what was changed at the page put in")
    _add_kind(kinds, "craft", "a craft file of the craft on record and where they stood")
    for one in (readings, alarms):
        one.add_argument("--from", dest="since", metavar="TIME", help="from then on (all)")
        one.add_argument("--to", dest="until", metavar="TIME", help="up to then (now)")


def _add_kind(kinds: Children, name: str, about: str) -> argparse.ArgumentParser:
    parser = kinds.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}.")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write there (stdout)")
    add_config(parser)
    parser.set_defaults(run=DeferredFunction(_MODULE, f"export_{name}"))
    return parser


def _add_photos(kinds: Children) -> None:
    about = "the photos that entries name, each as a file named after its SHA-256"
    parser = kinds.add_parser("photos", help=about, description=f"{about[:1].upper()}{about[1:]}.")
    parser.add_argument("--out", type=Path, metavar="FOLDER", required=True, help="write there")
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.photo_files", "export_photos"))
