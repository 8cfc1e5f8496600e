"""Room is held for the store's file without a lock of SQLite's being lost by it."""

import subprocess
import sys

from monitor.store.migrate import migrate
from monitor.store.reserve import allocate_ahead
from monitor.store.store import Store
from tests.delivery.scene import message

# What `laidup status` does, and every other program: open, look, close.
_LOOK = (
    "import sqlite3, sys; other = sqlite3.connect(sys.argv[1]);"
    "print(other.execute('SELECT count(*) FROM outbox').fetchone()[0]); other.close()"
)


def seen_by_another(database):
    look = [sys.executable, "-c", _LOOK, str(database)]
    return int(subprocess.run(look, check=True, capture_output=True, text=True).stdout)


def test_what_is_committed_after_another_program_looked_is_kept(tmp_path):
    """Else that program takes itself for the last, and removes the log that is written into."""
    database = tmp_path / "laidup.db"
    migrate(f"sqlite:///{database}")
    store = Store(f"sqlite:///{database}", "kettlemoss")
    with store.transaction() as tx:
        tx.outbox.add([message("a")])
    allocate_ahead(database)
    assert seen_by_another(database) == 1
    with store.transaction() as tx:
        tx.outbox.add([message("b")])
    assert seen_by_another(database) == 2
    store.close()
    assert seen_by_another(database) == 2


def test_room_is_held_behind_both_files_and_neither_grows(tmp_path):
    database = tmp_path / "laidup.db"
    wal = database.with_name("laidup.db-wal")
    migrate(f"sqlite:///{database}")
    store = Store(f"sqlite:///{database}", "kettlemoss")
    with store.transaction() as tx:
        tx.outbox.add([message("a")])
    lengths = [file.stat().st_size for file in (database, wal)]
    allocate_ahead(database)
    assert [file.stat().st_size for file in (database, wal)] == lengths
    held = [512 * file.stat().st_blocks for file in (database, wal)]
    assert held[0] >= lengths[0] + 4 * 1024 * 1024
    assert held[1] >= 6 * 1024 * 1024
    store.close()
