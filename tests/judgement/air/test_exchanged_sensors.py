"""Sensors of two spaces in each other's place: named, and both spaces judged by the worse."""

from datetime import timedelta
from math import isnan

import numpy as np
import pytest

from monitor.clock import ReadingsClock
from monitor.judgement.air.exchanged_sensors import find_exchanged
from monitor.judgement.air.grid import space_airs
from monitor.judgement.air.past_weeks import Memory
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
YARD = scene.yard_of(scene.BARN, scene.SHED, scene.RACK)
CRAFT = [scene.stored(scene.SHED, (scene.circuit(), scene.water()))]


def weather(hours):
    return -4.0 + 4.0 * np.sin(2 * np.pi * hours / 24.0)


def cold_building(hours):
    return -3.0 + 2.5 * np.sin(2 * np.pi * (hours - 3.0) / 24.0)


def heated(hours):
    return 9.0 + 0.5 * np.sin(2 * np.pi * hours / 2.0)


def carried(first, then, at_h):
    """One sensor's readings: in one place, and from an hour on in another."""
    return lambda hours: np.where(hours < at_h, first(hours), then(hours))


def read(barn, shed, rack=weather, until=NOW, humidity=None, every_s=600.0):
    readings = {}
    for name, air in (("stove-barn", barn), ("long-shed", shed), ("lee-rack", rack)):
        readings |= scene.trace(
            f"air-{name}", Channel.TEMPERATURE, air, SINCE, until, every_s=every_s
        )
        if humidity is not None:
            readings |= scene.trace(f"air-{name}", Channel.HUMIDITY, humidity, SINCE, until)
    return readings


def exchanged(judged):
    return [
        each
        for each in judged
        if each.standing is Standing.DOUBTED and each.facts.fault is SensorFault.EXCHANGED
    ]


def shed_frost(judged):
    return scene.pick(judged, Hazard.FROST, "head", "k1")


def test_a_cold_buildings_craft_is_judged_by_the_cold_readings_of_the_warm_ones_sensor():
    right = judge_yard(YARD, CRAFT, read(heated, cold_building), NOW)
    wrong = judge_yard(YARD, CRAFT, read(cold_building, heated), NOW)
    assert exchanged(right) == []
    (named,) = exchanged(wrong)
    assert (named.subject.space, named.facts.other_space) == ("stove-barn", "long-shed")
    assert "Long Shed" in scene.basis_words(named)
    assert "air-long-shed" in scene.act_words(named)
    # The same ice as with the right sensor, though its own space's sensor reads 9 °C.
    assert shed_frost(wrong).standing is shed_frost(right).standing
    assert shed_frost(wrong).standing in {Standing.ICING, Standing.SOLID}
    assert shed_frost(wrong).now_c == pytest.approx(shed_frost(right).now_c, abs=0.1)


@pytest.mark.parametrize("every_s", [600.0, 3600.0])
def test_sensors_that_were_carried_are_found_within_two_hours(every_s):
    at_h = BACK_H - 2.0
    barn = carried(heated, cold_building, at_h)
    shed = carried(cold_building, heated, at_h)
    (named,) = exchanged(judge_yard(YARD, CRAFT, read(barn, shed, every_s=every_s), NOW))
    assert named.facts.carried
    assert 1.0 <= named.facts.hours <= 3.0


def damp(hours):
    return 60.0 + 10.0 * np.sin(2 * np.pi * hours / 7.0)


def test_nothing_is_judged_dry_by_a_humidity_that_may_be_another_spaces():
    judged = judge_yard(YARD, CRAFT, read(cold_building, heated, humidity=damp), NOW)
    airs = {each.subject.space: each.facts for each in judged if each.hazard is Hazard.AIR}
    assert isnan(airs["long-shed"].rh_pct)
    assert isnan(airs["stove-barn"].rh_pct)
    assert not isnan(airs["lee-rack"].rh_pct)


def test_where_one_of_both_falls_silent_neither_space_is_known():
    readings = read(cold_building, heated)
    quiet = scene.trace(
        "air-stove-barn", Channel.TEMPERATURE, cold_building, SINCE, NOW - timedelta(hours=3)
    )
    memory = Memory()
    judge_yard(YARD, CRAFT, readings, NOW - timedelta(hours=4), memory=memory)
    assert memory.exchanged
    judged = judge_yard(YARD, CRAFT, readings | quiet, NOW, memory=memory)
    assert shed_frost(judged).standing is Standing.NOT_KNOWN


def test_two_warm_spaces_that_took_each_others_place_are_told():
    at_h = BACK_H - 30.0
    yard = scene.yard_of(scene.BARN, scene.BENCH, scene.RACK)

    def cool(hours):
        return 3.0 + 0.2 * np.sin(2 * np.pi * hours / 3.0)

    readings = read(carried(heated, cool, at_h), cold_building)
    readings |= scene.trace(
        "air-bench", Channel.TEMPERATURE, carried(cool, heated, at_h), SINCE, NOW
    )
    judged = judge_yard(yard, [], readings, NOW)
    (named,) = exchanged(judged)
    assert {named.subject.space, named.facts.other_space} == {"stove-barn", "bench"}
    assert "changed places" in scene.basis_words(named)
    airs = {each.subject.space: each.now_c for each in judged if each.hazard is Hazard.AIR}
    assert airs["stove-barn"] == airs["bench"] == pytest.approx(3.0, abs=0.3)


@pytest.mark.parametrize(
    ("barn", "shed", "rack"),
    [
        (heated, cold_building, weather),
        # There and back again.
        (
            carried(carried(heated, cold_building, 30.0), heated, 50.0),
            carried(carried(cold_building, heated, 30.0), cold_building, 50.0),
            weather,
        ),
        # Its heat is lost, and it cools to what the shed has: the shed goes on as it was.
        (
            lambda hours: np.where(hours < 40.0, 9.0, -3.0 + 12.0 * np.exp(-(hours - 40.0) / 8.0)),
            cold_building,
            weather,
        ),
        # A heavy building keeps the warmth of before through a cold snap, next to a shop without
        # heat: it is no warmer than the weather was within these days.
        (
            lambda hours: cold_building(hours) - 4.0,
            lambda hours: 8.0 - 0.03 * hours,
            lambda hours: np.where(hours < 40.0, 9.0, weather(hours)),
        ),
        # A heater is brought into the shed, and the shop is kept as ever.
        (heated, lambda hours: np.where(hours < 60.0, cold_building(hours), 12.0), weather),
    ],
)
def test_what_buildings_do_is_no_exchange(barn, shed, rack):
    assert exchanged(judge_yard(YARD, CRAFT, read(barn, shed, rack), NOW)) == []


def test_mild_weather_answers_nothing_and_a_day_of_the_right_order_does():
    until = NOW + timedelta(hours=150)
    mild_h, right_h = BACK_H + 10.0, BACK_H + 100.0

    def barn(hours):
        mild = np.where(hours < mild_h, cold_building(hours), 9.0 + 0.0 * hours)
        return np.where(hours < right_h, mild, 9.0)

    def shed(hours):
        return np.where(hours < right_h, heated(hours), 2.0)

    readings = read(barn, shed, lambda hours: np.where(hours < mild_h, weather(hours), 9.0), until)
    memory = Memory()
    in_doubt = {}
    for later in (0, 60, 99, 120, 130):
        at = NOW + timedelta(hours=later)
        in_doubt[later] = bool(exchanged(judge_yard(YARD, CRAFT, readings, at, memory=memory)))
    assert in_doubt == {0: True, 60: True, 99: True, 120: True, 130: False}


def test_a_daemon_that_starts_again_in_mild_weather_keeps_the_doubt(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    store = Store(url, "kettlemoss")
    later = NOW + timedelta(hours=120)

    def mild(hours):
        return np.where(hours <= BACK_H, cold_building(hours), 9.0)

    def outside(hours):
        return np.where(hours <= BACK_H, weather(hours), 9.0)

    try:
        put(store, read(mild, heated, outside, later, every_s=3600.0))
        clock = ReadingsClock(NOW)
        for _ in range(2):
            Round(store, YARD, clock).run(CRAFT)
            clock.advance_to(later)
        with store.snapshot() as tx:
            assert exchanged(tx.assessments.latest_judgements())
    finally:
        store.close()


def test_of_spaces_close_to_each_other_nothing_is_told():
    """Where it says nothing: the two read what either would."""
    at_h = BACK_H - 10.0

    def one(hours):
        return 3.0 + np.sin(2 * np.pi * hours / 24.0)

    def two(hours):
        return 6.0 + np.sin(2 * np.pi * hours / 24.0)

    readings = read(carried(two, one, at_h), carried(one, two, at_h))
    airs = space_airs(YARD.spaces, YARD.sensors, readings, NOW)
    assert find_exchanged(airs) == []
