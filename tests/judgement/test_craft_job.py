"""One act for each craft that the frost threatens: its whole job, and its minutes once."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from monitor.craft.layup import Liquid
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.record import stored_craft
from monitor.craft.stored import StoredCraft
from monitor.judgement.craft_job import KNOWN_PLANS, is_led, plan_craft_acts, with_job
from monitor.judgement.frost import act
from monitor.judgement.judge import judge_yard
from monitor.phrases.figures import figures_of
from monitor.phrases.judgements import act_text
from monitor.phrases.names import Names
from monitor.yard.assessment import Assessment
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel
from tests.craft.plan.follow import plan
from tests.craft.scene import EVE, SHELTERS, twelve
from tests.judgement import scene

NOW = scene.local(14, 16)
YARD = scene.yard_of(scene.RACK)
THREATENED = ["k2", "k5", "k7", "k8", "k9", "k11", "k12"]
WORDS = words_for(YARD, NOW)
BESIDE_MIN = {"k12": 10.0}  # its bilge is wet, and is pumped out at the same visit


def on_the_rack(craft: str) -> StoredCraft:
    one = stored_craft(twelve()[craft], SHELTERS, EVE)
    assert one is not None
    return replace(one, space="lee-rack", since=None, came_from="", battery=None, unsettled=())


def falling(hours: np.ndarray) -> np.ndarray:
    """Air of mild days, between 5 and 11 °C, that fell by 9 K more since morning."""
    days = 8.0 - 3.0 * np.cos(2 * np.pi * (hours - 15.0) / 24.0)
    return days - 1.3 * np.maximum(hours - 90.0, 0.0)


def judged(craft: StoredCraft) -> list[Assessment]:
    """Its circuits that the night threatens: after mild days the air has begun to fall."""
    since = NOW - timedelta(hours=97)
    air = scene.trace(
        "air-lee-rack",
        Channel.TEMPERATURE,
        falling,
        since,
        NOW,
    )
    found = [one for one in judge_yard(YARD, [craft], air, NOW) if is_led(one)]
    assert found, "no circuit is threatened"
    return found


def acts_in_words(craft: StoredCraft, found: list[Assessment]) -> set[str]:
    return {act_text(one, Names.of(YARD, [craft]), WORDS) for one in found}


@pytest.mark.parametrize("craft", THREATENED)
def test_a_craft_has_one_act_whatever_the_number_of_its_circuits(craft):
    one = on_the_rack(craft)
    [act] = acts_in_words(one, judged(one))
    assert act.startswith(("Before ", "Today, "))


@pytest.mark.parametrize("craft", THREATENED)
def test_its_act_is_the_whole_job_of_its_plan(craft):
    """Who did the half of it would take the craft for safe."""
    found = judged(on_the_rack(craft))
    [act] = {one.facts.act for one in found}
    low_c = min(figures_of(one)["low_band_low_c"] for one in found)
    assert [(step.kind, step.circuits) for step in act.steps] == [
        (step.kind, step.circuits) for step in plan(twelve()[craft], low_c).frost_steps
    ]


@pytest.mark.parametrize("craft", THREATENED)
def test_its_minutes_are_those_of_the_plan_once(craft):
    found = judged(on_the_rack(craft))
    [minutes] = {one.turn.minutes for one in found}
    # A job is made for the cold end of the range, of which one night in ten falls short.
    low_c = min(figures_of(one)["low_band_low_c"] for one in found)
    job = plan(twelve()[craft], low_c).frost_steps
    assert minutes == sum(step.minutes for step in job) + BESIDE_MIN.get(craft, 0.0)


def test_a_blocked_passage_is_to_be_found_and_nothing_run_through_it():
    craft = on_the_rack("k2")
    [act] = acts_in_words(craft, judged(craft))
    assert "find what blocks the cylinder and head passages" in act
    assert "run" not in act


def test_what_stands_on_the_yards_shelf_is_what_an_alarm_names():
    jug = ShelfProduct(id="p", name="Pink 60 %", liquid=Liquid.PROPYLENE, strength=0.6, lot="P26-1")
    craft = on_the_rack("k12")
    yard = replace(YARD, shelf=(jug,))
    exposed = {one.subject.part: one for one in judged(craft)}
    job = plan_craft_acts({craft.id: exposed}, [craft], yard)[craft.id]
    assert {step.product for step in job.steps if step.product} == {jug}
    told = with_job(next(iter(exposed.values())), {craft.id: job})
    assert "lot P26-1 through the engine's" in act_text(told, Names.of(YARD, [craft]), WORDS)


def test_a_craft_without_a_record_keeps_the_act_of_each_circuit():
    craft = replace(on_the_rack("k12"), plan_start=None)
    found = judged(craft)
    assert len(acts_in_words(craft, found)) == len(found) > 1


def test_a_craft_whose_plan_fails_is_warned_of_all_the_same_and_so_are_others(monkeypatch):
    failing, sound = on_the_rack("k12"), on_the_rack("k5")
    KNOWN_PLANS.forget_plans()
    as_ever = act.plan_from

    def plan_all_but_one(start, shelf):
        if start.profile.id == failing.profile:
            raise KeyError("a step that this profile has and no table")
        return as_ever(start, shelf)

    monkeypatch.setattr(act, "plan_from", plan_all_but_one)
    threatened = judged(failing)
    assert len(acts_in_words(failing, threatened)) == len(threatened)  # that of each circuit
    assert {one.deadline for one in threatened}.isdisjoint({None})
    assert all(one.facts.act.steps for one in judged(sound))
