"""What a craft's page says of tonight: the worst first, and nothing safe that is not known."""

from dataclasses import replace
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.phrases.craft_tonight import circuit_tonight, has_ice, tonight_sentence
from monitor.phrases.standings import row_of
from monitor.wording import Units, Wording
from monitor.yard.assessment import STANDINGS, Hazard, Standing
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
