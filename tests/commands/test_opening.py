"""Commands that only look write nothing, and say what they therefore cannot show."""

import shutil
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.settings.load import load_settings
from monitor.store.mark import StoreMark
from monitor.store.store_file import REVISION
from tests.commands.yard_files import copied_yard, fill, laidup

LOOKING = [
    ("status",),
    ("assess",),
    ("report", "--week", "this"),
    ("layup", "list"),
    ("layup", "spring"),
    ("alarms", "list"),
    ("replay", "--from", "2026-01-10T12:00"),
]
ACTING = [("rehearse", "operator", "--wait", "0"), ("report", "--send")]


def store_of(config: Path) -> Path:
    return Path(load_settings(config).store_url.removeprefix("sqlite:///"))


def rows(store: Path) -> list[str]:
    with sqlite3.connect(store) as connection:
        return list(connection.iterdump())


@pytest.mark.parametrize("command", LOOKING + ACTING, ids=lambda command: " ".join(command[:2]))
def test_without_a_store_it_says_how_one_is_made_and_makes_none(tmp_path, capsys, command):
    config = copied_yard(tmp_path)
    assert laidup(*command, "--config", str(config)) == 1
    said = capsys.readouterr().err
    assert "there is no store yet" in said
    assert "`laidup run`" in said
    assert "`laidup migrate`" in said
    assert not store_of(config).exists()


@pytest.mark.parametrize("command", LOOKING + ACTING, ids=lambda command: " ".join(command[:2]))
def test_an_old_store_is_left_as_it_is_and_the_remedy_said(tmp_path, capsys, command):
    config = copied_yard(tmp_path)
    laidup("migrate", "--config", str(config))
    with sqlite3.connect(store_of(config)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0003'")
    before = rows(store_of(config))
    assert laidup(*command, "--config", str(config)) == 1
    said = capsys.readouterr().err
    assert f"of revision 0003, this program needs {REVISION}" in said
    assert "`laidup migrate`" in said
    assert rows(store_of(config)) == before


@pytest.mark.parametrize("command", LOOKING[:6], ids=lambda command: " ".join(command[:2]))
def test_a_craft_file_not_taken_in_is_said_in_one_line_and_not_taken_in(tmp_path, capsys, command):
    config = copied_yard(tmp_path)
    laidup("migrate", "--config", str(config))
    capsys.readouterr()
    before = rows(store_of(config))
    assert laidup(*command, "--config", str(config)) == 0
    (line,) = capsys.readouterr().err.splitlines()
    assert "and 9 more is not taken in yet" in line
    assert rows(store_of(config)) == before


def test_what_is_taken_in_whole_is_not_spoken_of_and_one_new_entry_is(tmp_path, capsys):
    config = copied_yard(tmp_path)
    fill(config, days=1)
    craft_file = config.parent / "craft.toml"
    assert laidup("layup", "list", "--config", str(config)) == 0
    assert capsys.readouterr().err == ""
    text = craft_file.read_text(encoding="utf-8")
    (first, *_), name = text.split("[[craft]]")[1:], "Teal"
    assert f'name = "{name}"' in first
    more = '[[craft.layup]]\nat = 2026-11-13T10:00:00\nby = "Ada"\nact = "bilge-dried"\n\n'
    craft_file.write_text(text.replace(first, f"{first}{more}", 1), encoding="utf-8")
    assert laidup("layup", "list", "--config", str(config)) == 0
    (line,) = capsys.readouterr().err.splitlines()
    assert f"of {name} is not taken in yet" in line


def test_a_store_that_serves_another_yard_is_not_written_to(tmp_path, capsys):
    here, there = (tmp_path / name for name in ("here", "there"))
    config, other = copied_yard(here), copied_yard(there)
    fill(config, days=1)
    shutil.copy(store_of(config), store_of(other))
    text = other.read_text(encoding="utf-8")
    assert 'id = "kettlemoss"' in text
    other.write_text(text.replace('id = "kettlemoss"', 'id = "elsewhere"', 1), encoding="utf-8")
    before = rows(store_of(other))
    assert laidup("status", "--config", str(other)) == 0
    assert "No reading has ever come in" in capsys.readouterr().out
    assert rows(store_of(other)) == before


@pytest.mark.parametrize("command", [("migrate",), ("import", "craft", "craft.toml")])
def test_what_would_begin_a_store_begins_none_where_one_was_lost(tmp_path, capsys, command):
    config = copied_yard(tmp_path)
    settings = load_settings(config)
    StoreMark(config).set(settings.store_url, settings.yard.id, datetime.now(UTC))
    given = [str(tmp_path / one) if one.endswith(".toml") else one for one in command]
    assert laidup(*given, "--config", str(config)) == 1
    assert "--new-store" in capsys.readouterr().err
    assert not store_of(config).exists()
