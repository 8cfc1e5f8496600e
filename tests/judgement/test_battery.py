"""Batteries: charge, maintainer, and the cold where they stand."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from monitor.craft.stored import Battery, BatteryPlace, Chemistry
from monitor.judgement.judge import judge
from monitor.yard.assessment import Caution, Hazard, Standing
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor
from tests.judgement import scene

NOW = scene.local(14, 20)
SINCE = NOW - timedelta(hours=90)
MAINTAINER = Sensor(
    name="unit",
    space="long-shed",
    mount=Mount.BATTERY,
    craft="k1",
    labels={
        "voltage": Channel.VOLTAGE,
        "current": Channel.CURRENT,
        "mains": Channel.MAINS,
    },
)


def battery(**changes):
    made = Battery(
        chemistry=Chemistry.FLOODED,
        capacity_ah=18.0,
        lag_low_h=2.0,
        lag_high_h=4.0,
        place=BatteryPlace.ABOARD,
        space="long-shed",
        maintained=True,
    )
    return replace(made, **changes)


def judged(one, air=5.0, volts=None, amps=None, mains=None, until=NOW, heard=True):
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, air, SINCE, NOW)
    for channel, value in (
        (Channel.VOLTAGE, volts),
        (Channel.CURRENT, amps),
        (Channel.MAINS, mains),
    ):
        if value is not None:
            readings |= scene.trace("unit", channel, value, SINCE, until)
    yard = scene.yard_of(scene.SHED, sensors=(MAINTAINER,) if heard else ())
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), battery=one)
    return scene.pick(judge(yard, [craft], readings, NOW), Hazard.BATTERY, "battery", "k1")


def test_a_battery_that_floats_is_charged_and_far_from_freezing():
    # Float of a lead battery at 5 °C: 13.6 V at 25 °C and 4 mV a cell and kelvin more (practice).
    found = judged(battery(), volts=14.1, amps=0.05)
    assert found.standing is Standing.CHARGED
    assert found.limit_c == pytest.approx(-59.4)  # full: 1.265, storage table of an owner's manual


def test_a_maintainer_that_stopped_is_lost_even_while_the_battery_is_full():
    fallen = lambda hours: np.where(hours < 60.0, 14.1, 12.75 - 0.001 * (hours - 60.0))  # noqa: E731
    found = judged(battery(), volts=fallen, amps=lambda hours: np.where(hours < 60.0, 0.05, 0.0))
    assert found.standing is Standing.LOST
    assert found.act


def test_a_maintainer_without_mains_is_lost_at_once():
    off = lambda hours: np.where(hours < 89.0, 1.0, 0.0)  # noqa: E731
    assert judged(battery(), volts=12.7, amps=0.0, mains=off).standing is Standing.LOST


def test_a_silent_maintainer_is_lost_and_the_basis_says_since_when():
    found = judged(battery(), volts=14.1, amps=0.05, until=NOW - timedelta(hours=5))
    assert found.standing is Standing.LOST
    assert "last heard at 15:00" in found.basis


def test_an_empty_battery_in_a_hard_night_may_freeze_and_is_not_to_be_charged_first():
    # 11.9 V at rest: empty, and an empty battery freezes near -10.7 °C (linear gravity, tables).
    emptied = lambda hours: np.where(hours < 70.0, 12.3, 11.9)  # noqa: E731
    found = judged(battery(), air=-10.5, volts=emptied, amps=0.0)
    assert found.standing is Standing.FREEZING
    assert found.limit_c == pytest.approx(-10.7, abs=2.5)
    assert Caution.FROZEN_BATTERY in found.cautions
    assert "thaw" in found.act


def test_a_battery_that_stood_empty_for_days_is_judged_by_weaker_acid():
    # -7 °C after standing empty until it sulphated: common practice, no source.
    found = judged(battery(), air=-3.0, volts=11.9, amps=0.0)
    assert found.limit_c == -7.0
    assert found.standing is Standing.FREEZING  # within 5 K; by -10.7 °C it would only be lost
    assert "stood empty for 4 days" in found.basis


def test_a_silent_maintainer_does_not_stop_the_days_of_an_empty_battery():
    found = judged(battery(), air=-3.0, volts=11.9, amps=0.0, until=NOW - timedelta(hours=40))
    assert found.limit_c == -7.0


def test_a_battery_filled_within_the_days_has_not_stood_empty_for_long():
    filled = lambda hours: np.where((hours > 40.0) & (hours < 45.0), 12.4, 11.9)  # noqa: E731
    assert judged(battery(), volts=filled, amps=0.0).limit_c < -8.0


@pytest.mark.parametrize(
    ("rested_v", "days", "maintained", "limit_c"),
    [
        (11.8, 1, False, -10.7),  # empty since yesterday: linear gravity, tables
        (11.8, 10, False, -7.0),
        (11.8, 10, True, -7.0),  # on a maintainer that nobody hears: no credit for it
        (12.24, 200, False, -7.0),  # half full: 11 % a month at 20 °C empty it in four months
        (12.65, 10, False, None),
    ],
)
def test_the_record_tells_whether_a_battery_stood_empty(rested_v, days, maintained, limit_c):
    on_record = battery(
        maintained=maintained, rested_v=rested_v, rested_at=NOW - timedelta(days=days)
    )
    found = judged(on_record, air=20.0, heard=False)
    if limit_c is None:
        assert found.limit_c < -40.0
    else:
        assert found.limit_c == pytest.approx(limit_c, abs=2.5 if limit_c < -7.0 else 0.0)


def test_lithium_that_stood_empty_does_not_freeze():
    found = judged(battery(chemistry=Chemistry.LIFEPO4), volts=11.0, amps=0.0)
    assert found.limit_c == -np.inf


def test_the_same_empty_battery_in_a_mild_shed_is_only_lost():
    assert judged(battery(), air=6.0, volts=11.9, amps=0.0).standing is Standing.LOST


def test_a_battery_nobody_hears_goes_by_its_record_and_loses_charge_with_time():
    on_record = battery(maintained=False, rested_v=12.65, rested_at=NOW - timedelta(days=90))
    found = judged(on_record, air=20.0, heard=False)
    # 15 % a month at 25 °C, halved for each 10 K colder: three months at 20 °C lose about a third.
    assert found.figures["charge_fraction"] == pytest.approx(0.68, abs=0.05)
    assert found.standing is Standing.LOW
    fresh = battery(maintained=False, rested_v=12.65, rested_at=NOW - timedelta(days=2))
    assert judged(fresh, heard=False).standing is Standing.CHARGED


def test_with_nothing_known_a_battery_is_not_called_charged():
    assert judged(battery(), heard=False).standing is Standing.NOT_KNOWN
    assert judged(battery()).standing in {Standing.LOST, Standing.NOT_KNOWN}


def test_a_dead_cell_is_told():
    found = judged(battery(), volts=10.6, amps=0.0)
    assert "one cell" in found.basis


def test_charging_that_never_ends_is_told():
    found = judged(battery(), volts=14.9, amps=0.3)
    assert found.standing is Standing.LOW
    assert "without reaching float" in found.basis or "gasses" in found.basis


def test_lithium_is_not_to_be_charged_below_freezing():
    found = judged(battery(chemistry=Chemistry.LIFEPO4), air=-4.0, volts=13.6, amps=0.5)
    assert "never charged below" in found.act
    assert Caution.FROZEN_BATTERY in found.cautions


def test_a_battery_that_is_away_is_not_judged():
    craft = scene.stored(
        scene.SHED,
        (scene.circuit(), scene.water()),
        battery=battery(place=BatteryPlace.AWAY, space=""),
    )
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, 5.0, SINCE, NOW)
    found = judge(scene.yard_of(scene.SHED), [craft], readings, NOW)
    assert not [each for each in found if each.hazard is Hazard.BATTERY]


def cold_then_mild(hours):
    """Four days at +5 °C but for one night, a day and a half ago, at -12 °C."""
    return np.where((hours > 45.0) & (hours < 60.0), -12.0, 5.0)


def test_warmth_alone_does_not_make_a_battery_that_may_have_frozen_safe_to_charge():
    empty = battery(rested_v=11.9, rested_at=NOW - timedelta(days=4), maintained=False)
    suspect = judged(empty, air=cold_then_mild, heard=False)
    assert suspect.now_c > 0.0
    assert suspect.act.startswith("It may be frozen: do not charge it")
    assert Caution.FROZEN_BATTERY in suspect.cautions
    tested = replace(empty, rested_at=NOW - timedelta(hours=6))  # somebody looked since
    assert not judged(tested, air=cold_then_mild, heard=False).act.startswith("It may be frozen")
