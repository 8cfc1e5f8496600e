"""Archive files: what was read stands in them, what another hand or a disk did to them is named."""

import fcntl
import hashlib
import os
import signal
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta

import pyarrow.parquet as pq
import pytest
from sqlalchemy import delete, update

from monitor.clock import to_ms
from monitor.errors import ArchiveError, LaidupError
from monitor.store.archive_file import read_parts, write_month
from monitor.store.archive_rows import SensorPart
from monitor.store.archiving import archive_months, check_months, rows_of_month
from monitor.store.closing_days import close_due_days
from monitor.store.tables import readings
from monitor.yard.reading import Channel, Flag, Reading
from tests.line.drills.watched import small_disk

YARD = "kettlemoss"
BEGIN = datetime(2026, 12, 30, tzinfo=UTC)  # a month and a year end within the readings
DECEMBER = date(2026, 12, 1)
DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)
CLOSED = BEGIN + 2 * DAY + 2 * HOUR
AIR, DAMP = Channel.TEMPERATURE, Channel.HUMIDITY


def reading(sensor, channel, at, value, raw=None, flag=Flag.PASS):
    sent = value if raw is None else raw
    return Reading(
        sensor=sensor, channel=channel, at_ms=to_ms(at), value=value, raw=sent, flag=flag
    )


def put(store, *new):
    with store.transaction() as tx:
        tx.reading_writer.add(new)


def archived(store, folder, **more):
    return [(one.state.value, one.rows) for one in archive_months(store, YARD, folder, **more)]


def checked(store, folder):
    return [(one.state.value, one.words) for one in check_months(store, YARD, folder)]


def name_of(folder):
    return folder / f"{YARD}-2026-12.parquet"


def listed(folder):
    return sorted(file.name for file in folder.iterdir())


@pytest.fixture
def kept(store):
    """Two sensors, one with two channels, over the end of a year; both days are closed."""
    for n in range(72):
        put(
            store,
            reading("post", AIR, BEGIN + n * HOUR, n / 10, raw=n / 10 + 0.5),
            reading("post", DAMP, BEGIN + n * HOUR + MINUTE, 80.0, flag=Flag.FAIL),
            reading("beam", AIR, BEGIN + n * HOUR, -5.0),
        )
    close_due_days(store, CLOSED)
    return store


def test_a_month_whose_days_are_closed_is_written_with_every_row(kept, tmp_path):
    assert archived(kept, tmp_path) == [("written", 144)]
    assert listed(tmp_path) == [f"{YARD}-2026-12.parquet", f"{YARD}-2026-12.parquet.sha256"]
    # Read by the library alone, as another program would.
    table = pq.read_table(name_of(tmp_path))
    rows = [tuple(row.values()) for row in table.slice(48, 2).to_pylist()]
    assert rows == [
        ("post", "humidity", BEGIN + MINUTE, 8000, None, 4),
        ("post", "humidity", BEGIN + HOUR + MINUTE, 8000, None, 4),
    ]
    assert table.slice(73, 1).to_pylist() == [
        {
            "sensor": "post",
            "channel": "temperature",
            "at": BEGIN + HOUR,
            "value": 10,
            "sent": 60,
            "flag": 1,
        }
    ]
    assert checked(kept, tmp_path) == [("fits", "")]


def test_the_file_tells_its_yard_month_number_of_rows_and_their_digest(kept, tmp_path):
    archived(kept, tmp_path)
    said = pq.read_metadata(name_of(tmp_path)).metadata
    assert said[b"laidup.yard"] == b"kettlemoss"
    assert said[b"laidup.month"] == b"2026-12"
    assert said[b"laidup.rows"] == b"144"
    # The digest as docs/data.md says it, with the leaves that the closed days hold.
    with kept.snapshot() as tx:
        lines = [
            f'["{sensor}",{hour},"{digest}"]\n'
            for sensor, channels in (("beam", [AIR]), ("post", [DAMP, AIR]))
            for hour, digest, *_ in tx.day_trees.leaves_of_sensor(sensor, channels)
        ]
    assert said[b"laidup.sha256"].decode() == hashlib.sha256("".join(lines).encode()).hexdigest()


def test_the_sum_beside_it_is_read_by_the_tool_of_every_machine(kept, tmp_path):
    archived(kept, tmp_path)
    command = ["sha256sum", "--check", f"{YARD}-2026-12.parquet.sha256"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, f"{YARD}-2026-12.parquet: OK\n")


def test_a_month_that_is_not_over_and_one_that_was_not_asked_for_are_left(kept, tmp_path):
    assert archived(kept, tmp_path, before=DECEMBER) == []
    assert listed(tmp_path) == []
    close_due_days(kept, BEGIN + 3 * DAY + 2 * HOUR)
    assert archived(kept, tmp_path) == [("written", 144)]


def test_a_month_that_is_there_stays_as_it_is(kept, tmp_path):
    archived(kept, tmp_path)
    before = name_of(tmp_path).stat()
    assert archived(kept, tmp_path) == [("there already", 144)]
    assert name_of(tmp_path).stat().st_ino == before.st_ino


def test_an_empty_store_and_one_without_a_closed_day_give_nothing(store, tmp_path):
    assert archived(store, tmp_path) == []
    put(store, reading("post", AIR, BEGIN, 1.0))
    assert archived(store, tmp_path) == []


def test_a_reading_that_comes_late_for_an_archived_month_has_it_written_anew(kept, tmp_path):
    archived(kept, tmp_path)
    put(kept, reading("post", AIR, BEGIN + 5 * HOUR + MINUTE, -4.1))
    put(kept, reading("new", AIR, BEGIN + HOUR, 1.0))
    assert checked(kept, tmp_path) == [("fits", "")]  # no closed day has them yet
    assert archived(kept, tmp_path)[0][0] == "not yet"
    assert checked(kept, tmp_path) == [("fits", "")]
    close_due_days(kept, CLOSED + DAY)
    [(state, words)] = checked(kept, tmp_path)
    assert state == "does not fit"
    assert "readings of new in the hour from 2026-12-30 01:00 UTC" in words
    assert archived(kept, tmp_path) == [("written anew", 146)]
    assert checked(kept, tmp_path) == [("fits", "")]


def test_a_file_from_before_a_late_reading_is_told_from_a_changed_one(kept, tmp_path):
    archived(kept, tmp_path)
    put(kept, reading("post", AIR, BEGIN + 5 * HOUR + MINUTE, -4.1))
    close_due_days(kept, CLOSED + DAY)
    [(_, words)] = checked(kept, tmp_path)
    assert "post in the hour from 2026-12-30 05:00 UTC are older than" in words
    assert "`laidup archive --to` writes the month anew" in words


def forged(store, folder, change):
    """Write a month's file, its digests and its sum with it, of readings that were changed."""
    with store.snapshot() as tx:
        parts = [change(part) for part in rows_of_month(tx, DECEMBER)]
    write_month(folder, YARD, DECEMBER, [part for part in parts if part is not None])


def test_a_forged_file_that_fits_itself_does_not_fit_the_closed_days(kept, tmp_path):
    def colder(part):
        rows = list(part.rows[AIR])
        if part.sensor != "post" or rows[0].at_ms < to_ms(BEGIN + DAY):
            return part
        rows[6] = rows[6]._replace(value=rows[6].value - 1)
        return SensorPart(part.sensor, {**part.rows, AIR: rows})

    forged(kept, tmp_path, colder)
    [(state, words)] = checked(kept, tmp_path)
    assert state == "does not fit"
    assert "readings of post in the hour from 2026-12-31 06:00 UTC are not those" in words


@pytest.mark.parametrize("gone", ["beam", "post"])
def test_a_forged_file_that_lacks_a_sensor_is_named_too(kept, tmp_path, gone):
    forged(kept, tmp_path, lambda part: None if part.sensor == gone else part)
    [(state, words)] = checked(kept, tmp_path)
    assert state == "does not fit"
    assert f"readings of {gone} in the hour from 2026-12-30 00:00 UTC" in words


def test_a_forged_file_that_lacks_an_hour_is_named(kept, tmp_path):
    forged(
        kept,
        tmp_path,
        lambda part: SensorPart(part.sensor, {c: rows[:23] for c, rows in part.rows.items()}),
    )
    assert "readings of beam in the hour from 2026-12-30 23:00 UTC" in checked(kept, tmp_path)[0][1]


def test_a_flipped_bit_anywhere_is_named_with_its_file_and_the_remedy(kept, tmp_path):
    archived(kept, tmp_path)
    file = name_of(tmp_path)
    whole = file.read_bytes()
    for at in range(0, len(whole), len(whole) // 60):
        file.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        [(state, words)] = checked(kept, tmp_path)
        assert state == "does not fit"
        assert str(file) in words
        assert "`laidup archive --to`" in words or "Put the right file there" in words
    assert archived(kept, tmp_path) == [("written anew", 144)]
    assert file.read_bytes() == whole


def test_a_flipped_bit_without_a_sum_beside_the_file_changes_no_reading_unseen(kept, tmp_path):
    archived(kept, tmp_path)
    file = name_of(tmp_path)
    whole = file.read_bytes()
    file.with_name(f"{file.name}.sha256").unlink()
    was = list(read_parts(file, YARD, DECEMBER))
    seen = 0
    for at in range(0, len(whole), len(whole) // 200):
        file.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        if checked(kept, tmp_path)[0][0] == "fits":
            assert list(read_parts(file, YARD, DECEMBER)) == was
        else:
            seen += 1
    assert seen > 50


@pytest.mark.parametrize("share", [0.0, 0.3, 0.99])
def test_a_file_that_was_cut_short_is_named(kept, tmp_path, share):
    archived(kept, tmp_path)
    file = name_of(tmp_path)
    os.truncate(file, int(file.stat().st_size * share))
    file.with_name(f"{file.name}.sha256").unlink()
    [(state, words)] = checked(kept, tmp_path)
    assert state == "does not fit"
    assert words.startswith(f"{file} is damaged")


def test_a_file_of_another_month_under_this_name_is_refused(kept, tmp_path):
    archived(kept, tmp_path)
    name_of(tmp_path).rename(tmp_path / f"{YARD}-2026-11.parquet")
    [(state, words)] = checked(kept, tmp_path)
    assert state == "does not fit"
    assert "is no archive of kettlemoss of 2026-11: its month is 2026-12" in words


def test_readings_that_another_hand_changed_in_the_store_are_not_archived(kept, tmp_path):
    archived(kept, tmp_path)
    whole = name_of(tmp_path).read_bytes()
    with kept.transaction() as tx:
        tx._connection.execute(update(readings).values(value=readings.c.value + 1))
    [one] = archive_months(kept, YARD, tmp_path)
    assert one.state == "does not fit"
    assert "readings of beam in the hour from 2026-12-30 00:00 UTC" in one.words
    assert "`laidup verify` says more" in one.words
    assert name_of(tmp_path).read_bytes() == whole
    with kept.transaction() as tx:
        tx._connection.execute(delete(readings))
    assert archived(kept, tmp_path) == [("in the file alone", 144)]
    assert name_of(tmp_path).read_bytes() == whole


def test_a_folder_that_is_not_there_is_named_and_not_made(kept, tmp_path):
    missing = tmp_path / "nas"
    with pytest.raises(ArchiveError, match=r"nas cannot be read.*Make it, or mount its disk"):
        archived(kept, missing)
    assert not missing.exists()


def test_without_pyarrow_the_extra_is_named(kept, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(LaidupError, match=r"laidup\[data\]"):
        archived(kept, tmp_path)
    assert listed(tmp_path) == []


def test_a_full_disk_is_named_and_keeps_the_file_that_was_there(kept, tmp_path):
    with small_disk(tmp_path, 1) as disk:
        ballast = disk / "ballast"
        with pytest.raises(OSError, match="No space left"):
            ballast.write_bytes(bytes(2_000_000))
        with pytest.raises(ArchiveError, match=r"2026-12.parquet cannot be written: No space") as e:
            archived(kept, disk)
        assert "Make room" in str(e.value)
        assert listed(disk) == ["ballast"]
        ballast.unlink()
        assert archived(kept, disk) == [("written", 144)]


KILLED = """
import os, pathlib, signal, sys
from monitor.store import archive_file, archive_folder
from monitor.store.archiving import archive_months
from monitor.store.store import Store

url, folder, place, n = sys.argv[1], pathlib.Path(sys.argv[2]), sys.argv[3], int(sys.argv[4])
calls = 0

def dying(real):
    def call(*a, **k):
        global calls
        calls += 1
        if calls == n:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*a, **k)
    return call

if place == "fsync":
    os.fsync = dying(os.fsync)
if place == "replace":
    pathlib.Path.replace = dying(pathlib.Path.replace)
tell = dying(lambda *a: None) if place == "sensor" else (lambda *a: None)
list(archive_months(Store(url, "kettlemoss"), "kettlemoss", folder, None, tell))
"""


@pytest.mark.parametrize(
    ("place", "n"),
    [("sensor", 2), ("fsync", 1), ("fsync", 2), ("fsync", 3), ("replace", 1), ("replace", 2)],
)
@pytest.mark.parametrize("over", [False, True])
def test_kill_9_at_any_step_leaves_the_file_before_or_the_file_after(
    kept, url, tmp_path, place, n, over
):
    if over:
        archived(kept, tmp_path)
        put(kept, reading("beam", AIR, BEGIN + 5 * HOUR + MINUTE, -4.1))
        close_due_days(kept, CLOSED + DAY)
        n += 2 if place == "sensor" else 0  # both sensors are read to compare first
    before = name_of(tmp_path).read_bytes() if over else None
    command = [sys.executable, "-c", KILLED, url, str(tmp_path), place, str(n)]
    done = subprocess.run(command, check=False, timeout=60)
    assert done.returncode == -signal.SIGKILL
    file = name_of(tmp_path)
    if (place, n) == ("fsync", 3):
        assert file.exists(), "only the folder was still to be written out"
    else:
        assert (file.read_bytes() if file.exists() else None) == before
    [(state, rows)] = archived(kept, tmp_path)
    assert rows == 144 + over
    assert state in {"written", "written anew", "there already"}
    assert checked(kept, tmp_path) == [("fits", "")]
    assert listed(tmp_path) == [file.name, f"{file.name}.sha256"]


def test_what_another_run_writes_now_is_not_taken_for_left_behind(kept, tmp_path):
    dead = tmp_path / f".{YARD}-2026-11.parquet.1.part"
    alive = tmp_path / f".{YARD}-2026-12.parquet.2.part"
    dead.write_bytes(b"half")
    with alive.open("xb") as out:
        fcntl.flock(out, fcntl.LOCK_EX)
        archived(kept, tmp_path)
        assert (dead.exists(), alive.exists()) == (False, True)
    archived(kept, tmp_path)
    assert not alive.exists()
