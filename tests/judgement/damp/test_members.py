"""Chances of wet metal: what must hold of any readings, and sums by hand."""

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.profile import Surface
from monitor.judgement.air.ensemble import MEMBERS
from monitor.judgement.judge import judge_yard
from monitor.phrases.figures import figures_of
from monitor.yard.assessment import Certainty, Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene
from tests.tried import tried

BLOCK = Surface(id="block", name="Engine block", lag_low_h=3.0, lag_high_h=6.0, length_m=0.3)
NOW = scene.local(15, 16)
SINCE = NOW - timedelta(hours=90)


def judged_block(air, rh, space=scene.SHED, now=NOW):
    readings = scene.trace(f"air-{space.id}", Channel.TEMPERATURE, air, SINCE, now)
    readings |= scene.trace(f"air-{space.id}", Channel.HUMIDITY, rh, SINCE, now)
    craft = scene.stored(space, (scene.circuit(), scene.water()), surfaces=(BLOCK,))
    found = judge_yard(scene.yard_of(space), [craft], readings, now)
    return scene.pick(found, Hazard.DAMP, "block", "k1")


def chance(found):
    return figures_of(found)["chance_sweating"]


def front(from_c, to_c, hours_ago):
    return lambda hours: np.where(hours < 90.0 - hours_ago, from_c, to_c)


def test_metal_that_sweats_now_is_wet_in_every_course_and_likely_so():
    found = judged_block(front(-2.0, 8.0, 3.0), 95.0)
    assert found.standing is Standing.SWEATING
    assert chance(found) == 1.0
    assert figures_of(found)["wet_early_in_h"] == 0.0
    assert found.certainty is Certainty.LIKELY


def test_in_dry_steady_air_no_course_wets_metal():
    # 8 °C and 50 %: the dew point lies 9.6 K lower (psychrometric tables), more than a shed without
    # a known night falls and its dew point rises together.
    found = judged_block(8.0, 50.0)
    assert chance(found) == 0.0
    assert found.deadline is None
    assert figures_of(found)["room_ahead_k"] > 4.0


def test_rime_is_told_apart_from_dew():
    frosty = judged_block(front(-14.0, -5.0, 2.0), 95.0)
    assert frosty.standing is Standing.FROSTING
    assert figures_of(frosty)["chance_frosting"] == chance(frosty) == 1.0
    dewy = judged_block(front(2.0, 12.0, 2.0), 95.0)
    assert figures_of(dewy)["chance_frosting"] == 0.0


def test_the_middle_room_lies_within_the_range_of_four_fifths():
    daily = lambda hours: np.sin(hours / 3.82)  # noqa: E731
    found = judged_block(lambda hours: 5.0 + 3.0 * daily(hours), lambda at: 80.0 - 9.0 * daily(at))
    known = figures_of(found)
    assert known["room_band_low_k"] <= known["room_ahead_k"] <= known["room_band_high_k"]


@given(
    air=st.floats(-8.0, 12.0),
    step=st.floats(-6.0, 8.0),
    rh=st.floats(40.0, 98.0),
    drier=st.floats(0.5, 20.0),
    space=st.sampled_from([scene.SHED, scene.ROW, scene.BARN]),
)
@settings(max_examples=tried(12), deadline=None)
def test_lower_humidity_never_raises_the_chance_of_sweating(air, step, rh, drier, space):
    course = front(air, air + step, 2.0)
    damp, dry = judged_block(course, rh, space), judged_block(course, rh - drier, space)
    assert chance(dry) <= chance(damp)
    assert figures_of(dry)["room_ahead_k"] >= figures_of(damp)["room_ahead_k"]
    for each in (damp, dry):
        assert figures_of(each)["chance_frosting"] <= chance(each)
        assert chance(each) * MEMBERS == pytest.approx(round(chance(each) * MEMBERS))


def test_a_dew_point_that_wanders_widely_here_gives_dry_metal_a_chance_to_get_wet():
    # Metal 2.2 K over the dew point of its air at 8 °C and 86 %. Where the dew point has not moved
    # for days that holds; where it swings by 6 K from day to day it may not tonight.
    still = judged_block(8.0, 86.0, now=scene.local(15, 9))
    swings = lambda hours: np.where(hours % 24.0 < 12.0, 86.0, 55.0)  # noqa: E731
    unsteady = judged_block(8.0, swings, now=scene.local(15, 9))
    assert figures_of(unsteady)["air_rh_pct"] == figures_of(still)["air_rh_pct"]
    assert chance(unsteady) > chance(still)
