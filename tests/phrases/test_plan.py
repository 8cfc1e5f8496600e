"""A plan's words: one sentence a step, with its quantity and its reading in the reader's units."""

import pytest

from monitor.craft.plan.step import Ask, Instead, StepKind
from monitor.craft.spring import spring_plan
from monitor.phrases.plan import also_words, asked_words, step_sentence, step_title
from monitor.phrases.supplies import minutes_words, work_days_words
from monitor.wording import Units, Wording
from tests.craft.plan.follow import plan
from tests.craft.scene import EVE, SHELTERS, STRONG, TWO_STROKE, library, record, work

METRIC = Wording(units=Units())
US = Wording(units=Units(temperature="F", volume="fl oz"))


def said(profile: str, kind: StepKind, words: Wording) -> str:
    one = record(profile=profile)
    [step] = [each for each in plan(one).steps if each.kind is kind]
    return step_sentence(step, one.profile, words)


@pytest.mark.parametrize("profile", sorted(library()))
def test_every_step_is_a_sentence_that_names_its_circuits(profile):
    one = record(profile=profile)
    for step in plan(one).steps + spring_plan(one, SHELTERS, EVE).steps:
        words = step_sentence(step, one.profile, METRIC)
        assert words[0].isupper()
        assert words.endswith(".")
        assert "None" not in words


@pytest.mark.parametrize("profile", sorted(library()))
def test_steps_of_spring_have_titles(profile):
    one = record(profile=profile)
    assert all(
        step_title(step, one.profile, METRIC) for step in spring_plan(one, SHELTERS, EVE).steps
    )


def test_quantities_and_readings_are_in_the_readers_units():
    metric = said("pwc-two-stroke", StepKind.RUN_ANTIFREEZE, METRIC)
    assert "run 7.5\u00a0L of 50 % propylene glycol" in metric.replace("\u202f", "\u00a0")
    assert "−17.0" in metric
    # −17 °C is 1.4 °F; 7.5 L are 1.98 gal.
    us = said("pwc-two-stroke", StepKind.RUN_ANTIFREEZE, US)
    assert "2.0\u00a0gal" in us.replace("\u202f", "\u00a0")
    assert "1.4" in us


def test_an_engine_on_a_hose_is_started_as_its_pump_wants_it():
    jet = said("pwc-two-stroke", StepKind.RUN_TREATED_FUEL, METRIC)
    assert "engine on, water on; water off, engine off" in jet
    impeller = said("outboard", StepKind.RUN_TREATED_FUEL, METRIC)
    assert "water on, engine on; engine off, water off" in impeller


def test_antifreeze_is_fed_in_the_same_order_as_water():
    jet = said("pwc-two-stroke", StepKind.RUN_ANTIFREEZE, METRIC)
    assert "Outdoors" in jet
    assert "engine on, flow on; flow off, engine off" in jet


def test_a_water_heater_is_switched_off_and_bypassed_before_it_is_emptied():
    emptied = said("fresh-water", StepKind.EMPTY_TANK, METRIC)
    assert emptied.index("Switch the water heater off") < emptied.index("Pump out")
    assert "bypass it" in emptied


def test_two_engines_are_run_each_and_one_by_its_side():
    assert "run each engine on" in said("jet-boat-twin", StepKind.RUN_TREATED_FUEL, METRIC)
    assert "run the engine on" in said("jet-boat", StepKind.RUN_TREATED_FUEL, METRIC)


def test_the_engine_whose_bowls_are_emptied_is_told_by_its_side():
    laid_up = work(
        "antifreeze-run-through",
        0,
        *(f"port-{name}" for name in TWO_STROKE),
        product=STRONG,
        ice_point_c=-30.0,
        quantity_l=9.0,
    )
    one = record(laid_up, profile="jet-boat-twin")
    [drain] = [step for step in plan(one).steps if step.kind is StepKind.DRAIN_FUEL]
    assert "bowls of the port engine" in step_sentence(drain, one.profile, METRIC)


def test_every_evidence_and_every_other_way_has_words():
    one = record()
    [run] = [each for each in plan(one).steps if each.kind is StepKind.RUN_ANTIFREEZE]
    assert "colour" in asked_words(run)
    assert Instead.POUR in run.instead
    assert "by hand" in also_words(run)
    assert Ask.READING in run.asks


@pytest.mark.parametrize(("minutes", "words"), [(40, "40 min"), (145, "2 h 25 min"), (120, "2 h")])
def test_minutes_are_told_in_hours_from_an_hour_on(minutes, words):
    assert minutes_words(minutes) == words


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (12, "12 h of work"),
        (12.25, "4 days of work for one person, 4 h a day"),
        (1595 + 5 / 60, "399 days of work for one person, 4 h a day"),  # 398.8 of them
    ],
)
def test_work_of_more_than_three_days_is_told_in_days(hours, words):
    assert work_days_words(hours * 60.0, 240.0) == words
