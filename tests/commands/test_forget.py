"""A person's letters and address leave the store, and the lay-up record stays whole."""

from contextlib import closing
from datetime import timedelta

import pytest

from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.store.watches import AnswerLink
from monitor.yard.message import DeliveryOutcome, Receipt
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.delivery.scene import AT, PICTURE, message

TAKEN = Receipt(outcome=DeliveryOutcome.TAKEN, detail="250 ok")


@pytest.fixture
def config(tmp_path):
    copied = copied_yard(tmp_path)
    fill(copied)
    return copied


def link(person, digest):
    later = AT + timedelta(days=3)
    return AnswerLink(digest=digest, person=person, thread="t", expires_at=later, used_at=None)


def test_one_persons_letters_and_links_go_and_all_else_stays(config, capsys):
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        letters = [
            message(key="gone/1", person="tove", attachments=(PICTURE,)),
            message(key="gone/2", person="tove"),
            message(key="other", person="ines"),
        ]
        with store.transaction() as tx:
            tx.outbox.add([*letters, message(key="waits", person="tove")])
            for one in letters:
                tx.outbox.settle_attempt(one.key, AT, TAKEN, None)
            tx.answer_links.add([link("tove", "a"), link("operator", "b")])
        assert laidup("forget", "tove", "--config", str(config)) == 0
        assert "Emptied 2 letters to tove and removed 1 answer links" in capsys.readouterr().out
        with store.snapshot() as tx:
            after = {one.key: one for one, _ in tx.outbox.newest_messages()}
            assert (tx.answer_links.get("a"), tx.answer_links.get("b").person) == (None, "operator")
    for key in ("gone/1", "gone/2"):
        kept = after[key]
        assert (kept.text, kept.html, kept.subject, kept.address, kept.attachments) == (
            "", "", "", "", (),
        )  # fmt: skip
        assert kept.person == "tove"
    assert after["other"].text == letters[2].text
    assert after["waits"].text, "it is on its way still"
    assert laidup("verify", "--config", str(config)) == 0, "the record is whole"


@pytest.mark.usefixtures("scenes_in_files")
def test_nothing_of_the_letters_is_left_in_any_table_or_in_the_file(config):
    words, address = "zebra finch", "tove@far.example"
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        letters = [
            message(
                key=f"gone/{n}", person="tove", address=address, subject=words,
                text=f"{words} " * 3000, html=f"<p>{words}</p>",
            )
            for n in range(20)
        ]  # fmt: skip
        refused = Receipt(outcome=DeliveryOutcome.REFUSED, detail=f"550 5.1.1 <{address}>: nobody")
        with store.transaction() as tx:
            tx.outbox.add(letters)
        with store.transaction() as tx:
            for one in letters:
                tx.outbox.settle_attempt(one.key, AT, refused, None)

    def found():
        kept = b"".join(file.read_bytes() for file in config.parent.glob("laidup.db*"))
        return kept.count(words.encode()), kept.count(address.encode())

    assert min(found()) >= 20
    assert laidup("forget", "tove", "--config", str(config)) == 0
    assert found() == (0, 0)
    with closing(Store(settings.store_url, settings.yard.id)) as store, store.snapshot() as tx:
        (attempt,) = tx.outbox.attempts_on("gone/0")
    assert (attempt.outcome, attempt.detail) == (DeliveryOutcome.REFUSED, "")
    assert laidup("verify", "--config", str(config)) == 0


def test_letters_to_others_lose_their_words_where_they_name_the_person(config, capsys):
    settings = load_settings(config)
    told = {  # what others were told of Tove Lind, and of nobody or of other people
        "taken": "tove lind has taken on Plover by 20:20",
        "wrapped": "Ring whoever is there: Tove\n  LIND, 555-0107.",
        "subject": "Look at the sensor.",
        "other": "Tove Lindgren has taken on Heron; Antove Lind as well",
        "waits": "Tove Lind has taken on Teal",
    }
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        with store.transaction() as tx:
            tx.outbox.add(
                message(key=key, person="ines", text=text, attachments=(PICTURE,),
                        subject="Tove Lind asks" if key == "subject" else "Plover")
                for key, text in told.items()
            )  # fmt: skip
            for key in told.keys() - {"waits"}:
                tx.outbox.settle_attempt(key, AT, TAKEN, None)
        assert laidup("forget", "tove", "--config", str(config)) == 0
        assert "keep the name for two years" in capsys.readouterr().out
        with store.snapshot() as tx:
            assert {one.key: one.text for one, _ in tx.outbox.newest_messages()} == told
        assert laidup("forget", "tove", "--name", "Tove Lind", "--config", str(config)) == 0
        assert "3 letters to others that name Tove Lind" in capsys.readouterr().out
        with store.snapshot() as tx:
            after = {one.key: one for one, _ in tx.outbox.newest_messages()}
    assert {key for key, one in after.items() if one.text} == {"other", "waits"}
    assert [after[key].attachments for key in ("taken", "wrapped", "subject")] == [(), (), ()]


def test_who_is_in_the_yards_file_is_not_forgotten(config, capsys):
    person = load_settings(config).yard.people[0].id
    assert laidup("forget", person, "--config", str(config)) == 2
    assert "take the person out of it" in capsys.readouterr().err
