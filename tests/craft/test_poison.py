"""Ethylene glycol in water that people drink or wash with: said, never planned, flushed out."""

import pytest

from monitor.craft.layup import Liquid, Outflow, Product
from monitor.craft.plan.one_circuit import start_of_circuit, steps_after_ice
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.step import Care, StepKind
from monitor.craft.protection import LayupState
from monitor.craft.rules.examine import examine
from monitor.craft.spring import spring_plan
from monitor.phrases.plan import step_sentence
from monitor.wording import Wording
from tests.craft.plan.follow import followed, plan
from tests.craft.scene import EVE, SHELTERS, STRONG, held, library, record, work

GREEN = Product(name="green", liquid=Liquid.ETHYLENE, strength=0.5)
GREEN_SHELF = (ShelfProduct(id="green", name="green", liquid=Liquid.ETHYLENE, strength=0.5),)
CUDDY = {"profile": "cuddy"}
READ = {"quantity_l": 8.0, "ice_point_c": -30.0, "outflow": Outflow.FULL_COLOUR}


def through_taps(product: Product | None, hours: float = 0.0):
    return work("antifreeze-run-through", hours, "taps", product=product, **READ)


def test_ethylene_in_the_taps_is_called_poison_until_clear_water_came():
    green = through_taps(GREEN)
    flushed = work("flushed", 5, "taps", outflow=Outflow.CLEAR_WATER)
    one = held(record(green, **CUDDY))["taps"]
    assert one.poison is Liquid.ETHYLENE
    assert "poison" in one.why
    for still in (work("flushed", 5, "taps"), work("drained", 5, "taps", dry=True)):
        assert "poison" in held(record(green, still, **CUDDY))["taps"].why
    clear = held(record(green, flushed, **CUDDY))["taps"]
    assert (clear.poison, "poison" in clear.why) == (None, False)
    pink = held(record(green, flushed, through_taps(STRONG, 6), **CUDDY))["taps"]
    assert (pink.state, pink.poison) == (LayupState.PROVEN, None)
    for entries, told in (((green,), True), ((green, flushed), False)):
        rules = {one.rule for one in examine(record(*entries, **CUDDY), SHELTERS, EVE)}
        assert ("ethylene-in-plumbing" in rules) is told


@pytest.mark.parametrize("product", [None, Product(name="jug")])
def test_what_nobody_named_is_taken_for_poison_in_the_taps(product):
    one = held(record(through_taps(product), **CUDDY))["taps"]
    assert one.poison is Liquid.NOT_KNOWN
    assert "take it for poison" in one.why


def test_no_poison_is_spoken_of_in_an_engine_or_of_propylene():
    engine = work("antifreeze-run-through", 0, "hoses", product=GREEN, **READ)
    assert held(record(engine))["hoses"].poison is None
    assert held(record(through_taps(STRONG), **CUDDY))["taps"].poison is None


@pytest.mark.parametrize("profile", ["cuddy", "head", "fresh-water", "washdown", "ballast"])
def test_no_plan_puts_ethylene_into_plumbing_whatever_is_on_the_shelf(profile):
    plumbing = [one for one in library()[profile].circuits if one.circuit.drinking]
    assert plumbing
    names = {one.circuit.id for one in plumbing}
    for step in plan(record(profile=profile), shelf=GREEN_SHELF).steps:
        if names & set(step.circuits) and step.product is not None:
            assert step.product.liquid is Liquid.PROPYLENE
    for one in plumbing:
        start = start_of_circuit(one.circuit, held(record(profile=profile))[one.circuit.id], -12.0)
        steps = steps_after_ice(
            one.circuit, start.held[one.circuit.id], -12.0, GREEN_SHELF, frozen=False
        )
        poured = [step.product.liquid for step in steps if step.product is not None]
        assert set(poured) <= {Liquid.PROPYLENE}


def test_ethylene_in_the_taps_is_flushed_into_a_drum_before_propylene_is_pumped_from_a_pail():
    before = record(through_taps(GREEN), **CUDDY)
    job = plan(before)
    steps = [step for step in job.frost_steps if "taps" in step.circuits]
    assert [step.kind for step in steps] == [StepKind.FLUSH, StepKind.PUMP_ANTIFREEZE]
    said = [step_sentence(step, before.profile, Wording()) for step in steps]
    assert "poison" in said[0]
    assert "into a drum" in said[0]
    assert "inlet hose taken off and put into a pail" in said[1]
    assert Care.GLYCOL in steps[0].cautions
    *_, (_, now, _) = followed(before, job)
    assert (now["taps"].state, now["taps"].poison) == (LayupState.PROVEN, None)


def test_in_spring_nobody_drinks_before_the_taps_are_flushed():
    for entries, told in (
        ((through_taps(GREEN),), True),
        ((through_taps(GREEN), work("drained", 5, "taps", dry=True)), True),
        ((through_taps(STRONG),), False),
    ):
        before = record(*entries, **CUDDY)
        steps = spring_plan(before, SHELTERS, EVE).steps
        [catch] = [one for one in steps if one.kind is StepKind.CATCH_ANTIFREEZE]
        said = step_sentence(catch, before.profile, Wording())
        assert ("nobody does before it is flushed" in said) is told
