"""How far a crew gets: hands by shift, nobody alone outdoors at night."""

from dataclasses import replace
from datetime import time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.judgement.crew_hours import CrewHours, CrewPlan
from monitor.judgement.judge import judge_yard
from monitor.yard.duty import Duty, Shift, Span
from monitor.yard.reading import Channel
from monitor.yard.space import Space, SpaceKind
from tests.judgement import scene

SPACES = (
    Space(id="barn", name="Stove Barn", kind=SpaceKind.HEATED),
    Space(id="rack", name="Lee Rack", kind=SpaceKind.OPEN),
)
FOUR = scene.local(14, 16)
LOCAL = FOUR.astimezone(scene.ZONE)
EVENING = Span(begins=time(16), ends=time(22))
NIGHTS = Span(begins=time(22), ends=time(6))


def crew(now=FOUR, **duty):
    return CrewHours.of_yard(replace(scene.yard_of(*SPACES), duty=Duty(**duty)), now)


@pytest.mark.parametrize(("hands", "done_in_h"), [(1, 6.0), (2, 3.0), (3, 2.0), (6, 1.0)])
def test_more_hands_are_sooner_done(hands, done_in_h):
    # Six jobs of an hour each, indoors: six hours of work over the hands that there are.
    plan = CrewPlan(crew(hands=hands))
    assert max(plan.add_job(60.0, "barn") for _ in range(6)) == done_in_h


def test_hands_of_a_shift_go_home_with_it():
    shifts = (
        Shift(person="ines", hours=EVENING, hands=2),
        Shift(person="tom", hours=NIGHTS, hands=1),
    )
    plan = CrewPlan(crew(shifts=shifts))
    # Two work from 16:00 to 22:00, then one. Who goes home at 22:00 with an hour left of the second
    # job ends it at 07:00; who stays takes it on at 23:00 and has it by 06:00.
    assert plan.add_job(420.0, "barn") == 7.0
    assert plan.add_job(420.0, "barn") == 14.0


def test_one_person_alone_does_nothing_outdoors_at_night():
    plan = CrewPlan(crew(now=scene.local(14, 20, 30), hands=1))
    # Half an hour is left before 21:00; the rest waits for 06:00, 9.5 h on.
    assert plan.add_job(60.0, "rack") == pytest.approx(10.0)
    assert plan.add_job(60.0, "barn") == pytest.approx(1.0), "indoors the night is no bar"
    assert CrewPlan(crew(now=scene.local(14, 20, 30), hands=2)).add_job(60.0, "rack") == 1.0


def test_shifts_that_overlap_add_up_and_one_that_says_nothing_is_one_person():
    both = Span(begins=time(16), ends=time(22))
    duty = Duty(
        shifts=(Shift(person="a", hours=both, hands=2), Shift(person="b", hours=both)), hands=5
    )
    assert duty.hands_at(LOCAL) == 3
    assert duty.hands_at(LOCAL + timedelta(hours=8)) == 5, "no shift runs: the yard's own number"
    assert Duty(shifts=(Shift(person="a", hours=both),)).hands_at(LOCAL) == 2, "none says"


@given(
    st.lists(st.tuples(st.floats(1.0, 400.0), st.booleans()), min_size=1, max_size=12),
    st.integers(1, 4),
    st.integers(0, 23),
)
def test_every_job_ends_and_one_more_pair_of_hands_ends_none_later(jobs, hands, hour):
    def done(n, *, indoors):
        plan = CrewPlan(crew(now=scene.local(14, hour), hands=n))
        return [plan.add_job(minutes, "barn" if indoors or not out else "rack")
                for minutes, out in jobs]  # fmt: skip

    for (minutes, _), done_in_h in zip(jobs, done(hands, indoors=False), strict=True):
        assert minutes / 60.0 <= done_in_h + 1e-6 < 24 * 30
    # One list, given out in order to whoever is free first, without jobs that wait for daylight.
    fewer, more = done(hands, indoors=True), done(hands + 1, indoors=True)
    assert all(b <= a + 1e-6 for a, b in zip(sorted(fewer), sorted(more), strict=True))


def test_the_yards_number_of_hands_decides_what_comes_too_late():
    # Falls by 1.4 K an hour, to below 0 °C at 16:00: water on the rack freezes within the hour.
    rack = scene.air_sensor(scene.RACK).name
    heard = scene.trace(
        rack, Channel.TEMPERATURE, lambda h: 6.0 - 1.4 * h, scene.local(14, 10), FOUR
    )
    craft = [
        scene.stored(scene.RACK, (scene.circuit(), scene.water()), craft_id=f"k{n}")
        for n in range(8)
    ]

    def late(hands):
        the_yard = replace(scene.yard_of(scene.RACK), duty=Duty(hands=hands))
        judged = judge_yard(the_yard, craft, heard, FOUR)
        return sum(each.turn.too_late for each in judged if each.turn is not None)

    assert late(1) > late(3) > late(8)
