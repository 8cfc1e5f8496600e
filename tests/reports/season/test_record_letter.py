"""The mail with a season record: to the owner alone, once, in the owner's language."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from monitor.reports.season.record_letter import record_letter
from tests.reports.season import winter
from tests.reports.season.test_season_json import SHORT
from tests.reports.season.winter import ARRIVED, figures_of, put_craft, put_readings


@pytest.fixture
def store(tmp_path):
    made = winter.open_store(tmp_path)
    put_craft(made)
    put_readings(made, ARRIVED, SHORT, lambda _: -3.0)
    yield made
    made.close()


def letter_to(store, now=SHORT, replaces=None, **changes):
    yard = winter.yard()
    person = replace(yard.person("wren"), **changes)
    return record_letter(figures_of(store, now=now), yard, person, b"%PDF-1.7 made up", replaces)


def test_it_says_how_the_nights_went_and_carries_the_pdf(store):
    letter = letter_to(store)
    assert (letter.person, letter.address) == ("wren", "wren@lake.example")
    assert letter.subject == "Season record of Teal, 2026/27"
    assert "Held, as measured and computed: 0, of them near the limit: 0." in letter.text
    assert "Too little heard to say: 0." in letter.text
    assert "Colder than it could stand, or with ice computed in it: 9." in letter.text
    assert "before you start the engine" in letter.text
    assert "life-safety" in letter.text
    [pdf] = letter.attachments
    assert (pdf.filename, pdf.media_type) == ("season-2026-k1.pdf", "application/pdf")


def test_it_leaves_once_however_often_it_is_written(store):
    with store.transaction() as tx:
        assert tx.outbox.add([letter_to(store)]) == 1
    with store.transaction() as tx:
        assert tx.outbox.add([letter_to(store)]) == 0


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("en", ("new version", "replaces the one that we mailed on 21 April 2027:")),
        ("de", ("neue Fassung", "ersetzt den vom 21.04.2027:")),
    ],
)
def test_one_that_replaces_another_says_which_and_leaves_once_beside_it(store, language, says):
    first = letter_to(store, language=language)
    # 23:30 of 21 April at the yard, whose day is the one that the owner remembers.
    mailed = datetime(2027, 4, 22, 4, 30, tzinfo=UTC)
    anew = [letter_to(store, replaces=mailed, language=language) for _ in range(2)]
    assert not any(each in first.subject + first.text for each in says)
    assert says[0] in anew[0].subject
    assert says[1] in anew[0].text
    with store.transaction() as tx:
        assert tx.outbox.add([first, *anew]) == 2


def test_a_reader_of_german_gets_german_and_no_english_sentence(store):
    letter = letter_to(store, language="de")
    assert letter.language == "de"
    assert "Nächte darin: 9." in letter.text
    assert not {"Nights", "yard", "record"} & set(letter.text.replace(".", " ").split())


def test_whom_no_mail_reaches_gets_none(store):
    assert letter_to(store, mail="") is None
