"""The languages of letters to owners: each catalogue is whole, and leaves no English behind."""

import re
import tomllib
from dataclasses import fields, replace
from pathlib import Path
from string import Formatter

import pytest

from monitor.alarms.definitions import DEFINITIONS
from monitor.phrases.owner_catalogue import OWNER_CAUSES, Counted
from monitor.phrases.owner_english import ENGLISH
from monitor.phrases.owner_german import GERMAN
from monitor.phrases.owner_languages import LANGUAGES
from monitor.yard.space import Role

PROFILES = Path(__file__).parents[2] / "config" / "profiles"
# Spelled alike in both languages.
SHARED = {"an", "bilge", "frost", "gas", "in", "laidup", "mail", "was"}


def fields_named(template):
    return {name for _, name, _, _ in Formatter().parse(template) if name is not None}


def words_of_templates(catalogue):
    """Every word of a catalogue's sentences, small, without the fields."""
    said = " ".join(template for _, template in catalogue.each_template())
    said += " ".join([*catalogue.acts.values(), *catalogue.of_cause.values()])
    return set(re.findall(r"[^\W\d_]{2,}", re.sub(r"\{\w+\}", " ", said).lower()))


def test_a_sentence_that_a_language_lacks_stops_the_import():
    wanting = {each.name: getattr(GERMAN, each.name) for each in fields(GERMAN)}
    wanting.pop("nothing_to_do")
    with pytest.raises(TypeError, match="nothing_to_do"):
        type(GERMAN)(**wanting)


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"nothing_to_do": " "}, "nothing_to_do: is empty"),
        ({"taken_on": "{who} took it, {what}"}, "taken_on: names what"),
        ({"nights": Counted("one night", "{nigths} nights")}, "nights: names nigths"),
        ({"acts": {}}, "has no name"),
        ({"of_cause": {}}, "has no title"),
    ],
)
def test_a_template_that_nobody_can_fill_stops_the_import(changes, fault):
    with pytest.raises(ValueError, match=fault):
        replace(ENGLISH, **changes)


@pytest.mark.parametrize("language", LANGUAGES)
def test_names_and_figures_of_the_english_sentence_stand_in_every_other(language):
    # Of an hour one language says "at" and another "since"; either is filled.
    other = LANGUAGES[language]
    for (name, template), (also, translated) in zip(
        ENGLISH.each_template(), other.each_template(), strict=False
    ):
        if name in {"days", "hour"} or name != also:
            continue
        hours = {"at", "since"}
        assert fields_named(template) - hours == fields_named(translated) - hours, name
        assert bool(fields_named(template) & hours) == bool(fields_named(translated) & hours), name


def test_german_has_no_english_word():
    english = words_of_templates(ENGLISH) - SHARED
    german = words_of_templates(GERMAN)
    assert not english & german
    assert len(german) > 100  # so that the comparison has something to compare


def test_every_cause_that_owners_hear_of_has_words():
    told = {each.cause for each in DEFINITIONS.values() if Role.OWNER in each.tells}
    assert told == OWNER_CAUSES


def circuits_of_profiles():
    return sorted(
        {
            block["name"]
            for path in PROFILES.glob("*.toml")
            for block in tomllib.loads(path.read_text("utf-8")).get("circuits", {}).values()
            if "name" in block
        }
    )


@pytest.mark.parametrize("part", circuits_of_profiles())
def test_every_part_of_our_types_of_craft_has_a_german_name(part):
    assert GERMAN.part_name(part) != part
    assert GERMAN.part_name(f"port {part}") == f"Backbord: {GERMAN.part_name(part)}"


def test_a_part_that_the_yard_named_itself_keeps_its_name():
    assert GERMAN.part_name("Kühlkreis links") == "Kühlkreis links"
    assert ENGLISH.part_name("bilge pump two") == "bilge pump two"
