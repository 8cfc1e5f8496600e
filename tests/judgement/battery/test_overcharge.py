"""Maintainers that drive a battery too hard, and the equalise stage that only looks like it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.craft.profile import Chemistry
from monitor.craft.stored import Battery, BatteryPlace
from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Caution, Hazard, Standing
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Mount, Sensor
from tests.judgement import scene

NOW = scene.local(14, 20)
UNIT = Sensor(
    name="unit",
    space=scene.BARN.id,
    mount=Mount.BATTERY,
    craft="k1",
    labels={"voltage": Channel.VOLTAGE, "temperature": Channel.TEMPERATURE},
)
BATTERY = Battery(
    chemistry=Chemistry.FLOODED,
    capacity_ah=18.0,
    lag_low_h=2.0,
    lag_high_h=4.0,
    place=BatteryPlace.ABOARD,
    space=scene.BARN.id,
    maintained=True,
)


def charging(volts=13.6, warm_c=None, battery=BATTERY, last=NOW, flag=None):
    since = NOW - timedelta(hours=20)
    readings = scene.trace("air-stove-barn", Channel.TEMPERATURE, 7.0, since, NOW)
    readings |= scene.trace("unit", Channel.VOLTAGE, volts, since, last)
    if warm_c is not None:
        readings |= scene.trace("unit", Channel.TEMPERATURE, warm_c, since, last)
    if flag is not None:
        trace = readings["unit", Channel.VOLTAGE]
        readings["unit", Channel.VOLTAGE] = replace(trace, flag=trace.flag * 0 + flag)
    yard = scene.yard_of(scene.BARN, sensors=(UNIT,))
    craft = scene.stored(scene.BARN, (scene.circuit(), scene.mix(-30.0)), battery=battery)
    judged = judge_yard(yard, [craft], readings, NOW)
    return [each for each in judged if each.hazard is Hazard.CHARGING]


# 15.5 V is common practice, no source: absorption of lead ends at 14.8 V at 25 °C.
@pytest.mark.parametrize(
    ("volts", "wrong"), [(13.6, False), (14.8, False), (15.4, False), (15.6, True)]
)
def test_more_volts_than_a_lead_battery_needs(volts, wrong):
    found = charging(volts)
    assert [each.standing for each in found] == ([Standing.OVERCHARGED] if wrong else [])


def test_it_asks_for_the_mains_first_and_air_and_names_hydrogen():
    (found,) = charging(16.2)
    assert scene.act_words(found).startswith("Switch the maintainer off at the mains")
    assert Caution.HYDROGEN in found.cautions
    assert "16.20 V" in scene.basis_words(found)
    assert "15.5 V" in scene.basis_words(found)


def test_a_charger_that_minds_the_cold_is_right_to_go_higher():
    """24 mV a kelvin on six cells (common practice): at -15 °C 14.8 V at 25 °C become 15.76 V."""
    assert charging(15.7, warm_c=-15.0) == []
    assert charging(15.7, warm_c=5.0) != []


@pytest.mark.parametrize(("warm_c", "wrong"), [(30.0, False), (44.9, False), (45.1, True)])
def test_a_battery_too_hot_to_charge(warm_c, wrong):
    found = charging(14.4, warm_c=warm_c)
    assert [each.standing for each in found] == ([Standing.HOT] if wrong else [])


def equalised(hours_ago, **changes):
    return replace(BATTERY, equalised_at=NOW - timedelta(hours=hours_ago), **changes)


def test_an_equalise_stage_that_a_person_set_off_is_no_overcharge_for_eight_hours():
    assert charging(16.0, battery=equalised(1)) == []
    assert charging(16.0, battery=equalised(9)) != []
    assert charging(16.8, battery=equalised(1)) != []


def test_only_a_flooded_battery_is_excused_by_it():
    assert charging(16.0, battery=equalised(1, chemistry=Chemistry.AGM)) != []


def test_a_value_in_doubt_counts_and_one_that_failed_does_not():
    assert charging(16.0, flag=Flag.SUSPECT) != []
    assert charging(16.0, flag=Flag.FAIL) == []


def test_what_was_too_high_when_last_heard_does_not_clear_by_silence_but_by_taking_it_off():
    (found,) = charging(16.0, last=NOW - timedelta(hours=2))
    assert found.standing is Standing.NOT_KNOWN
    taken_off = replace(BATTERY, maintained=False)
    assert charging(16.0, last=NOW - timedelta(hours=2), battery=taken_off) == []


def test_lithium_has_a_limit_of_its_own():
    lithium = replace(BATTERY, chemistry=Chemistry.LIFEPO4)
    assert charging(14.6, battery=lithium) == []
    assert charging(15.2, battery=lithium) != []
