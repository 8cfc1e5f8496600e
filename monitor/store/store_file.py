"""A store's file and the revision of its tables: asked before a store is opened."""

import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from monitor.errors import StoreError
from monitor.store.engine import as_store_errors, parse_address, reading_engine, shown
from monitor.store.reserve import Reserve, free_bytes

REVISION = "0039"
_NEXT_TO_NOTHING = 1024 * 1024  # bytes: SQLite needs some to open a file, and says "I/O error"
_Answer = TypeVar("_Answer")


def revision_of(url: str) -> str | None:
    """Revision that a database's tables are of; None where there are none yet.

    Raises
    ------
    StoreError
        If the database does not answer.
    """
    path = file_name_of(url)
    if path is not None and Path(path).parent.is_dir() and not Path(path).exists():
        return None  # to ask SQLite would make the file
    return ask_with_room(path, lambda: _read_revision(url))


def has_current_tables(url: str) -> bool:
    """Whether a store is there and its tables are of this program.

    Raises
    ------
    StoreError
        If the database does not answer.
    """
    return revision_of(url) == REVISION


def _read_revision(url: str) -> str | None:
    engine = reading_engine(url)
    try:
        with as_store_errors(url, "cannot be opened"), engine.connect() as connection:
            if not engine.dialect.has_table(connection, "alembic_version"):
                return None
            found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
            return str(found) if found is not None else None
    finally:
        engine.dispose()


def ask_with_room(path: str | None, ask: Callable[[], _Answer]) -> _Answer:
    """Ask a database, from whose reserve room is made where there is none even to open it."""
    while True:
        try:
            return ask()
        except StoreError:
            if path is None or not is_without_room(path):
                raise
            if not Reserve(Path(path)).give_up(can_wait=False):
                raise


def is_without_room(path: str | None) -> bool:
    """Whether the disk of a store's file has next to no room; a folder that is not there has."""
    if path is None or not Path(path).parent.is_dir():
        return False
    return free_bytes(Path(path).parent) < _NEXT_TO_NOTHING


def check_revision(url: str) -> None:
    """Refuse a store whose tables this program does not know, with the command that mends it.

    Raises
    ------
    StoreError
        If there is no store, its tables are of another revision, or it does not answer.
    """
    found = revision_of(url)
    if found is None:
        raise StoreError(
            f"{shown(url)}: there is no store yet; start `laidup run`, or make its tables with"
            " `laidup migrate`"
        )
    if found != REVISION:
        raise StoreError(
            f"{shown(url)}: its tables are of revision {found}, this program needs {REVISION};"
            + (
                " run `laidup migrate`, or start `laidup run`, which does it too"
                if found < REVISION
                else " they were written by a newer laidup: update this one"
            )
        )


def file_name_of(url: str) -> str | None:
    """File of an SQLite store; None for a server."""
    parsed = parse_address(url)
    return parsed.database if parsed.get_backend_name() == "sqlite" else None


def file_of(url: str) -> Path | None:
    """File of an SQLite store; None for a server.

    Raises
    ------
    StoreError
        If it is no address of a store.
    """
    path = file_name_of(url)
    return None if path is None else Path(path)


def make_companions_writable(path: str | None) -> None:
    """Let write-ahead log and shared memory be written where their database may be.

    SQLite makes both with the mode that the database has at that moment, and whoever finds them
    read-only opens a writable database for reading alone.
    """
    if path is None or not os.access(path, os.W_OK):
        return
    for companion in (Path(f"{path}-wal"), Path(f"{path}-shm")):
        if companion.exists() and not os.access(companion, os.W_OK):
            with suppress(OSError):  # another user's: then the database's own complaint stands
                companion.chmod(Path(path).stat().st_mode & 0o777)


def file_identity(path: str | None) -> tuple[int, int] | None:
    """Which file that name leads to now; None where there is none."""
    if path is None:
        return None
    try:
        status = Path(path).stat()
    except FileNotFoundError:
        return None
    return (status.st_dev, status.st_ino)
