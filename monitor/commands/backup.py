"""``laidup backup``: a copy of the store while it is used, read back before it counts."""

import argparse
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from monitor.commands.printing import print_json
from monitor.errors import QuantityError, StoreError
from monitor.settings.load import load_settings
from monitor.store.copies import TakenCopy, copies_to_drop, drop_copy, take_copy
from monitor.store.copy_age import CopySettings, copies_in, copy_name
from monitor.store.copying import readings_among


def run(arguments: argparse.Namespace) -> int:
    """Take a copy, read it back, tell of it, and thin out older ones."""
    settings = load_settings(arguments.config)
    keep = settings.backup or CopySettings(folder=Path())
    place = _place_of(arguments, settings.backup)
    yard = settings.yard.id
    folder = place if place.is_dir() else None
    file = place if folder is None else folder / copy_name(yard, datetime.now(UTC))
    taken = take_copy(settings.store_url, yard, file)
    dropped: list[str] = []
    if folder is not None and not taken.breaks:
        days = keep.days if arguments.days is None else arguments.days
        weeks = keep.weeks if arguments.weeks is None else arguments.weeks
        dropped = _drop_older_copies(folder, yard, days, weeks)
    if arguments.json:
        print_json(_copy_json(taken, dropped))
    else:
        print("\n".join(_lines(taken, dropped)))
    return 1 if taken.breaks else 0


def _place_of(arguments: argparse.Namespace, settings: CopySettings | None) -> Path:
    """The file or folder that the copy goes to; a folder of the yard's file must be there."""
    if arguments.place is not None:
        place: Path = arguments.place
        return place
    if settings is None:
        raise QuantityError("it is not said where to", "name a file or folder, or set [backup]")
    if not settings.folder.is_dir():
        raise StoreError(f"{settings.folder} is no folder; make it, or mount its disk")
    return settings.folder


def _drop_older_copies(folder: Path, yard: str, days: int, weeks: int) -> list[str]:
    """Remove the copies whose day and week have a newer one; their names."""
    dropped = []
    for old in copies_to_drop(copies_in(folder, yard), days, weeks):
        drop_copy(old)
        dropped.append(old.name)
    return dropped


def _lines(taken: TakenCopy, dropped: list[str]) -> Iterator[str]:
    yield _copy_line(taken)
    months = taken.rows.get("dropped_months", 0)
    if months:
        yield (
            f"Raw readings of {months} month{'' if months == 1 else 's'} are not in it but in"
            " archive files: have the folder of [archive] in the backup too."
        )
    if taken.breaks:
        # Older copies may hold what is broken here: none of them goes.
        yield "The lay-up record in it is not what was written, nor is it in the store:"
        yield from (f"  {one}" for one in taken.breaks)
        yield "`laidup verify` says what to do. No older copy was removed."
    for name in dropped:
        yield f"Removed {name}: newer ones of its day and week are kept."


def _copy_json(taken: TakenCopy, dropped: list[str]) -> dict[str, Any]:
    return {
        "file": str(taken.file),
        "bytes": taken.bytes,
        "rows": dict(taken.rows),
        "craft": taken.craft,
        "links": taken.links,
        "breaks": [str(one) for one in taken.breaks],
        "dropped": dropped,
    }


def _copy_line(taken: TakenCopy) -> str:
    return (
        f"{taken.file}: {taken.bytes / 1e6:.1f} MB, {sum(taken.rows.values())} rows read back,"
        f" {readings_among(taken.rows)} of them readings; {taken.craft} craft, {taken.links} links"
        " of the lay-up record. Take it off this machine, with the .sha256 beside it and the yard's"
        " files."
    )
