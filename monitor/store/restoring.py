"""A copy put back in the store's place."""

import shutil
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from monitor.errors import StoreError
from monitor.store.copies import check_copy, refuse_changed_copy
from monitor.store.copying import copy_in, finish_copy, url_of_copy
from monitor.store.migrate import migrate
from monitor.store.store_file import file_of


def restore_copy(
    file: Path, url: str, yard: str, now: datetime, *, over_another: bool
) -> tuple[Mapping[str, int], Path | None]:
    """Put a copy in the store's place; give the rows of every table, and where the old store is.

    laidup must not run meanwhile. The copy itself is left as it is, and may lie on a medium that
    takes no writing. One of an earlier program is brought up to date on its way.

    Parameters
    ----------
    file : Path
    url : str
        Of the store; a PostgreSQL one must be an empty database.
    yard : str
        Whose store it is to be.
    now : datetime
        Names what is set aside.
    over_another : bool
        A store that is there is set aside; else it is left, and that is an error.

    Raises
    ------
    StoreError
        If the copy is not sound, or something else stands in its place.
    """
    refuse_changed_copy(file)
    target = file_of(url)
    if target is None:
        with TemporaryDirectory() as folder:
            working = Path(folder) / file.name
            rows = _working_copy(file, working, yard)
            if copy_in(working, url) != rows:
                raise StoreError(f"the database does not hold what {file} holds; empty it again")
        return rows, None
    if target.exists() and not over_another:
        raise StoreError(
            f"{target} is there; with --over it is set aside, not deleted, and the copy takes its"
            " place"
        )
    working = target.with_name(f"{target.name}.restored")
    try:
        rows = _working_copy(file, working, yard)
        aside = _set_aside(target, now) if target.exists() else None
        working.rename(target)
    finally:
        working.unlink(missing_ok=True)
    return rows, aside


def _working_copy(file: Path, working: Path, yard: str) -> Mapping[str, int]:
    """Copy the copy, bring it up to date, read it, and give the rows of every table."""
    try:
        shutil.copyfile(file, working)
        working.chmod(0o600)
    except OSError as error:
        raise StoreError(f"{working} cannot be written: {error.strerror}") from error
    migrate(url_of_copy(working))
    rows = check_copy(working, yard).rows
    finish_copy(working)
    return rows


def _set_aside(target: Path, now: datetime) -> Path:
    """Give a store another name, its write-ahead log with it: without that it is not whole."""
    aside = target.with_name(f"{target.name}.before-{now:%Y%m%dT%H%M%SZ}")
    for end in ("-wal", "-shm"):
        with suppress(FileNotFoundError):
            target.with_name(target.name + end).rename(aside.with_name(aside.name + end))
    target.rename(aside)
    return aside
