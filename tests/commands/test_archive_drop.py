"""``laidup archive --drop``: it asks, removes, and what commands say stays as it was."""

import fcntl
import json
import os
import pty
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest

from monitor.clock import to_ms
from monitor.settings.load import load_settings
from monitor.store.closing_days import close_due_days
from monitor.store.rolling_up import make_due_hours
from monitor.store.store import Store
from monitor.yard.reading import Channel, Reading
from tests.commands.yard_files import copied_yard, fill, laidup

END = datetime(2025, 1, 1, 6, tzinfo=UTC)  # the readings begin on 31 December
FILE = "kettlemoss-2024-12.parquet"


@pytest.fixture
def config(tmp_path):
    """The demo's yard, a day of readings long ago and one reading now; the month is archived."""
    file = copied_yard(tmp_path / "yard")
    (tmp_path / "archive").mkdir()
    text = file.read_text(encoding="utf-8")
    file.write_text(f'{text}\n[archive]\nfolder = "{tmp_path}/archive"\n', encoding="utf-8")
    settings = fill(file, until=END, days=1)
    now = datetime.now(UTC)
    sensor = settings.yard.sensors[0].name
    one = Reading(sensor=sensor, channel=Channel.TEMPERATURE, at_ms=to_ms(now), value=1.0, raw=1.0)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        close_due_days(store, END + timedelta(days=1))
        with store.transaction() as tx:
            tx.reading_writer.add([one])
        make_due_hours(store, now)
    assert laidup("archive", "--to", "--config", str(file)) == 0
    return file


def said(config, capsys, *command):
    capsys.readouterr()
    status = laidup(*command, "--config", str(config))
    told = capsys.readouterr()
    return status, told.out, told.err


def count(config):
    settings = load_settings(config)
    with (
        closing(Store(settings.store_url, settings.yard.id)) as store,
        store.snapshot() as tx,
    ):
        return tx.yard_readings.count_readings()


EXPORT = ("export", "readings", "--from", "2024-12-31", "--to", "2025-01-01T06:00")
REPLAY = ("replay", "--from", "2024-12-31T14:00", "--to", "2024-12-31T20:00")
WEEK = ("report", "--week", "2025-W01")
SAY = (EXPORT, REPLAY, WEEK)


def test_it_removes_with_yes_and_export_replay_and_report_say_what_they_said(
    config, capsys, tmp_path
):
    before = [said(config, capsys, *command) for command in SAY]
    assert [status for status, *_ in before] == [0, 0, 0]
    rows = count(config)
    status, out, err = said(config, capsys, "archive", "--drop", "--yes")
    assert (status, err) == (0, "")
    assert out.startswith("2024-12: ")
    assert f" readings removed, {tmp_path}/archive/{FILE} has them" in out
    assert rows - count(config) > 1000
    assert [said(config, capsys, *command) for command in SAY] == before
    status, out, _ = said(config, capsys, "verify")
    assert status == 0
    assert f"no longer in the store: {tmp_path}/archive/{FILE} has them so" in out
    status, out, _ = said(config, capsys, "archive", "--drop", "--yes")
    assert (status, out.startswith("No month is to be dropped: the store keeps all from ")) == (
        0,
        True,
    )


def test_as_json_it_tells_each_month_and_what_is_free(config, capsys):
    rows = count(config)
    status, out, _ = said(config, capsys, "archive", "--drop", "--yes", "--json")
    told = json.loads(out)
    [one] = told["months"]
    assert (status, one["month"], one["file"], one["state"]) == (0, "2024-12", FILE, "dropped")
    assert one["removed"] == rows - count(config)


def test_without_a_terminal_or_a_yes_nothing_goes(config, capsys, monkeypatch):
    rows = count(config)
    monkeypatch.setattr("sys.stdin", open(os.devnull))  # noqa: SIM115
    for more in ((), ("--json",)):
        status, _, err = said(config, capsys, "archive", "--drop", *more)
        assert status == 2
        assert "add --yes once the folder is in the backup" in err
    assert count(config) == rows


@pytest.mark.parametrize(("answer", "status"), [("no\n", 1), ("\n", 1), ("yes\n", 0)])
def test_on_a_terminal_it_says_what_would_go_and_asks(config, answer, status):
    rows = count(config)
    master, slave = pty.openpty()
    command = [sys.executable, "-m", "monitor", "archive", "--drop", "--config", str(config)]
    with subprocess.Popen(command, stdin=slave, stdout=subprocess.PIPE, text=True) as asked:
        os.write(master, answer.encode())
        out, _ = asked.communicate(timeout=60)
    os.close(slave)
    os.close(master)
    assert asked.returncode == status
    assert f"{FILE}: 0.0 MB" in out
    assert "2024-12: " in out
    assert "Have the folder in the backup." in out
    assert (count(config) < rows) == (status == 0)


def test_a_file_that_is_gone_is_a_line_on_stderr_and_nothing_goes(config, capsys, tmp_path):
    rows = count(config)
    (tmp_path / "archive" / FILE).unlink()
    status, out, err = said(config, capsys, "archive", "--drop", "--yes")
    assert (status, out) == (1, "")
    assert err.startswith("2024-12: NOTHING REMOVED: ")
    assert f"{FILE} is not there" in err
    assert count(config) == rows


def test_a_month_that_was_not_asked_for_stays(config, capsys):
    status, out, _ = said(config, capsys, "archive", "--drop", "--yes", "--before", "2024-12")
    assert (status, out.startswith("No month is to be dropped")) == (0, True)


def test_without_a_folder_in_the_yards_file_it_is_refused(config, capsys):
    text = config.read_text(encoding="utf-8")
    config.write_text(text[: text.index("[archive]")], encoding="utf-8")
    status, _, err = said(config, capsys, "archive", "--drop", "--yes")
    assert status == 2
    assert "set [archive] folder" in err
    status, _, err = said(config, capsys, "archive", "--to", "x", "--yes")
    assert status == 2
    assert "--yes is of --drop" in err


def test_once_the_folder_is_no_longer_named_what_reads_old_months_says_so(config, capsys):
    assert said(config, capsys, "archive", "--drop", "--yes")[0] == 0
    text = config.read_text(encoding="utf-8")
    config.write_text(text[: text.index("[archive]")], encoding="utf-8")
    status, _, err = said(config, capsys, *EXPORT)
    assert status == 1
    assert "before 2025-01-01 are no longer in the store but in archive files" in err
    status, out, _ = said(config, capsys, "verify")
    assert status == 1
    assert "name their folder in the yard's file ([archive] folder)" in out


def checked(config, capsys):
    """What `laidup check` says of the archive: whether it holds, and the words."""
    _, out, _ = said(config, capsys, "check", "--json")
    [one] = [one for one in json.loads(out)["checks"] if one["check"] == "Archive"]
    return one["holds"], one["said"]


def test_check_names_what_is_wrong_with_the_archive(config, capsys, tmp_path):
    folder = tmp_path / "archive"
    assert checked(config, capsys) == (True, f"{folder} is there; the store has all raw readings.")
    said(config, capsys, "archive", "--drop", "--yes")
    holds, words = checked(config, capsys)
    assert holds
    assert f"raw readings of 1 month up to 2024-12 are in {folder} alone" in words
    file = folder / FILE
    whole = file.read_bytes()
    file.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    holds, words = checked(config, capsys)
    assert not holds
    assert f"{file} is another file than when its readings left the store" in words
    file.unlink()
    assert checked(config, capsys)[0] is False
    assert f"{file} is not there" in checked(config, capsys)[1]
    folder.rename(tmp_path / "away")
    assert f"{folder} cannot be read" in checked(config, capsys)[1]
    text = config.read_text(encoding="utf-8")
    config.write_text(text[: text.index("[archive]")], encoding="utf-8")
    assert "[archive] folder names none: set it" in checked(config, capsys)[1]


def test_a_month_is_put_back_and_another_is_refused(config, capsys):
    rows = count(config)
    status, _, err = said(config, capsys, "archive", "--put-back", "2024-12")
    assert status == 2
    assert "that month was not dropped from the store" in err
    said(config, capsys, "archive", "--drop", "--yes")
    status, out, _ = said(config, capsys, "archive", "--put-back", "2024-12")
    assert status == 0
    assert out.startswith("2024-12: ")
    assert " are in the store again; " in out
    assert count(config) == rows


def test_a_backup_says_what_is_not_in_it_and_put_back_it_reads_the_archive(
    config, capsys, tmp_path
):
    before = said(config, capsys, *EXPORT)
    said(config, capsys, "archive", "--drop", "--yes")
    status, out, _ = said(config, capsys, "backup", str(tmp_path / "copy.db"))
    assert status == 0
    assert "Raw readings of 1 month are not in it but in archive files" in out
    if load_settings(config).store_url.startswith("sqlite"):
        status, out, _ = said(config, capsys, "restore", "--over", str(tmp_path / "copy.db"))
        assert (status, "`laidup check` says whether" in out) == (0, True)
        assert said(config, capsys, *EXPORT) == before


def test_into_an_empty_store_an_archive_file_is_imported_as_what_was_sent(config, capsys, tmp_path):
    october = ("export", "readings", "--to", "2025-01-01T00:00Z")
    before = said(config, capsys, *october)
    assert before[0] == 0
    other = copied_yard(tmp_path / "other")
    status, out, _ = said(other, capsys, "import", "readings", str(tmp_path / "archive" / FILE))
    assert status == 0
    assert " 0 rows kept aside" in out
    assert said(other, capsys, *october)[1] == before[1]


def test_of_two_runs_at_once_the_second_is_refused(config, capsys, tmp_path):
    rows = count(config)
    with (tmp_path / "archive" / ".kettlemoss.lock").open("ab") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        for command in (("--drop", "--yes"), ("--put-back", "2024-12")):
            status, _, err = said(config, capsys, "archive", *command)
            assert status != 0
            if command[0] == "--drop":
                assert "another run drops months of kettlemoss" in err
    assert count(config) == rows
    assert said(config, capsys, "archive", "--drop", "--yes")[0] == 0
