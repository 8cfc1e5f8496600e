"""A record that somebody changed in the store: found by itself, and nothing of it counts."""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock, SystemClock
from monitor.craft.layup import Act, Evidence, LayupEntry, Outflow
from monitor.daemon.daemon import Daemon
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.settings.load import load_settings
from monitor.store.chain import Chain
from monitor.store.record_upkeep import RecordUpkeep
from monitor.store.store import Store
from monitor.yard.alarm import AlarmState
from monitor.yard.message import Message, MessageKind
from tests.commands.yard_files import copied_yard, fill, laidup

NOW = datetime.now(UTC)
# Teal's antifreeze: three times as much went in by the row as by the hand that wrote it.
MORE = (
    "UPDATE layup_entries SET body = replace(body, '\"quantity_l\":', '\"quantity_l\":3')"
    " WHERE craft_id = 'k1' AND body LIKE '%quantity_l%' AND body LIKE '%antifreeze%'"
)
LESS_AGAIN = MORE.replace(
    """'"quantity_l":', '"quantity_l":3'""", """'"quantity_l":3', '"quantity_l":'"""
)
GONE = "DELETE FROM layup_entries WHERE craft_id = 'k12' AND body LIKE '%run-on-water%'"


@pytest.fixture
def config(tmp_path):
    file = copied_yard(tmp_path)
    fill(file)
    text = file.read_text()
    file.write_text(text.replace('craft_files = ["craft.toml"]\n', ""))
    return file


def opened(config) -> Store:
    settings = load_settings(config)
    return Store(settings.store_url, settings.yard.id)


def tamper(config, statement):
    file = load_settings(config).store_url.removeprefix("sqlite:///")
    with closing(sqlite3.connect(file)) as db:
        assert db.execute(statement).rowcount == 1
        db.commit()


def check(config, clock=None):
    with closing(opened(config)) as store:
        RecordUpkeep(store, clock or SystemClock()).run_once()


def in_care(config, clock):
    settings = load_settings(config)
    with closing(opened(config)) as store:
        return {
            one.id: one
            for one in CraftInCare(store, settings.profiles, settings.yard, clock).read_now()
        }


def test_a_changed_quantity_raises_nothing_and_the_operator_is_told(config):
    tamper(config, MORE)
    check(config)
    settings = load_settings(config)
    evening = NOW.astimezone(settings.yard.zone).replace(hour=16)  # when letters may go
    clock = ReadingsClock(evening if evening >= NOW else evening + timedelta(days=1))
    craft = in_care(config, clock)
    assert {one.ice_point_c for one in craft["k1"].protection.values()} == {0.0}
    assert "was changed after it was written" in craft["k1"].unreadable
    assert not craft["k8"].unreadable
    with closing(opened(config)) as store:
        Round(store, settings.yard, clock).run(tuple(craft.values()))
        AlarmRound(store, settings.yard, clock, definitions=settings.definitions).run(craft)
        with store.snapshot() as tx:
            alarms = [one.craft for one in tx.alarms.open_alarms() if one.cause == "unreadable"]
            told = [one.text for one, _ in tx.outbox.newest_messages(100) if "Teal" in one.text]
    assert alarms == ["k1"]
    assert any("cannot be read" in text for text in told)


def test_the_daemon_checks_the_record_as_it_starts(config):
    tamper(config, GONE)
    settings = load_settings(config)
    store = opened(config)
    Daemon(settings, store, SystemClock())
    with closing(store), store.snapshot() as tx:
        assert list(tx.layup.breaks.break_words()) == ["k12"]


def test_a_change_is_found_at_the_next_comparison_and_its_mending_too(config):
    now_s = [0.0]
    with closing(opened(config)) as store:
        upkeep = RecordUpkeep(store, SystemClock(), monotonic=lambda: now_s[0])
        upkeep.run_once()
        tamper(config, MORE)
        assert not upkeep.run_once()  # not with every turn: it reads every row
        now_s[0] += 6.0
        assert upkeep.run_once()
        with store.snapshot() as tx:
            assert list(tx.layup.breaks.break_words()) == ["k1"]
        tamper(config, LESS_AGAIN)
        now_s[0] += 6.0
        assert upkeep.run_once()
        with store.snapshot() as tx:
            assert tx.layup.breaks.break_words() == {}


def test_what_comparing_would_miss_is_found_by_the_next_check_of_all(config, monkeypatch):
    now_s = [0.0]
    monkeypatch.setattr(Chain, "row_digests", lambda _: {"k1": 1})
    with closing(opened(config)) as store:
        upkeep = RecordUpkeep(store, SystemClock(), monotonic=lambda: now_s[0])
        upkeep.run_once()
        tamper(config, MORE)
        now_s[0] = 25 * 3600.0
        assert not upkeep.run_once()
        upkeep.have_all_checked()
        assert upkeep.run_once()


def test_the_plan_says_why_it_starts_from_nothing(config, capsys):
    tamper(config, MORE)
    check(config)
    at = ("--config", str(config))
    assert laidup("layup", "plan", "k1", "--low", "-12C", *at) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "the plan starts from nothing: entry" in told
    assert "through the engine's raw-water side" in told
    assert laidup("layup", "plan", "--low", "-12C", *at) == 0
    assert "this starts from nothing" in " ".join(capsys.readouterr().out.split())


def changed_entry(config):
    with closing(opened(config)) as store, store.snapshot() as tx:
        words = tx.layup.breaks.break_words()["k1"]
    return words.split()[1]


def test_other_work_leaves_it_broken_and_a_correction_of_the_entry_answers_it(config, capsys):
    tamper(config, MORE)
    check(config)
    at = ("--config", str(config))
    cover = ("--act", "cover-fitted", "--at", "now", "--by", "ines")
    assert laidup("layup", "add", "k1", *cover, *at) == 0
    assert in_care(config, SystemClock())["k1"].unreadable
    entry = changed_entry(config)
    assert laidup("layup", "correct", entry, "--quantity", "12L", "--entered-by", "ines", *at) == 0
    capsys.readouterr()
    teal = in_care(config, SystemClock())["k1"]
    assert not teal.unreadable
    assert teal.protection["water-box"].ice_point_c < 0.0
    check(config)
    assert not in_care(config, SystemClock())["k1"].unreadable


def test_a_deleted_entry_counts_against_the_craft_until_a_person_has_compared_it(config, capsys):
    at = ("--config", str(config))
    tamper(config, GONE)
    check(config)
    cover = ("--act", "cover-fitted", "--at", "now", "--by", "ines")
    assert laidup("layup", "add", "k12", *cover, *at) == 0
    assert in_care(config, SystemClock())["k12"].unreadable
    assert laidup("layup", "confirm", "k12", "--by", "ines", *at) == 1
    told = capsys.readouterr().out
    assert "was written as link" in told
    assert "Nothing was entered" in told
    assert in_care(config, SystemClock())["k12"].unreadable
    assert laidup("layup", "confirm", "k12", "--by", "ines", "--compared", *at) == 0
    assert "Compared: " in capsys.readouterr().out
    assert not in_care(config, SystemClock())["k12"].unreadable
    check(config)
    assert not in_care(config, SystemClock())["k12"].unreadable
    assert laidup("verify", *at) == 1


def test_page_and_mail_tell_of_a_deleted_entry_with_the_command_that_answers_it(config):
    tamper(config, GONE)
    check(config)
    told = in_care(config, SystemClock())["k12"].unreadable
    assert "on the machine that laidup runs on" in told
    assert "`laidup layup confirm k12 --by NAME --compared`" in told


def test_new_work_of_a_craft_file_answers_no_deleted_entry(config):
    settings = load_settings(config)
    tamper(config, GONE)
    new = LayupEntry(
        id="cover", craft="k12", at=NOW - timedelta(hours=1), by="ines", act=Act.COVER_FITTED
    )
    with closing(opened(config)) as store:
        with store.snapshot() as tx:
            k12 = tx.layup.record_of("k12", settings.profiles)
        filed = replace(settings, craft=(replace(k12, entries=(*k12.entries, new)),))
        Daemon(filed, store, SystemClock())
        with store.snapshot() as tx:
            assert new.id in {one.id for one in tx.layup.entries_of("k12")}
            assert list(tx.layup.breaks.break_words()) == ["k12"]


def test_a_changed_entry_is_not_answered_by_the_word_that_it_was_compared(config, capsys):
    at = ("--config", str(config))
    tamper(config, MORE)
    check(config)
    assert laidup("layup", "confirm", "k1", "--by", "ines", "--compared", *at) == 1
    assert "Still open: entry" in capsys.readouterr().out
    assert in_care(config, SystemClock())["k1"].unreadable


def test_a_record_that_was_cut_at_its_end_raises_one_alarm_for_the_operator(config):
    settings = load_settings(config)
    leave(config, "before", NOW)
    last = "(SELECT max(position) FROM record_links)"
    tamper(config, f"DELETE FROM record_links WHERE position = {last}")
    store = opened(config)
    daemon = Daemon(replace(settings, craft=()), store, SystemClock())
    with closing(store):
        for _ in range(2):
            daemon._watch.judge_and_tell()
        with store.snapshot() as tx:
            found = [one for one in tx.alarms.open_alarms() if one.cause == "record-rewritten"]
    assert len(found) == 1
    assert found[0].craft == ""


def leave(config, key, at):
    """Have a message take the head of the record out of the house."""
    with closing(opened(config)) as store, store.transaction() as tx:
        tx.outbox.add(
            [
                Message(
                    key=key,
                    person="ines",
                    channel="mail",
                    address="ines@kettlemoss.example",
                    kind=MessageKind.ALARM,
                    subject="Frost tonight",
                    text="Drain Teal.",
                    created_at=at,
                )
            ]
        )


def is_alarm_open(config):
    """Whether a watch that has checked the record says that the yard's list was rewritten."""
    settings = load_settings(config)
    store = opened(config)
    daemon = Daemon(replace(settings, craft=()), store, SystemClock())
    with closing(store):
        daemon._watch.judge_and_tell()
        with store.snapshot() as tx:
            return any(
                one.cause == "record-rewritten" and one.state is not AlarmState.RETURNED
                for one in tx.alarms.open_alarms()
            )


REPAIR = ("--act", "repaired", "--at", "now", "--by", "ines")


def cut_last_link_of(config, craft):
    """Take a craft's last work out with its link, as if it had never been written."""
    last = f"(SELECT max(number) FROM layup_entries WHERE craft_id = '{craft}')"
    for table in ("record_links", "layup_entries"):
        tamper(config, f"DELETE FROM {table} WHERE craft_id = '{craft}' AND number = {last}")


def test_the_alarm_of_a_rewritten_record_ends_when_its_craft_are_answered(config):
    at = ("--config", str(config))
    assert laidup("layup", "add", "k1", *REPAIR, *at) == 0
    assert laidup("layup", "add", "k8", *REPAIR, *at) == 0
    leave(config, "before", NOW)
    cut_last_link_of(config, "k1")
    assert is_alarm_open(config)
    # Of all craft but k8 nothing was written since: of each of them the link may have been.
    lost = [key for key, one in in_care(config, SystemClock()).items() if one.unreadable]
    assert "k1" in lost
    assert "k8" not in lost
    assert laidup("layup", "confirm", *lost[1:], "--by", "ines", "--compared", *at) == 0
    assert is_alarm_open(config)
    assert laidup("layup", "confirm", lost[0], "--by", "ines", "--compared", *at) == 0
    assert not is_alarm_open(config)
    assert not any(one.unreadable for one in in_care(config, SystemClock()).values())
    # What is cut out afterwards is told anew; `verify` goes on to say what was found once.
    cut_last_link_of(config, "k8")
    assert laidup("layup", "add", "k5", *REPAIR, *at) == 0
    assert is_alarm_open(config)
    assert laidup("verify", *at) == 1


def test_a_cut_tail_that_no_craft_tells_of_is_answered_for_the_yard_as_a_whole(config, capsys):
    at = ("--config", str(config))
    assert laidup("layup", "add", "k1", *REPAIR, *at) == 0
    leave(config, "before", NOW)
    cut_last_link_of(config, "k1")
    assert is_alarm_open(config)
    capsys.readouterr()
    assert laidup("layup", "confirm", "--all", "--by", "ines", *at) == 1
    told = capsys.readouterr().out
    assert "the newest 1 of then is gone" in told
    assert "Nothing was entered" in told
    assert is_alarm_open(config)
    assert laidup("layup", "confirm", "--all", "--by", "ines", "--compared", *at) == 0
    assert not is_alarm_open(config)
    # A head that leaves after the word is held by itself.
    leave(config, "after", datetime.now(UTC) + timedelta(seconds=1))
    assert not is_alarm_open(config)
    last = "(SELECT max(position) FROM record_links)"
    tamper(config, f"DELETE FROM record_links WHERE position = {last}")
    assert is_alarm_open(config)


@pytest.mark.parametrize("said", [(), ("k1", "--all")], ids=["neither", "both"])
def test_confirm_wants_craft_or_all_of_them(config, capsys, said):
    assert laidup("layup", "confirm", *said, "--by", "ines", "--config", str(config)) == 2
    assert "Name the craft, or say --all" in capsys.readouterr().err


def test_work_of_a_craft_file_that_contradicts_itself_is_told_to_the_operator(config):
    settings = load_settings(config)
    no_sample = Evidence(outflow=Outflow.NONE, ice_point_c=-30.0)
    wrong = LayupEntry(
        id="wrong",
        craft="k12",
        at=NOW - timedelta(hours=1),
        by="ines",
        act=Act.ANTIFREEZE_RUN_THROUGH,
        evidence=no_sample,
    )
    evening = NOW.astimezone(settings.yard.zone).replace(hour=16)
    clock = ReadingsClock(evening if evening >= NOW else evening + timedelta(days=1))
    store = opened(config)
    with closing(store):
        with store.snapshot() as tx:
            k12 = tx.layup.record_of("k12", settings.profiles)
        filed = replace(k12, entries=(*k12.entries, wrong))
        for craft, state in (((filed,), AlarmState.UNACKNOWLEDGED), ((k12,), AlarmState.RETURNED)):
            daemon = Daemon(replace(settings, craft=craft), store, clock)
            daemon._watch.judge_and_tell()
            with store.snapshot() as tx:
                found = [one for one in tx.alarms.open_alarms() if one.cause == "file-refused"]
                told = [
                    one
                    for one, _ in tx.outbox.newest_messages(100)
                    if "nothing came out" in one.text
                ]
                assert wrong.id not in {one.id for one in tx.layup.entries_of("k12")}
            assert [(one.craft, one.state) for one in found] == [("k12", state)]
            assert {one.person for one in told} == {"operator"}
    assert not in_care(config, clock)["k12"].unreadable


def test_a_new_craft_whose_file_contradicts_itself_is_told_of_though_nobody_watches_it(config):
    settings = load_settings(config)
    wrong = LayupEntry(
        id="wrong",
        craft="k99",
        at=NOW - timedelta(hours=1),
        by="ines",
        act=Act.ANTIFREEZE_RUN_THROUGH,
        evidence=Evidence(outflow=Outflow.NONE, ice_point_c=-30.0),
    )
    evening = NOW.astimezone(settings.yard.zone).replace(hour=16)
    clock = ReadingsClock(evening if evening >= NOW else evening + timedelta(days=1))
    store = opened(config)
    with closing(store):
        with store.snapshot() as tx:
            k12 = tx.layup.record_of("k12", settings.profiles)
        dunlin = replace(k12.craft, id="k99", name="Dunlin", hull_number="")
        new = replace(k12, craft=dunlin, stays=(), entries=(wrong,))
        Daemon(replace(settings, craft=(new,)), store, clock)._watch.judge_and_tell()
        with store.snapshot() as tx:
            told = [one.text for one, _ in tx.outbox.newest_messages(100) if "k99" in one.text]
            assert [one.cause for one in tx.alarms.open_alarms() if "k99" in one.part] == [
                "file-refused"
            ]
    assert any("nothing came out" in text for text in told)


@pytest.mark.parametrize(
    "command",
    [
        ("layup", "protection", "k1"),
        ("layup", "protection"),
        ("layup", "plan", "k1", "--low", "-12C"),
        ("layup", "plan", "--low", "-12C"),
        ("layup", "list"),
        ("layup", "list", "k1"),
        ("layup", "review", "k1"),
        ("layup", "supplies"),
        ("layup", "spring", "k1"),
        ("assess", "--at", "now"),
        ("assess",),
        ("status",),
        ("report",),
    ],
    ids=" ".join,
)
def test_a_command_says_that_a_changed_record_cannot_be_believed(config, capsys, command):
    tamper(config, MORE)  # and no daemon has looked since
    laidup(*command, "--config", str(config))
    err = capsys.readouterr().err
    assert "Teal (k1)" in err
    assert "was changed after it was written" in " ".join(err.split())
    assert "none of it counts" in err
    assert "k8" not in err


def test_no_circuit_of_a_changed_record_is_shown_as_proven(config, capsys):
    tamper(config, MORE)
    at = ("--config", str(config))
    assert laidup("layup", "protection", "k1", "--json", *at) == 0
    circuits = json.loads(capsys.readouterr().out)[0]["circuits"]
    assert {one["ice_point_c"] for one in circuits} == {0.0}
    assert all("was changed after it was written" in one["why"] for one in circuits)
    assert laidup("layup", "list", "--json", *at) == 0
    held = {one["craft"]: one["holds_low"] for one in json.loads(capsys.readouterr().out)}
    assert held["k1"] == 0
    assert held["k8"] > 0


def test_what_is_entered_on_a_changed_record_shows_nothing_proven_and_reaches_the_daemon(
    config, capsys
):
    tamper(config, MORE)
    pour = ("--act", "antifreeze-poured", "--circuit", "water-box", "--outflow", "seen")
    mix = ("--product", "pink", "--liquid", "propylene", "--strength", "50%", "--quantity", "9L")
    said = (*pour, *mix, "--at", "now", "--by", "ines", "--config", str(config))
    assert laidup("layup", "add", "k1", *said) == 0
    out, err = capsys.readouterr()
    assert "did not hold before this" in err
    assert "proven" not in out.replace("unproven", "")
    assert in_care(config, SystemClock())["k1"].unreadable


def test_assess_judges_a_changed_record_anew_where_the_daemon_still_believed_it(config, capsys):
    at = ("--json", "--config", str(config))
    assert laidup("assess", *at) == 0
    held = ice_points_of_teal(capsys)
    assert min(held) < -10.0
    tamper(config, MORE)
    assert laidup("assess", *at) == 0
    assert ice_points_of_teal(capsys) == {0.0}


def ice_points_of_teal(capsys):
    craft = json.loads(capsys.readouterr().out)["craft"]
    (teal,) = (one for one in craft if one["craft"] == "k1")
    return {one["ice_point_c"] for one in teal["circuits"]} - {None}


def test_status_fails_where_the_record_is_not_what_was_written(config, capsys):
    at = ("--config", str(config))
    assert laidup("status", *at) == 0
    tamper(config, MORE)
    capsys.readouterr()
    assert laidup("status", *at) == 1
    assert "The lay-up record is not what was written. Teal (k1): entry" in capsys.readouterr().out


def test_work_is_entered_by_id_on_a_craft_whose_row_cannot_be_read(config, capsys):
    tamper(config, "UPDATE craft SET left_ms = 1 WHERE craft_id = 'k1'")
    said = ("--act", "inspected", "--at", "now", "--by", "ines", "--config", str(config))
    assert laidup("layup", "add", "k1", *said) == 0
    assert "did not hold before this" in capsys.readouterr().err


def test_status_checks_every_chain_once_and_again_only_where_one_does_not_hold(
    config, capsys, monkeypatch
):
    asked, stored_rows = [], Chain.stored_rows

    def seen(chain, craft_ids):
        asked.extend(craft_ids)
        return stored_rows(chain, craft_ids)

    monkeypatch.setattr(Chain, "stored_rows", seen)
    at = ("--config", str(config))
    assert laidup("status", *at) == 0
    assert sorted(asked) == sorted(set(asked))
    assert "k1" in asked
    tamper(config, MORE)
    asked.clear()
    capsys.readouterr()
    assert laidup("status", *at) == 1
    assert asked.count("k1") == 2
    assert "Teal (k1) cannot be believed" in capsys.readouterr().err


def test_what_a_mended_record_was_found_to_be_counts_no_more_in_status(config, capsys):
    tamper(config, MORE)
    check(config)  # as the daemon does each day, and keeps
    tamper(config, LESS_AGAIN)
    capsys.readouterr()
    assert laidup("status", "--config", str(config)) == 0
    assert "cannot be believed" not in capsys.readouterr().err
