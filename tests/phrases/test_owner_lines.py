"""Single sentences to owners: no word twice, and no list that makes a letter too long."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from monitor.phrases.owner_english import ENGLISH
from monitor.phrases.owner_german import GERMAN
from monitor.phrases.owner_lines import answer_sentence, ice_sentences
from monitor.phrases.owner_words import owner_words_for
from tests.alarms.scene import OWNERS, yard

NOW = datetime(2026, 11, 16, 16, tzinfo=UTC)
LONG = ["cooling, bailer and flush hoses", "exhaust manifold, intercooler and oil cooler"]


def english():
    return owner_words_for(yard(), NOW, OWNERS[0])


@pytest.mark.parametrize("ago", [timedelta(minutes=30), timedelta(days=3)])
def test_when_the_yard_answered_is_told_without_a_word_twice(ago):
    said = answer_sentence(
        yard(), english(), notified_at=None, is_answered=True, answered_at=NOW - ago
    )  # fmt: skip
    words = said.split()
    assert not [pair for pair in pairwise(words) if pair[0] == pair[1]], said
    assert "took charge of it" in said


@pytest.mark.parametrize(
    ("parts", "named"),
    [
        (["water box", "head passages", "drain"], "water box; head passages; and 1 more"),
        ([*LONG, "water box"], "cooling, bailer and flush hoses; and 2 more"),
        (LONG[1:], "exhaust manifold, intercooler and oil cooler"),
        ([" ".join(["long"] * 12), "water box"], " ".join(["long"] * 12) + "; and 1 more"),
    ],
)
def test_parts_with_long_names_are_counted_instead(parts, named):
    first = ice_sentences(parts, english())[0]
    assert f": {named}." in first


def test_an_answer_is_told_as_done_for_it_may_be_of_a_danger_that_is_over():
    assert ENGLISH.taken_on.startswith("{who} took ")
    assert GERMAN.taken_on.startswith("{who} hat ")
