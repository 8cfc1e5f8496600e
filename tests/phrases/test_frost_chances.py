"""A circuit's chances in words: that ice comes and that ice breaks it are two things."""

from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.protection import Basis, LayupState
from monitor.phrases.frost import chance_ice_breaks, frost_basis
from monitor.phrases.names import Names
from monitor.wording import Units, Wording
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from monitor.yard.frost_facts import FrostFacts
from tests.reports import kettlemoss


def facts(first, third, *, mixed=False, through=nan):
    return FrostFacts(
        layup=LayupState.UNKNOWN,
        basis=Basis.UNKNOWN,
        mixed=mixed,
        chance_first_ice=first,
        chance_third_ice=third,
        chance_frozen_through=through,
        act_from_chance=0.05,
    )


def said_of(known):
    seen = Assessment(
        subject=Subject("long-shed", "K2", "cylinders"),
        hazard=Hazard.FROST,
        standing=Standing.EXPOSED,
        at=kettlemoss.AT,
        facts=known,
    )
    return frost_basis(
        known, seen, Names(kettlemoss.yard()), Wording(now=kettlemoss.AT, units=Units())
    )


@pytest.mark.parametrize(
    ("known", "says"),
    [
        # Water counts a third of it ice in full, and less a tenth: 0.3 + 0.1 x 0.4 = 0.34.
        (facts(0.7, 0.3), "First ice comes 7 nights in 10 like this. Ice breaks it 3 nights in 10"),
        # That it begins to freeze every other night breaks it once in twenty: 0.1 x 0.5.
        (facts(0.5, 0.0), "First ice comes 5 nights in 10 like this. Ice breaks it 1 night in 20"),
        (facts(0.9, 0.2, mixed=True), "Ice breaks it 2 nights in 10 like this: from a third"),
    ],
)
def test_first_ice_and_a_break_are_told_apart(known, says):
    assert says in said_of(known)


def test_of_a_mix_first_ice_is_not_told_for_slush_breaks_nothing():
    assert "First ice" not in said_of(facts(0.9, 0.2, mixed=True))


def test_where_no_chance_was_worked_out_none_is_told():
    assert "like this" not in said_of(facts(nan, nan))


@given(
    third=st.floats(0.0, 1.0),
    more=st.floats(0.0, 1.0),
    mixed=st.booleans(),
)
def test_a_break_is_never_likelier_than_ice_and_never_rarer_than_a_third_of_it(third, more, mixed):
    first = third + more * (1.0 - third)
    breaks = chance_ice_breaks(facts(first, third, mixed=mixed))
    assert third <= breaks + 1e-12
    assert breaks <= first + 1e-12
