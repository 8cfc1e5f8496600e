"""``laidup archive``: raw readings of past months as files, and the files against the trees."""

import argparse
import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.opening import open_read_only
from monitor.commands.printing import print_json
from monitor.commands.progress import Progress
from monitor.errors import QuantityError
from monitor.settings.load import Settings

if TYPE_CHECKING:
    from monitor.store.archiving import MonthOutcome

_NOTHING_YET = (
    "No month is archived: none has all its days closed. A day is closed 90 minutes after its end"
    " (UTC), while laidup runs."
)


def run(arguments: argparse.Namespace) -> int:
    """Write the months that are due, check those that are there, or drop them from the store."""
    before = None if arguments.before is None else _month_said(arguments.before, "--before")
    if arguments.drop:
        from monitor.commands.archive_drop import run as run_drop

        return run_drop(arguments, before)
    if arguments.yes:
        raise QuantityError("--yes is of --drop", "leave it out: nothing is asked here")
    if arguments.put_back is not None:
        from monitor.commands.archive_drop import put_back

        return put_back(arguments, _month_said(arguments.put_back, "--put-back"), _tell_months)
    from monitor.store.archiving import archive_months, check_months

    checks = arguments.check is not None
    if checks and before is not None:
        raise QuantityError("--before is of --to", "leave it out: --check reads every file")
    with open_read_only(arguments) as here, Progress() as progress:
        here.store.use_archive(None)  # what is to be checked vouches for nothing
        folder = _folder_said(arguments.check if checks else arguments.to, here.settings)

        def tell_sensor(month: date, sensor: str) -> None:
            progress.say_stage(f"Readings of {month:%Y-%m}: {sensor}")

        if checks:
            found = check_months(here.store, here.yard.id, folder, tell_sensor)
        else:
            found = archive_months(here.store, here.yard.id, folder, before, tell_sensor)
        return _tell_months(here.yard.id, folder, found, arguments, progress)


def _folder_said(said: str, settings: Settings) -> Path:
    """The folder that was named, or that of the yard's file where none was."""
    if said:
        return Path(said)
    if settings.archive is None:
        raise QuantityError("it is not said where", "name a folder, or set [archive] folder")
    return settings.archive


def _month_said(text: str, flag: str) -> date:
    from monitor.store.archive_folder import parse_month

    try:
        return parse_month(text)
    except ValueError as error:
        raise QuantityError(f"{flag} {text}: no month", "write it as 2026-11") from error


def _tell_months(
    yard: str,
    folder: Path,
    found: Iterable["MonthOutcome"],
    arguments: argparse.Namespace,
    progress: Progress,
) -> int:
    """Tell of each month as it is done with; 1 if any does not fit."""
    from monitor.store.archiving import MonthState

    outcomes = []
    for one in found:
        outcomes.append(one)
        progress.wipe_line()
        if not arguments.json:
            unfit = one.state is MonthState.UNFIT
            print(_line_of(one), file=sys.stderr if unfit else sys.stdout, flush=True)
    if arguments.json:
        months = [
            {
                "month": f"{one.month:%Y-%m}",
                "file": one.file.name,
                "state": str(one.state),
                "readings": one.rows,
                "words": one.words,
            }
            for one in outcomes
        ]
        print_json({"yard": yard, "folder": str(folder), "months": months})
    elif not outcomes:
        none = f"{folder} holds no archive of {yard}."
        print(none if arguments.check is not None else _NOTHING_YET)
    return 1 if any(one.state is MonthState.UNFIT for one in outcomes) else 0


def _line_of(one: "MonthOutcome") -> str:
    from monitor.store.archiving import MonthState

    rows = f"{one.rows:,} reading{'' if one.rows == 1 else 's'}"
    match one.state:
        case MonthState.WRITTEN:
            return f"{one.file}: {rows} written."
        case MonthState.ANEW:
            return f"{one.file}: {rows} written anew over an older or damaged file."
        case MonthState.THERE:
            return f"{one.file}: there already, the same {rows}."
        case MonthState.ALONE:
            return f"{one.file}: {rows}, no longer in the store; as the closed days have them."
        case MonthState.FITS:
            return f"{one.file}: {rows}, as the closed days have them."
        case MonthState.BACK:
            return f"{one.month:%Y-%m}: {rows} are in the store again; {one.file} stays."
        case MonthState.WAITS:
            return f"{one.month:%Y-%m}: not yet: {one.words}."
    return f"{one.month:%Y-%m} DOES NOT FIT: {one.words}."
