"""The yard judged whole: one hard night worked out by hand, and what must always hold."""

import math
import re
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.protection import Basis, LayupState, Protection
from monitor.judgement.judge import judge_yard
from monitor.phrases.figures import figures_of
from monitor.wording import Units
from monitor.yard.assessment import Certainty, Hazard, Standing
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor
from tests.judgement import scene
from tests.tried import tried

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
        # it with 2.5 h and an iron block with 12 h.
        (scene.SHED, 3.0, 2.5, scene.local(15, 1, 40)),
        (scene.SHED, 3.0, 12.0, scene.local(15, 6, 48)),
    ],
)
def test_first_ice_of_water_comes_when_the_hand_worked_night_says(
    space, steady_c, lag_h, first_ice
):
    now = scene.local(15, 7)
    craft = scene.stored(space, (scene.circuit(lag_h, lag_high_h=lag_h), scene.water()))
    judged = judge_yard(scene.yard_of(space), [craft], hard_night(space, now, steady_c), now)
    found = scene.pick(judged, Hazard.FROST, "head", "k1")
    assert found.standing in {Standing.ICING, Standing.SOLID}
    # Ten minutes of grid, and the hand's own rounding.
    assert abs(found.deadline - first_ice) <= timedelta(minutes=15)


@pytest.mark.parametrize(
    ("space", "first_ice"),
    [(scene.RACK, scene.local(14, 18, 23)), (scene.ROW, scene.local(14, 19, 20))],
)
def test_the_sky_brings_ice_earlier_but_no_earlier_than_its_clearest_night_would(space, first_ice):
    # By hand, outdoors from 2 °C, metal with a lag of 2.5 h: at the hour above with 3 K (rack) and
    # 1 K (row) taken from sunset on, which is more than the middle of the nights takes.
    now = scene.local(15, 7)
    craft = scene.stored(space, (scene.circuit(2.5, lag_high_h=2.5), scene.water()))
    judged = judge_yard(scene.yard_of(space), [craft], hard_night(space, now, 2.0), now)
    found = scene.pick(judged, Hazard.FROST, "head", "k1")
    assert found.standing in {Standing.ICING, Standing.SOLID}
    assert first_ice <= found.deadline <= first_ice + timedelta(hours=2)


def test_a_mix_that_reads_minus_five_is_a_third_ice_at_the_hand_worked_time():
    # 15.4 % propylene glycol; slush at 23:50, a third of it ice at 03:40, in a lag of 1.5 h and
    # with 1 K taken by the sky; the middle of the nights takes less, some half an hour of fall.
    craft = scene.stored(scene.ROW, (scene.circuit(1.5, lag_high_h=1.5), scene.mix(-5.0)))

    def standing(now):
        judged = judge_yard(scene.yard_of(scene.ROW), [craft], hard_night(scene.ROW, now, 2.0), now)
        return scene.pick(judged, Hazard.FROST, "head", "k1").standing

    assert standing(scene.local(15, 3)) is not Standing.ICING
    assert standing(scene.local(15, 5, 30)) is Standing.ICING


def test_a_strong_mix_holds_through_the_hard_night():
    now = scene.local(15, 6)
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.mix(-30.0)))
    judged = judge_yard(scene.yard_of(scene.SHED), [craft], hard_night(scene.SHED, now, 3.0), now)
    found = scene.pick(judged, Hazard.FROST, "head", "k1")
    assert found.standing is Standing.HOLDING
    assert found.margin_k == pytest.approx(24.0, abs=2.0)  # the hand has 24 K


@pytest.mark.parametrize(
    ("space", "taken"),
    [(scene.RACK, (1.0, 5.0)), (scene.ROW, (0.3, 1.7)), (scene.SHED, None)],
    ids=lambda one: getattr(one, "id", None),
)
def test_what_a_clear_sky_takes_is_said_where_it_makes_a_craft_colder_than_the_air(space, taken):
    now = scene.local(14, 16)
    pair = (scene.circuit(lag_h=0.5), scene.water())
    found = frost_of(space, [pair], waves(2.0, 4.0), now)["head"]
    said = scene.basis_words(found, units=Units(temperature="C", volume="L"))
    said = said.replace("\N{NO-BREAK SPACE}", " ")
    assert "ice at 0 °C" in said
    assert "ice at 0.0 °C" not in said
    # A cover lies up to 6.6 K below the air on a clear calm night (a separate solver of its
    # balance), and 0.15 to 0.5 of that reaches a circuit; a third of it under a wrap.
    if taken is None:
        assert "clear sky" not in said
    else:
        assert found.low_c < figures_of(found)["air_low_c"]
        stated = re.search(r", and a clear sky takes up to ([\d.]+) °C more:", said)
        assert stated is not None
        assert taken[0] < float(stated[1]) < taken[1]


def test_a_craft_that_has_its_own_probe_is_not_explained_by_the_sky():
    now = scene.local(14, 16)
    yard = scene.yard_of(
        scene.RACK,
        sensors=(
            Sensor(
                name="in-head",
                space="lee-rack",
                labels={"temperature": Channel.TEMPERATURE},
                mount=Mount.SURFACE,
                craft="k1",
                circuit="head",
            ),
        ),
    )
    since = now - timedelta(hours=90)
    readings = {
        **scene.trace("air-lee-rack", Channel.TEMPERATURE, waves(2.0, 4.0), since, now),
        **scene.trace("in-head", Channel.TEMPERATURE, waves(3.0, 2.0), since, now),
    }
    craft = scene.stored(scene.RACK, (scene.circuit(), scene.water()))
    found = scene.pick(judge_yard(yard, [craft], readings, now), Hazard.FROST, "head", "k1")
    assert "its own probe" in scene.basis_words(found)
    assert "clear sky" not in scene.basis_words(found)


def test_warmth_never_makes_an_iced_unproven_circuit_safe():
    yard = scene.yard_of(scene.SHED)
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()))
    icy = scene.local(15, 7)
    earlier = judge_yard(yard, [craft], hard_night(scene.SHED, icy, 3.0), icy)
    later = scene.local(19, 7)
    warm = scene.trace("air-long-shed", Channel.TEMPERATURE, 9.0, icy, later)
    found = scene.pick(judge_yard(yard, [craft], warm, later, earlier), Hazard.FROST, "head", "k1")
    assert found.standing is Standing.SUSPECT
    again = judge_yard(yard, [craft], warm, later, [found])
    assert scene.pick(again, Hazard.FROST, "head", "k1").standing is Standing.SUSPECT


@pytest.mark.parametrize("state", [LayupState.UNKNOWN, LayupState.UNPROVEN, LayupState.VOID])
def test_without_readings_nothing_holds(state):
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water(state=state)))
    judged = judge_yard(scene.yard_of(scene.SHED), [craft], {}, scene.local(14, 20))
    assert scene.pick(judged, Hazard.FROST, "head", "k1").standing is Standing.NOT_KNOWN
    assert scene.pick(judged, Hazard.AIR).standing is Standing.NOT_KNOWN
    assert scene.pick(judged, Hazard.SILENCE, "air-long-shed").standing is Standing.SILENT


ORDER = [
    *(Standing.HOLDING, Standing.THIN, Standing.SLUSH),
    *(Standing.EXPOSED, Standing.ICING, Standing.SOLID),
]


def waves(mean_c, swing_k):
    return lambda hours: mean_c - swing_k * np.cos(2 * np.pi * (hours - 1.0) / 24.0)


def frost_of(space, pairs, air, now, hours=90.0):
    readings = scene.trace(
        f"air-{space.id}", Channel.TEMPERATURE, air, now - timedelta(hours=hours), now
    )
    judged = judge_yard(scene.yard_of(space), [scene.stored(space, *pairs)], readings, now)
    return {each.subject.part: each for each in judged if each.hazard is Hazard.FROST}


@settings(max_examples=tried(25), deadline=None)
@given(
    colder_k=st.floats(0.1, 12.0),
    mean_c=st.floats(-15.0, 12.0),
    # To a millikelvin: a swing of 1e-310 K is none beside 0.25 °C and one beside 0 °C.
    swing_k=st.floats(0.0, 6.0).map(lambda swing_k: round(swing_k, 3)),
    lag_h=st.sampled_from([0.5, 2.5, 12.0]),
    point_c=st.sampled_from([0.0, -5.0, -12.0]),
)
def test_colder_is_never_safer(colder_k, mean_c, swing_k, lag_h, point_c):
    now = scene.local(14, 20)
    holds = scene.water() if point_c == 0.0 else scene.mix(point_c)
    pairs = [(scene.circuit(lag_h), holds)]
    mild = frost_of(scene.SHED, pairs, waves(mean_c, swing_k), now)["head"]
    cold = frost_of(scene.SHED, pairs, waves(mean_c - colder_k, swing_k), now)["head"]
    if Standing.SUSPECT in {mild.standing, cold.standing}:
        # Has been in ice: the colder one was so too, and may be so now.
        assert cold.standing in {Standing.SUSPECT, Standing.ICING, Standing.SOLID}
    else:
        assert ORDER.index(cold.standing) >= ORDER.index(mild.standing)
    assert cold.margin_k <= mild.margin_k
    if mild.deadline is not None:
        assert cold.deadline is not None
        assert cold.deadline <= mild.deadline


@settings(max_examples=tried(25), deadline=None)
@given(
    mean_c=st.floats(-20.0, 10.0),
    swing_k=st.floats(0.0, 6.0),
    better_k=st.floats(0.1, 20.0),
    point_c=st.floats(-20.0, -1.0),
)
def test_a_better_protection_is_never_worse(mean_c, swing_k, better_k, point_c):
    now = scene.local(14, 20)
    pairs = [
        (scene.circuit(id="water"), scene.water("water")),
        (scene.circuit(id="weak"), scene.mix(point_c, "weak")),
        (scene.circuit(id="strong"), scene.mix(point_c - better_k, "strong")),
    ]
    found = frost_of(scene.SHED, pairs, waves(mean_c, swing_k), now)
    iced = {Standing.ICING, Standing.SOLID, Standing.SUSPECT}  # now, or before and not looked into
    ranks = {
        part: len(ORDER) if each.standing in iced else ORDER.index(each.standing)
        for part, each in found.items()
    }
    assert ranks["strong"] <= ranks["weak"] <= ranks["water"]
    assert found["strong"].margin_k >= found["weak"].margin_k


@settings(max_examples=tried(10), deadline=None)
@given(days=st.integers(-3, 3), mean_c=st.floats(-6.0, 6.0))
def test_moving_all_times_moves_the_answer_by_as_much(days, mean_c):
    # Whole days in one week of one zone: the sun itself moves by minutes only.
    one, other = scene.local(14, 20), scene.local(14, 20) + timedelta(days=days)
    pairs = [(scene.circuit(), scene.water())]
    here = frost_of(scene.SHED, pairs, waves(mean_c, 5.0), one)["head"]
    there = frost_of(scene.SHED, pairs, waves(mean_c, 5.0), other)["head"]
    assert here.standing is there.standing
    assert here.margin_k == pytest.approx(there.margin_k, abs=0.2)
    if here.deadline is not None:
        moved = there.deadline - here.deadline - timedelta(days=days)
        assert abs(moved) <= timedelta(minutes=15)


def test_a_probe_in_the_circuit_wins_over_the_sum():
    now = scene.local(14, 20)
    probe = Sensor(
        name="probe",
        space="long-shed",
        mount=Mount.SURFACE,
        craft="k1",
        circuit="head",
        labels={"temperature": Channel.TEMPERATURE},
    )
    since = now - timedelta(hours=90)
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, 6.0, since, now)
    readings |= scene.trace("probe", Channel.TEMPERATURE, -1.5, since, now)
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()))
    judged = judge_yard(scene.yard_of(scene.SHED, sensors=(probe,)), [craft], readings, now)
    found = scene.pick(judged, Hazard.FROST, "head", "k1")
    assert (found.standing, found.certainty) == (Standing.ICING, Certainty.OBSERVED)
    assert found.now_c == pytest.approx(-1.5)


def test_the_coldest_sensor_of_a_space_decides():
    now, since = scene.local(14, 20), scene.local(11, 2)
    corner = scene.air_sensor(scene.SHED, "corner")
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, 6.0, since, now)
    readings |= scene.trace("corner", Channel.TEMPERATURE, -4.0, since, now)
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()))
    judged = judge_yard(scene.yard_of(scene.SHED, sensors=(corner,)), [craft], readings, now)
    assert scene.pick(judged, Hazard.AIR).now_c == pytest.approx(-4.0)
    assert scene.pick(judged, Hazard.FROST, "head", "k1").standing is not Standing.HOLDING


def test_a_silent_cold_corner_does_not_make_the_space_look_warm():
    now, since = scene.local(14, 20), scene.local(11, 2)
    corner = scene.air_sensor(scene.SHED, "corner")
    yard = scene.yard_of(scene.SHED, sensors=(corner,))
    middle = scene.trace("air-long-shed", Channel.TEMPERATURE, 3.0, since, now)
    till_noon = scene.trace("corner", Channel.TEMPERATURE, -1.0, since, scene.local(14, 12))
    judged = judge_yard(yard, [], middle | till_noon, now)
    # Four kelvin colder than the middle for three days, and so it is taken to be still.
    assert scene.pick(judged, Hazard.AIR).now_c == pytest.approx(-1.0, abs=0.1)
    assert scene.pick(judged, Hazard.SILENCE, "corner").standing is Standing.SILENT


def test_drained_and_seen_dry_holds_in_any_cold():
    now = scene.local(14, 20)
    dry = Protection(
        circuit="head",
        state=LayupState.PROVEN,
        ice_point_c=-math.inf,
        burst_point_c=-math.inf,
        basis=Basis.DRAINED,
        why="drained and probed dry on 1 Nov 2026 by Ada",
        liquid="none",
    )
    found = frost_of(scene.SHED, [(scene.circuit(), dry)], waves(-25.0, 5.0), now)["head"]
    assert (found.standing, found.margin_k) == (Standing.HOLDING, math.inf)


def test_an_inspection_after_the_ice_ends_the_suspicion_and_one_before_does_not():
    icy, later = scene.local(14, 20), scene.local(19, 7)
    yard = scene.yard_of(scene.SHED)
    circuit = scene.circuit()
    cold = scene.trace("air-long-shed", Channel.TEMPERATURE, -3.0, icy - timedelta(hours=30), icy)
    earlier = judge_yard(yard, [scene.stored(scene.SHED, (circuit, scene.water()))], cold, icy)
    warm = scene.trace("air-long-shed", Channel.TEMPERATURE, 9.0, scene.local(15, 3), later)

    def standing(inspected_at):
        looked = replace(scene.water(), inspected_at=inspected_at)
        craft = scene.stored(scene.SHED, (circuit, looked))
        judged = judge_yard(yard, [craft], warm, later, earlier)
        return scene.pick(judged, Hazard.FROST, "head", "k1").standing

    assert standing(icy - timedelta(days=2)) is Standing.SUSPECT
    assert standing(icy + timedelta(days=2)) is Standing.HOLDING


def test_every_judgement_of_a_full_yard_has_basis_and_act_where_it_needs_one():
    now = scene.local(14, 20)
    craft = [
        scene.stored(scene.SHED, (scene.circuit(), scene.water())),
        scene.stored(scene.SHED, (scene.circuit(), scene.mix(-5.0)), craft_id="k2"),
    ]
    readings = hard_night(scene.SHED, now, 1.0)
    for each in judge_yard(scene.yard_of(scene.SHED), craft, readings, now):
        assert len(scene.basis_words(each)) > 20
        if each.standing in {Standing.EXPOSED, Standing.ICING, Standing.SOLID, Standing.SUSPECT}:
            assert scene.act_words(each)
            assert each.cautions


def test_spaces_judged_together_get_what_each_gets_alone():
    now = scene.local(15, 3)
    pair = (scene.circuit(lag_h=2.5), scene.water())
    shed, row = (scene.stored(s, pair, craft_id=s.id) for s in (scene.SHED, scene.ROW))
    readings = hard_night(scene.SHED, now, 3.0)
    # North Row begins late, after a gap that its own ice must not be counted over.
    late = scene.local(14, 21)
    readings |= scene.trace("air-north-row", Channel.TEMPERATURE, lambda h: -1.0 - h, late, now)
    yard = scene.yard_of(scene.SHED, scene.ROW)
    together = judge_yard(yard, [shed, row], readings, now)
    alone = judge_yard(scene.yard_of(scene.ROW), [row], readings, now)
    one = scene.pick(together, Hazard.FROST, "head", row.id)
    other = scene.pick(alone, Hazard.FROST, "head", row.id)
    assert (one.standing, one.deadline, one.ends) == (other.standing, other.deadline, other.ends)
    ice = figures_of(one)["ice_fraction"]
    assert ice == pytest.approx(figures_of(other)["ice_fraction"], abs=0.02)


@pytest.mark.parametrize(("bare_k", "low_c"), [(1.0, 0.0), (5.0, -4.0)])
def test_a_bare_mass_at_the_rack_tells_what_the_sky_takes(bare_k, low_c):
    now, since = scene.local(14, 23), scene.local(11, 2)
    mass = Sensor(
        name="mass",
        space="lee-rack",
        mount=Mount.SURFACE,
        labels={"temperature": Channel.TEMPERATURE},
    )
    readings = scene.trace("air-lee-rack", Channel.TEMPERATURE, 1.0, since, now)
    readings |= scene.trace("mass", Channel.TEMPERATURE, 1.0 - bare_k, since, now)
    craft = scene.stored(scene.RACK, (scene.circuit(0.5), scene.mix(-20.0)))
    judged = judge_yard(scene.yard_of(scene.RACK, sensors=(mass,)), [craft], readings, now)
    found = scene.pick(judged, Hazard.FROST, "head", "k1")
    # Steady air and a steady mass: half of what the mass loses, or more, the circuit loses too.
    assert low_c <= found.now_c <= 1.0 - bare_k / 2
