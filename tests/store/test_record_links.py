"""The whole record in one chain a craft: no row changes, goes or comes without being seen."""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, timedelta
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import create_engine, text

from monitor.craft.chain_check import breaks_of, open_breaks_of
from monitor.craft.craft_stays import Stay
from monitor.craft.links import FIRST, YARD_CHAIN, LinkKind
from monitor.craft.merkle import head_of
from monitor.store import verifying
from monitor.store.chain import Content
from monitor.store.engine import writing_engine
from monitor.store.entering import enter, move
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.store.verifying import verify_record
from tests.craft.scene import ARRIVED, EVE, NOON, entry_link, library, record, twelve, work
from tests.tried import tried

NOW = EVE.astimezone(UTC)


def breaks_found(store, craft="k1"):
    with store.snapshot() as tx:
        return breaks_of(tx.layup.chain.stored_rows([craft])[craft])


def execute(url, *statements):
    engine = create_engine(url)
    with engine.begin() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)
    engine.dispose()


@pytest.fixture
def filled(store):
    """The twelve on record, and Teal moved once since."""
    with store.transaction() as tx:
        take_in(tx.layup, twelve().values(), library(), NOON)
        stay = Stay(craft="k1", since=NOON + timedelta(days=2), space="lee-rack", by="vera")
        move(tx.layup, stay, NOW, "test")
        take_in(tx.layup, [record(note="moved", owner="owner-k01")], library(), NOW, "vera")
    return store


def test_work_moves_and_every_version_of_a_craft_are_links_of_one_chain(filled):
    with filled.snapshot() as tx:
        links = tx.layup.links_of("k1")
        entries, stays = tx.layup.entries_of("k1"), tx.layup.stays_of("k1")
    said = [json.loads(link.body) for link in links]
    assert [one["number"] for one in said] == list(range(len(links)))
    assert [one["before"] for one in said] == [FIRST, *(link.hash for link in links[:-1])]
    kinds = [link.kind for link in links]
    assert kinds.count(LinkKind.CRAFT) == 2
    assert kinds.count(LinkKind.MOVE) == len(stays)
    assert kinds.count(LinkKind.ENTRY) == len(entries)
    versions = [one["craft"].get("note") for one in said if "craft" in one]
    assert versions == [None, "moved"]
    assert all(one["written_at"].endswith("Z") for one in said)
    assert [key for key in twelve() if breaks_found(filled, key)] == []


CHANGES = {
    "an entry's words": (
        "UPDATE layup_entries SET body = replace(body, 'operator', 'mechanic')"
        " WHERE craft_id = 'k1' AND number = 4",
        ("entry", "changed"),
    ),
    "when an entry was written": (
        'UPDATE layup_entries SET body = replace(body, \'"written_at":"2026\', \'"written_at":'
        "\"2025') WHERE craft_id = 'k1' AND number = 4",
        ("entry", "changed"),
    ),
    "an entry taken out": (
        "DELETE FROM layup_entries WHERE craft_id = 'k1' AND number = 4",
        ("link 4", "deleted"),
    ),
    "a link taken out": (
        "DELETE FROM record_links WHERE craft_id = 'k1' AND number = 4",
        ("entry", "added"),
    ),
    "an entry's time in its row": (
        "UPDATE layup_entries SET at_ms = at_ms + 60000 WHERE craft_id = 'k1' AND number = 4",
        ("entry", "changed"),
    ),
    "an entry of another craft": (
        "UPDATE layup_entries SET craft_id = 'k1', number = 99"
        " WHERE craft_id = 'k2' AND number = 3",
        ("entry", "added"),
    ),
    "a move's place": (
        "UPDATE stays SET space = 'stove-barn' WHERE craft_id = 'k1' AND space = 'lee-rack'",
        ("move of 2026-11-03T18:00:00Z", "changed"),
    ),
    "who moved it": (
        "UPDATE stays SET \"by\" = 'tom' WHERE craft_id = 'k1' AND space = 'lee-rack'",
        ("move of 2026-11-03T18:00:00Z", "changed"),
    ),
    "a move taken out": (
        "DELETE FROM stays WHERE craft_id = 'k1' AND space = 'lee-rack'",
        ("move of 2026-11-03T18:00:00Z", "deleted"),
    ),
    "a move put in": (
        'INSERT INTO stays (yard_id, craft_id, since_ms, space, berth, "by")'
        " VALUES (0, 'k1', 1794000000000, 'stove-barn', '', '')",
        ("move of 2026-11-06T21:20:00Z", "added"),
    ),
    "a craft's owner": (
        "UPDATE craft SET owner = 'owner-k02' WHERE craft_id = 'k1'",
        ("craft row", "changed"),
    ),
    "a craft's note": (
        "UPDATE craft SET note = '' WHERE craft_id = 'k1'",
        ("craft row", "changed"),
    ),
    "a craft's arrival": (
        "UPDATE craft SET arrived_ms = arrived_ms - 1 WHERE craft_id = 'k1'",
        ("craft row", "changed"),
    ),
    "a craft taken out": ("DELETE FROM craft WHERE craft_id = 'k1'", ("craft row", "deleted")),
    "an old version of a craft": (
        "UPDATE record_links SET body = replace(body, 'Teal', 'Seal')"
        " WHERE craft_id = 'k1' AND number = 0",
        ("version 0 of the craft row", "changed"),
    ),
}


@pytest.mark.parametrize(("statement", "named"), CHANGES.values(), ids=CHANGES)
def test_what_is_changed_behind_the_stores_back_is_named(filled, url, statement, named):
    execute(url, statement)
    first = breaks_found(filled)[0]
    part, what = named
    assert first.part.startswith(part), first
    assert first.what == what
    assert first.remedy
    assert breaks_found(filled, "k5") == ()


def test_an_entry_at_the_place_of_another_is_named(filled, url):
    execute(
        url,
        "CREATE TABLE was AS SELECT * FROM layup_entries WHERE craft_id = 'k1'",
        "UPDATE layup_entries SET body = (SELECT body FROM was WHERE number = 5),"
        " hash = (SELECT hash FROM was WHERE number = 5) WHERE craft_id = 'k1' AND number = 4",
    )
    first = breaks_found(filled)[0]
    assert first.what == "reordered"
    assert "stands at place 4 and was written at 5" in first.words


def test_who_recomputes_the_hash_of_what_he_changed_is_given_away_by_the_next_link(filled, url):
    with filled.snapshot() as tx:
        number = next(link.number for link in tx.layup.links_of("k1") if link.kind == "entry")
        entries = tx.layup.entries_of("k1")
        before = tx.layup.links_of("k1")[number - 1].hash
    forged = entry_link(entries[0], number, NOON - timedelta(days=300), before)
    values = f"body = '{forged.body}', hash = '{forged.hash}'"
    execute(
        url,
        f"UPDATE layup_entries SET {values} WHERE craft_id = 'k1' AND number = {number}",
        f"UPDATE record_links SET hash = '{forged.hash}' WHERE craft_id = 'k1'"
        f" AND number = {number}",
    )
    first = breaks_found(filled)[0]
    assert (first.part, first.what) == (f"entry {entries[0].id}", "changed")
    assert "changed with its hash" in first.words


def test_work_behind_a_break_is_kept_and_marked_and_the_break_stays_told(filled, url):
    execute(url, "UPDATE craft SET note = '' WHERE craft_id = 'k1'")
    with filled.transaction() as tx:
        assert enter(tx.layup, [work("flushed", 24 * 4)], library(), NOW, "test") == 1
        [marked] = tx.layup.chain.marked
    assert (marked.craft, marked.part) == ("k1", "craft row")
    with filled.snapshot() as tx:
        mark, entry = tx.layup.links_of("k1")[-2:]
    assert mark.kind == LinkKind.BREAK
    [named] = json.loads(mark.body)["break"]["found"]
    assert named.startswith("craft row: changed")
    assert json.loads(entry.body)["before"] == mark.hash
    [still] = breaks_found(filled)
    assert still.known_since == NOW
    # What holds behind the mark needs no second one.
    with filled.transaction() as tx:
        enter(tx.layup, [work("flushed", 24 * 5)], library(), NOW, "test")
        assert tx.layup.chain.marked == []


def open_breaks(store, craft="k1"):
    with store.snapshot() as tx:
        return open_breaks_of(tx.layup.chain.stored_rows([craft])[craft])


def test_a_word_for_a_changed_row_answers_for_what_stood_there_and_for_no_later_change(filled, url):
    execute(url, "UPDATE craft SET note = 'sold' WHERE craft_id = 'k1'")
    with filled.transaction() as tx:
        assert tx.layup.confirm_breaks("k1", "vera", NOW) == ()
    assert open_breaks(filled) == ()
    execute(url, "UPDATE craft SET profile = 'outboard' WHERE craft_id = 'k1'")
    [again] = open_breaks(filled)
    assert again.part == "craft row"
    with filled.transaction() as tx:
        assert tx.layup.confirm_breaks("k1", "vera", NOW) == ()
    execute(url, "UPDATE craft SET note = 'moved', profile = 'pwc-two-stroke'")
    assert open_breaks(filled) == ()


def test_a_correction_answers_no_change_of_that_entry_that_is_made_after_it(filled, url):
    with filled.snapshot() as tx:
        wrong = tx.layup.entries_of("k1")[0]
    changed = f"WHERE craft_id = 'k1' AND entry_id = '{wrong.id}'"
    execute(url, f"UPDATE layup_entries SET body = body || ' ' {changed}")
    right = work("cover-fitted", 24 * 3, replaces=wrong.id, id="right")
    with filled.transaction() as tx:
        enter(tx.layup, [right], library(), NOW, "test")
    assert open_breaks(filled) == ()
    execute(url, f"UPDATE layup_entries SET body = body || ' ' {changed}")
    with filled.transaction() as tx:
        enter(tx.layup, [work("flushed", 24 * 4)], library(), NOW, "test")
    [again] = open_breaks(filled)
    assert again.part == f"entry {wrong.id}"
    with filled.transaction() as tx:
        enter(tx.layup, [replace(right, id="r2", replaces="right")], library(), NOW, "test")
    assert open_breaks(filled) == ()


@settings(
    max_examples=tried(12),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_any_one_row_that_goes_or_changes_is_found_and_its_craft_named(tmp_path_factory, data):
    url = f"sqlite:///{tmp_path_factory.mktemp('any')}/laidup.db"
    migrate(url)
    store = Store(url, "kettlemoss")
    with store.transaction() as tx:
        take_in(tx.layup, twelve().values(), library(), NOON)
    engine = create_engine(url)
    table = data.draw(st.sampled_from(["layup_entries", "record_links", "stays", "craft"]))
    with engine.begin() as connection:
        rows = connection.execute(text(f"SELECT rowid, * FROM {table} ORDER BY rowid")).all()
        row = data.draw(st.sampled_from(rows))
        if data.draw(st.booleans()):
            change = f"DELETE FROM {table}"
        else:
            columns = [
                name
                for name in row._mapping
                if name not in {"rowid", "yard_id", "position", "craft_id"}
            ]
            column = data.draw(st.sampled_from(columns))
            quoted = f'"{column}"'
            other = (
                f"CASE typeof({quoted}) WHEN 'integer' THEN {quoted} + 7777"
                f" ELSE coalesce({quoted}, '') || 'x' END"
            )
            change = f"UPDATE {table} SET {quoted} = {other}"
        connection.execute(text(f"{change} WHERE rowid = {row.rowid}"))
    engine.dispose()
    with store.snapshot() as tx:
        chains = tx.layup.chain.stored_rows(list(twelve()))
    store.close()
    assert {key for key, chain in chains.items() if breaks_of(chain)} == {row.craft_id}


def change_one(db, data):
    """One row that goes, changes, comes or takes another's place; its craft."""
    links = db.execute("SELECT position, craft_id, number FROM record_links").fetchall()
    deed = data.draw(st.sampled_from(["cut", "swap places", "swap numbers", "copy", "gone"]))
    first, second = sorted(data.draw(st.permutations(links))[:2])
    if deed == "cut":
        # Everything that the newest link brought goes with it, so that the chain alone looks whole.
        last = max(links)
        db.execute("DELETE FROM record_links WHERE position = ?", last[:1])
        db.execute("DELETE FROM layup_entries WHERE craft_id = ? AND number = ?", last[1:])
    elif deed == "swap places":
        for old, new in ((first[0], -1), (second[0], first[0]), (-1, second[0])):
            db.execute("UPDATE record_links SET position = ? WHERE position = ?", (new, old))
    elif deed == "swap numbers":
        mine = [link for link in links if link[1] == first[1]]
        first, second = sorted(data.draw(st.permutations(mine))[:2])
        for old, new in ((first[2], -1), (second[2], first[2]), (-1, second[2])):
            for table in ("record_links", "layup_entries"):
                db.execute(
                    f"UPDATE {table} SET number = ? WHERE craft_id = ? AND number = ?",
                    (new, first[1], old),
                )
    elif deed == "copy":
        db.execute(
            "INSERT INTO record_links SELECT yard_id, ?, craft_id, ?, kind, hash, body"
            " FROM record_links WHERE position = ?",
            (len(links), 1000, first[0]),
        )
    else:
        db.execute("DELETE FROM record_links WHERE position = ?", first[:1])


@settings(
    max_examples=tried(10),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_with_a_kept_head_no_row_comes_goes_or_moves_unseen(tmp_path_factory, data):
    file = tmp_path_factory.mktemp("kept") / "laidup.db"
    migrate(f"sqlite:///{file}")
    store = Store(f"sqlite:///{file}", "kettlemoss")
    with store.transaction() as tx:
        take_in(tx.layup, twelve().values(), library(), NOON)
    with store.snapshot() as tx:
        kept = head_of(one.hash for one in tx.layup.chain.links_since())
        assert verify_record(tx, [kept]).whole
    with closing(sqlite3.connect(file)) as db:
        change_one(db, data)
        db.commit()
    with store.snapshot() as tx:
        found = verify_record(tx, [kept])
    store.close()
    assert not found.whole
    assert all(one.words and one.remedy for one in found.breaks)


@pytest.mark.parametrize("last_of_its_craft", [False, True], ids=["middle", "end"])
def test_a_link_that_is_cut_out_with_its_entry_is_tied_to_its_craft(filled, url, last_of_its_craft):
    for n, craft in enumerate(["k2", "k1"] if last_of_its_craft else ["k1", "k2", "k1"]):
        with filled.transaction() as tx:
            enter(tx.layup, [work("flushed", 72 + n, craft=craft, id=f"x{n}")], library(), NOW, "t")
    lost = "k2" if last_of_its_craft else "k1"
    # All other craft of the yard have work of later.
    others = [key for key in twelve() if key != lost]
    for key in others if last_of_its_craft else ():
        with filled.transaction() as tx:
            enter(tx.layup, [work("flushed", 24 * 12 + 3, craft=key, id="y")], library(), NOW, "t")
    where = f"craft_id = '{lost}' AND number = (SELECT number FROM layup_entries"
    where += f" WHERE craft_id = '{lost}' AND entry_id = 'x0')"
    execute(
        url, f"DELETE FROM record_links WHERE {where}", f"DELETE FROM layup_entries WHERE {where}"
    )
    with filled.snapshot() as tx:
        found = verify_record(tx).breaks
    of_yard = [one for one in found if one.part.endswith("of the yard")]
    assert [one.craft for one in of_yard] == [lost]
    assert f"it was of craft {lost}" in of_yard[0].words


def test_nothing_counts_of_a_craft_that_lost_its_last_link_until_a_person_answers_it(filled, url):
    def enter_one(craft, name, hours):
        with filled.transaction() as tx:
            run = work("run-on-water", hours, craft=craft, id=name)
            enter(tx.layup, [run], library(), NOW, "t")
            return list(tx.layup.chain.marked)

    def is_unreadable(craft):
        with filled.snapshot() as tx:
            return tx.layup.record_of(craft, library()).unreadable

    enter_one("k2", "x0", 72)
    for n, key in enumerate(key for key in twelve() if key != "k2"):
        enter_one(key, "y", 24 * 12 + n / 60)
    assert not is_unreadable("k2")
    where = "craft_id = 'k2' AND number = (SELECT number FROM layup_entries"
    where += " WHERE craft_id = 'k2' AND entry_id = 'x0')"
    execute(
        url, f"DELETE FROM record_links WHERE {where}", f"DELETE FROM layup_entries WHERE {where}"
    )
    assert "it was of craft k2" in is_unreadable("k2")
    assert not is_unreadable("k1")
    # What is written behind it marks it, and makes nothing count; nor does anything later.
    assert [one.craft for one in enter_one("k2", "x1", 24 * 12 + 1)] == ["k2"]
    assert enter_one("k2", "x2", 24 * 12 + 2) == []
    assert "it was of craft k2" in is_unreadable("k2")
    with filled.snapshot() as tx:
        [one] = [each for each in verify_record(tx).breaks if each.craft == "k2"]
        assert one.known_since is not None
    with filled.transaction() as tx:
        assert tx.layup.confirm_breaks("k2", "vera", NOW) == ()
    assert not is_unreadable("k2")


def old_store(url):
    """A store as the revision before left it: work chained, moves and craft rows not."""
    migrate(url, "0010")
    engine = writing_engine(url)
    entries = [work("flushed", n, id=f"e{n}") for n in range(3)]
    with engine.begin() as connection:
        connection.execute(text("INSERT INTO yards (yard_id, key) VALUES (0, 'kettlemoss')"))
        connection.execute(
            text(
                "INSERT INTO craft VALUES (0, 'k1', 'Teal', 'pwc-two-stroke', '[\"ballast\"]',"
                " 'owner-k01', NULL, :arrived, NULL, '[]', 'old')"
            ),
            {"arrived": int(ARRIVED.timestamp() * 1000)},
        )
        connection.execute(
            text("INSERT INTO stays VALUES (0, 'k1', :since, 'long-shed', '1', '')"),
            {"since": int(ARRIVED.timestamp() * 1000)},
        )
        before = FIRST
        for number, entry in enumerate(entries):
            link = entry_link(entry, number, NOON, before)
            before = link.hash
            connection.execute(
                text("INSERT INTO layup_entries VALUES (0, 'k1', :n, :id, :at, :body, :hash)"),
                {
                    "n": number,
                    "id": entry.id,
                    "at": int(entry.at.timestamp() * 1000),
                    "body": link.body,
                    "hash": link.hash,
                },
            )
    engine.dispose()
    return entries, before


def test_a_past_winters_store_keeps_its_links_and_is_chained_from_now_on(url):
    entries, end = old_store(url)
    migrate(url)
    store = Store(url, "kettlemoss")
    with store.snapshot() as tx:
        links = tx.layup.links_of("k1")
        assert tx.layup.entries_of("k1") == tuple(entries)
    assert [link.kind for link in links] == ["entry"] * 3 + ["craft", "move"]
    assert links[2].hash == end  # to the byte as they were
    taken_over = [json.loads(link.body).get("taken_over", False) for link in links]
    assert taken_over == [False] * 3 + [True] * 2  # so that nobody takes them for more
    assert breaks_found(store) == ()
    with store.snapshot() as tx:
        found = verify_record(tx)
    assert (found.whole, found.taken_over) == (True, 2)
    assert found.taken_over_at is not None
    with store.transaction() as tx:
        known = tx.layup.record_of("k1", library())
        take_in(tx.layup, [known], library(), NOW)  # nothing new: nothing is chained twice
        enter(tx.layup, [work("flushed", 48)], library(), NOW, "test")
    with store.snapshot() as tx:
        assert len(tx.layup.links_of("k1")) == 6
    assert breaks_found(store) == ()
    store.close()


def test_a_link_of_the_new_kinds_is_canonical(filled):
    with filled.snapshot() as tx:
        link = tx.layup.links_of("k1")[0]
    # RFC 8785: no white space, keys sorted; only what was said, times in UTC.
    assert link.body == json.dumps(
        json.loads(link.body), sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )
    assert set(json.loads(link.body)) == {"before", "by", "craft", "number", "written_at"} - (
        set() if '"by"' in link.body else {"by"}
    )


def test_a_check_that_stopped_for_want_of_time_says_of_no_chain_that_it_holds(filled):
    with filled.snapshot() as tx:
        whole = verify_record(tx)
        stopped = verify_record(tx, within=timedelta(seconds=-1))
    assert (whole.whole, whole.every_chain_holds) == (True, True)
    assert (stopped.whole, stopped.checked, stopped.every_chain_holds) == (True, 0, False)


def test_the_chain_of_days_stands_for_no_craft_that_was_not_checked(filled, monkeypatch):
    with filled.transaction() as tx:
        of_day = Content(craft=YARD_CHAIN, kind=LinkKind.DAY, said={"day": "2026-11-04"})
        tx.layup.chain.append_links([of_day], NOW)
    with filled.snapshot() as tx:
        ids = tx.layup.chain.craft_ids()
        assert ids[0] == YARD_CHAIN  # so that it is among the first that are checked
        # One fewer than all are checked before the time is up: as many as there are craft.
        monkeypatch.setattr(verifying, "_AT_ONCE", len(ids) - 1)
        times = iter([0.0, 0.5])
        clock = SimpleNamespace(monotonic=lambda: next(times, 2.0))
        monkeypatch.setattr(verifying, "time", clock)
        found = verify_record(tx, within=timedelta(seconds=1))
    assert (found.craft, found.checked) == (len(ids) - 1, len(ids) - 2)
    assert not found.every_chain_holds
