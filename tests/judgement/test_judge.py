"""The yard judged whole: one hard night worked out by hand, and what must always hold."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.craft.protection import LayupState
from monitor.judgement.judge import judge
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene

START = scene.local(14, 17)
FALL_K_H = -13.0 / 14.0  # +1 °C at 17:00, straight to -12 °C at 07:00


def outside(hours):
    """Outdoor air: steady before 17:00 of the 14th, then the straight fall."""
    return np.where(hours < 0.0, 1.0, 1.0 + FALL_K_H * hours)


def hard_night(space, until, steady_c):
    """Readings of one space from three days before the fall on."""
    since = START - timedelta(hours=90)

    def air(hours_since):
        hours = hours_since - 90.0
        fallen = (
            scene.lagged_ramp(np.maximum(hours, 0.0), 8.0, steady_c, 1.0, FALL_K_H)
            if space is scene.SHED
            else outside(hours)
        )
        return np.where(hours < 0.0, steady_c, fallen)

    return scene.trace(f"air-{space.id}", Channel.TEMPERATURE, air, since, until)


@pytest.mark.parametrize(
    ("space", "steady_c", "lag_h", "first_ice"),
    [
        # A first-order run by hand over this night: shed with a lag of 8 h from 3 °C, metal in
        # it with 2.5 h and an iron block with 12 h; outdoors from 2 °C with the sky's loss of
        # 3 K (rack) and 1 K (row) from sunset on.
        (scene.SHED, 3.0, 2.5, scene.local(15, 1, 40)),
        (scene.SHED, 3.0, 12.0, scene.local(15, 6, 48)),
        (scene.RACK, 2.0, 2.5, scene.local(14, 18, 23)),
        (scene.ROW, 2.0, 2.5, scene.local(14, 19, 20)),
    ],
)
def test_first_ice_of_water_comes_when_the_hand_worked_night_says(
    space, steady_c, lag_h, first_ice
):
    now = scene.local(15, 7)
    craft = scene.stored(space, (scene.circuit(lag_h), scene.water()))
    judged = judge(scene.yard_of(space), [craft], hard_night(space, now, steady_c), now)
    found = scene.pick(judged, Hazard.FROST, "head", "k1")
    assert found.standing in {Standing.ICING, Standing.SOLID}
    # Ten minutes of grid, and the hand's own rounding.
    assert abs(found.deadline - first_ice) <= timedelta(minutes=15)


def test_a_mix_that_reads_minus_five_is_a_third_ice_at_the_hand_worked_time():
    # 15.4 % propylene glycol; slush at 23:50, a third of it ice at 03:40, in a lag of 1.5 h.
    craft = scene.stored(scene.ROW, (scene.circuit(1.5), scene.mix(-5.0)))

    def standing(now):
        judged = judge(scene.yard_of(scene.ROW), [craft], hard_night(scene.ROW, now, 2.0), now)
        return scene.pick(judged, Hazard.FROST, "head", "k1").standing

    assert standing(scene.local(15, 3)) is not Standing.ICING
    assert standing(scene.local(15, 4, 10)) is Standing.ICING


def test_a_strong_mix_holds_through_the_hard_night():
    now = scene.local(15, 6)
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.mix(-30.0)))
    judged = judge(scene.yard_of(scene.SHED), [craft], hard_night(scene.SHED, now, 3.0), now)
    found = scene.pick(judged, Hazard.FROST, "head", "k1")
    assert found.standing is Standing.HOLDING
    assert found.margin_k == pytest.approx(24.0, abs=2.0)  # the hand has 24 K


def test_warmth_never_makes_an_iced_unproven_circuit_safe():
    yard = scene.yard_of(scene.SHED)
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()))
    icy = scene.local(15, 7)
    earlier = judge(yard, [craft], hard_night(scene.SHED, icy, 3.0), icy)
    later = scene.local(19, 7)
    warm = scene.trace("air-long-shed", Channel.TEMPERATURE, 9.0, icy, later)
    found = scene.pick(judge(yard, [craft], warm, later, earlier), Hazard.FROST, "head", "k1")
    assert found.standing is Standing.SUSPECT
    again = judge(yard, [craft], warm, later, [found])
    assert scene.pick(again, Hazard.FROST, "head", "k1").standing is Standing.SUSPECT


@pytest.mark.parametrize("state", [LayupState.UNKNOWN, LayupState.UNPROVEN, LayupState.VOID])
def test_without_readings_nothing_holds(state):
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water(state=state)))
    judged = judge(scene.yard_of(scene.SHED), [craft], {}, scene.local(14, 20))
    assert scene.pick(judged, Hazard.FROST, "head", "k1").standing is Standing.NOT_KNOWN
    assert scene.pick(judged, Hazard.AIR).standing is Standing.NOT_KNOWN
    assert scene.pick(judged, Hazard.SILENCE, "air-long-shed").standing is Standing.SILENT
