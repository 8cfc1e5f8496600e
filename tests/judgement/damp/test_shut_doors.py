"""One door, one word: what metal asks for and what is said of opening a space agree."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.phrases.names import Names
from monitor.phrases.space_tonight import venting_text
from monitor.wording import Units, Wording
from monitor.yard.air_facts import VentAdvice
from monitor.yard.assessment import Hazard
from tests.judgement import scene
from tests.judgement.damp.test_damp import block, front, judged_damp

NOW = scene.local(15, 14)


def said_of_doors(judged, space=scene.SHED):
    """What metal asks for, and what is said of opening the space."""
    air = next(a for a in judged if a.hazard is Hazard.AIR and a.subject.space == space.id)
    yard = scene.yard_of(space, scene.RACK)
    words = Wording(zone=yard.zone, now=NOW, units=Units())
    assert Names.of(yard, ()).space(space.id) == space.name
    return scene.act_words(block(judged)), venting_text(air, space, words), air.facts.venting


def test_while_metal_sweats_drier_air_outside_opens_no_door():
    # Inside +6 °C and 95 % over metal at -2 °C sweats; -2 °C and 80 % outside holds less water.
    judged = judged_damp(front(-2.0, 6.0, 1.0), 95.0, NOW, outdoors=(-2.0, 80.0))
    asked, said, venting = said_of_doors(judged)
    shut = "Keep the doors of Long Shed shut until the metal has passed the dew point"
    assert asked.startswith(shut)
    assert said.startswith(shut)
    assert venting.advice is VentAdvice.WET_METAL
    assert "Only then does opening it dry it" in said
    hour = re.compile(r"about ((?:\w+ )?\d\d:\d\d)")
    assert hour.search(said)[1] == hour.search(asked)[1]


@settings(max_examples=25, deadline=None)
@given(
    was_c=st.floats(-8.0, 8.0),
    rises_k=st.floats(0.0, 12.0),
    rh=st.floats(50.0, 100.0),
    outside_c=st.floats(-12.0, 12.0),
)
def test_nobody_is_told_to_open_what_an_act_keeps_shut(was_c, rises_k, rh, outside_c):
    judged = judged_damp(front(was_c, was_c + rises_k, 2.0), rh, NOW, outdoors=(outside_c, 80.0))
    asked, said, _ = said_of_doors(judged)
    if "shut" in asked:
        assert not said.startswith("Opening")
        assert "shut" in said


def test_dry_metal_lets_a_damp_space_be_opened():
    _, said, venting = said_of_doors(judged_damp(5.0, 85.0, NOW, outdoors=(-2.0, 95.0)))
    assert venting.advice is VentAdvice.DRIES
    assert said.startswith("Opening Long Shed up dries its air")


@pytest.mark.parametrize("space", [scene.RACK])
def test_a_space_under_the_sky_has_no_doors(space):
    judged = judged_damp(front(-2.0, 6.0, 1.0), 95.0, NOW, space)
    air = next(a for a in judged if a.hazard is Hazard.AIR)
    assert air.facts.venting is None
