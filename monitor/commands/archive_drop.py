"""``laidup archive --drop``: raw readings that archive files hold removed from the store."""

import argparse
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.commands.opening import daemon_clock, open_to_act
from monitor.commands.printing import print_json
from monitor.commands.progress import Progress
from monitor.errors import QuantityError

if TYPE_CHECKING:
    from monitor.store.archiving import MonthOutcome
    from monitor.store.droppable import DueMonth
    from monitor.store.dropping import DropOutcome
    from monitor.store.store import Store

_ROW_BYTES = 17  # of a reading in an SQLite file, measured (monitor/store/tables.py)
_AFTER = (
    "From then on these files alone have them: export, replays, season records and `laidup verify`"
    " read them there. Have the folder in the backup."
)


def run(arguments: argparse.Namespace, before: date | None) -> int:
    """Ask, remove month by month, and tell; 1 if a month does not fit or nobody said yes."""
    from monitor.store.archive_folder import only_run
    from monitor.store.droppable import KEPT_MONTHS, due_months, first_kept_month
    from monitor.store.dropping import drop_months

    with open_to_act(arguments) as here, Progress() as progress:
        folder = here.settings.archive
        if folder is None:
            raise QuantityError(
                "--drop: no folder is named in the yard's file",
                "set [archive] folder, where everything that reads finds what is dropped",
            )
        here.store.use_archive(None)  # what is to be checked vouches for nothing
        clock = daemon_clock(here.store)
        with here.store.snapshot() as tx:
            due = due_months(tx, here.yard.id, folder, clock.now(), before)
            kept = first_kept_month(tx, clock.now())
        if due and not arguments.yes and not _is_agreed(due, here.store, arguments):
            print("Nothing was removed.", file=sys.stderr)
            return 1

        def tell_sensor(month: date, sensor: str) -> None:
            progress.say_stage(f"Readings of {month:%Y-%m}: {sensor}")

        outcomes: list[DropOutcome] = []
        with only_run(folder, here.yard.id):
            for one in drop_months(here.store, here.yard.id, due, clock, tell_sensor):
                outcomes.append(one)
                progress.wipe_line()
                if not arguments.json:
                    fits = one.state == "dropped"
                    print(_line_of(one), file=sys.stdout if fits else sys.stderr, flush=True)
        room = here.store.free_in_file()
    if arguments.json:
        print_json(_as_json(here.yard.id, folder, outcomes, room))
    elif not due:
        print(
            f"No month is to be dropped: the store keeps all from {kept:%Y-%m} on, {KEPT_MONTHS}"
            " months and the present one, and has none before with all its days closed."
        )
    elif room is not None and any(one.removed for one in outcomes):
        print(
            f"{_megabytes(room)} within the store's file are free now for what comes; the file"
            " itself stays as large (docs/store.md says how to make it smaller)."
        )
    return 0 if all(one.state == "dropped" for one in outcomes) else 1


TellMonths = Callable[
    [str, Path, Iterable["MonthOutcome"], argparse.Namespace, Progress], int
]  # the yard, the folder, the months as they are done with; the exit status


def put_back(arguments: argparse.Namespace, since: date, tell_months: TellMonths) -> int:
    """Put months back into the store, the last one first, and tell; 1 if one does not fit.

    Raises
    ------
    QuantityError
        If that month was not dropped, or the yard's file names no folder.
    """
    from monitor.store.archive_folder import only_run
    from monitor.store.putting_back import put_back_months

    with open_to_act(arguments) as here, Progress() as progress:
        here.store.use_archive(None)  # what is to be checked vouches for nothing
        folder = here.settings.archive
        if folder is None:
            raise QuantityError(
                "--put-back: no folder is named in the yard's file", "set [archive] folder"
            )
        with here.store.snapshot() as tx:
            known = [one.month for one in tx.dropped_months.all_months()]
        if since not in known:
            some = (
                f"it has those of {known[0]:%Y-%m} to {known[-1]:%Y-%m}" if known else "it has none"
            )
            raise QuantityError(
                f"--put-back {since:%Y-%m}: that month was not dropped from the store", some
            )

        def tell_sensor(month: date, sensor: str) -> None:
            progress.say_stage(f"Readings of {month:%Y-%m}: {sensor}")

        with only_run(folder, here.yard.id):
            found = put_back_months(here.store, here.yard.id, folder, since, tell_sensor)
            return tell_months(here.yard.id, folder, found, arguments, progress)


def _is_agreed(due: Sequence["DueMonth"], store: "Store", arguments: argparse.Namespace) -> bool:
    """Say what would go, and ask; without a terminal nobody can agree.

    Raises
    ------
    QuantityError
        If nobody can be asked.
    """
    if arguments.json or not sys.stdin.isatty():
        raise QuantityError(
            f"--drop: {len(due)} month(s) are to be dropped, and nobody can be asked",
            "add --yes once the folder is in the backup",
        )
    for one in due:
        size = f", about {_megabytes(one.rows * _ROW_BYTES)}" if store.path else ""
        file = _size_of(one.file)
        print(f"{one.month:%Y-%m}: {one.rows:,} readings{size}; {one.file}: {file}")
    print(_AFTER)
    return input("Remove these readings from the store? yes/no: ").strip().lower() in {"yes", "y"}


def _size_of(file: Path) -> str:
    try:
        return _megabytes(file.stat().st_size)
    except OSError:
        return "not there, so they will stay"


def _megabytes(size: int) -> str:
    return f"{size / 1e6:,.1f} MB"


def _line_of(one: "DropOutcome") -> str:
    stays = f"; {one.left:,} stay, the newest of sensors that fell silent" if one.left else ""
    match str(one.state):
        case "dropped":
            return (
                f"{one.month:%Y-%m}: {one.removed:,} readings removed, {one.file} has them{stays}."
            )
        case "kept":
            return f"{one.month:%Y-%m}: NOTHING REMOVED: {one.words}."
    return (
        f"{one.month:%Y-%m}: STOPPED after {one.removed:,} readings, {one.left:,} are in the store"
        f" still: {one.words}."
    )


def _as_json(
    yard: str, folder: Path, outcomes: Sequence["DropOutcome"], room: int | None
) -> dict[str, Any]:
    return {
        "yard": yard,
        "folder": str(folder),
        "free_in_store_bytes": room,
        "months": [
            {
                "month": f"{one.month:%Y-%m}",
                "file": one.file.name,
                "state": str(one.state),
                "removed": one.removed,
                "left": one.left,
                "words": one.words,
            }
            for one in outcomes
        ],
    }
