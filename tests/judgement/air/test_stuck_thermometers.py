"""A thermometer that stays while the others fall is named and hides no cold; weather is neither."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import ReadingsClock
from monitor.craft.profile import Chemistry
from monitor.craft.stored import Battery, BatteryPlace
from monitor.judgement.air import sensor_offsets
from monitor.judgement.air.grid import past_hours
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.sensor_offsets import fill_gaps, find_parting
from monitor.judgement.air.stuck_thermometers import (
    AirRows,
    StuckThermometer,
    find_stuck,
    replace_stuck,
)
from monitor.judgement.judge import judge_yard
from monitor.judgement.round import Round
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.facts import SensorFault
from monitor.yard.reading import Channel
from tests.judgement import scene
from tests.judgement.test_round import put

NOW = scene.local(14, 22)
BACK_H = 100.0
SINCE = NOW - timedelta(hours=BACK_H)
DOOR, KEEL = "shed-door", "air-long-shed"
YARD = scene.yard_of(scene.SHED, scene.RACK, sensors=(scene.air_sensor(scene.SHED, DOOR),))
CRAFT = [scene.stored(scene.SHED, (scene.circuit(), scene.water()))]
STUCK_H = BACK_H - 12.0


def keel(hours):
    """Days of 5 °C that swing by 2 K, and a fall by 6 K in the last five hours."""
    return 5.0 + np.sin(2 * np.pi * hours / 24.0) - 1.2 * np.clip(hours - (BACK_H - 5.0), 0.0, 6.0)


def door(hours):
    return keel(hours) - 0.8


def frozen(course, at_h=STUCK_H, creeps_k_h=0.0):
    return lambda hours: np.where(
        hours < at_h, course(hours), course(np.float64(at_h)) + creeps_k_h * (hours - at_h)
    )


def read(door_says, keel_says=keel, every_s=600.0, until=NOW, rh=None):
    found = {}
    for name, says in ((KEEL, keel_says), (DOOR, door_says), ("air-lee-rack", keel)):
        found |= scene.trace(name, Channel.TEMPERATURE, says, SINCE, until, every_s=every_s)
        if rh is not None:
            found |= scene.trace(name, Channel.HUMIDITY, rh, SINCE, until, every_s=every_s)
    return found


def stuck(judged):
    return [
        each
        for each in judged
        if each.standing is Standing.DOUBTED and each.facts.fault is SensorFault.STUCK
    ]


def shed(judged):
    return scene.pick([one for one in judged if one.subject.space == "long-shed"], Hazard.AIR)


@pytest.mark.parametrize("creeps_k_h", [0.0, -0.03, 0.03])
@pytest.mark.parametrize("every_s", [300.0, 900.0, 3600.0])
def test_the_colder_one_that_stays_is_named_and_its_corner_judged_as_cold_as_it_is(
    every_s, creeps_k_h
):
    judged = judge_yard(
        YARD, CRAFT, read(frozen(door, creeps_k_h=creeps_k_h), every_s=every_s), NOW
    )
    (named,) = stuck(judged)
    assert named.subject.part == DOOR
    assert named.facts.other == KEEL
    assert named.facts.usual_k == pytest.approx(-0.8, abs=0.01)
    # What the corner really is: 0.8 K below the keel, at -1.8 °C. Without it the keel's -1.0 °C.
    assert shed(judged).now_c == pytest.approx(float(door(np.float64(BACK_H))), abs=0.05)


def test_it_is_found_within_an_hour_of_a_fall_that_passes_what_two_sensors_may_differ():
    # 1.2 K an hour: 1 K after 50 minutes.
    begins = NOW - timedelta(hours=5.0)
    for minutes in range(0, 300, 10):
        if stuck(judge_yard(YARD, [], read(frozen(door)), begins + timedelta(minutes=minutes))):
            break
    assert 50 <= minutes <= 110


def test_it_is_said_in_words_and_its_humidity_withheld():
    wavy = lambda hours: 70.0 + 5.0 * np.sin(hours / 3.8)  # noqa: E731
    judged = judge_yard(YARD, CRAFT, read(frozen(door), rh=wavy), NOW)
    (named,) = stuck(judged)
    words = scene.basis_words(named)
    assert "stayed" in words
    assert "colder" in words
    assert "by hand" in scene.act_words(named)
    # The keel's own humidity goes on, and nobody compares the two for a day.
    assert np.isfinite(shed(judged).facts.rh_pct)
    assert all(each.standing is not Standing.APART for each in judged)
    alone = read(frozen(door), rh=wavy)
    del alone[KEEL, Channel.HUMIDITY]
    assert np.isnan(shed(judge_yard(YARD, CRAFT, alone, NOW)).facts.rh_pct)


def test_ice_in_the_corner_is_told_though_its_thermometer_sticks():
    right, wrong = (
        scene.pick(judge_yard(YARD, CRAFT, read(says), NOW), Hazard.FROST, "head", "k1")
        for says in (door, frozen(door))
    )
    assert wrong.standing is right.standing
    assert wrong.facts.chance_first_ice >= right.facts.chance_first_ice - 0.05


@pytest.mark.parametrize(
    ("door_says", "keel_says"),
    [
        (door, keel),
        (lambda hours: keel(hours) - 3.0, keel),
        # It lags two hours behind in every fall.
        (lambda hours: keel(hours - 2.0) - 0.8, keel),
        # The sun warms one of the two.
        (lambda hours: door(hours) + 6.0 * (np.sin(2 * np.pi * (hours - 4.0) / 24.0) > 0.8), keel),
        # Air that stays: none of both moves.
        (lambda hours: 4.2 + 0.0 * hours, lambda hours: 5.0 + 0.0 * hours),
        # It rises, and the other does not.
        (lambda hours: 4.2 + 0.1 * np.maximum(hours - 80.0, 0.0), lambda hours: 5.0 + 0.0 * hours),
    ],
)
def test_what_sound_ones_do_is_not_doubted(door_says, keel_says):
    for back_h in range(0, 30, 3):
        at = NOW - timedelta(hours=back_h)
        assert stuck(judge_yard(YARD, [], read(door_says, keel_says), at)) == []


def test_a_heated_middle_stays_while_its_corner_falls():
    yard = scene.yard_of(scene.BARN, sensors=(scene.air_sensor(scene.BARN, DOOR),))
    readings = scene.trace("air-stove-barn", Channel.TEMPERATURE, 8.0, SINCE, NOW)
    readings |= scene.trace(DOOR, Channel.TEMPERATURE, door, SINCE, NOW)
    assert stuck(judge_yard(yard, [], readings, NOW)) == []


def test_one_alone_outdoors_is_held_against_the_others_there_and_one_indoors_is_not():
    yard = scene.yard_of(scene.RACK, scene.ROW, scene.SHED)
    readings = {}
    for space, says in (
        ("lee-rack", frozen(door)),
        ("north-row", keel),
        ("long-shed", frozen(door)),
    ):
        readings |= scene.trace(f"air-{space}", Channel.TEMPERATURE, says, SINCE, NOW)
    (named,) = stuck(judge_yard(yard, [], readings, NOW))
    assert named.subject.part == "air-lee-rack"


def until_it_follows(hours):
    """Stuck at 5 °C for a day, and mended then."""
    return np.where((hours < 58.0) | (hours >= 84.0), swinging(hours), 5.0)


def swinging(hours):
    return 3.0 + 4.0 * np.sin(2 * np.pi * hours / 24.0)


def test_it_stays_doubted_until_it_has_followed_for_hours():
    readings = read(until_it_follows, lambda hours: swinging(hours) + 0.8)
    memory = Memory()
    told = {}
    for at_h in range(56, 100):
        at = SINCE + timedelta(hours=at_h)
        told[at_h] = bool(stuck(judge_yard(YARD, [], readings, at, memory=memory)))
    assert not any(told[at_h] for at_h in range(56, 59))
    first = next(at_h for at_h, is_told in told.items() if is_told)
    assert 59 <= first <= 64
    assert all(
        told[at_h] for at_h in range(first, 85)
    )  # also while both are as far apart as before
    assert not told[99]


def test_a_daemon_that_starts_again_still_knows_it(tmp_path):
    url = f"sqlite:///{tmp_path / 'laidup.db'}"
    migrate(url)
    store = Store(url, "kettlemoss")
    later = NOW + timedelta(hours=90)  # when nothing of before is among the hours looked at
    put(store, read(frozen(door), until=later))
    for now in (NOW, later):
        Round(store, YARD, ReadingsClock(now)).run(CRAFT)
        with store.snapshot() as tx:
            judged = tx.assessments.latest_judgements()
        (named,) = stuck(judged)
        assert named.facts.usual_k == pytest.approx(-0.8, abs=0.01)
        hours = (now - SINCE) / timedelta(hours=1)
        assert shed(judged).now_c == pytest.approx(float(door(np.float64(hours))), abs=0.05)
    store.close()


courses = st.lists(st.floats(-30.0, 30.0) | st.just(np.nan), min_size=9, max_size=9).map(
    lambda points: np.interp(past_hours(), np.linspace(-96.0, 0.0, 9), points)
)


@given(
    table=st.lists(courses, min_size=2, max_size=3).map(np.array),
    known=st.booleans(),
    since_h=st.floats(0.0, 200.0),
    usual_k=st.floats(-10.0, 10.0),
)
def test_a_space_is_never_warmer_for_what_is_doubted(table, known, since_h, usual_k):
    names = [f"s{at}" for at in range(len(table))]
    rows = AirRows(scene.SHED, names, table, table, lambda _: 0.01)
    before = [StuckThermometer("long-shed", "s0", "", round(-since_h * 3.6e6), usual_k)]
    hours = past_hours()
    found = find_stuck([rows], hours, 0, before if known else [])
    judged = replace_stuck([rows], found, hours, 0)["long-shed"]
    plain = fill_gaps(table)
    was, now = np.fmin.reduce(plain), np.fmin.reduce(judged)
    assert (np.isfinite(now) >= np.isfinite(was)).all()
    told = np.isfinite(was)
    assert (now[told] <= was[told]).all()
    assert not (np.fmin.reduce(judged) > np.fmin.reduce(table)).any()


@given(
    fell_k=st.floats(1.5, 20.0),
    fell_in_h=st.floats(0.2, 12.0),
    offset_k=st.floats(-3.0, 3.0),
    step_k=st.sampled_from([0.01, 0.1]),
)
def test_a_fall_beside_one_that_stays_is_judged_with_its_offset(
    fell_k, fell_in_h, offset_k, step_k
):
    hours = past_hours()
    other = 6.0 - fell_k * np.clip((hours + 13.0) / fell_in_h, 0.0, 1.0)
    said = np.round(np.array([np.full(hours.size, 6.0 + offset_k), other]) / step_k) * step_k
    rows = AirRows(scene.SHED, ["a", "b"], said, said, lambda _: step_k)
    found = find_stuck([rows], hours, 0)
    assert [one.sensor for one in found] == ["a"]
    judged = replace_stuck([rows], found, hours, 0)["long-shed"]
    assert judged[0, -1] == pytest.approx(6.0 - fell_k + offset_k, abs=2.0 * step_k)


@given(seed=st.integers(0, 10**6), stays_h=st.floats(0.0, 40.0), scatter_k=st.floats(0.0, 1.0))
def test_what_is_passed_over_at_a_glance_would_not_have_been_found(seed, stays_h, scatter_k):
    rng = np.random.default_rng(seed)
    hours = np.arange(-576, 1) / 6.0
    others_c = np.cumsum(rng.normal(-0.01, 0.1, hours.size))
    own_c = others_c + 0.5 + rng.normal(0.0, scatter_k, hours.size)
    own_c[hours > -stays_h] = own_c[hours <= -stays_h][-1]
    glance = find_parting(own_c, others_c, hours, 1.0, 0.5)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sensor_offsets, "_is_usual", lambda *_: False)
        whole = find_parting(own_c, others_c, hours, 1.0, 0.5)
    assert glance == whole


def follower_silent(rack, until):
    """The door stays at 4 °C, and the keel that fell is heard no more from an hour ago on."""
    heard = read(frozen(door), until=until)
    last = NOW - timedelta(hours=1)
    heard |= scene.trace(KEEL, Channel.TEMPERATURE, keel, SINCE, last)
    return heard | scene.trace("air-lee-rack", Channel.TEMPERATURE, rack, SINCE, until)


def test_one_that_stays_tells_of_no_thaw_once_the_one_that_fell_is_silent():
    # Outdoors it grows mild; how cold the shed still is nobody hears.
    mild = lambda hours: keel(hours) + 2.0 * np.clip(hours - BACK_H, 0.0, 5.0)  # noqa: E731
    until = NOW + timedelta(hours=24)
    readings, memory, earlier = follower_silent(mild, until), Memory(), []
    for at_h in range(-6, 25):
        earlier = judge_yard(
            YARD, CRAFT, readings, NOW + timedelta(hours=at_h), earlier, memory=memory
        )
        standing = scene.pick(earlier, Hazard.FROST, "head", "k1").standing
        assert standing in {Standing.EXPOSED, Standing.NOT_KNOWN} or at_h < -3
    assert shed(earlier).standing is Standing.NOT_KNOWN
    assert "shed-door is heard, which stays" in scene.basis_words(shed(earlier))
    assert "by hand" in scene.act_words(shed(earlier))


def test_a_battery_where_only_one_that_stays_is_heard_has_no_room_left_to_state():
    weak = Battery(
        chemistry=Chemistry.FLOODED,
        capacity_ah=18.0,
        lag_low_h=2.0,
        lag_high_h=4.0,
        place=BatteryPlace.ABOARD,
        space="long-shed",
        maintained=False,
        rested_v=12.3,
        rested_at=NOW - timedelta(days=2),
        disconnected=True,
    )
    craft = [replace(CRAFT[0], battery=weak)]
    until = NOW + timedelta(hours=6)
    readings, memory = follower_silent(keel, until), Memory()
    for at_h in range(-6, 7):
        judged = judge_yard(YARD, craft, readings, NOW + timedelta(hours=at_h), memory=memory)
    found = scene.pick(judged, Hazard.BATTERY, "battery", "k1")
    assert np.isnan(found.margin_k)
    assert np.isnan(found.facts.chance_freezing)
    heard = judge_yard(YARD, craft, read(door), NOW)
    assert scene.pick(heard, Hazard.BATTERY, "battery", "k1").margin_k > 0.0


def test_frost_ahead_is_told_even_by_one_that_stays_as_the_only_one_heard():
    colder = lambda hours: keel(hours) - 1.2 * np.clip(hours - BACK_H, 0.0, 12.0)  # noqa: E731
    until = NOW + timedelta(hours=8)
    readings, memory = follower_silent(colder, until), Memory()
    for at_h in range(-6, 9):
        judged = judge_yard(YARD, CRAFT, readings, NOW + timedelta(hours=at_h), memory=memory)
    assert shed(judged).standing is Standing.NOT_KNOWN
    assert scene.pick(judged, Hazard.FROST, "head", "k1").standing is Standing.EXPOSED


def test_one_that_was_found_by_a_clock_that_ran_ahead_is_found_again_by_the_right_one():
    # Else nothing would be put in its place until the hour to which the clock was wrong.
    hours = past_hours()
    said = np.array([np.full(hours.size, 6.0), np.where(hours < -6.0, 6.0, 5.5 + hours * 0.0)])
    said[1] -= np.clip(hours + 6.0, 0.0, 6.0)
    rows = AirRows(scene.SHED, ["a", "b"], said, said, lambda _: 0.01)
    ahead = StuckThermometer("long-shed", "a", "b", round(20 * 3.6e6), 0.0)
    found = find_stuck([rows], hours, 0, [ahead])
    judged = replace_stuck([rows], found, hours, 0)["long-shed"]
    assert [one.sensor for one in found] == ["a"]
    assert judged[0, -1] == pytest.approx(said[1, -1])


RACK_YARD = scene.yard_of(
    scene.RACK, scene.ROW, sensors=(scene.air_sensor(scene.RACK, "rack-post"),)
)


def rack_and_row(one, other, row=keel):
    found = {}
    for name, says in (("air-lee-rack", one), ("rack-post", other), ("air-north-row", row)):
        found |= scene.trace(name, Channel.TEMPERATURE, says, SINCE, NOW)
    return found


def test_two_that_stay_in_one_air_outdoors_are_both_named_and_judged_by_the_row_that_falls():
    judged = judge_yard(RACK_YARD, [], rack_and_row(frozen(door), frozen(keel)), NOW)
    assert {each.subject.part for each in stuck(judged)} == {"air-lee-rack", "rack-post"}
    (air,) = [
        each for each in judged if each.hazard is Hazard.AIR and each.subject.space == "lee-rack"
    ]
    # 0.8 K below the row, as it was beside it until both stayed.
    assert air.now_c == pytest.approx(float(door(np.float64(BACK_H))), abs=0.05)


@pytest.mark.parametrize(
    ("one", "other", "row", "named"),
    [
        (door, keel, keel, set()),
        # One of both falls: it clears the air, and the other is held against it.
        (frozen(door), keel, keel, {"air-lee-rack"}),
        # Air that stays everywhere.
        (
            lambda hours: 4.0 + 0 * hours,
            lambda hours: 5.0 + 0 * hours,
            lambda h: 4.5 + 0 * h,
            set(),
        ),
        # The row alone rises, and nothing is colder than it was.
        (frozen(door, 90.0), frozen(keel, 90.0), lambda h: 5.0 + np.maximum(h - 90.0, 0.0), set()),
        # A front that comes to the row an hour earlier.
        (lambda hours: door(hours - 1.0), lambda hours: keel(hours - 1.0), keel, set()),
    ],
)
def test_an_air_with_one_that_falls_and_air_that_stays_is_not_doubted_as_a_whole(
    one, other, row, named
):
    judged = judge_yard(RACK_YARD, [], rack_and_row(one, other, row), NOW)
    assert {each.subject.part for each in stuck(judged)} == named


@given(table=st.lists(courses, min_size=3, max_size=3).map(np.array))
def test_a_space_is_never_warmer_for_being_held_against_another_outdoors(table):
    hours = past_hours()
    rack = AirRows(scene.RACK, ["a", "b"], table[:2], table[:2], lambda _: 0.01)
    row = AirRows(scene.ROW, ["c"], table[2:], table[2:], lambda _: 0.01)
    found = find_stuck([rack, row], hours, 0)
    judged = replace_stuck([rack, row], found, hours, 0)
    for rows, said in ((rack, table[:2]), (row, table[2:])):
        was, now = np.fmin.reduce(fill_gaps(said)), np.fmin.reduce(judged[rows.space.id])
        told = np.isfinite(was)
        assert (now[told] <= was[told]).all()


def rehung(hours):
    """Stuck for a day, and then in a corner 3 K warmer than where it hung."""
    return np.where(
        hours < 58.0, swinging(hours), np.where(hours < 72.0, 5.0, swinging(hours) + 3.0)
    )


def test_one_that_was_hung_elsewhere_is_believed_after_a_day_and_night_of_following():
    until = SINCE + timedelta(hours=104)
    readings = scene.trace(DOOR, Channel.TEMPERATURE, rehung, SINCE, until)
    keel_says = lambda hours: swinging(hours) + 0.8  # noqa: E731
    readings |= scene.trace(KEEL, Channel.TEMPERATURE, keel_says, SINCE, until)
    memory, told = Memory(), {}
    for at_h in range(56, 104):
        at = SINCE + timedelta(hours=at_h)
        told[at_h] = bool(stuck(judge_yard(YARD, [], readings, at, memory=memory)))
    assert told[70]
    assert told[90]  # a morning's warmth that comes to both is not enough
    assert not told[103]


def test_a_corner_whose_air_stays_is_believed_again_half_a_day_after_a_draught_at_the_other():
    until = SINCE + timedelta(hours=90)
    still = lambda hours: 4.0 + 0.0 * hours  # noqa: E731
    draught = lambda hours: np.where((hours > 60.0) & (hours < 62.0), 2.0, 5.0)  # noqa: E731
    readings = scene.trace(DOOR, Channel.TEMPERATURE, still, SINCE, until)
    readings |= scene.trace(KEEL, Channel.TEMPERATURE, draught, SINCE, until)
    memory, told = Memory(), {}
    for at_h in range(58, 90):
        at = SINCE + timedelta(hours=at_h)
        told[at_h] = bool(stuck(judge_yard(YARD, [], readings, at, memory=memory)))
    assert told[61]
    assert told[70]
    assert not told[76]


def test_one_that_really_stays_is_found_anew_after_its_air_was_back_for_half_a_day():
    falls = lambda hours: np.where(  # noqa: E731
        (hours > 60.0) & (hours < 62.0), 2.0, 5.0 - 1.5 * np.maximum(hours - 80.0, 0.0)
    )
    readings = read(lambda hours: 4.0 + 0.0 * hours, falls)
    memory, judged = Memory(), []
    for at_h in range(58, 86):
        at = SINCE + timedelta(hours=at_h)
        judged = judge_yard(YARD, CRAFT, readings, at, memory=memory)
    (named,) = stuck(judged)
    assert named.subject.part == DOOR
    # 1 K below the keel, which has fallen by 7.5 K.
    assert shed(judged).now_c == pytest.approx(5.0 - 7.5 - 1.0, abs=0.1)
