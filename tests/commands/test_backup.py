"""A copy taken while laidup writes is whole, and puts back a store that judges alike."""

import configparser
import json
import shutil
import sqlite3
import threading
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.daemon.housework import take_nightly_copy
from monitor.errors import StoreError
from monitor.health.telling import AccountSocket, account_socket
from monitor.settings.load import load_settings
from monitor.store.copies import copies_to_drop, take_copy
from monitor.store.copy_age import CopySettings, check_copies, copies_in, copy_name
from monitor.store.store import Store
from monitor.yard.health import HealthAccount
from monitor.yard.reading import Channel, Reading
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.delivery.scene import message

NIGHT = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1)
YARD = "kettlemoss"
UNITS = Path(__file__).parents[2] / "deploy" / "systemd"


@pytest.fixture
def config(tmp_path):
    folder = tmp_path / "yard"
    folder.mkdir()
    return copied_yard(folder)


def store_at(config, url):
    text = config.read_text()
    assert "[store]" not in text
    config.write_text(f'{text}\n[store]\nurl = "{url}"\n')
    return config


def judged(config, capsys):
    """What the store says of every space and craft that evening, judged anew from its rows."""
    capsys.readouterr()
    assert laidup("assess", "--json", "--at", NIGHT.isoformat(), "--config", str(config)) == 0
    return json.loads(capsys.readouterr().out)


def backed_up(config, file):
    assert laidup("backup", str(file), "--config", str(config)) == 0
    return file


def readings_in(file):
    with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
        return db.execute("SELECT count(*) FROM readings").fetchone()[0]


def a_reading(minute):
    at_ms = int((NIGHT + timedelta(minutes=minute)).timestamp() * 1000)
    return Reading(sensor="urn:new", channel=Channel.TEMPERATURE, at_ms=at_ms, value=3.0, raw=3.0)


def test_a_yard_that_is_put_back_from_its_copy_judges_alike(config, tmp_path, capsys):
    settings = fill(config, until=NIGHT)
    before = judged(config, capsys)
    copy = backed_up(config, tmp_path / "copy.db")
    database = config.with_name("laidup.db")
    for part in database.parent.glob("laidup.db*"):
        part.unlink()
    assert laidup("restore", str(copy), "--config", str(config)) == 0
    assert judged(config, capsys) == before
    assert laidup("verify", "--config", str(config)) == 0
    with closing(Store(settings.store_url, YARD)) as store, store.transaction() as tx:
        tx.reading_writer.add([a_reading(1)])  # and it goes on


def test_a_copy_put_back_into_an_empty_place_of_its_own_kind_judges_alike(
    config, tmp_path, capsys, stores
):
    plain = config.read_text()
    store_at(config, stores.empty_url())
    settings = fill(config, until=NIGHT)
    with closing(Store(settings.store_url, YARD)) as store, store.transaction() as tx:
        tx.outbox.add([message(person="operator")])
    before = judged(config, capsys)
    copy = backed_up(config, tmp_path / "copy.db")
    config.write_text(plain)
    store_at(config, stores.empty_url())
    assert laidup("restore", str(copy), "--config", str(config)) == 0
    assert judged(config, capsys) == before
    assert laidup("verify", "--config", str(config)) == 0
    with closing(Store(load_settings(config).store_url, YARD)) as store:
        with store.snapshot() as tx:
            assert tx.outbox.count_by_outcome() == {"waiting": 1}
        with store.transaction() as tx:
            (waiting,) = tx.outbox.claim_due(NIGHT, timedelta(minutes=5))
            assert waiting.message.person == "operator"  # what had not left yet leaves now
            tx.reading_writer.add([a_reading(1)])  # and it goes on


def test_a_copy_of_a_server_is_put_back_into_a_file_and_judges_alike(
    config, tmp_path, capsys, postgres
):
    plain = config.read_text()
    store_at(config, postgres)
    fill(config, until=NIGHT)
    before = judged(config, capsys)
    copy = backed_up(config, tmp_path / "copy.db")
    config.write_text(plain)
    assert laidup("restore", str(copy), "--config", str(config)) == 0
    assert judged(config, capsys) == before


def test_a_copy_of_a_file_is_put_back_into_a_server_and_judges_alike(
    config, tmp_path, capsys, postgres
):
    fill(config, until=NIGHT)
    before = judged(config, capsys)
    copy = backed_up(config, tmp_path / "copy.db")
    store_at(config, postgres)
    assert laidup("restore", str(copy), "--config", str(config)) == 0
    assert judged(config, capsys) == before
    assert laidup("restore", str(copy), "--config", str(config)) == 1
    assert "make an empty one" in capsys.readouterr().err


def test_a_copy_holds_all_that_was_committed_while_it_is_taken(config, tmp_path):
    settings = fill(config, until=NIGHT)
    stop, written, floor = threading.Event(), [0], []

    def write():
        with closing(Store(settings.store_url, YARD)) as store:
            while not stop.is_set():
                with store.transaction() as tx:
                    tx.reading_writer.add([a_reading(written[0])])
                written[0] += 1  # committed

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(3):
            before = written[0]
            taken = take_copy(settings.store_url, YARD, tmp_path / f"{number}.db")
            floor.append((before, taken, written[0]))
    finally:
        stop.set()
        writer.join()
    known = readings_in(config.with_name("laidup.db")) - written[0]
    for before, taken, after in floor:
        assert known + before <= readings_in(taken.file) <= known + after + 1
        assert readings_in(taken.file) == taken.rows["readings"]
        assert not list(tmp_path.glob("*-wal"))


def test_the_database_file_alone_lacks_what_its_write_ahead_file_holds(config, tmp_path):
    settings = fill(config, until=NIGHT)
    with closing(Store(settings.store_url, YARD)) as store:
        with store.transaction() as tx:
            tx.reading_writer.add([a_reading(minute) for minute in range(100)])
        alone = shutil.copy(config.with_name("laidup.db"), tmp_path / "alone.db")
        taken = take_copy(settings.store_url, YARD, tmp_path / "taken.db")
    assert readings_in(taken.file) == readings_in(alone) + 100


def test_a_copy_is_for_its_user_alone_and_its_sum_tells_of_a_change(config, tmp_path, capsys):
    settings = fill(config, until=NIGHT)
    copy = backed_up(config, tmp_path / "copy.db")
    assert copy.stat().st_mode & 0o777 == 0o600
    with pytest.raises(StoreError, match="there already"):
        take_copy(settings.store_url, YARD, copy)
    with copy.open("r+b") as changed:
        changed.seek(-1, 2)
        changed.write(b"x")
    assert laidup("restore", str(copy), "--over", "--config", str(config)) == 1
    assert "not what was written" in capsys.readouterr().err
    assert readings_in(config.with_name("laidup.db")) > 0


def test_a_broken_record_is_copied_as_it_is_told_of_and_no_older_copy_goes(
    config, tmp_path, capsys
):
    fill(config, until=NIGHT)
    folder = tmp_path / "copies"
    folder.mkdir()
    for day in range(3):
        (folder / copy_name(YARD, NIGHT - timedelta(days=400 + 100 * day))).touch()
    with closing(sqlite3.connect(config.with_name("laidup.db"))) as db:
        db.execute("UPDATE layup_entries SET body = replace(body, 'by', 'By')")
        db.commit()
    arguments = ("backup", str(folder), "--days", "1", "--weeks", "1", "--config", str(config))
    assert laidup(*arguments) == 1
    assert "was changed after it was written" in capsys.readouterr().out
    assert len(copies_in(folder, YARD)) == 4


def test_in_a_folder_older_copies_of_this_yard_are_thinned(config, tmp_path):
    fill(config, until=NIGHT)
    folder = tmp_path / "copies"
    folder.mkdir()
    (folder / "letters.txt").touch()
    (folder / copy_name("millpond", NIGHT - timedelta(days=900))).touch()
    for day in range(30, 60):
        (folder / copy_name(YARD, NIGHT - timedelta(days=day))).touch()
    arguments = ("backup", str(folder), "--days", "3", "--weeks", "0", "--config", str(config))
    assert laidup(*arguments) == 0
    left = [NIGHT - at for at, _ in copies_in(folder, YARD)]
    assert [age.days for age in left[:2]] == [31, 30]
    assert len(left) == 3
    assert len(list(folder.iterdir())) == 3 + 1 + 2  # with the sum of the new one


def test_the_newest_of_each_day_and_of_each_week_stay():
    saturday = datetime(2026, 11, 14, 22, 0, tzinfo=UTC)
    copies = [
        (saturday - timedelta(days=day, hours=hours), (day, hours))
        for day in range(40)
        for hours in (0, 12)
    ]
    dropped = copies_to_drop(copies, days=3, weeks=4)
    kept = sorted(each for _, each in copies if each not in dropped)
    # Three days, and the Sundays that end the weeks before: 8 and 1 November, 25 October.
    assert kept == [(0, 0), (1, 0), (2, 0), (6, 0), (13, 0), (20, 0)]


def test_the_newest_copy_stays_whatever_is_asked():
    newest = (NIGHT, "newest")
    assert copies_to_drop([newest, (NIGHT - timedelta(days=1), "older")], 0, 0) == ["older"]


def test_nothing_is_put_over_a_store_or_under_a_running_daemon(config, tmp_path, capsys):
    settings = fill(config, until=NIGHT)
    copy = backed_up(config, tmp_path / "copy.db")
    at = ("--config", str(config))
    assert laidup("restore", str(copy), *at) == 1
    assert "--over" in capsys.readouterr().err
    running = AccountSocket(
        account_socket(settings.store_url, settings.file), lambda: HealthAccount(at=NIGHT)
    )
    running.start()
    assert laidup("restore", str(copy), "--over", *at) == 1
    assert "stop it first" in capsys.readouterr().err
    running.stop()
    before = readings_in(config.with_name("laidup.db"))
    assert laidup("restore", str(copy), "--over", *at) == 0
    (aside,) = config.parent.glob("laidup.db.before-*Z")
    assert readings_in(aside) == before
    assert load_settings(config).store_url.endswith("laidup.db")


def test_what_is_no_copy_is_refused_and_the_store_stays(config, tmp_path, capsys):
    fill(config, until=NIGHT)
    text = tmp_path / "letters.db"
    text.write_text("no database" * 1000)
    assert laidup("restore", str(text), "--over", "--config", str(config)) == 1
    assert "file is not a database" in capsys.readouterr().err
    assert readings_in(config.with_name("laidup.db")) > 0


def test_a_folder_without_room_is_said_before_anything_is_written(config, tmp_path, monkeypatch):
    settings = fill(config, until=NIGHT)
    monkeypatch.setattr("monitor.store.reserve.free_bytes", lambda _: 1000)
    with pytest.raises(StoreError, match="make room or name another folder"):
        take_copy(settings.store_url, YARD, tmp_path / "copy.db")
    assert not list(tmp_path.glob("copy*"))


def test_the_nightly_copy_is_taken_where_nobody_may_set_priorities(config, tmp_path, monkeypatch):
    def refuse(*_):
        raise PermissionError

    monkeypatch.setattr("os.setpriority", refuse)
    fill(config, until=NIGHT)
    (tmp_path / "copies").mkdir()
    config.write_text(f'{config.read_text()}\n[backup]\nfolder = "{tmp_path}/copies"\n')
    take_nightly_copy(config)
    assert copies_in(tmp_path / "copies", YARD)


def test_the_nightly_copy_is_the_command_in_a_process_of_its_own(config, tmp_path):
    fill(config, until=NIGHT)
    folder = tmp_path / "copies"
    config.write_text(f'{config.read_text()}\n[backup]\nfolder = "{folder}"\n')
    with pytest.raises(StoreError, match="is no folder; make it, or mount its disk"):
        take_nightly_copy(config)
    folder.mkdir()
    take_nightly_copy(config)
    ((_, copy),) = copies_in(folder, YARD)
    assert copy.with_name(f"{copy.name}.sha256").exists()
    with pytest.raises(StoreError, match="was ended"):
        take_nightly_copy(config, within=timedelta(milliseconds=1))


def read_unit(file):
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str
    unit.read(file)
    return unit


def test_the_yards_file_says_where_copies_go(config, tmp_path, capsys):
    fill(config, until=NIGHT)
    at = ("--config", str(config))
    assert laidup("backup", *at) == 2
    assert "set [backup]" in capsys.readouterr().err
    plain = config.read_text()
    config.write_text(f'{plain}\n[backup]\nfolder = "../copies"\ndays = 2\nweeks = 0\n')
    assert laidup("backup", *at) == 1
    assert "mount its disk" in capsys.readouterr().err
    folder = tmp_path / "copies"
    folder.mkdir()
    for day in (2, 3, 4):
        (folder / copy_name(YARD, NIGHT - timedelta(days=day))).touch()
    assert laidup("backup", *at) == 0
    assert [(NIGHT - at).days for at, _ in copies_in(folder, YARD)][:-1] == [2]


def test_a_copy_is_overdue_after_a_night_without_one(tmp_path):
    kept = CopySettings(folder=tmp_path)

    def seen(now):
        return check_copies(kept, YARD, now).overdue

    assert "there is none" in seen(NIGHT)
    (tmp_path / copy_name("millpond", NIGHT)).touch()
    (tmp_path / f"{copy_name(YARD, NIGHT)}.part").touch()  # one that failed
    assert "there is none" in seen(NIGHT)
    (tmp_path / copy_name(YARD, NIGHT)).touch()
    assert seen(NIGHT + timedelta(hours=36)) == ""
    assert "is 2 days old" in seen(NIGHT + timedelta(hours=49))
    assert check_copies(kept, YARD, NIGHT).newest_at == NIGHT
    elsewhere = CopySettings(folder=tmp_path / "not-mounted")
    assert "cannot be read" in check_copies(elsewhere, YARD, NIGHT).overdue
