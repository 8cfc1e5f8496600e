"""What a connection writes: through to the disk, and each page of a large transaction once."""

import contextlib
import os
import random
import sqlite3
from pathlib import Path

from monitor.store.engine import writing_engine

ROWS, ROW_BYTES = 6000, 1000  # some 1,500 pages, three times SQLite's own cache


def written_bytes():
    """Bytes that this process has handed to files so far."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("wchar")).split()[1])


def test_a_commit_waits_for_the_disk(tmp_path):
    engine = writing_engine(f"sqlite:///{tmp_path}/a.db")
    with engine.connect() as connection:
        full = 2  # sqlite.org/pragma.html#pragma_synchronous
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == full
    engine.dispose()


def test_a_page_that_a_transaction_changes_often_is_written_once(tmp_path):
    file = tmp_path / "a.db"
    engine = writing_engine(f"sqlite:///{file}")
    keys = list(range(ROWS))
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE t (k INTEGER PRIMARY KEY, body BLOB)")
        rows = [(key, os.urandom(ROW_BYTES)) for key in keys]
        connection.exec_driver_sql("INSERT INTO t VALUES (?, ?)", rows)
    with contextlib.closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    random.Random(3).shuffle(keys)
    before = written_bytes()
    with engine.begin() as connection:
        rows = [(os.urandom(ROW_BYTES), key) for key in keys]
        connection.exec_driver_sql("UPDATE t SET body = ? WHERE k = ?", rows)
    written = written_bytes() - before
    engine.dispose()
    # Into the log once, and from there into the file.
    assert written < 2.2 * file.stat().st_size
