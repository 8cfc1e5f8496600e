"""Being away from the yard is an event of the record, and what was done before it must be shown."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.craft.admission import faults
from monitor.craft.battery_record import battery
from monitor.craft.craft_stays import Interval, intervals_in_yard
from monitor.craft.layup import WITH_OWNER, OilAppearance
from monitor.craft.protection import LayupState
from monitor.craft.record import departed_craft, stored_craft
from monitor.craft.stored import BatteryPlace
from tests.craft.scene import (
    ARRIVED,
    EVE,
    NOON,
    SHELTERS,
    STRONG,
    TWO_STROKE,
    held,
    library,
    record,
    work,
)

DONE = work(
    "antifreeze-run-through", 0, *TWO_STROKE, ice_point_c=-30.0, product=STRONG, quantity_l=9.0
)
OIL = work("oil-changed", 0, "pump-housing", oil=OilAppearance.CLEAR)
OUT = work("taken-out", 24)


def back(hours: float = 72, **said):
    return work("brought-back", hours, **said)


def states(*entries, **more):
    return {name: one.state for name, one in held(record(*entries, **more)).items()}


def test_work_done_before_a_craft_was_away_is_unproven_until_somebody_says_it_did_not_run():
    unsaid = states(DONE, OIL, OUT, back())
    assert {unsaid[name] for name in TWO_STROKE} == {LayupState.UNPROVEN}
    assert unsaid["pump-housing"] is LayupState.PROVEN  # no lake water gets into its oil
    idle = states(DONE, OIL, OUT, back(used_away=False))
    assert set(idle.values()) == {LayupState.PROVEN}
    ran = states(DONE, OIL, OUT, back(used_away=True))
    assert {ran[name] for name in TWO_STROKE} == {LayupState.VOID}


def test_a_return_without_a_leaving_on_record_is_believed_as_well():
    assert states(DONE, back())["water-box"] is LayupState.UNPROVEN


def test_what_only_heat_kept_is_void_after_being_away_whatever_is_said():
    found = states(work("kept-warm", 0), OUT, back(used_away=False), places=("stove-barn",))
    assert set(found.values()) == {LayupState.VOID}


def test_work_after_the_return_counts():
    again = replace(DONE, id="again", at=DONE.at + timedelta(days=5))
    assert states(DONE, OUT, back(), again)["water-box"] is LayupState.PROVEN


def test_every_time_in_the_yard_is_kept():
    one = record(DONE, OUT, back(), work("handed-over", 96))
    at = [NOON + timedelta(hours=hours) for hours in (24, 72, 96)]
    assert intervals_in_yard(one.craft, one.entries) == (
        Interval(since=ARRIVED, until=at[0]),
        Interval(since=at[1], until=at[2]),
    )
    assert [one.in_yard_at(NOON + timedelta(hours=hours)) for hours in (0, 30, 80, 100)] == [
        True,
        False,
        True,
        False,
    ]


@pytest.mark.parametrize("act", ["taken-out", "sold", "handed-over", "entered-in-error"])
def test_a_craft_that_left_is_judged_no_more_and_comes_back_with_its_return(act):
    gone = record(DONE, work(act, 24))
    assert stored_craft(gone, SHELTERS, NOON) is not None
    assert stored_craft(gone, SHELTERS, EVE) is None
    there = replace(gone, entries=(*gone.entries, back()))
    assert stored_craft(there, SHELTERS, EVE) is not None


def test_the_day_on_which_its_list_says_it_left_is_a_leaving_too():
    left = NOON + timedelta(hours=24)
    one = record(DONE, back(), left_at=left)
    assert not one.in_yard_at(left)
    assert one.in_yard_at(NOON + timedelta(hours=72))


def test_its_air_counts_from_the_return_on_and_not_from_before():
    stored = stored_craft(record(OUT, back(), places=("stove-barn",)), SHELTERS, EVE)
    assert stored is not None
    assert (stored.since, stored.came_from) == (NOON + timedelta(hours=72), "")


def test_work_while_it_was_away_is_refused_and_its_return_is_not():
    one = record(OUT, back(96))
    told = [str(each) for each in faults(work("drained", 48, "hoses"), one, "layup add", "")]
    assert any("before it came back" in each for each in told)
    assert faults(back(48), record(OUT), "layup add", "") == []


def test_a_battery_aboard_goes_along_and_its_maintainer_feeds_it_no_more():
    profile = library()["pwc-two-stroke"]
    fed = (work("battery-left-aboard", 0), work("battery-on-maintainer", 1))
    benched = (work("battery-removed", 0, space="bench"), work("battery-on-maintainer", 1))
    assert battery(profile, fed, "long-shed").maintained
    assert not battery(profile, (*fed, OUT, back()), "long-shed").maintained
    assert battery(profile, (*benched, OUT, back()), "long-shed").maintained


def test_a_battery_removed_to_no_place_is_judged_as_aboard_and_one_with_its_owner_is_not():
    profile = library()["pwc-two-stroke"]
    unsaid = battery(profile, (work("battery-removed", 0),), "long-shed")
    assert (unsaid.place, unsaid.space) == (BatteryPlace.UNKNOWN, "long-shed")
    owner = battery(profile, (work("battery-removed", 0, space=WITH_OWNER),), "long-shed")
    assert (owner.place, owner.space) == (BatteryPlace.AWAY, "")


def test_a_departed_craft_is_as_it_stood_when_it_left_the_last_time():
    left = EVE + timedelta(days=1)
    inspected = work("inspected", 20, "water-box")
    gone = record(DONE, inspected, OUT)
    away = departed_craft(gone, SHELTERS, left)
    assert away.left_at == OUT.at
    assert away.craft.owner == gone.craft.owner
    assert away.craft.protection["water-box"].inspected_at == inspected.at
    assert departed_craft(gone, SHELTERS, OUT.at - timedelta(hours=1)) is None  # it is here yet
    assert departed_craft(record(DONE, OUT, back(30)), SHELTERS, left + timedelta(days=9)) is None
