"""The guide's upgrade and its way back, from every revision that the tables ever had."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

from monitor.cli import main
from monitor.settings.load import load_settings
from monitor.store import migrate as migrating
from monitor.store.engine import writing_engine
from monitor.store.store import Store
from monitor.store.store_file import REVISION, revision_of
from monitor.yard.reading import Channel
from tests.commands.test_init import init

SCRIPTS = Path(migrating.__file__).parent / "migrations"
SENSOR, AT_MS = "urn:dev:ops:mill-lane-shed-corner", 1_700_000_000_000
READINGS = 50


def alembic_config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(SCRIPTS))
    return config


STEPS = ScriptDirectory.from_config(alembic_config()).walk_revisions()
REVISIONS = sorted(step.revision for step in STEPS)


def old_store(folder: Path, wanted: str) -> Path:
    """A yard's store as a program of an earlier revision left it, with readings of the first."""
    file = load_file(folder)
    file.touch()
    engine, config = writing_engine(f"sqlite:///{file}"), alembic_config()
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
    with closing(sqlite3.connect(file)) as tables, tables:
        tables.execute("INSERT INTO yards VALUES (1, 'mill-lane-storage')")
        tables.execute("INSERT INTO series VALUES (1, 1, ?, 'temperature')", (SENSOR,))
        rows = [(AT_MS + n * 600_000, -425 + n) for n in range(READINGS)]
        tables.executemany("INSERT INTO readings VALUES (1, 1, ?, ?, NULL, 1)", rows)
    if wanted != "0001":
        with engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, wanted)
    engine.dispose()
    return file


def load_file(folder: Path) -> Path:
    return folder / "data" / "laidup.db"


def stored(folder: Path) -> list[float]:
    """Values of all readings, by time."""
    settings = load_settings(folder / "yard.toml")
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    with closing(store), store.snapshot() as tx:
        [trace] = tx.readings.traces_between(
            [(SENSOR, Channel.TEMPERATURE)], AT_MS, AT_MS + READINGS * 600_000
        ).values()
    return [round(float(value), 2) for value in trace.value]


def revision_unopened(copy: Path) -> str:
    """The revision of a copy's tables, looked up without a byte of it being changed."""
    with closing(sqlite3.connect(f"file:{copy}?mode=ro&immutable=1", uri=True)) as tables:
        return tables.execute("SELECT version_num FROM alembic_version").fetchone()[0]


EXPECTED = [round(-4.25 + n / 100, 2) for n in range(READINGS)]  # 0.01 °C a step


@pytest.mark.parametrize("wanted", REVISIONS)
def test_a_store_of_any_revision_is_brought_up_to_date_and_its_copy_is_the_way_back(
    tmp_path, wanted, capsys
):
    folder = tmp_path / "yard"
    init(folder)
    file = old_store(folder, wanted)
    assert revision_of(f"sqlite:///{file}") == wanted
    copy = tmp_path / "before-upgrade.db"
    # Also by the newer program, for whoever replaced the old one first.
    assert main(["backup", str(copy), "--config", str(folder)]) == 0
    assert revision_unopened(copy) == wanted
    assert len(list(tmp_path.glob("before-upgrade*"))) == 2, "the copy and its sum"
    before = copy.read_bytes()

    assert main(["migrate", "--config", str(folder)]) == 0
    assert revision_of(f"sqlite:///{file}") == REVISION
    assert stored(folder) == EXPECTED

    with closing(sqlite3.connect(file)) as tables, tables:
        tables.execute("DELETE FROM readings")  # whatever the newer program did
    assert main(["restore", str(copy), "--config", str(folder)]) == 1, capsys.readouterr().err
    assert main(["restore", "--over", str(copy), "--config", str(folder)]) == 0
    assert stored(folder) == EXPECTED
    assert copy.read_bytes() == before, "an older program must be able to read it still"
    assert len(list(file.parent.glob("laidup.db.before-*"))) >= 1


def test_an_older_program_refuses_the_newer_store_and_says_so(tmp_path, capsys):
    folder = tmp_path / "yard"
    init(folder)
    file = old_store(folder, REVISION)
    with closing(sqlite3.connect(file)) as tables, tables:
        tables.execute("UPDATE alembic_version SET version_num = '9999'")
    before = file.read_bytes()
    for words in (["status"], ["migrate"], ["backup", str(tmp_path / "copy.db")], ["run"]):
        assert main([*words, "--config", str(folder)]) == 1
        assert "newer" in capsys.readouterr().err, words
    assert file.read_bytes() == before


@pytest.mark.parametrize("wanted", [REVISIONS[0], REVISIONS[9], REVISIONS[19], REVISIONS[-2]])
def test_a_server_s_store_of_an_earlier_revision_is_copied_as_it_is(
    tmp_path, postgres, wanted, capsys
):
    folder = tmp_path / "yard"
    init(folder)
    file = folder / "yard.toml"
    text = file.read_text(encoding="utf-8")
    assert 'url = "sqlite:///data/laidup.db"' in text
    file.write_text(
        text.replace('url = "sqlite:///data/laidup.db"', f'url = "{postgres}"'), encoding="utf-8"
    )
    migrating.migrate(postgres, "0001")
    engine = writing_engine(postgres)
    with engine.begin() as tables:
        tables.exec_driver_sql("INSERT INTO yards VALUES (1, 'mill-lane-storage')")
        tables.exec_driver_sql(f"INSERT INTO series VALUES (1, 1, '{SENSOR}', 'temperature')")
        for n in range(READINGS):
            row = (1, 1, AT_MS + n * 600_000, -425 + n)
            tables.exec_driver_sql("INSERT INTO readings VALUES (%s, %s, %s, %s, NULL, 1)", row)
    engine.dispose()
    migrating.migrate(postgres, wanted)
    copy = tmp_path / "before-upgrade.db"
    assert main(["backup", str(copy), "--config", str(folder)]) == 0, capsys.readouterr().err
    assert revision_of(postgres) == wanted, "the store itself stays as its program wrote it"
    assert revision_unopened(copy) == wanted
    # What the copy holds, brought up to date as a restore does it.
    file.write_text(text, encoding="utf-8")
    assert main(["restore", str(copy), "--config", str(folder)]) == 0, capsys.readouterr().err
    assert stored(folder) == EXPECTED


def test_the_changes_of_alarms_that_are_there_are_counted_once_at_the_upgrade(tmp_path):
    folder = tmp_path / "yard"
    init(folder)
    file = old_store(folder, "0035")
    event = (
        "INSERT INTO alarm_events VALUES (1, 'a', ?, 0, 'normal', 'unacknowledged', 'x', '', '')"
    )
    with closing(sqlite3.connect(file)) as tables, tables:
        tables.executemany(event, [(n,) for n in range(1, 8)])
    assert main(["migrate", "--config", str(folder)]) == 0
    settings = load_settings(folder / "yard.toml")
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    with closing(store), store.snapshot() as tx:
        assert tx.alarms.count_changes() == tx.reads.marks.alarm_changes == 7
