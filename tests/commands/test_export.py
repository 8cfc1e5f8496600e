"""What is exported is taken in again, equal; an insurer needs SHA-256 and a JSON reader alone."""

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from monitor.frames import YardFrames
from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from tests.commands.yard_files import copied_yard, fill, laidup

UNTIL = datetime(2026, 11, 14, 12, tzinfo=UTC)


@pytest.fixture
def yards(stores, tmp_path) -> tuple[Path, Path]:
    """Two folders of one yard on stores of their own: the first filled, the second without work."""
    files = []
    for name in ("from", "to"):
        file = copied_yard(tmp_path / name)
        text = file.read_text(encoding="utf-8")
        # Each sensor is tied to a gateway, as deploy/INSTALL.md has it.
        text = text.replace("[[sensors]]\n", '[[sensors]]\nuser = "gate"\n')
        file.write_text(f'{text}\n[store]\nurl = "{stores.new_url()}"\n', encoding="utf-8")
        files.append(file)
    fill(files[0], UNTIL, days=1)
    settings = load_settings(files[1])
    store = Store(settings.store_url, settings.yard.id)
    bare = [replace(one, entries=()) for one in settings.craft]
    with store.transaction() as tx:
        take_in(tx.layup, bare, settings.profiles, UNTIL)
    store.close()
    (files[1].parent / "craft.toml").write_text("", encoding="utf-8")
    return files[0], files[1]


def opened(file: Path) -> Store:
    settings = load_settings(file)
    return Store(settings.store_url, settings.yard.id)


def sent(file: Path) -> dict:
    store = opened(file)
    with store.snapshot() as tx:
        found = {
            key: tx.readings.sent_steps(series, 0, 2**60)
            for key, series in tx.series.known_series().items()
        }
    store.close()
    return found


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_readings_come_back_as_they_were_sent(yards, tmp_path, form):
    there, back = yards
    file = tmp_path / f"readings.{form}"
    assert laidup("export", "readings", "--out", str(file), "--config", str(there)) == 0
    assert laidup("import", "readings", str(file), "--config", str(back)) == 0
    before, after = sent(there), sent(back)
    assert before.keys() == after.keys() != set()
    for key, (at_ms, steps) in before.items():
        np.testing.assert_array_equal(after[key][0], at_ms)
        np.testing.assert_array_equal(after[key][1], steps)


def test_the_record_comes_back_entry_by_entry(yards, tmp_path):
    there, back = yards
    file = tmp_path / "record.csv"
    assert laidup("export", "record", "--out", str(file), "--config", str(there)) == 0
    assert laidup("import", "work", str(file), "--config", str(back)) == 0
    first, second = opened(there), opened(back)
    with first.snapshot() as tx:
        before = tx.layup.all_entries()
    with second.snapshot() as tx:
        after = tx.layup.all_entries()
    first.close()
    second.close()
    assert sum(map(len, before.values())) > 30
    assert {craft: set(entries) for craft, entries in before.items()} == {
        craft: set(entries) for craft, entries in after.items()
    }


def read_broken(lines: str) -> list[str]:
    """The check that README shows to an insurer; what it finds wrong."""
    last, wrong = {}, []
    for line in map(json.loads, lines.splitlines()):
        same = hashlib.sha256(line["body"].encode()).hexdigest() == line["hash"]
        follows = json.loads(line["body"])["before"] == last.get(line["craft"], "0" * 64)
        wrong += [] if same and follows else [line["body"]]
        last[line["craft"]] = line["hash"]
    return wrong


def test_an_insurer_checks_the_record_with_sha256_alone(tmp_path, capsys):
    file = copied_yard(tmp_path)
    fill(file, UNTIL, days=1)
    assert laidup("export", "record", "--lines", "--config", str(file)) == 0
    lines = capsys.readouterr().out
    assert read_broken(lines) == []
    rows = lines.splitlines()
    number = next(n for n, row in enumerate(rows) if '\\"quantity_l\\":' in row)
    changed = rows[number].replace('\\"quantity_l\\":', '\\"quantity_l\\":1')
    assert len(read_broken("\n".join([*rows[:number], changed, *rows[number + 1 :]]))) == 1
    # A link that is gone out of the middle: the one behind it does not follow.
    inner = next(n for n in range(1, len(rows)) if '\\"number\\":1,' in rows[n])
    assert len(read_broken("\n".join([*rows[:inner], *rows[inner + 1 :]]))) == 1


def test_a_notebook_has_readings_judgements_and_record_as_frames(tmp_path):
    file = copied_yard(tmp_path)
    fill(file, UNTIL, days=1)
    yard = YardFrames(tmp_path)
    readings = yard.reading_frame("2026-11-14T00:00", UNTIL)
    assert set(readings["channel"]) == {"temperature", "humidity"}
    assert readings["at"].min() == datetime(2026, 11, 14, 6, tzinfo=UTC)  # Chicago's midnight
    assert len(yard.assessment_frame()) > 20
    assert {"k1", "k12"} <= set(yard.record_frame()["craft"])
    yard.close()
