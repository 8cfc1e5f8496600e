"""What the record leaves open: undone work, a move out of the heat, snow, a torn cover."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.craft.admission import faults
from monitor.craft.craft_condition import UnsettledKind
from monitor.craft.craft_stays import Stay
from monitor.craft.record import CraftRecord, stored_craft
from tests.craft.scene import EVE, NOON, SHELTERS, TWO_STROKE, record, work

LAID_UP = work("antifreeze-run-through", 0, *TWO_STROKE, ice_point_c=-30.0)


def open_matters(one: CraftRecord, at=EVE):
    craft = stored_craft(one, SHELTERS, at)
    assert craft is not None
    return {matter.kind: matter for matter in craft.unsettled}


def test_a_laid_up_craft_leaves_nothing_open():
    assert open_matters(record(LAID_UP)) == {}


@pytest.mark.parametrize("act", ["run-on-water", "flushed", "fuel-run-through"])
def test_a_run_after_the_lay_up_undoes_it_and_names_who_and_when(act):
    found = open_matters(record(LAID_UP, work(act, 48, by="Tom Varga")))
    assert set(found) == {UnsettledKind.UNDONE}
    undone = found[UnsettledKind.UNDONE]
    assert (undone.by, undone.at) == ("Tom Varga", NOON + timedelta(hours=48))
    assert set(undone.circuits) == set(TWO_STROKE)


def test_an_opened_circuit_is_undone_and_the_others_are_not():
    found = open_matters(record(LAID_UP, work("circuit-opened", 48, "hoses")))
    assert found[UnsettledKind.UNDONE].circuits == ("hoses",)


def test_laying_it_up_again_settles_it():
    again = work("antifreeze-run-through", 50, *TWO_STROKE, ice_point_c=-28.0)
    assert open_matters(record(LAID_UP, work("run-on-water", 48), again)) == {}


def test_a_flush_before_any_lay_up_undoes_nothing():
    assert open_matters(record(work("flushed", 0))) == {}


def test_a_withdrawn_run_never_happened():
    run = work("run-on-water", 48)
    gone = work("withdrawn", 49, replaces=run.id)
    assert open_matters(record(LAID_UP, run, gone)) == {}


def test_spring_is_no_undone_lay_up():
    assert open_matters(record(LAID_UP, work("commissioned", 48))) == {}


def test_what_is_run_while_the_craft_is_in_work_is_planned_until_the_work_ends():
    begun, run = work("work-begun", 300), work("run-on-water", 301)
    assert open_matters(record(LAID_UP, begun, run)) == {}
    ended = work("work-ended", 305)
    assert set(open_matters(record(LAID_UP, begun, run, ended))) == {UnsettledKind.UNDONE}


def test_work_that_nobody_ended_is_forgotten_after_three_days():
    begun, run = work("work-begun", 200), work("run-on-water", 201)
    begun_at = NOON + timedelta(hours=200)
    one = record(LAID_UP, begun, run)
    assert open_matters(one, begun_at + timedelta(hours=71)) == {}
    assert set(open_matters(one, begun_at + timedelta(hours=73))) == {UnsettledKind.UNDONE}


# The craft came on 20 October; `places` gives a new one every fortnight: 3 November.
WARM = work("kept-warm", 0)
OUT = ("stove-barn", "lee-rack")


def test_a_craft_that_only_heat_keeps_is_out_of_the_heat_when_it_is_moved():
    found = open_matters(record(WARM, places=OUT))
    assert set(found) == {UnsettledKind.OUT_OF_HEAT}
    assert set(found[UnsettledKind.OUT_OF_HEAT].circuits) >= set(TWO_STROKE)


def test_a_move_that_is_still_to_come_has_not_happened():
    assert open_matters(record(WARM, places=OUT), NOON + timedelta(hours=24)) == {}


def test_a_laid_up_craft_may_be_moved_anywhere():
    full = work("drained", 0, "pump-housing", dry=True)
    assert UnsettledKind.OUT_OF_HEAT not in open_matters(record(LAID_UP, full, places=OUT))


def test_planned_work_does_not_hide_that_a_craft_stands_in_the_cold():
    begun = work("work-begun", 300)
    assert set(open_matters(record(WARM, begun, places=OUT))) == {UnsettledKind.OUT_OF_HEAT}


def test_a_mistaken_move_is_put_right_by_one_back_and_a_word_that_it_is_kept_warm():
    moved = record(WARM, places=OUT)
    back = Stay(craft="k1", since=NOON + timedelta(hours=100), space="stove-barn")
    returned = record(WARM, places=OUT)
    returned = CraftRecord(
        craft=returned.craft,
        profile=returned.profile,
        entries=returned.entries,
        stays=(*moved.stays, back),
    )
    assert set(open_matters(returned)) == {UnsettledKind.UNDONE}
    kept = CraftRecord(
        craft=returned.craft,
        profile=returned.profile,
        entries=(WARM, work("kept-warm", 101)),
        stays=returned.stays,
    )
    assert open_matters(kept) == {}


# The day of the move; work of a day without an hour has its noon.
MOVED = NOON + timedelta(days=2)
MOVE_DAY = MOVED.replace(hour=0)


def moved_out(*entries, hour):
    kept = work("kept-warm", 0, at=NOON - timedelta(days=5))
    one = record(kept, *entries, places=OUT)
    out = replace(one.stays[-1], since=MOVE_DAY + timedelta(hours=hour))
    return open_matters(replace(one, stays=(*one.stays[:-1], out)))


@pytest.mark.parametrize("hour", [9, 14])
def test_a_run_without_an_hour_may_have_been_before_a_move_of_its_day_and_after_it(hour):
    run = work("run-on-water", 0, at=MOVED)
    found = moved_out(replace(run, day_began=MOVE_DAY), hour=hour)
    assert set(found[UnsettledKind.UNDONE].circuits) == set(TWO_STROKE)
    assert set(found[UnsettledKind.OUT_OF_HEAT].circuits) >= set(TWO_STROKE)


def test_a_run_whose_hour_is_told_was_either_before_a_move_of_its_day_or_after_it():
    run = work("run-on-water", 0, at=MOVED)
    after = moved_out(run, hour=9)
    assert set(after[UnsettledKind.UNDONE].circuits) == set(TWO_STROKE)
    assert not set(after[UnsettledKind.OUT_OF_HEAT].circuits) & set(TWO_STROKE)
    assert UnsettledKind.UNDONE not in moved_out(run, hour=14)


def test_a_run_told_on_the_morning_of_its_day_was_before_a_move_in_the_afternoon():
    early = replace(work("run-on-water", 0, at=MOVE_DAY + timedelta(hours=8)), day_began=MOVE_DAY)
    assert UnsettledKind.UNDONE not in moved_out(early, hour=14)


@pytest.mark.parametrize("days", [-1, 1])
def test_a_run_of_another_day_is_before_or_after_a_move_whatever_its_hour(days):
    run = work("run-on-water", 0, at=MOVED + timedelta(days=days))
    on_day = replace(run, day_began=MOVE_DAY + timedelta(days=days))
    assert set(moved_out(on_day, hour=9)) == set(moved_out(run, hour=9))


def test_work_begun_without_an_hour_is_forgotten_three_days_after_its_day_began():
    run, begun = work("run-on-water", 201), work("work-begun", 200)
    day = (NOON + timedelta(hours=200)).replace(hour=0)
    one = record(LAID_UP, replace(begun, day_began=day), run)
    assert open_matters(one, day + timedelta(hours=71)) == {}
    assert set(open_matters(one, day + timedelta(hours=73))) == {UnsettledKind.UNDONE}


def test_snow_lies_until_somebody_clears_it_or_fits_a_cover_anew():
    snow = work("snow-load", 48)
    assert set(open_matters(record(LAID_UP, snow))) == {UnsettledKind.SNOW}
    assert open_matters(record(LAID_UP, snow, work("snow-cleared", 50))) == {}
    assert open_matters(record(LAID_UP, snow, work("cover-fitted", 50))) == {}
    assert set(open_matters(record(LAID_UP, work("snow-cleared", 40), snow))) == {
        UnsettledKind.SNOW
    }


def test_a_cover_is_torn_until_one_is_fitted_and_is_nobodys_alarm_while_in_work():
    torn = work("cover-torn", 300)
    assert set(open_matters(record(LAID_UP, torn))) == {UnsettledKind.TORN}
    assert open_matters(record(LAID_UP, torn, work("cover-fitted", 302))) == {}
    assert open_matters(record(LAID_UP, torn, work("work-begun", 301))) == {}


def test_last_winter_leaves_nothing_open_this_winter():
    torn = work("cover-torn", -24 * 300)
    assert open_matters(record(LAID_UP, torn)) == {}


@pytest.mark.parametrize(
    ("profile", "refused"), [("pwc-two-stroke", []), ("pwc-four-stroke", ["agm"])]
)
def test_only_a_flooded_battery_is_equalised(profile, refused):
    """The shipped profiles: a flooded battery in the one, a glass-mat one in the other."""
    entry = work("battery-equalised", 48)
    found = faults(entry, record(entry, profile=profile), "layup add", "")
    assert [word for one in found for word in ("agm",) if word in one.problem] == refused


READY = work("commissioned", 24)  # on 2 November, and moved on 3 November


def test_a_craft_made_ready_for_the_water_and_then_moved_out_has_lost_no_heat():
    assert open_matters(record(WARM, READY, places=OUT)) == {}
    assert open_matters(record(LAID_UP, READY, places=OUT)) == {}


def test_one_that_is_kept_warm_anew_after_that_has_lost_it():
    anew = work("kept-warm", 30)
    found = open_matters(record(WARM, READY, anew, places=OUT))
    assert set(found) == {UnsettledKind.OUT_OF_HEAT}
