"""Of a day without an hour the worse order counts, unless one list told another."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.circuit_events import Iced
from monitor.craft.craft_stays import Stay
from monitor.craft.layup import Act, Outflow, Posture
from monitor.craft.protection import Confidence, LayupState
from monitor.craft.reasons import Because
from monitor.craft.sittings import in_order_of_work
from tests.craft.scene import ARRIVED, NOON, held, library, record, work
from tests.craft.test_less_never_more import FEW, account, assert_no_better, records
from tests.craft.test_work_order import FILL, NEXT_WEEK, RUN

MIDNIGHT = NOON - timedelta(hours=12)
RUN_ON_DAY = replace(RUN, day_began=MIDNIGHT)
FILL_ON_DAY = replace(FILL, day_began=MIDNIGHT)


def at_hour(entry, hour, **changed):
    return replace(entry, at=MIDNIGHT + timedelta(hours=hour), **changed)


def box(*entries, iced=()):
    return held(record(*entries, iced=iced))["water-box"]


def ice_at(*hours):
    return tuple(Iced(circuit="water-box", at=MIDNIGHT + timedelta(hours=one)) for one in hours)


def test_a_run_without_an_hour_undoes_a_later_hour_of_its_day_unless_its_list_tells_it_earlier():
    afternoon = at_hour(FILL, 14)
    assert box(afternoon, RUN_ON_DAY).state is LayupState.VOID
    assert box(RUN_ON_DAY, afternoon).state is LayupState.PROVEN
    for rows in ([afternoon, RUN_ON_DAY], [RUN_ON_DAY, afternoon]):
        told = in_order_of_work(rows, [NOON, NEXT_WEEK])
        assert box(*told).state is LayupState.VOID


def test_a_fill_without_an_hour_is_undone_by_a_run_in_the_morning_of_its_day():
    morning = at_hour(RUN, 8)
    for rows in ([morning, FILL_ON_DAY], [FILL_ON_DAY, morning]):
        assert box(*in_order_of_work(rows, [NOON, NEXT_WEEK])).state is LayupState.VOID
    assert box(morning, FILL_ON_DAY).state is LayupState.PROVEN


def test_work_without_an_hour_touches_no_other_day():
    day_after, day_before = at_hour(FILL, 30), at_hour(FILL, -2)
    assert box(RUN_ON_DAY, day_after).state is LayupState.PROVEN
    assert box(*in_order_of_work([day_after, RUN_ON_DAY], [NOON, NEXT_WEEK])).ice_point_c == -30.0
    assert box(day_before, RUN_ON_DAY).state is LayupState.VOID


def test_today_told_in_the_morning_is_no_later_than_it_was_told():
    told_at_nine = replace(RUN, at=MIDNIGHT + timedelta(hours=9), day_began=MIDNIGHT)
    rows = in_order_of_work([told_at_nine, at_hour(FILL, 14)], [NOON, NEXT_WEEK])
    assert box(*rows).state is LayupState.PROVEN


def test_a_corrected_hour_puts_no_work_behind_the_run_that_undid_it():
    later = at_hour(FILL, 14, id="later", replaces="fill")
    assert box(FILL, RUN, later).state is LayupState.VOID
    assert box(FILL_ON_DAY, RUN_ON_DAY, later).state is LayupState.VOID
    assert box(RUN, FILL, at_hour(FILL, 14, id="later", replaces="fill")).ice_point_c == -30.0


def test_a_revived_entry_stands_where_it_stood_before_it_was_withdrawn():
    gone = work(Act.WITHDRAWN, 30, id="gone", replaces="fill")
    back = replace(FILL, id="back", replaces="gone")
    assert box(FILL, RUN, gone, back).state is LayupState.VOID
    assert box(RUN, FILL, gone, back).state is LayupState.PROVEN
    written = [NOON, NOON, NEXT_WEEK, NEXT_WEEK]
    assert box(*in_order_of_work([FILL, RUN, gone, back], written)).state is LayupState.VOID


def test_what_was_corrected_into_an_undoing_act_counts_last_of_its_sittings():
    drained = work("drained", 0, "water-box", id="drained")
    ran = replace(RUN, id="ran", replaces="drained")
    rows = in_order_of_work([drained, FILL, ran], [NOON, NEXT_WEEK, NEXT_WEEK])
    assert box(*rows).state is LayupState.VOID


def test_an_entry_moved_from_another_craft_stands_in_no_order_with_what_was_told_here():
    moved = replace(FILL, moved_from="k2")
    assert box(*in_order_of_work([RUN, moved], [NOON, NOON])).state is LayupState.VOID
    assert box(*in_order_of_work([RUN, FILL], [NOON, NOON])).state is LayupState.PROVEN


@pytest.mark.parametrize("ran_first", [True, False])
@pytest.mark.parametrize("moved_first", [0, 1])
def test_a_list_moved_entry_by_entry_keeps_the_order_in_which_it_was_told(ran_first, moved_first):
    told = [RUN_ON_DAY, FILL_ON_DAY] if ran_first else [FILL_ON_DAY, RUN_ON_DAY]
    moved = [
        replace(one, moved_from="k2", told_at=NOON + timedelta(microseconds=n))
        for n, one in enumerate(told)
    ]
    written = [moved[moved_first], moved[1 - moved_first]]
    found = box(*in_order_of_work(written, [NEXT_WEEK, NEXT_WEEK]))
    assert found.state is (LayupState.PROVEN if ran_first else LayupState.VOID)


def test_a_run_without_an_hour_comes_behind_a_list_that_proves_something_whatever_ends_it():
    dry = at_hour(work("drained", 0, "hoses", dry=True), 13)
    blocked = work("antifreeze-poured", 0, "hoses", outflow=Outflow.NONE)
    rows = in_order_of_work([RUN_ON_DAY, dry, blocked], [NEXT_WEEK, NOON, NOON])
    assert held(record(*rows))["hoses"].state is not LayupState.PROVEN


@FEW
@given(records(), st.data())
def test_a_day_of_work_counts_the_same_on_the_craft_to_which_it_is_moved(drawn, data):
    profile, done, _ = drawn
    day = [replace(one, at=NOON, day_began=MIDNIGHT) for one in done]
    told = account(profile, list(in_order_of_work(day, [NOON] * len(day))))
    moved = [
        replace(one, moved_from="k2", told_at=NOON + timedelta(microseconds=n))
        for n, one in enumerate(day)
    ]
    shuffled = data.draw(st.permutations(moved))
    found = account(profile, list(in_order_of_work(shuffled, [NEXT_WEEK] * len(day))))
    for name, one in told.items():
        assert (found[name].state, found[name].ice_point_c) == (one.state, one.ice_point_c), name


@FEW
@given(records(), st.data())
def test_leaving_out_the_hour_of_an_undoing_act_never_raises_what_is_held(drawn, data):
    profile, done, _ = drawn
    run = data.draw(st.sampled_from([Act.RUN_ON_WATER, Act.PORT_LEFT_OPEN, Act.COVER_OFF]))
    ids = library()[profile].circuit_ids
    extra = work(run, data.draw(st.integers(-11, 11)), *(ids if run is not Act.COVER_OFF else ()))
    day_alone = replace(extra, id="day", at=NOON, day_began=MIDNIGHT)
    on_the_day = [replace(one, at=NOON + (one.at - NOON) / 6) for one in done]
    rows = in_order_of_work([day_alone, *on_the_day], [NEXT_WEEK, *[NOON] * len(done)])
    assert_no_better(account(profile, list(rows)), account(profile, [*on_the_day, extra]))


@pytest.mark.parametrize("act", ["cover-off", "cover-torn"])
def test_rain_may_stand_in_a_pocket_whose_cover_is_off_or_torn(act):
    dry = work("inspected", 0, "propeller-hub", dry=True, posture=Posture.UPRIGHT)
    found = held(record(dry, work(act, 1), profile="outboard"))
    assert found["propeller-hub"].state is LayupState.UNKNOWN


LOOK = work("inspected", 0, "water-box")
LOOK_ON_DAY = replace(LOOK, day_began=MIDNIGHT)


def test_a_look_without_an_hour_clears_no_ice_of_its_own_day():
    morning = ice_at(5)
    found = box(LOOK_ON_DAY, iced=morning)
    assert found.suspect_since == morning[0].at
    assert found.inspected_at == MIDNIGHT
    assert box(LOOK, iced=morning).suspect_since is None  # at noon, as somebody said


def test_a_look_without_an_hour_clears_ice_of_the_day_before_and_leaves_that_of_its_day():
    assert box(LOOK_ON_DAY, iced=ice_at(-2)).suspect_since is None
    both = ice_at(-2, 5, 9)
    assert box(LOOK_ON_DAY, iced=both).suspect_since == both[1].at


def test_a_look_without_an_hour_takes_nothing_from_one_whose_hour_was_told():
    told = at_hour(LOOK, 10, id="told")
    for rows in ([told, LOOK_ON_DAY], [LOOK_ON_DAY, told]):
        found = box(*rows, iced=ice_at(5))
        assert found.suspect_since is None
        assert found.inspected_at == told.at


def test_dry_seen_on_a_day_without_an_hour_leaves_the_suspicion_of_that_morning():
    dry = replace(work("inspected", 0, "hoses", dry=True), day_began=MIDNIGHT)
    iced = (Iced(circuit="hoses", at=MIDNIGHT + timedelta(hours=5)),)
    found = held(record(dry, iced=iced))["hoses"]
    assert found.state is LayupState.PROVEN
    assert found.suspect_since == iced[0].at


def test_a_reading_without_an_hour_is_doubted_after_part_ice_of_its_day():
    read = work("inspected", 0, "water-box", ice_point_c=-28.0)
    fill = at_hour(FILL, -24, id="before")
    on_day = box(fill, replace(read, day_began=MIDNIGHT), iced=ice_at(5))
    assert on_day.confidence is Confidence.LOW
    assert "read it again" in on_day.why
    assert on_day.sampled_at == MIDNIGHT
    assert "read it again" not in box(fill, read, iced=ice_at(5)).why


@given(look=st.integers(0, 23), ice=st.lists(st.integers(-30, 30), max_size=4, unique=True))
def test_no_hour_that_may_be_meant_leaves_more_suspicion_than_none_told(look, ice):
    iced = ice_at(*sorted(ice))
    told = box(at_hour(LOOK, look), iced=iced)
    untold = box(LOOK_ON_DAY, iced=iced)
    assert untold.inspected_at <= told.inspected_at
    if told.suspect_since is not None:
        assert untold.suspect_since is not None
        assert untold.suspect_since <= told.suspect_since


WARM_ON_DAY = replace(work("kept-warm", 0), day_began=MIDNIGHT)
PLACES = ("stove-barn", "long-shed")


def moved_on_that_day(hour, places):
    """The water box of a craft that was left to the heat on a day on which it was moved."""
    stays = tuple(
        Stay(craft="k1", since=since, space=space)
        for since, space in zip((ARRIVED, MIDNIGHT + timedelta(hours=hour)), places, strict=True)
    )
    return held(replace(record(WARM_ON_DAY), stays=stays))["water-box"]


@pytest.mark.parametrize("hour", [9, 15])
def test_left_to_the_heat_on_the_day_of_a_move_out_of_it_counts_as_moved_out(hour):
    found = moved_on_that_day(hour, PLACES)
    assert found.state is LayupState.VOID
    assert Because.OUT_OF_HEAT in {one.because for one in found.reasons}


@pytest.mark.parametrize("hour", [9, 15])
def test_left_to_the_heat_on_the_day_of_a_move_into_it_may_have_been_before_that(hour):
    found = moved_on_that_day(hour, PLACES[::-1])
    assert found.state is LayupState.UNPROVEN


@FEW
@given(st.integers(1, 23), st.integers(0, 23), st.sampled_from([PLACES, PLACES[::-1]]))
def test_an_hour_that_is_not_told_leaves_no_more_to_the_heat_than_any_hour(moved, told, places):
    stays = tuple(
        Stay(craft="k1", since=since, space=space)
        for since, space in zip((ARRIVED, MIDNIGHT + timedelta(hours=moved)), places, strict=True)
    )
    at_hours = replace(WARM_ON_DAY, at=MIDNIGHT + timedelta(hours=told), day_began=None)
    untold = held(replace(record(WARM_ON_DAY), stays=stays))["water-box"].state
    known = held(replace(record(at_hours), stays=stays))["water-box"].state
    worse = [LayupState.HEAT_ONLY, LayupState.UNPROVEN, LayupState.VOID]
    assert worse.index(untold) >= worse.index(known)
