"""What a connection opens, and what it writes: through to the disk, each page of it once."""

import contextlib
import os
import random
import sqlite3
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import URL
from sqlalchemy.exc import OperationalError

from monitor.store.engine import checked_out, writing_engine

ROWS, ROW_BYTES = 6000, 1000  # some 1,500 pages, three times SQLite's own cache


def written_bytes():
    """Bytes that this process has handed to files so far."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("wchar")).split()[1])


def engine_of(file: Path, **more):
    """Engine of a file that is there, as migrating leaves it."""
    file.touch()
    return writing_engine(f"sqlite:///{file}", **more)


def test_opening_a_file_that_is_not_there_makes_none(tmp_path):
    file = tmp_path / "moved away.db"
    with (
        pytest.raises(OperationalError, match="unable to open"),
        checked_out(writing_engine(f"sqlite:///{file}")),
    ):
        pass
    assert not file.exists()


def test_a_name_of_any_signs_is_opened(tmp_path):
    file = tmp_path / "50 % yard#2 é?mode=ro.db"
    file.touch()
    address = URL.create("sqlite", database=str(file)).render_as_string()
    with checked_out(writing_engine(address)) as connection:
        connection.exec_driver_sql("CREATE TABLE t (k INTEGER)")
        connection.commit()
    with contextlib.closing(sqlite3.connect(file)) as db:
        assert db.execute("SELECT name FROM sqlite_schema").fetchall() == [("t",)]


def test_whoever_waits_for_a_connection_is_not_left_at_a_pool_that_was_emptied(tmp_path):
    engine = engine_of(tmp_path / "a.db", connections=1)
    began = threading.Event()

    def ask() -> int:
        began.set()
        with checked_out(engine) as connection:
            return int(connection.exec_driver_sql("PRAGMA synchronous").scalar_one())

    with engine.connect(), ThreadPoolExecutor(1) as waiting:  # which is never given back to it
        answer = waiting.submit(ask)
        assert began.wait(5)
        time.sleep(0.1)  # until it waits at the pool
        engine.dispose()
        assert answer.result(timeout=10)
    engine.dispose()


def test_a_commit_waits_for_the_disk(tmp_path):
    engine = engine_of(tmp_path / "a.db")
    with engine.connect() as connection:
        full = 2  # sqlite.org/pragma.html#pragma_synchronous
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == full
    engine.dispose()


def test_a_page_that_a_transaction_changes_often_is_written_once(tmp_path):
    file = tmp_path / "a.db"
    engine = engine_of(file)
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
