"""A full disk, a file that was not writable for a while, readers who use up their connections."""

import os
import subprocess
import sys
from datetime import UTC, datetime

import pytest
from sqlalchemy import event
from sqlalchemy.exc import OperationalError

from monitor.errors import (
    StoreBusyError,
    StoreDamagedError,
    StoreError,
    StoreFullError,
    StoreReadonlyError,
)
from monitor.store.aside import KeptAside
from monitor.store.engine import as_store_errors
from monitor.store.migrate import migrate
from monitor.store.reserve import SIZE
from monitor.store.store import Store
from tests.line.drills.watched import flip_page
from tests.real.need import need

NOW = datetime(2026, 11, 14, 16, 0, tzinfo=UTC)
_NOT_WRITABLE = """
import os, sys
from contextlib import ExitStack
from datetime import UTC, datetime
from monitor.errors import StoreError, StoreReadonlyError
from monitor.store.aside import KeptAside
from monitor.store.store import Store

file = sys.argv[1]

def write(store):
    try:
        with store.transaction() as tx:
            tx.aside.keep_all([KeptAside("t", "r", b"x", datetime.now(UTC))])
        return "written"
    except StoreReadonlyError:
        return "refused"

os.chmod(file, 0o444)
try:
    Store(f"sqlite:///{file}", "mill")
except StoreError:
    print("not opened")
os.chmod(file, 0o644)
store = Store(f"sqlite:///{file}", "mill")
page = store.beside(2)
os.chmod(file, 0o444)
# Those that may write stay out, so that the next ones open the file now, read-only: SQLite gives
# the file of one that was closed meanwhile to the next that asks.
engines = [each for one in (store, page) for each in (one._writing, one._reading)]
with ExitStack() as out:
    for each in engines:
        out.enter_context(each.connect())
    print(write(page), write(store))
os.chmod(file, 0o644)
print(*(write(one) for one in (store, page, store, page)))
"""


@pytest.fixture
def file(tmp_path):
    migrate(f"sqlite:///{tmp_path}/laidup.db")
    return tmp_path / "laidup.db"


@pytest.fixture
def kept(file):
    store = Store(f"sqlite:///{file}", "mill")
    yield store
    store.close()


def keep_aside(store, can_wait=False, size=100_000):
    with store.transaction(can_wait=can_wait) as tx:
        tx.aside.keep_all([KeptAside("mill/corner", "odd", os.urandom(size), NOW)])


def let_it_grow_no_more(store):
    """SQLite itself then says that the disk is full."""
    event.listen(
        store._writing,
        "begin",
        lambda connection: connection.exec_driver_sql("PRAGMA max_page_count = 1"),
        insert=True,
    )


def test_a_store_that_was_not_writable_for_a_while_takes_all_again(file):
    as_any_user = ["setpriv", "--bounding-set=-dac_override", "--inh-caps=-dac_override"]
    before = [need("setpriv", "util-linux"), *as_any_user[1:]] if os.geteuid() == 0 else []
    ran = subprocess.run(
        [*before, sys.executable, "-c", _NOT_WRITABLE, str(file)],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    not_opened, during, after = ran.stdout.splitlines()
    assert not_opened == "not opened"
    assert during == "refused refused"
    assert after == "written written written written"


def test_readers_of_the_page_take_no_connection_of_the_watch(store):
    page = store.beside(1)
    with page.snapshot(), store.snapshot() as tx, store.snapshot():
        assert tx.yard_readings.count_readings() == 0
        with store.transaction() as writing:
            writing.aside.keep_all([KeptAside("t", "r", b"x", NOW)])


def test_a_full_disk_makes_the_reserve_give_way_piece_by_piece(kept):
    assert kept.reserve.make()
    let_it_grow_no_more(kept)
    before = kept.reserve.kept_bytes
    with pytest.raises(StoreFullError):
        keep_aside(kept)
    assert 0 < kept.reserve.kept_bytes < before == SIZE


def test_what_can_wait_leaves_half_of_the_reserve_to_what_warns(kept):
    assert kept.reserve.make()
    while kept.reserve.give_up(can_wait=True):
        pass
    assert kept.reserve.kept_bytes == SIZE // 2
    with pytest.raises(StoreFullError, match="kept for alarms"):
        keep_aside(kept, can_wait=True)
    keep_aside(kept)
    while kept.reserve.give_up(can_wait=False):
        pass
    assert kept.reserve.kept_bytes == 0
    assert kept.reserve.make(), "there is room again"
    keep_aside(kept, can_wait=True)


def test_the_reserve_takes_room_and_not_only_a_length(kept):
    kept.reserve.make()
    assert kept.reserve.path.stat().st_blocks * 512 >= SIZE


def test_a_store_without_a_reserve_takes_what_it_has_room_for(kept):
    assert kept.reserve.kept_bytes is None
    keep_aside(kept, can_wait=True)


def test_a_flipped_page_is_called_damage(file, kept):
    for _ in range(20):
        keep_aside(kept)
    kept.close()
    flip_page(file, "aside")
    again = Store(f"sqlite:///{file}", "mill")
    with pytest.raises(StoreDamagedError), again.snapshot() as tx:
        tx.aside.newest_by_topic(50)
    assert "malformed" in again.damage
    again.close()


# SQLSTATE as in appendix A of PostgreSQL's manual.
@pytest.mark.parametrize(
    ("state", "kind"),
    [
        ("55P03", StoreBusyError),
        ("53100", StoreFullError),
        ("42501", StoreReadonlyError),
        ("25006", StoreReadonlyError),
        ("08006", StoreError),
    ],
)
def test_a_refusal_is_of_the_kind_that_the_server_s_own_code_says(state, kind):
    refusal = Exception("whatever the server's language says")
    refusal.sqlstate = state
    with (
        pytest.raises(StoreError) as found,
        as_store_errors("postgresql+psycopg://yard@host/laidup", "cannot be written"),
    ):
        raise OperationalError("INSERT", {}, refusal)
    assert type(found.value) is kind
