"""The order of a night's work."""

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.plan.yard import CREW
from monitor.judgement.work_order import order_acts
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject, Urgency
from tests.judgement import scene
from tests.written import written

NOW = scene.local(14, 16)


def act(
    craft, hazard, standing, in_h=None, space="long-shed", part="head", urgency=Urgency.EXPECTED
):
    return Assessment(
        subject=Subject(space, craft, part),
        hazard=hazard,
        standing=standing,
        at=NOW,
        **written("as judged", "do it"),
        urgency=urgency,
        deadline=None if in_h is None else NOW + timedelta(hours=in_h),
    )


def numbers(judged):
    return {each.subject.craft or each.subject.space: each.turn.order for each in judged}


def test_heat_comes_first_then_quick_jobs_then_the_earliest_ice():
    found = numbers(
        order_acts(
            [
                act("late", Hazard.FROST, Standing.EXPOSED, 11.0),
                act("soon", Hazard.FROST, Standing.EXPOSED, 3.0),
                act("battery", Hazard.BATTERY, Standing.FREEZING, 15.0),
                act("frozen", Hazard.FROST, Standing.SUSPECT),
                act("", Hazard.AIR, Standing.FALLING, 6.0, space="stove-barn", part=""),
            ],
            NOW,
        )
    )
    ranked = sorted(found, key=found.__getitem__)
    assert ranked == ["stove-barn", "battery", "soon", "late", "frozen"]


def test_acts_at_one_craft_are_one_visit():
    judged = [act("k1", Hazard.FROST, Standing.EXPOSED, 3.0, part=p) for p in ("head", "box")]
    found = order_acts(judged, NOW)
    assert {each.turn.order for each in found} == {1.0}
    assert {each.turn.minutes for each in found} == {60.0}


def test_what_a_crew_cannot_do_in_time_is_marked():
    judged = [act(f"k{n}", Hazard.FROST, Standing.EXPOSED, 1.0) for n in range(6)]
    late = [each for each in order_acts(judged, NOW) if each.turn.too_late]
    # Two people, half an hour each: four in the first hour, and the other two too late.
    assert len(late) == 2
    assert CREW == 2


@given(st.lists(st.floats(0.1, 20.0), min_size=1, max_size=12))
def test_every_act_gets_one_number_and_earlier_ice_never_a_later_one(hours):
    judged = [act(f"k{n:02}", Hazard.FROST, Standing.EXPOSED, h) for n, h in enumerate(hours)]
    found = order_acts(judged, NOW)
    assert sorted(each.turn.order for each in found) == list(range(1, len(hours) + 1))
    by_order = sorted(found, key=lambda each: each.turn.order)
    deadlines = [each.deadline for each in by_order]
    assert deadlines == sorted(deadlines)


def test_what_needs_no_act_gets_no_number():
    quiet = Assessment(
        subject=Subject("long-shed"),
        hazard=Hazard.AIR,
        standing=Standing.STEADY,
        at=NOW,
        **written("x"),
    )
    assert order_acts([quiet], NOW) == [quiet]


def test_a_space_that_went_dark_comes_first_and_an_overcharge_is_a_quick_job():
    found = numbers(
        order_acts(
            [
                act("soon", Hazard.FROST, Standing.EXPOSED, 0.5),
                act("cooked", Hazard.CHARGING, Standing.OVERCHARGED, urgency=Urgency.IMMEDIATE),
                act("", Hazard.POWER, Standing.CUT_OFF, space="stove-barn", part=""),
            ],
            NOW,
        )
    )
    assert sorted(found, key=found.__getitem__) == ["stove-barn", "cooked", "soon"]


def test_a_quick_job_without_an_hour_makes_nothing_late():
    quick = act("lamp", Hazard.BATTERY, Standing.LOST)
    for in_h, first in ((0.6, "soon"), (3.0, "lamp")):
        found = numbers(order_acts([quick, act("soon", Hazard.FROST, Standing.EXPOSED, in_h)], NOW))
        assert min(found, key=found.__getitem__) == first


def test_what_is_wanted_at_once_goes_before_what_can_wait_and_makes_no_dated_job_late():
    lamp = act("lamp", Hazard.BATTERY, Standing.LOST)
    deaf = act("", Hazard.SILENCE, Standing.SILENT, part="bay", urgency=Urgency.IMMEDIATE)
    for in_h, order in ((0.6, ["pipe", "long-shed", "lamp"]), (9.0, ["long-shed", "lamp", "pipe"])):
        pipe = act("pipe", Hazard.FROST, Standing.EXPOSED, in_h)
        found = numbers(order_acts([lamp, pipe, deaf], NOW))
        assert sorted(found, key=found.__getitem__) == order
