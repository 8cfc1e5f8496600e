"""``laidup backup``: a copy of the store while it is used, read back before it counts."""

import argparse
from datetime import UTC, datetime
from pathlib import Path

from monitor.commands.opening import add_config
from monitor.settings.load import load_settings
from monitor.store.copies import (
    TakenCopy,
    copies_in,
    copies_to_drop,
    copy_name,
    drop_copy,
    take_copy,
)

_DAYS, _WEEKS = 7, 8


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser(
        "backup",
        help="copy the store while laidup runs, and read the copy back",
        description=(
            "Copies the whole store into one file, as it stands at one moment, while laidup runs or"
            " not; then reads the copy back: the database's own check, the rows of every table, the"
            " chains of the lay-up record. Exit status 0: it is sound; 1: it is not, or the record"
            " in the store is broken."
        ),
    )
    parser.add_argument(
        "place",
        type=Path,
        metavar="FILE|FOLDER",
        help="a new file; or a folder, where it is named by the time and older ones are thinned",
    )
    parser.add_argument(
        "--days", type=int, default=_DAYS, help=f"in a folder: of how many days ({_DAYS})"
    )
    parser.add_argument(
        "--weeks", type=int, default=_WEEKS, help=f"and of how many weeks to keep one ({_WEEKS})"
    )
    add_config(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Take a copy, read it back, tell of it, and thin out older ones."""
    settings = load_settings(arguments.config)
    place, yard = arguments.place, settings.yard.id
    folder = place if place.is_dir() else None
    file = place if folder is None else folder / copy_name(yard, datetime.now(UTC))
    taken = take_copy(settings.store_url, yard, file)
    print(_copy_line(taken))
    if taken.breaks:
        # Older copies may hold what is broken here: none of them goes.
        print("The lay-up record in it is not what was written, nor is it in the store:")
        print("\n".join(f"  {one}" for one in taken.breaks))
        print("`laidup verify` says what to do. No older copy was removed.")
        return 1
    if folder is not None:
        for old in copies_to_drop(copies_in(folder, yard), arguments.days, arguments.weeks):
            drop_copy(old)
            print(f"Removed {old.name}: newer ones of its day and week are kept.")
    return 0


def _copy_line(taken: TakenCopy) -> str:
    return (
        f"{taken.file}: {taken.bytes / 1e6:.1f} MB, {sum(taken.rows.values())} rows read back,"
        f" {taken.rows['readings']} of them readings; {taken.craft} craft, {taken.links} links of"
        " the lay-up record. Take it off this machine, with the .sha256 beside it and the yard's"
        " files."
    )
