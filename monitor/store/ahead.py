"""Room on the disk behind the end of a file: what fills the disk meanwhile cannot take it.

The reserve's room is anybody's once it is given up, and what fills a disk in a loop takes it first.
So the database and its write-ahead log hold some of their own, which only they can grow into.
"""

import logging
import shutil
import subprocess
from pathlib import Path

log = logging.getLogger("laidup.store")

_LOG_BYTES = 6 * 1024 * 1024  # more than SQLite lets it grow before it folds it in and begins anew
_DATABASE_BYTES = 4 * 1024 * 1024
_WITHIN_S = 30.0


def allocate_ahead(database: Path) -> None:
    """Hold room for a database and its write-ahead log; does nothing where no more is to be had."""
    _allocate(database, database.stat().st_size, _DATABASE_BYTES)
    wal = database.with_name(f"{database.name}-wal")
    if wal.exists():
        _allocate(wal, 0, _LOG_BYTES)


def _allocate(file: Path, begin: int, count: int) -> None:
    """Allocate without changing the file's length, in a process of its own.

    A process that closes any descriptor of a file loses all its POSIX locks on it, SQLite's among
    them (sqlite.org/howtocorrupt.html, section 2.2). Whoever closed the database next, such as
    `laidup status`, would then take itself for the last, and remove the log that we write into.
    """
    program = shutil.which("fallocate")  # util-linux
    if program is None:  # then the reserve alone must do
        return
    command = [program, "--keep-size", "--offset", str(begin), "--length", str(count), str(file)]
    try:
        done = subprocess.run(  # noqa: S603 - a program of the system, on our own file
            command, capture_output=True, text=True, timeout=_WITHIN_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        log.debug("No room ahead for %s: %s.", file, error)
        return
    if done.returncode:
        log.debug("No room ahead for %s: %s", file, done.stderr.strip())
