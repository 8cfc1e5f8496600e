"""What the plans of a yard take together, and when a crew is through."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.layup import Liquid
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.step import JobPlan, JobStep, StepKind
from monitor.craft.plan.yard import reckon_workload, sum_supplies
from monitor.phrases.supplies import workload_words
from tests.craft.plan.follow import plan
from tests.craft.scene import twelve

PINK = ShelfProduct(id="pink", name="pink", liquid=Liquid.PROPYLENE, strength=0.5, container_l=4.0)
MONDAY = date(2026, 11, 2)


def pours(craft: str, *litres: float, minutes: float = 30.0) -> JobPlan:
    return JobPlan(
        craft=craft,
        low_c=-12.0,
        steps=tuple(
            JobStep(kind=StepKind.FILL_BY_HAND, minutes=minutes, product=PINK, quantity_l=each)
            for each in litres
        ),
    )


def test_what_all_plans_take_is_bought_in_whole_containers():
    [one] = sum_supplies([pours("a", 3.0, 2.0), pours("b", 3.1), pours("c")])
    # 8.1 L in jugs of 4 L.
    assert (one.litres, one.containers, one.craft) == (pytest.approx(8.1), 3, ("a", "b"))


def test_a_sum_that_fills_its_containers_takes_no_further_one():
    [one] = sum_supplies([pours("a", 0.1, 0.2), pours("b", 3.7)])
    assert one.containers == 1


@given(st.lists(st.floats(0.1, 40.0), min_size=1, max_size=8))
def test_what_is_bought_covers_what_is_poured_and_no_container_is_spare(litres):
    [one] = sum_supplies([pours("a", *litres)])
    assert one.containers * 4.0 >= sum(litres) - 0.01
    assert (one.containers - 1) * 4.0 < sum(litres) + 0.01


def test_nothing_on_the_shelf_that_reaches_is_told_apart():
    weak = ShelfProduct(id="weak", name="weak", liquid=Liquid.PROPYLENE, strength=0.3)
    found = sum_supplies([plan(twelve()["k12"], shelf=(weak,))])
    assert [one.product.to_buy for one in found] == [True]
    assert not any(one.product.to_buy for one in sum_supplies([plan(twelve()["k12"])]))
    assert {one.product for one in sum_supplies([plan(twelve()["k12"])])} <= set(USUAL_SHELF)


def test_a_crew_is_through_on_the_day_on_which_the_last_minute_is_worked():
    # 17 pours of 30 min are 510 min; two people of 240 min do 480 a day.
    assert reckon_workload([pours("a", *[1.0] * 17)], MONDAY, 2, 240.0).done_on == date(2026, 11, 3)
    assert reckon_workload([pours("a", *[1.0] * 16)], MONDAY, 2, 240.0).done_on == MONDAY


def test_nobody_at_work_is_an_error_with_its_remedy():
    with pytest.raises(ValueError, match="give at least one"):
        reckon_workload([], MONDAY, 0)


def test_a_crew_is_given_no_more_hours_than_a_day_has():
    with pytest.raises(ValueError, match="within the 24 h"):
        reckon_workload([], MONDAY, 1, 25 * 60.0)


def test_a_finding_that_nobody_has_looked_at_is_counted_beside_the_hours():
    mend = JobStep(kind=StepKind.MEND_FINDING)
    job = JobPlan(craft="a", low_c=-12.0, steps=(mend, *pours("a", 1.0).steps))
    load = reckon_workload([job], MONDAY, 1, 240.0)
    assert (load.minutes, load.untimed) == (30.0, 1)
    assert "beside 1 finding to mend" in workload_words(load)
    assert "1 person who begins on Monday 2 November and works 4 h a day is" in workload_words(load)


def test_where_nothing_is_left_no_crew_is_sent():
    assert workload_words(reckon_workload([], MONDAY)) == "Nothing is left to do"
