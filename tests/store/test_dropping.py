"""Dropping a month: only what is held elsewhere goes, and a kill leaves all to whoever reads."""

import signal
import subprocess
import sys
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, update

from monitor.clock import ReadingsClock, to_ms
from monitor.errors import StoreError
from monitor.store.archive_folder import month_bounds
from monitor.store.archiving import archive_months, check_months
from monitor.store.closing_days import close_due_days
from monitor.store.droppable import due_months, first_kept_month
from monitor.store.dropping import drop_months
from monitor.store.putting_back import put_back_months
from monitor.store.rolling_up import make_all_anew, make_due_hours
from monitor.store.store import Store
from monitor.store.tables import day_groups, readings, rollups
from monitor.store.verifying_days import verify_days
from monitor.yard.reading import Channel, Flag, Reading
from tests.line.drills.watched import small_disk
from tests.store.test_archived_readings import all_read, yard_readings
from tests.tried import tried

YARD = "kettlemoss"
HOUR, DAY, MINUTE = timedelta(hours=1), timedelta(days=1), timedelta(minutes=1)
AIR, DAMP = Channel.TEMPERATURE, Channel.HUMIDITY
AUGUST, SEPTEMBER = date(2025, 8, 1), date(2025, 9, 1)
BEGIN = datetime(2025, 8, 30, tzinfo=UTC)
NOW = datetime(2026, 11, 30, 22, tzinfo=UTC)  # 13 whole months before it: October 2025
BEGIN_MS, END_MS = to_ms(BEGIN - DAY), to_ms(NOW)


def reading(sensor, channel, at, value, raw=None, flag=Flag.PASS):
    sent = value if raw is None else raw
    return Reading(
        sensor=sensor, channel=channel, at_ms=to_ms(at), value=value, raw=sent, flag=flag
    )


def put(store, *new):
    with store.transaction() as tx:
        tx.reading_writer.add(new)


@pytest.fixture
def folder(tmp_path):
    """Where the archive goes."""
    made = tmp_path / "archive"
    made.mkdir()
    return made


@pytest.fixture
def kept(store, folder):
    """The end of August to the begin of October 2025, and now; closed, rolled up, archived."""
    rows = []
    for n in range(33 * 4):
        at = BEGIN + n * 6 * HOUR
        rows += [
            reading("post", AIR, at, n / 10, raw=n / 10 + 0.5),
            reading("post", AIR, at + 20 * MINUTE, n / 10 - 3),
            reading("post", DAMP, at + MINUTE, 80.0, flag=Flag.SUSPECT),
        ]
        if at < datetime(2025, 9, 20, tzinfo=UTC):
            rows.append(reading("silent", AIR, at, -5.0))
    rows.append(reading("post", AIR, NOW - HOUR, 1.0))
    put(store, *rows)
    # A day is enough to close them all up to September, of what nothing was read.
    close_due_days(store, datetime(2025, 11, 1, 2, tzinfo=UTC))
    make_due_hours(store, NOW)
    states = [(one.month, one.state) for one in archive_months(store, YARD, folder)]
    assert [month for month, _ in states] == [AUGUST, SEPTEMBER, date(2025, 10, 1)]
    return store


def due(store, folder, now=NOW, before=None):
    with store.snapshot() as tx:
        return due_months(tx, YARD, folder, now, before)


def dropped(store, folder, now=NOW, **more):
    found = drop_months(store, YARD, due(store, folder, now, **more), ReadingsClock(now))
    return [(one.month.month, str(one.state), one.removed, one.left, one.words) for one in found]


def count(store, month):
    with store.snapshot() as tx:
        return tx.yard_readings.count_between(*month_bounds(month))


def all_told(store, begin_ms=BEGIN_MS, end_ms=END_MS):
    """What readers, export, rollups (hours and halves) and trees say of all that there is."""
    found = all_read(store, begin_ms, end_ms)
    half_ms = 30 * 60_000
    for name, since_ms in (("hours", begin_ms), ("halves", begin_ms + half_ms)):
        with store.snapshot() as tx:
            sensors = sorted({sensor for sensor, _ in tx.series.known_series()})
            traces = tx.rollups.hours_between(sensors, since_ms, begin_ms + 40 * 86_400_000)
        found[name] = {
            key: [column.tolist() for column in (one.hour_ms, one.readings, one.seen)]
            + [repr(column.tolist()) for column in (one.low, one.high, one.mean, one.frost_kh)]
            for key, one in traces.items()
        }
    with store.snapshot() as tx:
        found["newest"] = tx.yard_readings.latest_readings()
        found["heard"] = tx.yard_readings.newest_at_ms({"silent"}, end_ms)
        found["before"] = {
            (n, at_ms): tx.readings.newest_ms(n, at_ms)
            for n in tx.series.known_series().values()
            for at_ms in range(begin_ms, begin_ms + 40 * 86_400_000, 5 * 86_400_000)
        }
        verified = verify_days(tx)
        found["verify"] = (verified.whole, verified.days, verified.sensors, verified.hours)
    return found


def test_months_go_but_the_newest_of_who_fell_silent_and_all_is_read_as_before(kept, folder):
    kept.use_archive(folder)
    before = all_told(kept)
    kept.use_archive(None)
    # Of August two days with four times three rows and four of the silent sensor; of September 30.
    assert dropped(kept, folder) == [
        (8, "dropped", 2 * 16, 0, ""),
        (9, "dropped", 30 * 12 + 19 * 4 - 1, 1, ""),
    ]
    assert (count(kept, AUGUST), count(kept, SEPTEMBER)) == (0, 1)
    assert count(kept, date(2025, 10, 1)) > 10
    kept.use_archive(folder)
    assert all_told(kept) == before
    with kept.snapshot() as tx:
        assert sorted(tx.dropped_months.all_months()[1].file_sum) == sorted(
            (folder / f"{YARD}-2025-09.parquet.sha256").read_text().split()[0]
        )
    assert dropped(kept, folder) == []  # there is no more to do
    assert [one.state for one in check_months(kept, YARD, folder)] == ["fits"] * 3
    make_all_anew(kept, NOW)
    assert all_told(kept) == before


@pytest.mark.parametrize(
    ("now", "first"),
    [
        (NOW, date(2025, 10, 1)),
        (datetime(2027, 1, 1, tzinfo=UTC), date(2025, 10, 1)),  # a clock that runs ahead
        (datetime(2026, 11, 1, tzinfo=UTC), date(2025, 10, 1)),
        (datetime(2026, 10, 31, 23, tzinfo=UTC), SEPTEMBER),
        (datetime(2025, 12, 1, tzinfo=UTC), date(2024, 11, 1)),
    ],
)
def test_thirteen_months_before_the_clock_and_the_newest_reading_stay(kept, folder, now, first):
    with kept.snapshot() as tx:
        assert first_kept_month(tx, now) == first
    assert all(one.month < first for one in due(kept, folder, now))


def test_a_yard_without_readings_and_months_that_were_not_asked_for_are_left(kept, store, folder):
    assert [one.month for one in due(kept, folder, before=SEPTEMBER)] == [AUGUST]
    with store.transaction() as tx:
        tx._connection.execute(delete(readings))
    with store.snapshot() as tx:
        assert due_months(tx, "other", folder, NOW) == []


def lose_file(_, folder):
    (folder / f"{YARD}-2025-08.parquet").unlink()


def flip_file(_, folder):
    file = folder / f"{YARD}-2025-08.parquet"
    whole = bytearray(file.read_bytes())
    whole[len(whole) // 2] ^= 1
    file.write_bytes(whole)


def lose_folder(_, folder):
    folder.rename(folder.with_name("away"))


def change_row(store, _):
    with store.transaction() as tx:
        at_ms = to_ms(BEGIN + DAY)
        its = readings.c.at_ms == at_ms
        tx._connection.execute(update(readings).where(its).values(value=readings.c.value + 1))


def change_raw(store, _):
    with store.transaction() as tx:
        its = readings.c.at_ms == to_ms(BEGIN + DAY)
        tx._connection.execute(update(readings).where(its).values(raw=7))


def read_late(store, _):
    put(store, reading("post", AIR, BEGIN + DAY + 3 * MINUTE, 1.0))
    make_due_hours(store, NOW)


def read_late_and_close(store, _):
    read_late(store, None)
    close_due_days(store, datetime(2025, 11, 2, 2, tzinfo=UTC))


def lose_leaf(store, _):
    with store.transaction() as tx:
        tx._connection.execute(delete(day_groups).where(day_groups.c.day == "2025-08-31"))


def lose_rollup(store, _):
    with store.transaction() as tx:
        hour_ms = to_ms(BEGIN + DAY)
        tx._connection.execute(delete(rollups).where(rollups.c.hour_ms == hour_ms))


def change_rollup(store, _):
    with store.transaction() as tx:
        its = rollups.c.hour_ms == to_ms(BEGIN + DAY)
        tx._connection.execute(update(rollups).where(its).values(low=rollups.c.low - 100))


def unmake_rollups(store, _):
    with store.transaction() as tx:
        tx.rollups.clear_hours()


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (lose_file, "kettlemoss-2025-08.parquet is not there"),
        (flip_file, "kettlemoss-2025-08.parquet is damaged"),
        (lose_folder, "kettlemoss-2025-08.parquet is not there"),
        (change_row, "is not what its readings give"),
        (change_raw, "that are not the 32 of the store"),
        (read_late, "came late and wait for the next day to be closed"),
        (read_late_and_close, "`laidup archive --to` writes the month anew"),
        (lose_leaf, "The closed day 2025-08-31 had"),
        (lose_rollup, "`laidup rollups --anew` makes it so"),
        (change_rollup, "`laidup rollups --anew` makes it so"),
        (unmake_rollups, "are not rolled up yet"),
    ],
)
def test_what_does_not_fit_keeps_its_month_and_all_later_ones_as_they_are(
    kept, folder, harm, words
):
    harm(kept, folder)
    rows = count(kept, AUGUST), count(kept, SEPTEMBER)
    [(month, state, removed, left, why)] = dropped(kept, folder)
    assert (month, state, removed, left) == (8, "kept", 0, rows[0])
    assert words in why
    assert (count(kept, AUGUST), count(kept, SEPTEMBER)) == rows
    with kept.snapshot() as tx:
        assert tx.dropped_months.all_months() == []  # readings of then are taken as before


KILLED = """
import os, pathlib, signal, sys
from contextlib import contextmanager
from datetime import UTC, datetime
from monitor.clock import ReadingsClock
from monitor.store.droppable import due_months
from monitor.store.dropping import drop_months
from monitor.store.store import Store

url, folder, last, when = sys.argv[1], pathlib.Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
now, begun, real = datetime(2026, 11, 30, 22, tzinfo=UTC), 0, Store.transaction

def die_in(place):
    if begun == last and place == when:
        os.kill(os.getpid(), signal.SIGKILL)

@contextmanager
def dying(self, **more):
    global begun
    begun += 1
    with real(self, **more) as tx:
        yield tx
        die_in("before")
    die_in("after")

Store.transaction = dying
store = Store(url, "kettlemoss")
with store.snapshot() as tx:
    due = due_months(tx, "kettlemoss", folder, now)
print([str(one.state) for one in drop_months(store, "kettlemoss", due, ReadingsClock(now))])
"""


def test_kill_9_at_any_step_leaves_all_to_be_read_and_the_next_run_goes_on(kept, folder, url):
    kept.use_archive(folder, only_dropped=True)  # a daemon that runs all the time
    before = all_told(kept)
    place, deaths, seen = str(folder), 0, set()
    for last in (1, 2, 3, 4, 3, 5, 4, 5, 6, 9, 30):
        for when in ("before", "after") if last < 30 else ("never",):
            command = [sys.executable, "-c", KILLED, url, place, str(last), when]
            done = subprocess.run(command, check=False, timeout=120, capture_output=True)
            deaths += done.returncode == -signal.SIGKILL
            assert done.returncode in {-signal.SIGKILL, 0}, done.stderr
            assert all_told(kept) == before
            with kept.snapshot() as tx:
                months = tx.dropped_months.all_months()
            states = [(one.checked_at is not None, one.dropped_at is not None) for one in months]
            seen.add((tuple(states), count(kept, AUGUST), count(kept, SEPTEMBER)))
    assert deaths > 8
    assert ((True, True), (True, True)) in {states for states, *_ in seen}
    assert len(seen) > 6, "it died at too few steps"
    assert (count(kept, AUGUST), count(kept, SEPTEMBER)) == (0, 1)


def test_what_was_begun_and_no_longer_fits_stops_and_goes_on_once_the_file_is_back(kept, folder):
    told = []

    def end_amid(_, sensor):
        told.append(sensor)
        if told.count("silent") == 4:  # three checks are over, and one sensor's readings are gone
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        list(drop_months(kept, YARD, due(kept, folder), ReadingsClock(NOW), end_amid))
    rows = count(kept, AUGUST)
    assert rows == 32 - 24
    file = folder / f"{YARD}-2025-08.parquet"
    whole = file.read_bytes()
    flip_file(None, folder)
    [(_, state, removed, left, words)] = dropped(kept, folder)
    assert (state, removed, left) == ("stopped", 0, rows)
    assert f"{file} is damaged" in words
    kept.use_archive(folder)
    with kept.snapshot() as tx:
        assert not verify_days(tx).whole
    file.write_bytes(whole)
    with kept.snapshot() as tx:
        assert verify_days(tx).whole
    kept.use_archive(None)
    assert [state for _, state, *_ in dropped(kept, folder)] == ["dropped", "dropped"]


def test_a_row_that_another_hand_changes_after_the_check_stays(kept, folder):
    calls = []

    def change_after_the_checks(_, sensor):
        calls.append(sensor)
        if calls.count("post") == 4:  # three checks are over, its readings are to go
            change_raw(kept, folder)

    [one] = drop_months(
        kept, YARD, due(kept, folder)[:1], ReadingsClock(NOW), change_after_the_checks
    )
    assert (one.state, one.removed) == ("stopped", 12)  # of the days before
    assert "readings of post changed in the store" in one.words
    assert count(kept, AUGUST) == 20


def test_a_sensor_that_speaks_again_no_longer_keeps_its_old_hour(kept, folder):
    put(kept, reading("silent", AIR, NOW - HOUR, 2.0))
    make_due_hours(kept, NOW)
    assert [left for *_, left, _ in dropped(kept, folder)] == [0, 0]


def fill_up(file):
    with file.open("wb") as out:
        while True:
            out.write(bytes(64 * 1024))
            out.flush()


def test_on_a_full_disk_the_store_says_so_and_all_is_read(stores, tmp_path):
    if stores.kind != "sqlite":
        pytest.skip("a server has its own disk")
    folder = tmp_path / "archive"
    folder.mkdir()
    with small_disk(tmp_path, 24) as disk:
        file = disk / "laidup.db"
        file.write_bytes(Path(stores.new_url().removeprefix("sqlite:///")).read_bytes())
        with closing(Store(f"sqlite:///{file}", YARD)) as store:
            rows = [
                reading(f"s{s}", AIR, BEGIN + n * MINUTE, n % 50)
                for s in range(4)
                for n in range(2 * 24 * 60)
            ]
            put(store, *rows, reading("s0", AIR, NOW - HOUR, 1.0))
            put(store, *[reading(f"s{s}", AIR, NOW - HOUR + MINUTE, 1.0) for s in range(4)])
            close_due_days(store, datetime(2025, 9, 1, 2, tzinfo=UTC))
            make_due_hours(store, NOW)
            assert [one.rows for one in archive_months(store, YARD, folder)] == [4 * 2880]
            found = due(store, folder)
            ballast = disk / "ballast"
            with pytest.raises(OSError, match="No space left"):
                fill_up(ballast)
            with pytest.raises(StoreError, match="full"):
                list(drop_months(store, YARD, found, ReadingsClock(NOW)))
            store.use_archive(folder)
            with store.snapshot() as tx:
                keys = [(f"s{s}", AIR) for s in range(4)]
                traces = tx.readings.traces_between(keys, BEGIN_MS, to_ms(BEGIN + 2 * DAY))
            assert [trace.at_ms.size for trace in traces.values()] == [2880] * 4
            ballast.unlink()
            store.use_archive(None)
            assert [state for _, state, *_ in dropped(store, folder)] == ["dropped"]
            assert count(store, AUGUST) == 0
            assert (store.free_in_file() or 0) > 100_000


@settings(
    max_examples=tried(5),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(said=yard_readings(), months=st.integers(10, 18))
def test_whatever_was_read_and_whatever_the_bound_all_is_told_as_before(
    stores, tmp_path_factory, said, months
):
    month, begin, first, late = said
    folder = tmp_path_factory.mktemp("archive")
    begin_ms, end_ms = to_ms(begin - DAY), month_bounds(month)[1] + 3 * 86_400_000
    now = datetime(month.year + 1, month.month, 15, tzinfo=UTC) + months % 12 * 30 * DAY
    with closing(Store(stores.new_url(), YARD)) as store:
        put(store, *first)
        close_due_days(store, datetime.fromtimestamp(month_bounds(month)[1] / 1000, UTC) + 2 * HOUR)
        put(store, *late, reading("now", AIR, now - HOUR, 1.0))
        close_due_days(store, datetime.fromtimestamp(end_ms / 1000, UTC) + 2 * DAY)
        make_due_hours(store, now)
        list(archive_months(store, YARD, folder))
        store.use_archive(folder)
        before = all_told(store, begin_ms, end_ms)
        rows = store_rows(store)
        store.use_archive(None)
        outcomes = dropped(store, folder, now)
        assert all(state == "dropped" for _, state, *_ in outcomes), outcomes
        assert store_rows(store) == rows - sum(removed for *_, removed, _, _ in outcomes)
        store.use_archive(folder)
        assert all_told(store, begin_ms, end_ms) == before
        make_all_anew(store, now)
        make_due_hours(store, now)
        assert all_told(store, begin_ms, end_ms) == before


def store_rows(store):
    with store.snapshot() as tx:
        return tx.yard_readings.count_readings()


PUT_BACK = KILLED.replace('due = due_months(tx, "kettlemoss", folder, now)', "pass").replace(
    'print([str(one.state) for one in drop_months(store, "kettlemoss", due, ReadingsClock(now))])',
    "from datetime import date\n"
    "from monitor.store.putting_back import put_back_months\n"
    'list(put_back_months(store, "kettlemoss", folder, date(2025, 8, 1)))',
)


def put_back(store, folder, since=AUGUST):
    return [
        (one.month.month, str(one.state), one.rows, one.words)
        for one in put_back_months(store, YARD, folder, since)
    ]


def test_what_was_dropped_is_put_back_whole_though_it_is_killed_at_any_step(kept, folder, url):
    kept.use_archive(folder)
    before, rows = all_told(kept), store_rows(kept)
    kept.use_archive(None)
    dropped(kept, folder)
    kept.use_archive(folder)
    deaths = 0
    for last in (1, 2, 3, 6, 7):
        for when in ("before", "after"):
            command = [sys.executable, "-c", PUT_BACK, url, str(folder), str(last), when]
            done = subprocess.run(command, check=False, timeout=120, capture_output=True)
            assert done.returncode in {-signal.SIGKILL, 0}, done.stderr
            deaths += done.returncode == -signal.SIGKILL
            assert all_told(kept) == before
    assert deaths > 5
    kept.use_archive(None)
    assert {state for _, state, *_ in put_back(kept, folder)} <= {"put back"}
    assert store_rows(kept) == rows
    assert all_told(kept) == before  # without any archive
    with kept.snapshot() as tx:
        assert tx.dropped_months.all_months() == []
        assert tx.late_hours.noted_hours(10) == []
        assert tx.rollups.are_made(to_ms(NOW - DAY))
    assert [state for _, state, *_ in dropped(kept, folder)] == ["dropped", "dropped"]


def test_only_the_months_that_were_asked_for_come_back_and_late_readings_are_taken_again(
    kept, folder
):
    dropped(kept, folder)
    assert put_back(kept, folder, SEPTEMBER) == [(9, "put back", 436, "")]
    with kept.snapshot() as tx:
        assert [one.month for one in tx.dropped_months.all_months()] == [AUGUST]
    assert (count(kept, AUGUST), count(kept, SEPTEMBER)) == (0, 436)
    put(kept, reading("post", AIR, datetime(2025, 9, 10, 1, tzinfo=UTC), 1.0))


def test_a_damaged_file_puts_nothing_back(kept, folder):
    dropped(kept, folder)
    flip_file(None, folder)
    [(month, state, *_), (last, unfit, _, words)] = put_back(kept, folder)
    assert (month, state, last, unfit) == (9, "put back", 8, "does not fit")
    assert "kettlemoss-2025-08.parquet is damaged" in words
    assert count(kept, AUGUST) == 0
    with kept.snapshot() as tx:
        assert [one.month for one in tx.dropped_months.all_months()] == [AUGUST]


def test_a_month_that_another_run_takes_off_loses_no_reading_more(kept, folder):
    told = []

    def take_off(month, sensor):
        told.append(sensor)
        if told.count("silent") == 4:  # three checks are over, and one sensor's readings are gone
            with kept.transaction() as tx:
                tx.dropped_months.forget_month(month)

    with pytest.raises(StoreError, match="no longer entered as dropped"):
        list(drop_months(kept, YARD, due(kept, folder)[:1], ReadingsClock(NOW), take_off))
    assert count(kept, AUGUST) == 32 - 24
