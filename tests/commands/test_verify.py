"""``laidup verify``: the whole record against its links and against every head that left."""

import json
import re
import sqlite3
from contextlib import closing
from datetime import UTC, datetime

import pytest

from monitor.clock import SystemClock
from monitor.delivery.channels.mail import MailChannel
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.delivery.post import Post
from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.yard.message import Message, MessageKind
from tests.commands.yard_files import copied_yard, laidup

NOW = datetime.now(UTC)


@pytest.fixture
def config(tmp_path):
    """The demo's yard with its twelve craft on record."""
    file = copied_yard(tmp_path)
    laidup("import", "craft", str(file.parent / "craft.toml"), "--config", str(file))
    return file


def verify(config, capsys, *arguments):
    """Exit status and answer of the command."""
    capsys.readouterr()
    status = laidup("verify", *arguments, "--config", str(config))
    return status, capsys.readouterr().out


def tamper(config, *statements):
    """What somebody does with the plain tool of the database."""
    file = load_settings(config).store_url.removeprefix("sqlite:///")
    with closing(sqlite3.connect(file)) as db:
        for statement in statements:
            assert db.execute(statement).rowcount != 0, statement
        db.commit()


def leave(config, mail_server, key="a"):
    """Send one mail as the daemon does, and give it as it arrived."""
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        with store.transaction() as tx:
            tx.outbox.add(
                [
                    Message(
                        key=key,
                        person="maren",
                        channel="mail",
                        address="maren@kettlemoss.example",
                        kind=MessageKind.REPORT,
                        subject="The week",
                        text="All is well.\n",
                        html="<html><body><p>All is well.</p></body></html>",
                        created_at=NOW,
                    )
                ]
            )
        plain = MailSettings(
            host=mail_server.host,
            port=mail_server.port,
            security="none",
            sender="laidup@kettlemoss.example",
        )
        Post(store, {"mail": MailChannel(plain)}, SystemClock()).run_once()
    return mail_server.messages[-1].message


def enter_work(config, at="2026-11-01T10:00", craft="k1"):
    laidup(
        *("layup", "add", craft, "--act", "flushed", "--by", "Ines Aldaz", "--at", at),
        *("--config", str(config)),
    )


def test_an_untouched_record_is_whole(config, capsys):
    status, told = verify(config, capsys)
    assert status == 0
    assert "the lay-up record is whole" in told
    assert "No head has left yet" in told


def test_what_was_changed_is_named_with_its_craft_and_a_remedy(config, capsys):
    tamper(
        config,
        'UPDATE layup_entries SET body = replace(body, \'"by":"\', \'"by":"O \')'
        " WHERE craft_id = 'k8' AND number = 5",
    )
    status, told = verify(config, capsys)
    assert status == 1
    assert "BROKEN" in told
    first = told.splitlines()[1]
    assert re.search(
        r"Heron.* \(k8\): entry \w+ \([a-z-]+, 2026-.*\) was changed after it was written\.", first
    )
    assert "backup" in first
    status, told = verify(config, capsys, "--json")
    found = json.loads(told)
    assert (status, found["whole"]) == (1, False)
    assert [(one["craft"], one["what"], one["number"]) for one in found["breaks"]] == [
        ("k8", "changed", 5)
    ]


def test_verify_writes_nothing(config, capsys):
    file = config.parent / load_settings(config).store_url.removeprefix("sqlite:///")
    before = file.read_bytes()
    verify(config, capsys)
    assert file.read_bytes() == before


def test_a_mail_carries_the_head_and_verify_knows_it_again(config, capsys, mail_server):
    mail = leave(config, mail_server)
    head = mail["Laidup-Record-Head"].strip()
    assert re.fullmatch(r"\d+-[0-9a-f]{64}", head)
    line = mail.get_body(("plain",)).get_content().rstrip().splitlines()[-1]
    assert line == f"Lay-up record: {head[: head.index('-') + 33]}"
    assert line in mail.get_body(("html",)).get_content()
    enter_work(config)
    status, told = verify(config, capsys, "--head", line.split()[-1])
    assert status == 0
    assert f"The newest that left: {line.split()[-1]}" in told
    assert "fits" in told


def test_a_cut_tail_shows_by_the_head_that_left(config, capsys, mail_server):
    enter_work(config)
    head = leave(config, mail_server)["Laidup-Record-Head"].strip()
    tail = "(SELECT max(position) FROM record_links)"
    tamper(
        config,
        f"DELETE FROM layup_entries WHERE hash = (SELECT hash FROM record_links"
        f" WHERE position = {tail})",
        f"DELETE FROM record_links WHERE position = {tail}",
    )
    status, told = verify(config, capsys)
    assert status == 1
    assert "the newest 1 of then is gone" in told
    # Who has cut the outbox too is given away by the mail that somebody kept.
    tamper(config, "DELETE FROM outbox")
    assert verify(config, capsys)[0] == 0
    status, told = verify(config, capsys, "--head", head, "--json")
    assert status == 1
    found = json.loads(told)
    assert found["kept"] == [{"head": head, "fits": False}]
    assert found["breaks"][0]["what"] == "cut off"


def test_a_chain_written_anew_from_its_beginning_does_not_fit_a_kept_head(
    config, capsys, mail_server
):
    head = leave(config, mail_server)["Laidup-Record-Head"].strip()
    # All that a chain alone could show is set right again: the craft is gone without a trace.
    file = load_settings(config).store_url.removeprefix("sqlite:///")
    with closing(sqlite3.connect(file)) as db:
        for table in ("layup_entries", "stays", "craft", "record_links"):
            db.execute(f"DELETE FROM {table} WHERE craft_id = 'k12'")
        rows = db.execute("SELECT position FROM record_links ORDER BY position").fetchall()
        for new, (old,) in enumerate(rows):
            db.execute("UPDATE record_links SET position = ? WHERE position = ?", (new, old))
        db.execute("DELETE FROM outbox")
        db.commit()
    assert verify(config, capsys)[0] == 0
    status, told = verify(config, capsys, "--head", head)
    assert status == 1
    assert "are gone" in told


def test_links_that_change_places_between_craft_do_not_fit_a_kept_head(config, capsys, mail_server):
    head = leave(config, mail_server)["Laidup-Record-Head"].strip()
    tamper(
        config,
        "UPDATE record_links SET position = -1 WHERE position = 0",
        "UPDATE record_links SET position = 0 WHERE position = 1",
        "UPDATE record_links SET position = 1 WHERE position = -1",
    )
    status, told = verify(config, capsys, "--head", head)
    assert status == 1
    assert "one or more behind the first 0 are others now; they are of craft" in told


def test_a_link_that_is_gone_without_its_craft_is_missed_in_the_yards_order(config, capsys):
    tamper(
        config,
        *(f"DELETE FROM {table} WHERE craft_id = 'k3'" for table in ("craft", "stays")),
        "DELETE FROM layup_entries WHERE craft_id = 'k3'",
        "DELETE FROM record_links WHERE craft_id = 'k3'",
    )
    status, told = verify(config, capsys)
    assert status == 1
    assert "order of writing" in told
    assert "missing behind one of craft k2, before one of craft k4" in told


def test_a_text_that_is_no_head_is_refused(config, capsys):
    assert laidup("verify", "--head", "whole", "--config", str(config)) == 2
    assert "copy it whole" in capsys.readouterr().err


def test_work_on_a_broken_record_is_kept_and_told(config, capsys):
    tamper(config, "UPDATE craft SET note = 'x' WHERE craft_id = 'k1'")
    capsys.readouterr()
    enter_work(config)
    told = capsys.readouterr()
    assert "Entered as" in told.out
    assert "did not hold before this" in told.err
    status, told = verify(config, capsys)
    assert status == 1
    assert "Marked since" in told


def test_who_enters_work_behind_a_cut_of_the_yards_list_is_told(config, capsys):
    last_of_k1 = "(SELECT max(number) FROM record_links WHERE craft_id = 'k1')"
    for table in ("layup_entries", "record_links"):
        tamper(config, f"DELETE FROM {table} WHERE craft_id = 'k1' AND number = {last_of_k1}")
    capsys.readouterr()
    enter_work(config, craft="k5")
    told = capsys.readouterr()
    assert "Entered as" in told.out
    assert "record of this yard is not what was written: In the yard's order" in told.err
    assert "laidup verify" in told.err


def test_check_and_status_tell_of_a_break(config, capsys):
    laidup("status", "--config", str(config))
    assert "The lay-up record is whole: 12 craft" in capsys.readouterr().out
    tamper(config, "DELETE FROM stays WHERE craft_id = 'k1'")
    laidup("status", "--config", str(config))
    assert "The lay-up record is not what was written. Teal" in capsys.readouterr().out
    laidup("check", "--config", str(config))
    assert "Record: FAILED. the lay-up record is not what was written." in capsys.readouterr().out


def test_a_changed_mover_is_told_with_both_names_and_a_remedy(config, capsys):
    laidup("layup", "move", "k1", "lee-rack", "--by", "operator", "--config", str(config))
    tamper(config, "UPDATE stays SET by = 'mechanic' WHERE craft_id = 'k1' AND space = 'lee-rack'")
    status, told = verify(config, capsys)
    told = " ".join(told.split())
    assert status == 1
    assert "now says lee-rack, moved by mechanic, which differs in by" in told
    assert "The chain says that it stood in lee-rack from then on, moved by operator." in told
    assert "laidup layup confirm k1" in told
