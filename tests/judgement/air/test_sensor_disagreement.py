"""Sensors of one space that contradict each other, and the sun that makes them."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Certainty, Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene

NIGHT, NOON = scene.local(14, 22), scene.local(14, 13)


def differ(by_k, space=scene.SHED, now=NIGHT, for_h=40.0):
    since = now - timedelta(hours=40)

    def course(hours):
        return 5.0 + np.where(hours >= 40.0 - for_h - 1e-9, by_k, 0.0)

    readings = scene.trace(f"air-{space.id}", Channel.TEMPERATURE, 5.0, since, now)
    readings |= scene.trace("second", Channel.TEMPERATURE, course, since, now)
    yard = scene.yard_of(space, sensors=(scene.air_sensor(space, "second"),))
    return [each for each in judge_yard(yard, [], readings, now) if each.hazard is Hazard.SENSING]


@pytest.mark.parametrize(("by_k", "told"), [(3.5, False), (4.5, True), (-4.5, True)])
def test_more_than_four_kelvin_for_an_hour(by_k, told):
    found = differ(by_k)
    assert [each.standing for each in found] == ([Standing.APART] if told else [])
    assert all(each.certainty is Certainty.POSSIBLE for each in found)


def test_half_an_hour_is_a_door_and_an_hour_is_not():
    assert differ(6.0, for_h=0.5) == []
    assert len(differ(6.0, for_h=1.1)) == 1


def test_the_sun_on_one_of_them_is_no_contradiction():
    for space in (scene.ROW, scene.RACK):
        assert differ(9.0, space, NOON) == []
        assert len(differ(9.0, space, NIGHT)) == 1
    assert len(differ(9.0, scene.SHED, NOON)) == 1
