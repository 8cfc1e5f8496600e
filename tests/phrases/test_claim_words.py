"""The languages of a claim's case: each says the same, and German leaves no English behind."""

import re
from collections.abc import Mapping
from dataclasses import fields, replace
from string import Formatter

import pytest

from monitor.craft.layup import Act
from monitor.phrases.claim_words import CLAIM_WORDS_OF, claim_words_of
from monitor.phrases.owner_catalogue import Counted
from tests.phrases.test_owner_catalogue import SHARED

ENGLISH, GERMAN = claim_words_of("en"), claim_words_of("de")
# Spelled alike in both languages, besides those of the letters.
ALIKE = SHARED | {"alarm", "so", "start", "text", "warm", "winter"}


def texts_of(words):
    """Every text, by the name of its field."""
    for each in fields(words):
        value = getattr(words, each.name)
        if isinstance(value, Counted):
            yield from ((each.name, value.one), (each.name, value.other))
        elif isinstance(value, Mapping):
            yield from ((each.name, text) for text in value.values())
        else:
            yield each.name, value


def words_in(text):
    return set(re.findall(r"[^\W\d_]{2,}", re.sub(r"\{\w+\}", " ", text).lower()))


def fields_named(text):
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("language", sorted(set(CLAIM_WORDS_OF) - {"en"}))
def test_what_is_put_into_an_english_text_is_put_into_every_other(language):
    other = CLAIM_WORDS_OF[language]
    for each in fields(ENGLISH):
        text, translated = getattr(ENGLISH, each.name), getattr(other, each.name)
        if isinstance(text, str):
            assert fields_named(text) == fields_named(translated), each.name
        elif isinstance(text, Counted):
            assert fields_named(text.other) == fields_named(translated.other), each.name


def test_german_has_no_english_word():
    english = set().union(*(words_in(text) for _, text in texts_of(ENGLISH))) - ALIKE
    german = set().union(*(words_in(text) for _, text in texts_of(GERMAN)))
    assert not english & german
    assert len(german) > 100  # so that the comparison has something to compare


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"near": ""}, "near: is empty"),
        ({"acts": {Act.DRAINED: "entwässert"}}, "acts: .* has no name"),
        ({"acts": {**GERMAN.acts, "sung to": "besungen"}}, "there is none such"),
    ],
)
def test_a_text_that_lacks_stops_the_import(changes, fault):
    assert set(GERMAN.acts) == set(Act)
    with pytest.raises(ValueError, match=fault):
        replace(GERMAN, **changes)
