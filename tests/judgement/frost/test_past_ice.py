"""Ice that only some of a circuit's lags had, and how much of it is worth an act."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.judgement.judge import judge_yard
from monitor.phrases.figures import figures_of
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene

NOW = scene.local(15, 14)
SINCE = NOW - timedelta(hours=96)
YARD = scene.yard_of(scene.SHED)


def judged(air, lag_low_h, lag_high_h, now=NOW, **circuit):
    made = scene.circuit(lag_low_h=lag_low_h, lag_high_h=lag_high_h, **circuit)
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, air, SINCE, now)
    craft = [scene.stored(scene.SHED, (made, scene.water()))]
    return scene.pick(judge_yard(YARD, craft, readings, now), Hazard.FROST, "head", "k1")


def dip(to_c, lasts_h, before_h=8.0, from_c=8.0):
    """Air that was colder for some hours and has been back for long."""
    begin = 96.0 - before_h - lasts_h
    return lambda hours: np.where((hours >= begin) & (hours < begin + lasts_h), to_c, from_c)


def test_ice_that_only_the_faster_lags_had_is_looked_into():
    # From 8 °C behind air of -8 °C for 2 h: a lag of 1.3 h passes 0 °C after 0.9 h and then loses
    # 8.8 K h, two lags' worth of its 3.3 K of latent heat; the middle one, 3 h, ends at 0.2 °C.
    assert judged(dip(-8.0, 2.0), 1.0, 9.0).standing is Standing.SUSPECT
    assert judged(dip(-8.0, 2.0), 2.9, 3.1).standing is not Standing.SUSPECT


def test_a_touch_of_ice_in_the_faster_lags_alone_is_no_reason_to_take_anything_apart():
    # A lag of 1.3 h passes 0 °C after 0.9 h of -8 °C; ten minutes more freeze a tenth of it.
    assert judged(dip(-8.0, 1.0), 1.0, 9.0).standing is not Standing.SUSPECT


def test_ice_of_some_lags_is_there_in_as_many_courses_and_not_in_all():
    # Half an hour after the cold the fastest of four lags still holds ice, and the others had none.
    found = judged(dip(-8.0, 3.0, before_h=0.5, from_c=14.0), 1.0, 9.0)
    assert figures_of(found)["chance_first_ice"] == pytest.approx(0.25, abs=0.1)


def test_a_chance_of_first_ice_alone_is_no_evenings_work_and_a_third_of_ice_is():
    # Nights down to +1 °C: one colder than those may bring 0 °C. So much water that no night turns
    # a third of it to ice; and so little that the same cold does.
    nights = lambda hours: 6.0 + 5.0 * np.cos(2.0 * np.pi * hours / 24.0)  # noqa: E731
    lots, little = (judged(nights, 1.2, 1.6, volume_l=litres) for litres in (20.0, 0.05))
    for found in (lots, little):
        assert 0.05 < figures_of(found)["chance_first_ice"] < 0.5
    assert (lots.standing, little.standing) == (Standing.THIN, Standing.EXPOSED)
