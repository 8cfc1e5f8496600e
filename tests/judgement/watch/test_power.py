"""Power or gateway lost: a warm space that goes dark while craft in it need its heat."""

from datetime import timedelta

import pytest

from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Hazard, Severity, Standing, Urgency
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor
from tests.judgement import scene
from tests.judgement.scene import BARN, SHED

NOW = scene.local(14, 20)
CORNER = scene.air_sensor(BARN, "corner")
NEEDY = scene.stored(BARN, (scene.circuit(), scene.water()))
SAFE = scene.stored(BARN, (scene.circuit(), scene.mix(-30.0)))


def unit(number):
    return Sensor(
        name=f"unit{number}",
        space=BARN.id,
        mount=Mount.BATTERY,
        craft=f"k{number}",
        labels={"voltage": Channel.VOLTAGE, "mains": Channel.MAINS},
    )


def heard(name, last, channel=Channel.TEMPERATURE, value=7.0, every_s=600.0):
    return scene.trace(name, channel, value, last - timedelta(hours=30), last, every_s)


def power(readings, craft=(NEEDY,), sensors=(CORNER,), spaces=(BARN, SHED)):
    judged = judge_yard(scene.yard_of(*spaces, sensors=sensors), list(craft), readings, NOW)
    return {each.subject.space: each for each in judged if each.hazard is Hazard.POWER}


def barn_until(minutes, *, shed_until=5):
    at = NOW - timedelta(minutes=minutes)
    readings = heard("air-stove-barn", at) | heard("corner", at)
    return readings | heard("air-long-shed", NOW - timedelta(minutes=shed_until))


@pytest.mark.parametrize(
    ("minutes", "standing"),
    [(5, Standing.STEADY), (14, Standing.STEADY), (16, Standing.CUT_OFF), (300, Standing.CUT_OFF)],
)
def test_all_sensors_of_a_warm_space_that_fall_silent_together_are_one_cause(minutes, standing):
    """Read every ten minutes, so one and a half intervals: no sooner than one message is lost."""
    found = power(barn_until(minutes))
    assert set(found) == {BARN.id}
    assert found[BARN.id].standing is standing


def test_it_says_what_is_seen_since_when_and_what_to_do():
    found = power(barn_until(60))[BARN.id]
    assert "2 sensors of Stove Barn fell silent about 19:00" in scene.basis_words(found)
    assert "Go to Stove Barn" in scene.act_words(found)
    assert (found.severity, found.urgency) == (Severity.SEVERE, Urgency.IMMEDIATE)


def test_one_sensor_of_two_is_no_power_cut():
    readings = heard("air-stove-barn", NOW - timedelta(hours=3)) | heard("corner", NOW)
    assert power(readings)[BARN.id].standing is Standing.STEADY


def test_two_that_fell_silent_hours_apart_are_two_causes():
    readings = heard("air-stove-barn", NOW - timedelta(hours=9))
    readings |= heard("corner", NOW - timedelta(hours=1)) | heard("air-long-shed", NOW)
    assert power(readings)[BARN.id].standing is Standing.STEADY


def test_a_space_with_one_sensor_goes_dark_when_the_whole_yard_does():
    at = NOW - timedelta(hours=1)
    readings = heard("air-stove-barn", at) | heard("air-long-shed", at)
    found = power(readings, sensors=())[BARN.id]
    assert found.standing is Standing.CUT_OFF
    assert "Every sensor of the yard" in scene.basis_words(found)


def test_nobody_is_called_for_a_space_whose_craft_stand_the_cold_or_that_is_cold_anyway():
    assert power(barn_until(300), craft=(SAFE,)) == {}
    assert (
        power(barn_until(300), craft=(scene.stored(SHED, (scene.circuit(), scene.water())),)) == {}
    )


def test_sensors_that_are_heard_again_end_it():
    readings = barn_until(0)
    assert power(readings)[BARN.id].standing is Standing.STEADY


def test_after_four_silent_days_nobody_can_tell_and_it_does_not_clear():
    readings = heard("air-long-shed", NOW)
    assert power(readings)[BARN.id].standing is Standing.NOT_KNOWN


def test_every_maintainer_without_mains_means_the_space_has_none():
    sensors = (CORNER, unit(1), unit(2))
    both = barn_until(0)
    for name in ("unit1", "unit2"):
        both |= heard(name, NOW, Channel.MAINS, 0.0) | heard(name, NOW, Channel.VOLTAGE, 12.7)
    assert power(both, sensors=sensors)[BARN.id].standing is Standing.CUT_OFF
    one = both | heard("unit2", NOW, Channel.MAINS, 1.0)
    assert power(one, sensors=sensors)[BARN.id].standing is Standing.STEADY


def test_a_space_s_own_mains_monitor_says_it_alone():
    monitor = Sensor(name="mains", space=BARN.id, labels={"mains": Channel.MAINS})
    readings = barn_until(0) | heard("mains", NOW, Channel.MAINS, 0.0)
    found = power(readings, sensors=(CORNER, monitor))[BARN.id]
    assert found.standing is Standing.CUT_OFF
    assert "no mains" in scene.basis_words(found)
