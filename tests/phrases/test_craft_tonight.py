"""What a craft's page says of tonight: the worst first, and nothing safe that is not known."""

from dataclasses import replace
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.phrases.craft_tonight import (
    circuit_tonight,
    craft_sentences,
    has_ice,
    is_pressing,
    tonight_sentence,
)
from monitor.phrases.standings import row_of
from monitor.wording import Units, Wording
from monitor.yard.assessment import STANDINGS, Assessment, Hazard, Standing, Subject, Urgency
from monitor.yard.facts import EarlierSentences
from tests.reports import kettlemoss as yard_of

CRAFT = {one.id: one for one in yard_of.craft()}
WORDS = Wording(zone=yard_of.ZONE, now=yard_of.AT, units=Units())


def circuits_of(craft: str, *standings: Standing):
    own = [
        one for one in yard_of.assessments()
        if one.subject.craft == craft and one.hazard is Hazard.FROST
    ]  # fmt: skip
    return [replace(one, standing=s) for one, s in zip(own, standings, strict=True)]


@given(st.lists(st.sampled_from(sorted(STANDINGS[Hazard.FROST])), min_size=2, max_size=2))
def test_safe_is_said_of_no_craft_that_is_iced_exposed_or_not_known(standings):
    said = tonight_sentence(circuits_of("K2", *standings), CRAFT["K2"], WORDS)
    bad = {Standing.EXPOSED, Standing.NOT_KNOWN}
    if any(s in bad for s in standings) or has_ice(circuits_of("K2", *standings)):
        assert not said.startswith("Safe")
        assert not said.startswith("Little to spare")


@pytest.mark.parametrize("standing", sorted(STANDINGS[Hazard.FROST]))
def test_ice_is_told_before_all_else(standing):
    circuits = circuits_of("K2", standing, Standing.SOLID)
    assert tonight_sentence(circuits, CRAFT["K2"], WORDS).startswith("Ice is or was in ")


def test_a_craft_in_danger_is_told_its_part_and_its_hour():
    circuits = circuits_of("K8", Standing.EXPOSED, Standing.HOLDING)
    said = tonight_sentence(circuits, CRAFT["K8"], WORDS)
    # K8's block is written in kettlemoss.py to freeze from 06:48 on.
    assert said == "Not safe tonight: ice in block and heads. Act by 06:48."


def test_a_craft_that_is_dry_has_nothing_to_freeze():
    circuits = [replace(one, margin_k=inf) for one in circuits_of("K6", *[Standing.HOLDING] * 2)]
    said = tonight_sentence(circuits, CRAFT["K6"], WORDS)
    assert said == "Safe tonight: no water is left in it that could freeze."


def test_a_craft_with_nothing_to_freeze_says_so():
    assert "could freeze" in tonight_sentence([], CRAFT["K6"], WORDS)


@pytest.mark.parametrize("one", yard_of.assessments(), ids=str)
def test_every_circuit_has_words(one):
    if one.hazard is Hazard.FROST:
        said = circuit_tonight(replace(one, margin_k=nan), WORDS)
        assert said
        assert row_of(one).word or "nan" not in said
        assert "nan" not in said


OTHERS = [Hazard.BATTERY, Hazard.CHARGING, Hazard.DAMP, Hazard.RECORD]
_PAIRS = [(hazard, standing) for hazard in OTHERS for standing in sorted(STANDINGS[hazard])]


def other(hazard, standing, urgency=Urgency.IMMEDIATE, asks=True):
    return Assessment(
        subject=Subject("long-shed", "K2", "battery" if hazard is Hazard.BATTERY else ""),
        hazard=hazard,
        standing=standing,
        at=yard_of.AT,
        facts=EarlierSentences(basis="By hand.", act="See to it."),
        urgency=urgency,
        calls_for_act=asks,
    )


@given(
    st.lists(st.sampled_from(sorted(STANDINGS[Hazard.FROST])), min_size=2, max_size=2),
    st.lists(
        st.builds(
            lambda pair, urgency, asks: other(*pair, urgency, asks),
            st.sampled_from(_PAIRS), st.sampled_from(Urgency), st.booleans(),
        ),
        max_size=4,
    ),
)  # fmt: skip
def test_no_craft_that_needs_work_this_night_is_first_called_safe(standings, others):
    said = craft_sentences(circuits_of("K2", *standings), others, CRAFT["K2"], WORDS)
    if any(is_pressing(each) for each in others):
        assert not said.startswith("Safe")
        assert "To see to tonight: " in said
    assert said.startswith("Safe tonight") <= all(row_of(a).weight == "well" for a in others)


def test_a_battery_that_may_have_frozen_stands_before_frost_that_spares_the_craft():
    circuits = [replace(one, margin_k=5.0) for one in circuits_of("K2", *[Standing.HOLDING] * 2)]
    battery = other(Hazard.BATTERY, Standing.SUSPECT)
    said = craft_sentences(circuits, [battery], CRAFT["K2"], WORDS)
    assert said.startswith("To see to tonight: battery, may have frozen. Safe from frost tonight: ")


def test_ice_stands_before_a_battery_that_is_only_low():
    circuits = circuits_of("K2", Standing.SOLID, Standing.HOLDING)
    low = other(Hazard.BATTERY, Standing.LOST)
    said = craft_sentences(circuits, [low], CRAFT["K2"], WORDS)
    assert said.startswith("Ice is or was in ")
    assert said.endswith("To see to tonight: battery, maintainer lost.")
