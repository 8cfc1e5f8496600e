"""Rows that hold what laidup never writes: named as breaks, and no check of the record stops.

SQLite keeps any value in any column, and a flipped bit makes text that is no UTF-8.
"""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from hashlib import sha256

import pytest

from monitor.clock import SystemClock
from monitor.craft.protection import LayupState
from monitor.craft.record import stored_craft
from monitor.store.entering import enter
from monitor.store.migrate import migrate
from monitor.store.record_upkeep import RecordUpkeep
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.store.taking_in_each import take_in_each
from monitor.store.verifying import verify_record
from tests.craft.scene import EVE, NOON, SHELTERS, library, twelve, work


@pytest.fixture
def file(tmp_path):
    return tmp_path / "laidup.db"


@pytest.fixture
def sqlite_store(file):
    """The twelve on record, in the database whose columns take anything."""
    migrate(f"sqlite:///{file}")
    store = Store(f"sqlite:///{file}", "kettlemoss")
    with store.transaction() as tx:
        take_in(tx.layup, twelve().values(), library(), NOON)
    yield store
    store.close()


def execute(file, *statements):
    with closing(sqlite3.connect(file)) as db:
        for statement in statements:
            assert db.execute(statement).rowcount > 0, statement
        db.commit()


def rewrite_entry(file, body):
    """Put another body in place of an entry's, its hash worked out again in both tables."""
    digest = sha256(body.encode()).hexdigest()
    at = "WHERE craft_id = 'k1' AND number = 4"
    with closing(sqlite3.connect(file)) as db:
        db.execute(f"UPDATE layup_entries SET body = ?, hash = ? {at}", (body, digest))
        db.execute(f"UPDATE record_links SET hash = ? {at}", (digest,))
        db.commit()


def said(file):
    with closing(sqlite3.connect(file)) as db:
        row = db.execute("SELECT body FROM layup_entries WHERE craft_id = 'k1' AND number = 4")
        return json.loads(row.fetchone()[0])


def add_link(file, **content):
    """Chain a mark of a break behind k1's last link, as somebody does who knows how."""
    with closing(sqlite3.connect(file)) as db:
        number, before = db.execute(
            "SELECT number, hash FROM record_links WHERE craft_id = 'k1' ORDER BY number DESC"
        ).fetchone()
        body = json.dumps({"number": number + 1, "before": before, **content})
        position = "(SELECT max(position) + 1 FROM record_links)"
        db.execute(
            f"INSERT INTO record_links VALUES (0, {position}, 'k1', ?, 'break', ?, ?)",
            (number + 1, sha256(body.encode()).hexdigest(), body),
        )
        db.commit()


WRITTEN = "2026-11-20T00:00:00Z"
AT_4 = "WHERE craft_id = 'k1' AND number = 4"
ODD = {
    "a link's number that is text": f"UPDATE record_links SET number = 'four' {AT_4}",
    "a link's number with a fraction": f"UPDATE record_links SET number = 4.5 {AT_4}",
    "a link's number that leaves none behind it": (
        f"UPDATE record_links SET number = 9223372036854775807 {AT_4}"
    ),
    "an entry's number that is text": f"UPDATE layup_entries SET number = 'four' {AT_4}",
    "an entry's number that leaves none behind it": (
        f"UPDATE layup_entries SET number = 9223372036854775807 {AT_4}"
    ),
    "a link's place that is text": f"UPDATE record_links SET position = 'here' {AT_4}",
    "a link's place that leaves none behind it": (
        f"UPDATE record_links SET position = 9223372036854775807 {AT_4}"
    ),
    "a link's hash in bytes": f"UPDATE record_links SET hash = x'00ff' {AT_4}",
    "an entry's body in bytes": f"UPDATE layup_entries SET body = CAST(body AS BLOB) {AT_4}",
    "an entry's body that is no UTF-8": (
        f"UPDATE layup_entries SET body = CAST(x'ff00fe' AS TEXT) {AT_4}"
    ),
    "a link's body that is no UTF-8": (
        "UPDATE record_links SET body = CAST(x'ff00fe' AS TEXT)"
        " WHERE craft_id = 'k1' AND number = 0"
    ),
    "an entry's body that is a number": f"UPDATE layup_entries SET body = 5 {AT_4}",
    "an entry's body nested without end": (
        f"UPDATE layup_entries SET body = replace(hex(zeroblob(100000)), '00', '[') {AT_4}"
    ),
    "an entry's time that is text": f"UPDATE layup_entries SET at_ms = 'soon' {AT_4}",
    "a move's time that is text": "UPDATE stays SET since_ms = 'soon' WHERE craft_id = 'k1'",
    "a move's time that no calendar has": (
        "UPDATE stays SET since_ms = 9223372036854775807 WHERE craft_id = 'k1'"
    ),
    "a craft's name in bytes": "UPDATE craft SET name = x'ff' WHERE craft_id = 'k1'",
    "a move's place in bytes": "UPDATE stays SET space = x'ff' WHERE craft_id = 'k1'",
    "a craft's arrival that no calendar has": (
        "UPDATE craft SET arrived_ms = 9223372036854775807 WHERE craft_id = 'k1'"
    ),
}
for _table in ("stays", "layup_entries", "record_links"):
    ODD[f"bytes for the craft in {_table}"] = (
        f"UPDATE {_table} SET craft_id = CAST(craft_id AS BLOB) WHERE craft_id = 'k1'"
    )
REWRITTEN = {
    "an entry without a time": lambda one: one["entry"].pop("at"),
    "an entry at a time that is none": lambda one: one["entry"].update(at="soon"),
    "an entry at a number": lambda one: one["entry"].update(at=5),
    "an entry before all time": lambda one: one["entry"].update(at="0001-01-01T00:00:00"),
    "an entry that is a list": lambda one: one.update(entry=[]),
    "an entry whose id is a list": lambda one: one["entry"].update(id=[1]),
    "a link without a time of writing": lambda one: one.pop("written_at"),
}
MARKS = {
    "a mark without a time": {"break": {"found": ["x"]}},
    "a mark at a time that is none": {"break": {"found": ["x"]}, "written_at": "soon"},
    "a mark of a number": {"break": {"found": 5}, "written_at": WRITTEN},
    "a mark of lists": {"break": {"found": [[1]]}, "written_at": WRITTEN},
}


def assert_one_broken_craft_and_eleven_as_before(store):
    """Every check goes through, names k1 alone, and lets none of its work count."""
    with store.snapshot() as tx:
        found = verify_record(tx)
        assert {one.craft for one in found.breaks if one.craft} == {"k1"}
        assert all(one.words and one.remedy for one in found.breaks)
    RecordUpkeep(store, SystemClock()).run_once()
    with store.snapshot() as tx:
        assert list(tx.layup.breaks.break_words()) == ["k1"]
        records = {one.craft.id: one for one in tx.layup.all_records(library())}
    assert list(records) == list(twelve())
    for key, one in records.items():
        if key == "k1":
            assert one.unreadable
            assert isinstance(one.craft.name, str)
            assert all(isinstance(stay.space, str) for stay in one.stays)
            assert one.entries == ()
        else:
            assert stored_craft(one, SHELTERS, EVE) == stored_craft(twelve()[key], SHELTERS, EVE)
    # A daemon that starts now takes its craft files in, and what is entered finds its place.
    taken = take_in_each(store, list(twelve().values()), library(), EVE)
    assert {fault.key.partition(".")[0] for one in taken.refused for fault in one.faults} <= {"k1"}
    cover = work("cover-fitted", 24, id="cover")
    with store.transaction() as tx:
        enter(tx.layup, [cover], library(), EVE, "test")
        marked = {one.craft for one in tx.layup.chain.marked}
    assert marked | {one.craft for one in taken.marked} == {"k1"}
    with store.snapshot() as tx:
        assert cover in tx.layup.entries_of("k1")


@pytest.mark.parametrize("statement", ODD.values(), ids=ODD)
def test_a_row_of_another_kind_breaks_one_craft_and_stops_no_check(sqlite_store, file, statement):
    execute(file, statement)
    assert_one_broken_craft_and_eleven_as_before(sqlite_store)


@pytest.mark.parametrize(
    ("head", "created_ms"), [("x'ff'", "1"), ("'5-'", "9223372036854775807"), ("'5-'", "'soon'")]
)
def test_a_message_with_a_head_that_is_none_stops_no_check(sqlite_store, file, head, created_ms):
    message = "0, 'key', 'maren', 'mail', 'maren@yard.example', 'alarm', 'Frost', 'Drain', '', ''"
    execute(
        file,
        f"INSERT INTO outbox VALUES ({message}, {created_ms}, 'taken', 1, 0, 0, '', {head},"
        " NULL, NULL)",
    )
    RecordUpkeep(sqlite_store, SystemClock()).run_once()
    with sqlite_store.snapshot() as tx:
        (found,) = verify_record(tx).breaks
    assert "which is no head of a record" in found.words


@pytest.mark.parametrize(
    "deed", ["DELETE FROM craft", "UPDATE craft SET craft_id = CAST(craft_id AS BLOB)"]
)
def test_a_craft_whose_row_is_gone_is_judged_as_not_laid_up_where_it_stands(
    sqlite_store, file, deed
):
    execute(file, f"{deed} WHERE craft_id = 'k1'")
    RecordUpkeep(sqlite_store, SystemClock()).run_once()
    for check_chains in (False, True):
        with sqlite_store.snapshot() as tx:
            records = tx.layup.all_records(library(), check_chains=check_chains)
        assert [one.craft.id for one in records] == list(twelve())
        found = stored_craft(records[0], SHELTERS, EVE)
        assert found.name == "Teal"
        assert "not in the table of craft" in found.unreadable
        assert set(found.protection) == set(library()["pwc-two-stroke"].circuit_ids)
        assert {held.state for held in found.protection.values()} == {LayupState.UNKNOWN}
        assert found.space == "long-shed"


def test_a_craft_that_had_left_when_its_row_went_is_not_called_back(sqlite_store, file):
    with sqlite_store.transaction() as tx:
        gone = replace(tx.layup.craft_by_id("k1"), left_at=NOON)
        tx.layup.put_craft([gone], EVE)
    execute(file, "DELETE FROM craft WHERE craft_id = 'k1'")
    RecordUpkeep(sqlite_store, SystemClock()).run_once()
    with sqlite_store.snapshot() as tx:
        (teal,) = [one for one in tx.layup.all_records(library()) if one.craft.id == "k1"]
    assert teal.craft.left_at == NOON


@pytest.mark.parametrize("change", REWRITTEN.values(), ids=REWRITTEN)
def test_an_entry_rewritten_with_its_hash_stops_no_check(sqlite_store, file, change):
    body = said(file)
    change(body)
    rewrite_entry(file, json.dumps(body))
    assert_one_broken_craft_and_eleven_as_before(sqlite_store)


@pytest.mark.parametrize("content", MARKS.values(), ids=MARKS)
def test_a_mark_that_laidup_never_writes_is_a_break_itself(sqlite_store, file, content):
    add_link(file, **content)
    assert_one_broken_craft_and_eleven_as_before(sqlite_store)


def test_a_record_whose_yard_is_named_no_more_is_not_whole(sqlite_store, file):
    with sqlite_store.snapshot() as tx:
        assert verify_record(tx).whole
    with closing(sqlite3.connect(file)) as db:
        db.execute("DELETE FROM yards")
        db.commit()
    with closing(Store(f"sqlite:///{file}", "kettlemoss", only_looking=True)) as looking:
        assert not looking.knows_yard
        with looking.snapshot() as tx:
            found = verify_record(tx)
    assert not found.whole
    assert "names no more" in found.breaks[0].words
