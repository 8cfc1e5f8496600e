"""Room on the disk is seen to go days before it is gone; damage is found at a small cost."""

import os
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from monitor.clock import ReadingsClock
from monitor.store import reserve, tables
from monitor.store.aside import KeptAside
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.upkeep import StoreUpkeep, condition_of
from tests.line.drills.watched import flip_page

BEGIN = datetime(2026, 11, 14, 16, 0, tzinfo=UTC)


class Hands:
    """A monotonic clock that is moved by hand."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def disk(monkeypatch):
    """A disk of which somebody says how much is free."""
    free = {"bytes": 900_000_000}
    monkeypatch.setattr(reserve, "free_bytes", lambda _: free["bytes"])
    return free


@pytest.fixture
def kept(tmp_path):
    url = f"sqlite:///{tmp_path}/laidup.db"
    migrate(url)
    store = Store(url, "mill")
    yield store
    store.close()


def watch_filling(store, disk, days, bytes_a_day):
    clock = ReadingsClock(BEGIN)
    upkeep = StoreUpkeep(store, clock)
    for hour in range(days * 24 + 1):
        clock.advance_to(BEGIN + timedelta(hours=hour))
        upkeep.run_once()
        disk["bytes"] -= bytes_a_day // 24
    return upkeep


def test_a_disk_that_fills_is_told_days_before_it_is_full(kept, disk):
    upkeep = watch_filling(kept, disk, 4, 100_000_000)
    found = upkeep.condition
    assert found.free_bytes > 400_000_000
    assert found.days_left == pytest.approx(5, abs=0.2)
    assert found.little_room
    assert not found.full


def test_a_disk_that_does_not_fill_lasts(kept, disk):
    found = watch_filling(kept, disk, 4, 0).condition
    assert found.days_left == float("inf")
    assert not found.little_room


def test_a_first_day_tells_no_trend(kept, disk):
    found = watch_filling(kept, disk, 1, 100_000_000).condition
    assert found.days_left == float("inf")


def test_a_restart_forgets_no_trend_and_a_command_sees_it_too(kept, disk):
    watch_filling(kept, disk, 4, 100_000_000)
    at = BEGIN + timedelta(days=4, hours=1)
    again = StoreUpkeep(kept, ReadingsClock(at))
    again.run_once()
    assert again.condition.days_left < 6
    assert condition_of(kept, at).days_left < 6


def test_a_disk_that_was_full_for_an_hour_is_sound_as_soon_as_it_is_emptied(kept, disk):
    """A sample that fell into that hour must not foretell a full disk until the next one."""
    watch_filling(kept, disk, 4, 0)
    before = disk["bytes"]
    disk["bytes"] = 25_000_000
    clock = ReadingsClock(BEGIN + timedelta(days=4, hours=1))
    upkeep = StoreUpkeep(kept, clock)
    upkeep.run_once()
    assert upkeep.condition.little_room
    disk["bytes"] = before
    upkeep.measure_room()
    assert upkeep.condition.days_left == float("inf")
    assert not upkeep.condition.little_room


def test_a_file_that_comes_and_goes_between_two_samples_is_no_trend(kept, disk):
    upkeep = watch_filling(kept, disk, 4, 0)
    disk["bytes"] -= 500_000_000
    upkeep.measure_room()
    assert not upkeep.condition.little_room


@pytest.mark.usefixtures("disk")
def test_samples_of_a_clock_that_ran_ahead_do_not_stay(kept):
    for at in (BEGIN + timedelta(days=400), BEGIN):
        StoreUpkeep(kept, ReadingsClock(at)).run_once()
    with kept.snapshot() as tx:
        assert tx.room_samples.shrinks_bytes_a_day(BEGIN + timedelta(days=3), 0) > 0


@pytest.mark.parametrize(
    ("free", "little", "full"),
    [(900_000_000, False, False), (150_000_000, True, False), (9_000_000, True, True)],
)
def test_little_room_is_told_whatever_the_trend(kept, disk, free, little, full):
    disk["bytes"] = free
    upkeep = StoreUpkeep(kept, ReadingsClock(BEGIN))
    upkeep.run_once()
    assert (upkeep.condition.little_room, upkeep.condition.full) == (little, full)


def test_the_reserve_is_made_where_there_is_room_and_again_when_there_is(kept, disk):
    upkeep = StoreUpkeep(kept, ReadingsClock(BEGIN))
    disk["bytes"] = 9_000_000
    upkeep.run_once()
    assert upkeep.condition.reserve_bytes is None
    disk["bytes"] = 900_000_000
    upkeep.run_once()
    assert upkeep.condition.reserve_bytes == reserve.SIZE
    kept.reserve.give_up(can_wait=False)
    disk["bytes"] = 4096
    upkeep.run_once()
    assert upkeep.condition.full
    disk["bytes"] = 900_000_000
    upkeep.run_once()
    assert not upkeep.condition.full


def test_damage_is_found_at_the_start_and_a_sound_file_has_none(kept, tmp_path):
    with kept.transaction() as tx:
        for _ in range(20):
            tx.aside.keep_all([KeptAside("mill/corner", "odd", os.urandom(100_000), BEGIN)])
    sound = StoreUpkeep(kept, ReadingsClock(BEGIN))
    sound.run_once()
    assert sound.condition.damage == ""
    kept.close()
    flip_page(tmp_path / "laidup.db", "aside")
    again = Store(f"sqlite:///{tmp_path}/laidup.db", "mill")
    upkeep = StoreUpkeep(again, ReadingsClock(BEGIN))
    upkeep.run_once()
    assert "laidup.db" in upkeep.condition.damage
    again.close()


def test_every_table_is_checked_in_turn_and_checks_rest_two_hundred_times_their_length(
    kept, monkeypatch
):
    hands, checked = Hands(), []
    took_s = 30.0

    def check(_, table=""):
        checked.append((table, hands.now_s))
        hands.now_s += took_s
        return ""

    monkeypatch.setattr(Store, "find_damage", check)
    upkeep = StoreUpkeep(kept, ReadingsClock(BEGIN), monotonic=hands)
    while len(checked) <= len(tables.metadata.tables):
        upkeep.run_once()
        hands.now_s += 60.0
    assert checked[0][0] == ""
    assert {"readings", "outbox", "alarms"} <= {table for table, _ in checked[1:]}
    gaps = [later - earlier for (_, earlier), (_, later) in pairwise(checked)]
    assert min(gaps) >= 200 * took_s


def test_a_database_server_looks_after_its_own_room_and_files(postgres):
    migrate(postgres)
    store = Store(postgres, "mill")
    upkeep = StoreUpkeep(store, ReadingsClock(BEGIN))
    upkeep.run_once()
    assert upkeep.condition.free_bytes is None
    assert not upkeep.condition.little_room
    store.close()


def test_the_store_holds_room_of_its_own_that_nobody_else_can_take(kept, tmp_path):
    length = (tmp_path / "laidup.db").stat().st_size
    StoreUpkeep(kept, ReadingsClock(BEGIN)).run_once()
    for name, least in (("laidup.db", 4_000_000), ("laidup.db-wal", 6_000_000)):
        assert (tmp_path / name).stat().st_blocks * 512 >= least
    assert (tmp_path / "laidup.db").stat().st_size <= length + 65536
