"""Room on the disk behind the end of a file: what fills the disk meanwhile cannot take it.

The reserve's room is anybody's once it is given up, and what fills a disk in a loop takes it first.
So the database and its write-ahead log hold some of their own, which only they can grow into.
"""

import ctypes
import logging
import os
from pathlib import Path

log = logging.getLogger("laidup.store")

_KEEP_SIZE = 1  # FALLOC_FL_KEEP_SIZE of Linux: the file's length stays
_LOG_BYTES = 6 * 1024 * 1024  # more than SQLite lets it grow before it folds it in and begins anew
_DATABASE_BYTES = 4 * 1024 * 1024


def allocate_ahead(database: Path) -> None:
    """Hold room for a database and its write-ahead log; does nothing where no more is to be had."""
    _allocate(database, database.stat().st_size, _DATABASE_BYTES)
    wal = database.with_name(f"{database.name}-wal")
    if wal.exists():
        _allocate(wal, 0, _LOG_BYTES)


def _allocate(file: Path, begin: int, count: int) -> None:
    fallocate = getattr(ctypes.CDLL(None, use_errno=True), "fallocate64", None)
    if fallocate is None:  # not on Linux: then the reserve alone must do
        return
    descriptor = os.open(file, os.O_RDWR | os.O_CLOEXEC)
    try:
        failed = fallocate(
            ctypes.c_int(descriptor),
            ctypes.c_int(_KEEP_SIZE),
            ctypes.c_int64(begin),
            ctypes.c_int64(count),
        )
        if failed:
            log.debug("No room ahead for %s: %s.", file, os.strerror(ctypes.get_errno()))
    finally:
        os.close(descriptor)
