"""Plans kept from round to round: a round with them agrees with one that makes all anew."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from numpy import cos, maximum, pi

from monitor.craft.layup import Act, Outflow
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.record import stored_craft
from monitor.craft.stored import StoredCraft
from monitor.judgement import craft_job
from monitor.judgement.frost import act
from monitor.judgement.judge import judge_yard
from monitor.yard.reading import Channel
from tests.craft.scene import EVE, SHELTERS, STRONG, twelve, work
from tests.judgement import scene
from tests.tried import tried

NOW = scene.local(14, 16)
CRAFT = ("k2", "k8", "k12")
YARD = scene.yard_of(scene.RACK)
JUG = ShelfProduct(id="jug", name="jug", liquid=STRONG.liquid, strength=0.6)
# Nothing came out, so a person has to find what blocks it: another plan for the same craft.
POURED = work(
    Act.ANTIFREEZE_POURED,
    0.0,
    "cylinder-passages",
    at=EVE - timedelta(hours=1),
    craft="k12",
    product=STRONG,
    outflow=Outflow.NONE,
)
AIR = scene.trace(
    "air-lee-rack",
    Channel.TEMPERATURE,
    lambda hours: (
        8.0 - 3.0 * cos(2 * pi * (hours - 15.0) / 24.0) - 1.3 * maximum(hours - 90.0, 0.0)
    ),
    NOW - timedelta(hours=97),
    NOW + timedelta(hours=4),
)


def on_the_rack(craft: str, *entered) -> StoredCraft:
    record = twelve()[craft]
    one = stored_craft(replace(record, entries=record.entries + entered), SHELTERS, EVE)
    assert one is not None
    return replace(one, space="lee-rack", since=None, came_from="", battery=None, unsettled=())


def forget_plans() -> None:
    craft_job.KNOWN_PLANS.forget_plans()
    for each in (act._steps_to_read, act._steps_before_ice, act._steps_after_ice):
        each.cache_clear()


changes = st.lists(
    st.sampled_from(["enter", "take back", "shelf", "clock back", "clock on", "nothing"]),
    min_size=1,
    max_size=3,
)


@settings(max_examples=tried(6), deadline=None)
@given(changes=changes)
def test_a_round_that_keeps_plans_agrees_with_one_that_makes_them_anew(changes):
    """Whatever comes between two rounds: an entry, other settings, a clock that was put."""
    forget_plans()
    entered, yard, now = (), YARD, NOW
    for change in ("nothing", *changes):
        entered = {"enter": (POURED,), "take back": ()}.get(change, entered)
        yard = replace(yard, shelf=() if yard.shelf else (JUG,)) if change == "shelf" else yard
        step_h = {"clock back": -2.0, "clock on": 1.0}.get(change, 1.0 / 60.0)
        now = min(now + timedelta(hours=step_h), NOW + timedelta(hours=4))
        craft = [on_the_rack(one, *(entered if one == "k12" else ())) for one in CRAFT]
        kept = judge_yard(yard, craft, AIR, now)
        forget_plans()
        assert repr(judge_yard(yard, craft, AIR, now)) == repr(kept)  # NaN differs from itself
        judge_yard(
            YARD, [on_the_rack(one) for one in CRAFT], AIR, NOW
        )  # the next begins with these


def test_an_entry_voids_the_kept_plan_at_once():
    def steps_of(*entered):
        judged = judge_yard(YARD, [on_the_rack("k12", *entered)], AIR, NOW)
        return {one.subject.part: one.facts.act for one in judged if craft_job.is_led(one)}

    forget_plans()
    before = steps_of()
    after = steps_of(POURED)
    forget_plans()
    assert before
    assert after == steps_of(POURED) != before
    assert steps_of() == before
