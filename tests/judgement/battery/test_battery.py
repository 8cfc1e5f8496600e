"""Batteries: charge, maintainer, and the cold where they stand."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.profile import Chemistry
from monitor.craft.stored import Battery, BatteryPlace
from monitor.judgement.judge import judge_yard
from monitor.phrases.figures import figures_of
from monitor.yard.assessment import Caution, Certainty, Hazard, Standing, Urgency
from monitor.yard.battery_facts import NOTHING_BEFORE
from monitor.yard.losses import Losses
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor
from tests.judgement import scene
from tests.tried import tried

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


def judged(
    one, air=5.0, volts=None, amps=None, mains=None, until=NOW, heard=True, now=NOW, earlier=()
):
    since = now - timedelta(hours=90)
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, air, since, now)
    for channel, value in (
        (Channel.VOLTAGE, volts),
        (Channel.CURRENT, amps),
        (Channel.MAINS, mains),
    ):
        if value is not None:
            readings |= scene.trace("unit", channel, value, SINCE, until)
    yard = scene.yard_of(scene.SHED, sensors=(MAINTAINER,) if heard else ())
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), battery=one)
    return scene.pick(
        judge_yard(yard, [craft], readings, now, earlier), Hazard.BATTERY, "battery", "k1"
    )


def test_a_battery_that_floats_is_charged_and_far_from_freezing():
    # Float of a lead battery at 5 °C: 13.6 V at 25 °C and 4 mV a cell and kelvin more (practice).
    found = judged(battery(), volts=14.1, amps=0.05)
    assert found.standing is Standing.CHARGED
    assert found.limit_c == pytest.approx(-59.4)  # full: 1.265, storage table of an owner's manual


def test_a_maintainer_that_stopped_is_lost_even_while_the_battery_is_full():
    fallen = lambda hours: np.where(hours < 60.0, 14.1, 12.75 - 0.001 * (hours - 60.0))  # noqa: E731
    found = judged(battery(), volts=fallen, amps=lambda hours: np.where(hours < 60.0, 0.05, 0.0))
    assert found.standing is Standing.LOST
    assert scene.act_words(found)


def test_a_maintainer_without_mains_is_lost_at_once():
    off = lambda hours: np.where(hours < 89.0, 1.0, 0.0)  # noqa: E731
    assert judged(battery(), volts=12.7, amps=0.0, mains=off).standing is Standing.LOST


def test_a_silent_maintainer_is_lost_and_the_basis_says_since_when():
    found = judged(battery(), volts=14.1, amps=0.05, until=NOW - timedelta(hours=5))
    assert found.standing is Standing.LOST
    assert "last heard at 15:00" in scene.basis_words(found)


def test_a_maintainer_whose_voltage_is_no_longer_heard_is_lost_while_its_mains_come():
    # A lead off the post: the unit goes on sending, and nothing shows that the battery is fed.
    since = NOW - timedelta(hours=90)
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, 5.0, since, NOW)
    readings |= scene.trace("unit", Channel.MAINS, 1.0, SINCE, NOW)
    last = NOW - timedelta(hours=2)
    for channel, value in ((Channel.VOLTAGE, 14.1), (Channel.CURRENT, 0.05)):
        readings |= scene.trace("unit", channel, value, SINCE, last)
    yard = scene.yard_of(scene.SHED, sensors=(MAINTAINER,))
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), battery=battery())
    judgements = judge_yard(yard, [craft], readings, NOW)
    assert scene.pick(judgements, Hazard.BATTERY, "battery", "k1").standing is Standing.LOST
    unit = scene.pick(judgements, Hazard.SILENCE, "unit", "k1")
    assert "no voltage since 18:00" in scene.basis_words(unit)


def heard_every_ten_minutes_until(last, promised_s):
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, 5.0, SINCE, NOW)
    for channel, value in ((Channel.VOLTAGE, 14.1), (Channel.CURRENT, 0.05)):
        told = scene.trace("unit", channel, value, SINCE, last)
        readings |= {key: replace(one, update_s=promised_s) for key, one in told.items()}
    yard = scene.yard_of(scene.SHED, sensors=(MAINTAINER,))
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), battery=battery())
    return scene.pick(judge_yard(yard, [craft], readings, NOW), Hazard.BATTERY, "battery", "k1")


@pytest.mark.parametrize(("quiet_min", "standing"), [(110, Standing.CHARGED), (125, Standing.LOST)])
def test_a_maintainer_is_held_to_the_interval_that_it_promises(quiet_min, standing):
    # It sends when something changes, every ten minutes lately, and promises one reading an hour
    # (RFC 8428, 4.3): silent after two of them, as any sensor is, and not after half an hour.
    last = NOW - timedelta(minutes=quiet_min)
    assert heard_every_ten_minutes_until(last, 3600.0).standing is standing


def test_an_empty_battery_in_a_hard_night_may_freeze_and_is_not_to_be_charged_first():
    # 11.9 V at rest: empty, and an empty battery freezes near -10.7 °C (linear gravity, tables).
    emptied = lambda hours: np.where(hours < 70.0, 12.3, 11.9)  # noqa: E731
    found = judged(battery(), air=-10.5, volts=emptied, amps=0.0)
    assert found.standing is Standing.FREEZING
    assert found.limit_c == pytest.approx(-10.7, abs=2.5)
    assert Caution.FROZEN_BATTERY in found.cautions
    assert "thaw" in scene.act_words(found)


def test_a_battery_that_stood_empty_for_days_is_judged_by_weaker_acid():
    # -7 °C after standing empty until it sulphated: common practice, no source.
    found = judged(battery(), air=-7.0, volts=11.9, amps=0.0)
    assert found.limit_c == -7.0
    assert found.standing is Standing.FREEZING  # by the -10.7 °C of fresh acid it would be lost
    assert "stood empty for 4 days" in scene.basis_words(found)


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
        maintained=maintained,
        rested_v=rested_v,
        rested_at=NOW - timedelta(days=days),
        disconnected=True,
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
    on_record = battery(
        maintained=False,
        rested_v=12.65,
        rested_at=NOW - timedelta(days=90),
        disconnected=True,
    )
    found = judged(on_record, air=20.0, heard=False)
    # 15 % a month at 25 °C, halved for each 10 K colder: three months at 20 °C lose about a third.
    assert figures_of(found)["charge_fraction"] == pytest.approx(0.68, abs=0.05)
    assert found.standing is Standing.LOW
    fresh = battery(maintained=False, rested_v=12.65, rested_at=NOW - timedelta(days=2))
    assert judged(fresh, heard=False).standing is Standing.CHARGED


def test_with_nothing_known_a_battery_is_not_called_charged():
    assert judged(battery(), heard=False).standing is Standing.NOT_KNOWN
    assert judged(battery()).standing in {Standing.LOST, Standing.NOT_KNOWN}


def test_a_dead_cell_is_told():
    found = judged(battery(), volts=10.6, amps=0.0)
    assert "one cell" in scene.basis_words(found)


def test_charging_that_never_ends_is_told():
    found = judged(battery(), volts=14.9, amps=0.1)
    assert found.standing is Standing.LOW
    assert "without reaching float" in scene.basis_words(found) or "gasses" in scene.basis_words(
        found
    )


def test_lithium_is_not_to_be_charged_below_freezing():
    found = judged(battery(chemistry=Chemistry.LIFEPO4), air=-4.0, volts=13.6, amps=0.5)
    assert "never charged below" in scene.act_words(found)
    assert Caution.FROZEN_BATTERY in found.cautions


def test_a_battery_that_is_away_is_not_judged():
    craft = scene.stored(
        scene.SHED,
        (scene.circuit(), scene.water()),
        battery=battery(place=BatteryPlace.AWAY, space=""),
    )
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, 5.0, SINCE, NOW)
    found = judge_yard(scene.yard_of(scene.SHED), [craft], readings, NOW)
    assert not [each for each in found if each.hazard is Hazard.BATTERY]


def cold_then_mild(hours):
    """Four days at +20 °C but for one night, a day and a half ago, at -12 °C."""
    return np.where((hours > 45.0) & (hours < 60.0), -12.0, 20.0)


def test_warmth_alone_does_not_make_a_battery_that_may_have_frozen_safe_to_charge():
    empty = battery(rested_v=11.9, rested_at=NOW - timedelta(days=4), maintained=False)
    suspect = judged(empty, air=cold_then_mild, heard=False)
    assert suspect.now_c > 0.0
    assert suspect.standing is Standing.SUSPECT  # no cold is ahead of it
    assert suspect.certainty is Certainty.POSSIBLE
    assert suspect.urgency is Urgency.IMMEDIATE  # a maintainer would charge it now
    asked = scene.act_words(suspect)
    assert asked.startswith("It may have frozen, and be frozen inside: do not charge it")
    assert all(word in asked for word in ("warm room", "bulges", "enter its voltage"))
    assert Caution.FROZEN_BATTERY in suspect.cautions
    tested = replace(empty, rested_at=NOW - timedelta(hours=6))  # somebody looked since
    assert judged(tested, air=cold_then_mild, heard=False).standing is not Standing.SUSPECT


def test_a_battery_that_may_have_frozen_and_may_freeze_again_is_told_of_the_coming_night():
    empty = battery(rested_v=11.9, rested_at=NOW - timedelta(days=4), maintained=False)
    again = judged(empty, air=lambda hours: np.where(hours > 45.0, -12.0, 20.0), heard=False)
    assert again.standing is Standing.FREEZING
    assert scene.act_words(again).startswith("It may be frozen: do not charge it")


def left_aboard(days, rested_v=12.65, **changes):
    tested = NOW - timedelta(days=days)
    return battery(maintained=False, rested_v=rested_v, rested_at=tested, **changes)


def test_what_is_left_connected_may_be_drawn_empty_and_both_charges_are_said():
    # 20 mA are 29 Ah in sixty days (arithmetic), 18 Ah are gone after 36: what was drawn so has
    # stood empty for weeks, and weak acid freezes near -7 °C. What nothing draws from holds.
    found = judged(left_aboard(60), air=-13.0, heard=False)
    assert figures_of(found)["charge_fraction"] > 0.85
    assert figures_of(found)["charge_low_fraction"] == 0.0
    assert found.limit_c == -7.0
    assert found.standing is Standing.FREEZING
    assert found.certainty is Certainty.POSSIBLE
    assert "may draw 20 mA" in scene.basis_words(found)
    assert "night in 10 like this" in scene.basis_words(found)
    assert "lead off" in scene.act_words(found) or "do not charge" in scene.act_words(found)


def test_a_load_that_hardly_any_battery_has_is_no_alarm_but_a_test():
    # After 33 days only 18 to 20 mA leave so little that it freezes at -11 °C (as above).
    found = judged(left_aboard(33), air=-11.0, heard=False)
    assert found.standing is Standing.LOW
    assert figures_of(found).get("chance_freezing", 0.0) < 0.05
    assert scene.act_words(found).startswith("Test it at rest")


def test_a_lead_that_is_off_takes_the_load_away():
    found = judged(left_aboard(60, disconnected=True), air=-11.0, heard=False)
    assert found.standing is Standing.CHARGED
    assert found.limit_c < -40.0


def test_a_large_battery_stands_the_same_load_for_longer():
    small = judged(left_aboard(40), air=-11.0, heard=False)
    large = judged(left_aboard(40, capacity_ah=90.0), air=-11.0, heard=False)
    assert large.limit_c < small.limit_c - 15.0
    assert large.standing is Standing.CHARGED


def test_the_day_for_a_test_is_named_before_it_comes_and_then_asked_for():
    # Half of 18 Ah at 20 mA last 450 hours, a little less with self-discharge: 18 days.
    early = judged(left_aboard(5), heard=False)
    assert early.standing is Standing.CHARGED
    assert "testing by 27 Nov" in scene.basis_words(early)
    late = judged(left_aboard(19), heard=False)
    assert late.standing is Standing.LOW
    assert scene.act_words(late).startswith("Test it at rest")


def test_nothing_on_record_may_be_empty_and_in_a_hard_night_counts_as_that():
    mild = judged(battery(maintained=False), air=3.0, heard=False)
    assert mild.standing is Standing.NOT_KNOWN
    assert "may be empty" in scene.basis_words(mild)
    hard = judged(battery(maintained=False), air=-9.0, heard=False)
    assert hard.standing is Standing.FREEZING
    assert hard.limit_c == -7.0
    assert hard.certainty is Certainty.POSSIBLE


def test_on_the_bench_nothing_draws():
    benched = left_aboard(60, place=BatteryPlace.BENCH)
    assert judged(benched, heard=False).limit_c < -40.0


def chance(found):
    return figures_of(found)["chance_freezing"]


@given(days=st.integers(0, 80), more=st.integers(1, 60), air=st.floats(-25.0, 10.0))
@settings(max_examples=tried(15), deadline=None)
def test_longer_unattended_or_colder_is_never_safer(days, more, air):
    danger = lambda found: found.standing is Standing.FREEZING  # noqa: E731
    one = judged(left_aboard(days), air=air, heard=False)
    longer = judged(left_aboard(days + more), air=air, heard=False)
    colder = judged(left_aboard(days), air=air - 3.0, heard=False)
    assert longer.limit_c >= one.limit_c
    for worse in (longer, colder):
        assert chance(worse) >= chance(one)
        assert worse.margin_k <= one.margin_k
        assert danger(worse) or not danger(one)


@given(
    days=st.integers(0, 80),
    rested_v=st.floats(11.5, 12.9),
    air=st.floats(-25.0, 5.0),
    disconnected=st.booleans(),
)
@settings(max_examples=tried(15), deadline=None)
def test_what_nobody_noted_never_protects_a_battery(days, rested_v, air, disconnected):
    noted = left_aboard(days, rested_v=rested_v, disconnected=disconnected)
    less = (
        replace(noted, disconnected=False),
        replace(noted, rested_v=None, rested_at=None),
        replace(noted, rested_at=noted.rested_at - timedelta(days=9)),
    )
    known = judged(noted, air=air, heard=False)
    for unknown in (judged(one, air=air, heard=False) for one in less):
        assert chance(unknown) >= chance(known)
        assert unknown.margin_k <= known.margin_k


def test_what_a_battery_is_worth_decides_from_which_chance_on_it_is_told():
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, -13.0, SINCE, NOW)
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), battery=left_aboard(60))
    said = {}
    for worth in (1.0, 5.0, 20.0):
        yard = replace(scene.yard_of(scene.SHED), losses=Losses(batteries=worth))
        found = judge_yard(yard, [craft], readings, NOW)
        said[worth] = scene.pick(found, Hazard.BATTERY, "battery", "k1")
    assert said[1.0].standing is said[5.0].standing is Standing.LOW
    assert said[20.0].standing is Standing.FREEZING
    assert len({chance(each) for each in said.values()}) == 1
    assert said[1.0].margin_k > said[5.0].margin_k > said[20.0].margin_k


def test_a_battery_that_may_have_frozen_stays_so_until_somebody_tests_it():
    empty = left_aboard(12, rested_v=11.9)
    first = judged(empty, air=-13.0, heard=False)
    assert scene.act_words(first).startswith("It may be frozen")
    # Ten days on there is nothing cold left in the readings; only the rounds before know.
    later = NOW + timedelta(days=10)
    second = judged(empty, air=6.0, heard=False, now=later, earlier=[first])
    assert second.standing is Standing.SUSPECT
    assert scene.act_words(second).startswith("It may have frozen")
    assert "it may have frozen" in scene.basis_words(second)
    tested = replace(empty, rested_v=12.5, rested_at=later - timedelta(hours=1))
    third = judged(tested, air=6.0, heard=False, now=later, earlier=[second])
    assert third.standing is Standing.CHARGED


def test_last_weeks_cold_here_is_not_charged_to_a_battery_that_came_today():
    came = left_aboard(2, rested_v=11.9, since=NOW - timedelta(hours=12))
    assert judged(came, air=cold_then_mild, heard=False).standing is Standing.LOW
    stayed = replace(came, since=NOW - timedelta(days=9), rested_at=NOW - timedelta(days=9))
    assert judged(stayed, air=cold_then_mild, heard=False).standing is Standing.SUSPECT


def test_a_battery_carried_out_of_the_warmth_is_not_at_once_as_cold_as_the_air():
    # Lags of 2 to 4 h behind a step from +15 to -15 °C: after an hour the middle one, of 2.83 h,
    # is at -15 + 30 exp(-1 / 2.83) = 6.1 °C.
    readings = scene.trace("air-bench", Channel.TEMPERATURE, 15.0, SINCE, NOW)
    readings |= scene.trace("air-long-shed", Channel.TEMPERATURE, -15.0, SINCE, NOW)
    moved = left_aboard(1, since=NOW - timedelta(hours=1), came_from="bench")
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), battery=moved)
    yard = scene.yard_of(scene.SHED, scene.BENCH)
    found = scene.pick(judge_yard(yard, [craft], readings, NOW), Hazard.BATTERY, "battery", "k1")
    assert found.now_c == pytest.approx(6.1, abs=1.0)  # the grid has ten minutes


def test_a_maintainer_silent_for_a_week_leaves_what_it_last_told():
    floating = judged(battery(), volts=14.1, amps=0.05)
    later = NOW + timedelta(days=8)
    found = judged(battery(), now=later, earlier=[floating])
    assert found.standing is Standing.LOST
    # Full then, and 20 mA for eight days: 3.8 Ah of 18.
    assert figures_of(found)["charge_low_fraction"] == pytest.approx(1.0 - 3.84 / 18.0, abs=0.03)


@pytest.mark.parametrize(
    ("air", "volts", "told"),
    [
        # Right float at 25, 15 and 0 °C: 13.6 V at 25 °C and 4 mV a cell and kelvin (practice);
        # 2.30, 2.33 V a cell at 25, 15 °C (one published page).
        (25.0, 13.6, ""),
        (25.0, 13.8, ""),
        (15.0, 13.98, ""),
        (0.0, 14.2, ""),
        # A unit that does not follow temperature: right in a warm room, too low in the cold.
        (0.0, 13.6, "never gets full"),
        (-10.0, 13.6, "never gets full"),
        (7.0, 13.6, ""),  # a cool shop: a little low, as many are
        (26.0, 14.03, "dries out"),
    ],
)
def test_float_is_held_against_its_temperature(air, volts, told):
    found = judged(battery(), air=air, volts=volts, amps=0.05)
    assert (
        (told in scene.basis_words(found))
        if told
        else ("floats at" not in scene.basis_words(found))
    )
    assert (found.standing is Standing.LOW) == bool(told)


def test_a_battery_that_takes_more_than_it_can_hold_has_a_shorted_cell():
    # 2 A into 18 Ah: full after some ten hours; after ninety it has taken 180 Ah.
    found = judged(battery(), volts=13.0, amps=2.0)
    assert found.standing is Standing.LOW
    assert "Ah without getting full" in scene.basis_words(found)
    assert "under load" in scene.act_words(found)


def test_a_float_current_that_climbs_over_days_is_a_bad_cell():
    climbing = lambda hours: 0.03 + 0.003 * np.maximum(hours - 20.0, 0.0)  # noqa: E731
    found = judged(battery(), volts=14.1, amps=climbing)
    assert "more and more current" in scene.basis_words(found)
    assert "floats" not in scene.basis_words(judged(battery(), volts=14.1, amps=0.03))


def test_a_dead_cell_on_record_is_told_too():
    found = judged(left_aboard(1, rested_v=10.6, disconnected=True), heard=False)
    assert "one cell" in scene.basis_words(found)


def test_lithium_at_rest_below_freezing_is_left_alone():
    # Discharge is allowed to about -20 °C; only charging plates lithium (common practice).
    found = judged(battery(chemistry=Chemistry.LIFEPO4), air=-4.0, volts=13.25, amps=0.0)
    assert "below freezing" not in scene.basis_words(found)
    assert found.limit_c == -np.inf


def test_a_battery_is_carried_in_by_an_hour_and_once_that_has_passed_now():
    found = judged(battery(), air=-10.5, volts=11.9, amps=0.0)
    assert found.standing is Standing.FREEZING
    fresh = replace(found, facts=replace(found.facts, memory=NOTHING_BEFORE))
    for deadline, said in (
        (NOW + timedelta(hours=3), "into a warm space by 23:00"),
        (NOW - timedelta(hours=3), "into a warm space now"),
        (None, "into a warm space before it gets colder"),
    ):
        assert said in scene.act_words(replace(fresh, deadline=deadline))
