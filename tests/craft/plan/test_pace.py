"""At this pace done by when: more hands never later, fewer craft never later, unknown says so."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.plan.pace import (
    PRIOR_OF_THREE_NIGHTS,
    LayupPace,
    chance_of_hard_night,
    finish_of,
    pace_of,
)
from tests.tried import tried

TODAY = date(2026, 11, 10)
NEVER = date.max
counts = st.lists(st.integers(0, 6), min_size=7, max_size=28).filter(
    lambda seen: sum(one > 0 for one in seen) >= 3
)


def days_of(finish):
    return [one or NEVER for one in (finish.early, finish.likely, finish.late)]


def pace(seen):
    return LayupPace(per_day=tuple(float(one) for one in seen))


@given(seen=counts, left=st.integers(1, 60), hands=st.floats(1.0, 6.0))
@settings(max_examples=tried(25), deadline=None)
def test_more_hands_are_never_later(seen, left, hands):
    few, many = finish_of(left, pace(seen), TODAY), finish_of(left, pace(seen), TODAY, hands)
    assert all(one >= other for one, other in zip(days_of(few), days_of(many), strict=True))


@given(seen=counts, left=st.integers(1, 60), fewer=st.integers(0, 60))
@settings(max_examples=tried(25), deadline=None)
def test_fewer_craft_are_never_later(seen, left, fewer):
    all_of_them = finish_of(left, pace(seen), TODAY)
    some = finish_of(min(fewer, left), pace(seen), TODAY)
    assert all(one >= other for one, other in zip(days_of(all_of_them), days_of(some), strict=True))


@given(seen=counts, left=st.integers(0, 60))
@settings(max_examples=tried(25), deadline=None)
def test_early_likely_and_late_come_in_this_order_and_none_before_today(seen, left):
    days = days_of(finish_of(left, pace(seen), TODAY))
    assert days == sorted(days)
    assert days[0] >= TODAY


def test_an_even_pace_is_what_counting_on_gives():
    """Two a day, ten left: five days, whatever is drawn."""
    finish = finish_of(10, pace([2] * 14), TODAY)
    assert days_of(finish) == [TODAY + timedelta(days=5)] * 3


@pytest.mark.parametrize(
    "finished",
    [
        {},
        {TODAY - timedelta(days=3): 2},  # too few days
        {TODAY - timedelta(days=20): 5, TODAY - timedelta(days=2): 1},  # too few worked
        {TODAY: 9},  # today is not over
    ],
)
def test_an_unknown_pace_says_so(finished):
    assert pace_of(finished, TODAY) is None


def test_a_day_on_which_a_pile_of_paper_was_entered_makes_no_pace():
    usual = {TODAY - timedelta(days=n): 1 for n in range(1, 15)}
    pile = usual | {TODAY - timedelta(days=5): 60}
    assert sum(pace_of(pile, TODAY).per_day) == 13 + 3


def test_days_without_work_count():
    """Every third day one: a third of a craft a day, not one a day."""
    finished = {TODAY - timedelta(days=n): 1 for n in range(1, 22, 3)}
    assert pace_of(finished, TODAY).per_week == pytest.approx(7 / 3, abs=0.5)


def nights(count, first=TODAY):
    return [first + timedelta(days=n) for n in range(count)]


@given(count=st.integers(0, 60), more=st.integers(0, 30), past=st.lists(st.booleans(), max_size=6))
@settings(max_examples=tried(25), deadline=None)
def test_more_nights_are_never_less_dangerous(count, more, past):
    few = chance_of_hard_night(nights(count), {}, past if count else [])
    many = chance_of_hard_night(nights(count + more), {}, past)
    assert 0.0 <= few.chance <= 1.0
    assert many.chance >= few.chance - 1e-9 or not count


def test_past_winters_of_the_yard_take_the_place_of_what_is_usual():
    usual = chance_of_hard_night(nights(20), {}, []).chance
    hard, mild = [True] * 5, [False] * 5
    assert chance_of_hard_night(nights(20), {}, mild).chance < usual
    assert chance_of_hard_night(nights(20), {}, hard).chance > usual


def test_a_forecast_of_a_hard_night_is_believed_over_the_season():
    sure = chance_of_hard_night(nights(1), {TODAY: (-12.0, 2.0)}, [])
    warm = chance_of_hard_night(nights(1), {TODAY: (6.0, 2.0)}, [])
    assert sure.chance > 0.99
    assert warm.chance < 0.01
    assert sure.forecast_nights == 1


def test_south_of_the_equator_july_is_winter():
    july = nights(9, date(2026, 7, 1))
    assert chance_of_hard_night(july, {}, []).chance == 0.0
    assert chance_of_hard_night(july, {}, [], southern=True).chance == pytest.approx(
        1.0 - (1.0 - PRIOR_OF_THREE_NIGHTS[1]) ** 3
    )


def test_no_night_ahead_holds_no_danger():
    assert chance_of_hard_night([], {}, [True]).chance == 0.0
