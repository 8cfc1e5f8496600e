"""``laidup archive``: its answers and exit statuses, over the demo's yard at a month's end."""

import json
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import delete

from monitor.clock import to_ms
from monitor.settings.load import load_settings
from monitor.store.closing_days import close_due_days
from monitor.store.store import Store
from monitor.store.tables import readings
from tests.commands.yard_files import copied_yard, fill, laidup

END = datetime(2025, 11, 1, 6, tzinfo=UTC)  # the readings begin on 31 October


@pytest.fixture
def config(tmp_path):
    """The demo's yard, a day of readings over the end of a month, the days closed."""
    file = copied_yard(tmp_path / "yard")
    settings = fill(file, until=END, days=1)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        close_due_days(store, END + timedelta(days=1))
    return file


@pytest.fixture
def folder(tmp_path):
    """Where the archive goes."""
    made = tmp_path / "archive"
    made.mkdir()
    return made


def archive(config, capsys, *arguments):
    """Exit status, answer and errors of the command."""
    capsys.readouterr()
    status = laidup("archive", *map(str, arguments), "--config", str(config))
    said = capsys.readouterr()
    return status, said.out, said.err


def test_a_month_is_written_once_and_fits(config, folder, capsys):
    status, out, _ = archive(config, capsys, "--to", folder)
    file = folder / "kettlemoss-2025-10.parquet"
    assert status == 0
    assert out.startswith(f"{file}: ")
    assert out.endswith(" readings written.\n")
    assert "there already, the same " in archive(config, capsys, "--to", folder)[1]
    status, out, _ = archive(config, capsys, "--check", folder)
    assert (status, out.endswith(", as the closed days have them.\n")) == (0, True)


def test_a_damaged_file_is_an_exit_status_and_a_line_on_stderr(config, folder, capsys):
    archive(config, capsys, "--to", folder)
    file = folder / "kettlemoss-2025-10.parquet"
    file.write_bytes(file.read_bytes()[:-20])
    status, out, err = archive(config, capsys, "--check", folder)
    assert (status, out) == (1, "")
    assert err.startswith("2025-10 DOES NOT FIT: ")
    assert str(file) in err
    status, out, _ = archive(config, capsys, "--check", folder, "--json")
    assert status == 1
    [one] = json.loads(out)["months"]
    assert (one["month"], one["state"]) == ("2025-10", "does not fit")


def test_nothing_to_archive_is_said(config, folder, capsys):
    status, out, _ = archive(config, capsys, "--to", folder, "--before", "2025-10")
    assert (status, out.startswith("No month is archived: ")) == (0, True)
    assert "holds no archive of kettlemoss" in archive(config, capsys, "--check", folder)[1]


@pytest.mark.parametrize("month", ["2025", "2025-13", "October", "2025-10-01"])
def test_what_is_no_month_is_refused_with_how_it_is_written(config, folder, capsys, month):
    status, _, err = archive(config, capsys, "--to", folder, "--before", month)
    assert status == 2
    assert "write it as 2026-11" in err


def test_a_folder_that_is_not_there_is_named(config, folder, capsys):
    folder.rmdir()
    for flag in ("--to", "--check"):
        status, _, err = archive(config, capsys, flag, folder)
        assert status == 1
        assert f"{folder} cannot be read" in err


def test_the_store_is_only_read(config, folder, capsys):
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        with store.snapshot() as tx:
            before = tx.yard_readings.count_readings()
        archive(config, capsys, "--to", folder)
        with store.snapshot() as tx:
            assert tx.yard_readings.count_readings() == before


@pytest.fixture
def dropped(config, folder, capsys):
    """October is archived, the yard's file names the folder; calling it deletes October's rows."""
    text = config.read_text(encoding="utf-8")
    config.write_text(f'{text}\n[archive]\nfolder = "{folder}"\n', encoding="utf-8")
    assert archive(config, capsys, "--to")[0] == 0  # the folder of the yard's file

    def drop():
        settings = load_settings(config)
        november = readings.c.at_ms < to_ms(datetime(2025, 11, 1, tzinfo=UTC))
        with (
            closing(Store(settings.store_url, settings.yard.id)) as store,
            store.transaction() as tx,
        ):
            assert tx._connection.execute(delete(readings).where(november)).rowcount > 1000

    return drop


def answers(config, capsys, *command):
    capsys.readouterr()
    status = laidup(*command, "--config", str(config))
    said = capsys.readouterr()
    return status, said.out, said.err


EXPORT = ("export", "readings", "--to", "2025-11-01T06:00")
REPLAY = ("replay", "--from", "2025-10-31T14:00", "--to", "2025-10-31T20:00")


@pytest.mark.parametrize("command", [EXPORT, REPLAY], ids=["export", "replay"])
def test_export_and_replay_say_of_an_archived_month_what_they_said_before(
    config, folder, dropped, capsys, command
):
    before = answers(config, capsys, *command)
    assert before[0] == 0
    dropped()
    assert answers(config, capsys, *command) == before
    file = folder / "kettlemoss-2025-10.parquet"
    file.write_bytes(file.read_bytes()[:-20])
    status, _, err = answers(config, capsys, *command)
    assert status == 1
    assert f"{file} is damaged" in err


def test_verify_says_which_file_has_readings_that_are_no_longer_in_the_store(
    config, folder, dropped, capsys
):
    dropped()
    file = folder / "kettlemoss-2025-10.parquet"
    status, out, _ = answers(config, capsys, "verify")
    assert status == 0
    assert f" of these hours are no longer in the store: {file} has them so." in out
    status, out, _ = answers(config, capsys, "verify", "--json")
    assert json.loads(out)["days"]["archived"][str(file)] > 100
    file.write_bytes(file.read_bytes()[:-20])
    status, out, _ = answers(config, capsys, "verify")
    assert status == 1
    assert "are gone" in out
    assert f"looked for in the archive. {file} is damaged" in out


def test_without_a_folder_named_or_set_it_is_asked_for(config, capsys):
    status, _, err = archive(config, capsys, "--check")
    assert status == 2
    assert "name a folder, or set [archive] folder" in err
