"""Craft files that were taken in are not checked again; any byte that differs is seen at once."""

from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from monitor.clock import SystemClock
from monitor.daemon.opening import take_in_craft
from monitor.errors import Fault, RecordError
from monitor.settings import craft_files
from monitor.settings.load import load_settings, shipped_folder
from monitor.store.store import Store
from monitor.store.taking_in import take_in as take_in_craft_files
from monitor.store.taking_in_each import keep_files_taken_in
from tests.commands.yard_files import copied_yard, laidup

NOW = datetime(2026, 11, 14, tzinfo=UTC)
CRAFT = {f"k{n}" for n in range(1, 13)}  # of the demo's craft file


@pytest.fixture
def config(tmp_path):
    file = copied_yard(tmp_path)
    laidup("migrate", "--config", str(file))
    take_in(file)
    return file


def take_in(config: Path) -> dict[str, str]:
    """Take in what the files say, as the daemon does when it starts."""
    settings = load_settings(config)
    with opened(config) as store:
        return take_in_craft(settings, store, SystemClock())


def opened(config: Path):
    settings = load_settings(config)
    return closing(Store(settings.store_url, settings.yard.id))


def read(config: Path) -> set[str]:
    """Ids of the craft that whoever only looks reads of the files."""
    return {one.craft.id for one in load_settings(config, only_new_craft=True).craft}


def change_file(config: Path, old: str, new: str) -> None:
    file = config.parent / "craft.toml"
    said = file.read_text(encoding="utf-8")
    assert old in said
    file.write_text(said.replace(old, new, 1), encoding="utf-8")


def test_nothing_is_read_of_files_that_were_taken_in_whole(config, capsys):
    assert read(config) == set()
    assert {one.craft.id for one in load_settings(config).craft} == CRAFT  # who writes reads all
    capsys.readouterr()
    assert laidup("layup", "list", "--config", str(config)) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("old", "new"), [("operator", "0perator"), ("# Laid", "# laid"), ("S26-08", "S26-09")]
)
def test_a_changed_byte_has_all_of_it_read_until_it_is_taken_in(config, old, new):
    change_file(config, old, new)
    assert read(config) >= CRAFT - {"k1"}
    change_file(config, new, old)
    assert read(config) == set()


def test_new_work_in_a_file_is_told_and_once_taken_in_no_more(config, capsys):
    more = '[[craft.layup]]\nat = 2026-11-13T10:00:00\nby = "Ada"\nact = "bilge-dried"\n\n'
    change_file(config, "[[craft.layup]]\n", f"{more}[[craft.layup]]\n")
    laidup("status", "--config", str(config))
    assert "of Teal is not taken in yet" in capsys.readouterr().err
    assert take_in(config) == {}
    laidup("status", "--config", str(config))
    assert "not taken in" not in capsys.readouterr().err
    assert read(config) == set()


def test_a_profile_or_a_yard_that_says_otherwise_has_all_of_it_read(config):
    profiles = config.parent / "profiles"
    profiles.mkdir()
    known = Path(shipped_folder() / "profiles" / "pwc-two-stroke.toml")
    said = known.read_text(encoding="utf-8")
    own = profiles / known.name
    own.write_text(said.replace('name = "', 'name = "My ', 1), encoding="utf-8")
    assert read(config) == CRAFT
    own.unlink()
    assert read(config) == set()
    said = config.read_text(encoding="utf-8")
    config.write_text(said.replace("Long Shed", "Longest Shed", 1), encoding="utf-8")
    assert read(config) == CRAFT


def test_a_craft_that_a_person_changed_since_is_read_and_no_other(config):
    with opened(config) as store, store.transaction() as tx:
        teal = tx.layup.craft_by_id("k1")
        tx.layup.put_craft([replace(teal, name="Tealet")], datetime.now(UTC), "Ada")
    assert read(config) == {"k1"}
    take_in(config)
    assert read(config) == set()


def test_files_with_a_fault_or_a_refusal_are_read_again_each_time(config, capsys):
    change_file(config, 'act = "fuel-run-through"', 'act = "fuel-run-thru"')
    assert "k1" in take_in(config)
    assert read(config) == CRAFT - {"k1"}
    capsys.readouterr()
    laidup("layup", "list", "--config", str(config))
    assert "fuel-run-thru" in capsys.readouterr().err


def test_files_of_which_a_craft_is_refused_after_all_are_known_no_more(config):
    # The bytes that were taken in, refused by a program that knows better.
    settings = load_settings(config)
    refused = RecordError([Fault(file="craft.toml", key="", problem="no", remedy="Mend it.")])
    with opened(config) as store:
        with store.transaction() as tx:
            taken = take_in_craft_files(tx.layup, settings.craft, settings.profiles, NOW)
        keep_files_taken_in(store, settings.files_digest, replace(taken, refused=(refused,)))
        assert read(config) == CRAFT
        keep_files_taken_in(store, settings.files_digest, taken)
        assert read(config) == set()


def test_a_file_that_changes_while_it_is_read_is_not_known(config, monkeypatch):
    with opened(config) as store, store.transaction() as tx:
        tx.taken_files.keep_digest("", 0)
    read_files = craft_files.read_craft_files

    def change_behind(files, *rest):
        found = read_files(files, *rest)
        change_file(config, "# Laid", "# laid")
        return found

    monkeypatch.setattr(craft_files, "read_craft_files", change_behind)
    settings = load_settings(config)
    assert settings.files_digest == ""
    monkeypatch.undo()
    with opened(config) as store:
        take_in_craft(settings, store, SystemClock())
    assert read(config) == CRAFT


def test_a_record_that_was_tampered_with_is_told_whatever_is_known_of_the_files(config, capsys):
    engine = create_engine(load_settings(config).store_url)
    changed = "UPDATE layup_entries SET body = replace(body, 'S26-08', 'S26-09')"
    with engine.begin() as connection:
        connection.execute(text(changed))
    engine.dispose()
    assert read(config) == set()
    assert laidup("verify", "--config", str(config)) == 1
    assert "BROKEN" in capsys.readouterr().out
    assert laidup("status", "--config", str(config)) == 1
    said = capsys.readouterr()
    assert "The record of Teal (k1) cannot be believed" in said.err
