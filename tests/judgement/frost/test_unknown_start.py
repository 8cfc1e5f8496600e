"""What began before its air was read: warned of as if cold, called ice only if warm made it so.

The air of a new yard, of a silence that ends and of a craft that has just come in tells nothing of
the hours before. Checked against first-order lag by hand: a body that began at 20 °C is the bound.
"""

from dataclasses import replace
from datetime import timedelta
from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.protection import Basis, LayupState
from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Certainty, Hazard, Severity, Standing
from monitor.yard.frost_facts import Occasion
from monitor.yard.reading import Channel
from tests.judgement import scene
from tests.tried import tried

EVENING = scene.local(14, 18)
YARD = scene.yard_of(scene.SHED)
ICE = {Standing.ICING, Standing.SOLID}
WARNED = ICE | {Standing.EXPOSED, Standing.SUSPECT}
LAG_H = 5.0


def judged(air_c, heard_h, *, now=EVENING, protection=None, earlier=(), **of_craft):
    """A craft's head with a lag of 5 h, its air read for so long and not before."""
    readings = air_c
    if not isinstance(air_c, dict):
        readings = scene.trace(
            "air-long-shed", Channel.TEMPERATURE, air_c, now - timedelta(hours=heard_h), now
        )
    pair = (scene.circuit(LAG_H, lag_high_h=LAG_H), protection or scene.water())
    craft = scene.stored(scene.SHED, pair, **of_craft)
    found = judge_yard(YARD, [craft], readings, now, earlier)
    return scene.pick(found, Hazard.FROST, "head", "k1")


def test_twenty_minutes_of_cold_air_are_no_ice_but_a_warning_to_look():
    found = judged(-5.0, 1 / 3)
    assert found.standing is Standing.EXPOSED
    assert found.certainty is Certainty.POSSIBLE
    assert found.severity is Severity.SEVERE
    assert found.facts.ice_is_assumed
    assert found.facts.act.occasion is Occasion.IF_IT_RUNS
    assert found.facts.act.steps
    # VOICE.md: what is unknown is said once; the act is right for water and for ice.
    basis, act = scene.basis_words(found), scene.act_words(found)
    assert "Nothing was heard from Long Shed before 17:40" in basis
    assert "open its lowest drain" in act
    assert "If water runs out" in act
    assert "If nothing comes, leave it" in act


def test_ice_is_claimed_once_even_a_warm_start_has_frozen():
    # By hand: from 20 °C in air of -10 °C, a lag of 5 h: 0 °C after 5 ln 3 = 5.5 h.
    warm_h = LAG_H * log(30.0 / 10.0)
    assert judged(-10.0, warm_h - 0.7).standing is Standing.EXPOSED
    later = judged(-10.0, warm_h + 1.2)
    assert later.standing is Standing.ICING
    assert not later.facts.ice_is_assumed
    # And only since then: the early hour is of the cold start.
    begun_h = (EVENING - later.deadline) / timedelta(hours=1)
    assert begun_h == pytest.approx(1.2, abs=0.4)


@settings(max_examples=tried(25), deadline=None)
@given(air_c=st.floats(-25.0, -0.1), heard_h=st.floats(0.2, 60.0), more_h=st.floats(0.5, 30.0))
def test_fewer_hours_heard_never_take_a_warning_away(air_c, heard_h, more_h):
    fewer, more = judged(air_c, heard_h), judged(air_c, heard_h + more_h)
    if more.standing in WARNED:
        assert fewer.standing in WARNED
        assert fewer.calls_for_act
    # As cold as the air has been all along is as cold as the guess has it: the chance stays.
    assert fewer.facts.chance_first_ice >= more.facts.chance_first_ice - 1e-9


@settings(max_examples=tried(25), deadline=None)
@given(
    heard_h=st.floats(0.2, 40.0),
    before_c=st.floats(-10.0, 20.0),
    mean_c=st.floats(-12.0, 2.0),
    swing_k=st.floats(0.0, 6.0),
)
def test_what_is_called_ice_is_ice_however_it_began(heard_h, before_c, mean_c, swing_k):
    """The same evening with the hours before it known: ice that is claimed unheard is there."""
    whole_h = heard_h + 60.0

    def air(hours):
        course = mean_c - swing_k * np.cos(2 * np.pi * (hours - whole_h) / 24.0)
        return np.where(hours < 60.0, before_c, course)

    unheard = judged(lambda hours: air(hours + 60.0), heard_h)
    if unheard.standing in ICE:
        assert judged(air, whole_h).standing in ICE


def test_a_craft_that_has_just_come_is_looked_at_before_it_is_left_alone():
    air = scene.trace(
        "air-long-shed", Channel.TEMPERATURE, -6.0, EVENING - timedelta(hours=90), EVENING
    )
    here = judged(air, 90.0)
    assert here.standing in ICE
    came = judged(air, 90.0, since=EVENING - timedelta(hours=1))
    assert came.standing is Standing.EXPOSED
    assert came.facts.act.occasion is Occasion.IF_IT_RUNS
    assert "How cold K1 came in at 17:00 is not known" in scene.basis_words(
        came, scene.stored(scene.SHED)
    )
    # It came this morning, and nothing was read until just now: that is what is not known.
    later = judged(-6.0, 1 / 3, since=EVENING - timedelta(hours=9))
    assert "Nothing was heard from Long Shed before 17:40" in scene.basis_words(later)


def with_a_gap(until_c, from_c, gap_h, since_h=2.0):
    """Air read until a gap began, and again for the last hours."""
    begin = EVENING - timedelta(hours=gap_h + since_h)
    before = scene.trace(
        "air-long-shed", Channel.TEMPERATURE, until_c, begin - timedelta(hours=40), begin
    )
    after = scene.trace(
        "air-long-shed", Channel.TEMPERATURE, from_c, EVENING - timedelta(hours=since_h), EVENING
    )
    ((key, one),), (two,) = before.items(), after.values()
    joined = {
        name: np.concatenate([getattr(one, name), getattr(two, name)])
        for name in ("at_ms", "value", "flag")
    }
    return {key: replace(one, **joined)}, begin


def test_ice_that_was_seen_before_a_silence_is_still_ice_after_it():
    air, begin = with_a_gap(-6.0, -6.0, gap_h=5.0)
    before = judged(-6.0, 40.0, now=begin)
    assert before.standing in ICE
    assert judged(air, 0.0, earlier=[before]).standing in ICE
    # And what was liquid before the silence may or may not be.
    air, begin = with_a_gap(3.0, -6.0, gap_h=5.0)
    before = judged(3.0, 40.0, now=begin)
    assert judged(air, 0.0, earlier=[before]).standing is Standing.EXPOSED


def test_what_may_have_been_ice_is_in_doubt_in_the_warmth_until_something_ran_through():
    cold = judged(-3.0, 1.0)
    noon = EVENING + timedelta(hours=5)
    air = scene.trace(
        "air-long-shed",
        Channel.TEMPERATURE,
        lambda hours: np.where(hours < 1.0, -3.0, 12.0),
        EVENING - timedelta(hours=1),
        noon,
    )
    warm = judged(air, 0.0, now=noon, earlier=[cold])
    assert warm.standing is Standing.SUSPECT
    assert warm.facts.past_ice.as_water_at is None
    assert "There may have been ice in it" in scene.basis_words(warm)
    through = replace(scene.mix(-30.0), basis=Basis.COMPUTED, state=LayupState.PROVEN)
    done = judged(air, 0.0, now=noon, earlier=[cold], protection=through)
    assert done.standing is Standing.HOLDING
    looked = replace(scene.water(), inspected_at=EVENING + timedelta(hours=1))
    done = judged(air, 0.0, now=noon, earlier=[cold], protection=looked)
    assert done.facts.past_ice.maybe_at is None


def test_a_mix_colder_than_a_third_of_ice_at_the_first_reading_is_looked_at_first():
    found = judged(-30.0, 0.5, protection=scene.mix(-10.0))
    assert found.standing is Standing.EXPOSED
    assert found.facts.ice_is_assumed
    assert judged(-30.0, 60.0, protection=scene.mix(-10.0)).standing is Standing.ICING


def test_a_craft_that_comes_in_from_a_cold_road_is_looked_at_before_anybody_starts_it():
    yard = scene.yard_of(scene.BARN, scene.SHED, scene.RACK)
    since = EVENING - timedelta(hours=90)
    readings = {}
    for sensor, air_c in (("stove-barn", 8.0), ("long-shed", 2.0), ("lee-rack", -8.0)):
        readings |= scene.trace(f"air-{sensor}", Channel.TEMPERATURE, air_c, since, EVENING)

    def came(space=scene.SHED, **stay):
        pair = (scene.circuit(LAG_H, lag_high_h=LAG_H), scene.water())
        stay = {"since": EVENING - timedelta(hours=1), **stay}
        craft = scene.stored(space, pair, **stay)
        found = judge_yard(yard, [craft], readings, EVENING)
        return scene.pick(found, Hazard.FROST, "head", "k1"), craft

    found, craft = came()
    # By hand: from -8 °C in air of 2 °C, 5 h behind: after an hour at 2 - 10 exp(-0.2) = -6.2 °C.
    assert found.now_c == pytest.approx(2.0 - 10.0 * np.exp(-1 / LAG_H), abs=0.4)
    assert found.standing is Standing.EXPOSED
    assert found.facts.act.occasion is Occasion.IF_IT_RUNS
    assert "How cold K1 came in at 17:00 is not known" in scene.basis_words(found, craft)
    # From the rack it is known to be frozen; from the warm, and of what stood here, it is not.
    assert came(came_from="lee-rack")[0].standing in ICE
    assert not came(came_from="stove-barn")[0].facts.ice_is_assumed
    assert not came(since=EVENING - timedelta(days=9))[0].facts.ice_is_assumed
    # Into the warm it is as before: there it thaws.
    assert came(scene.BARN)[0].standing not in WARNED
