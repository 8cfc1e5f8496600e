"""The act fits the circuit: what its profile says protects it, and nothing else.

The acts themselves are common practice, no source.
"""

from dataclasses import replace
from datetime import datetime

import pytest

from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.plan.one_circuit import steps_after_ice
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.judgement.frost import act as act_module
from monitor.judgement.frost.act import frost_act
from monitor.phrases.frost_act import before_deadline
from monitor.phrases.judgements import act_text
from monitor.phrases.names import Names
from monitor.settings.load import shipped_folder
from monitor.settings.profiles import load_profiles
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.readers import words_for
from tests.judgement import scene

LOW_C = -12.0
TEN = scene.local(14, 22)
PROFILES = load_profiles([shipped_folder() / "profiles"])


def said_of(
    standing: Standing,
    circuit: Circuit,
    held: Protection,
    deadline: datetime | None = TEN,
    low_c: float = LOW_C,
) -> str:
    """What a reader is told, in the yard's units, at three in the afternoon."""
    yard, now = scene.yard_of(scene.RACK), scene.local(14, 15)
    planned = frost_act(standing, scene.RACK, circuit, held, (), deadline, low_c)
    craft = scene.stored(scene.RACK, (circuit, held))
    seen = Assessment(
        subject=Subject(craft.space, craft.id, circuit.id),
        hazard=Hazard.FROST,
        standing=standing,
        at=now,
        facts=FrostFacts(layup=held.state, basis=held.basis, act=planned),
        calls_for_act=planned is not None,
    )
    return act_text(seen, Names.of(yard, [craft]), words_for(yard, now))


def act(profile: str, circuit: str, standing: Standing = Standing.EXPOSED) -> str:
    one = PROFILES[profile].find(circuit).circuit
    return said_of(standing, one, scene.water(circuit))


@pytest.mark.parametrize(
    ("profile", "circuit", "words", "never"),
    [
        (
            "outboard",
            "gearcase",
            ["Before 22:00", "look at the oil", "milky: let it out"],
            "antifreeze",
        ),
        ("outboard", "propeller-hub", ["Before 22:00", "drain", "dry"], "antifreeze"),
        (
            "pwc-two-stroke",
            "water-box",
            ["Before 22:00", "glycol", "read a sample"],
            "drain",
        ),
        ("pwc-four-stroke", "coolant", ["Before 22:00", "test the closed coolant"], "drain"),
    ],
)
def test_the_act_is_one_that_protects_this_circuit(profile, circuit, words, never):
    said = act(profile, circuit)
    assert all(word in said for word in words), said
    assert never not in said


@pytest.mark.parametrize("profile", sorted(PROFILES))
def test_every_circuit_of_every_profile_has_an_act_and_a_way(profile):
    for one in PROFILES[profile].circuits:
        assert one.circuit.ways, one.circuit.id
        assert act(profile, one.circuit.id).startswith("Before 22:00, ")


@pytest.mark.parametrize("standing", [Standing.ICING, Standing.SOLID, Standing.SUSPECT])
def test_nobody_is_told_to_start_an_engine_that_holds_ice(standing):
    said = act("pwc-two-stroke", "water-box", standing)
    assert said.startswith("Do not start")
    assert "look for leaks" in said
    assert "propylene" not in said
    assert "more step" in said  # of its plan, once somebody has looked


def test_a_weak_mix_is_treated_again():
    held = scene.mix(-5.0)
    assert (held.state, held.basis) == (LayupState.PROVEN, Basis.MEASURED)
    said = said_of(Standing.EXPOSED, scene.circuit(drainage=Drainage.NONE), held)
    assert said.startswith("Before 22:00, run ")
    assert "through the head passages" in said


def test_a_circuit_that_needs_a_hot_engine_is_probed_and_filled_by_hand():
    said = act("sterndrive-raw-water", "block")
    wanted = ("probe every drain", "then put the drains back and fill", "by hand")
    assert all(words in said for words in wanted), said
    assert "run about" not in said


def test_a_blocked_passage_is_opened_and_never_run_through():
    """Nothing came out: whatever goes in next may not get through either."""
    one = PROFILES["pwc-two-stroke"].find("cylinder-passages").circuit
    held = replace(scene.water("cylinder-passages", LayupState.UNPROVEN), blocked=True)
    said = said_of(Standing.EXPOSED, one, held)
    assert said.startswith("Before 22:00, find what blocks")
    assert "probe" in said
    assert "run about" not in said


def test_a_thin_margin_asks_for_the_first_step_of_the_plan():
    circuit = scene.circuit(drainage=Drainage.NONE)
    thin = said_of(Standing.THIN, circuit, scene.mix(-9.0), None, -8.0)
    assert thin == "Read a sample of the head passages when convenient."
    bare = said_of(Standing.THIN, circuit, scene.water(), None, 0.5)
    assert "before a colder night, run " in bare


def test_a_plan_stays_as_it_was_told_while_the_low_moves_by_tenths():
    """Else its quantity and its reading would change under the hands of who is doing it."""
    circuit = scene.circuit(drainage=Drainage.NONE)
    planned = [
        frost_act(Standing.EXPOSED, scene.RACK, circuit, scene.water(), (), None, low_c)
        for low_c in (-11.4, -11.6)
    ]
    assert planned[0] == planned[1]


def test_an_hour_that_has_passed_is_no_deadline_to_be_met():
    words = words_for(scene.yard_of(scene.RACK), scene.local(14, 14))
    at = words.now
    assert before_deadline(scene.local(14, 22), words, at) == "before 22:00"
    assert before_deadline(scene.local(14, 14), words, at) == "now"
    assert before_deadline(None, words, at) == "today"


def test_what_follows_ice_is_planned_once_for_all_rounds(monkeypatch):
    calls = []

    def counted(*given, **more):
        calls.append(given)
        return steps_after_ice(*given, **more)

    monkeypatch.setattr(act_module, "steps_after_ice", counted)
    circuit = scene.circuit(id="planned-once", drainage=Drainage.NONE)
    rounds = [
        frost_act(Standing.SUSPECT, scene.RACK, circuit, scene.water("planned-once"), (), TEN, low)
        for low in (-11.4, -11.6, -11.4)
    ]
    assert rounds[0] == rounds[1] == rounds[2]
    assert len(calls) == 1
    colder = frost_act(
        Standing.SUSPECT, scene.RACK, circuit, scene.water("planned-once"), (), TEN, -20.0
    )
    icing = frost_act(
        Standing.ICING, scene.RACK, circuit, scene.water("planned-once"), (), TEN, -11.4
    )
    assert len(calls) == 3
    assert len(icing.steps) == len(rounds[0].steps) + 1, "thawed first"
    assert colder.by == rounds[0].by
