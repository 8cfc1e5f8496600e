"""The act fits the circuit: what its profile says protects it, and nothing else.

The acts themselves are common practice, no source.
"""

from dataclasses import replace

import pytest

from monitor.craft.circuit import Drainage
from monitor.craft.protection import Basis, LayupState
from monitor.judgement.frost.act import before_deadline, frost_act
from monitor.judgement.speech import Speech
from monitor.settings.places import shipped_folder
from monitor.settings.profiles import load_profiles
from monitor.yard.assessment import Standing
from tests.judgement import scene

LOW_C = -12.0
PROFILES = load_profiles([shipped_folder() / "profiles"])


def act(profile: str, circuit: str, standing: Standing = Standing.EXPOSED) -> str:
    one = PROFILES[profile].find(circuit).circuit
    yard = scene.yard_of(scene.RACK)
    speech = Speech.for_yard(yard, scene.local(14, 15))
    held = scene.water(circuit)
    return frost_act(standing, scene.RACK, one, held, speech, scene.local(14, 22), LOW_C)


@pytest.mark.parametrize(
    ("profile", "circuit", "words", "never"),
    [
        ("outboard", "gearcase", ["Before 22:00", "oil out", "fresh oil"], "antifreeze"),
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
    yard = scene.yard_of(scene.RACK)
    said = frost_act(
        Standing.EXPOSED, scene.RACK, scene.circuit(drainage=Drainage.NONE), held,
        Speech.for_yard(yard, scene.local(14, 15)), scene.local(14, 22), LOW_C,
    )  # fmt: skip
    assert said.startswith("Before 22:00, run ")
    assert "through the head passages" in said


def test_a_circuit_that_needs_a_hot_engine_is_probed_and_filled_by_hand():
    said = act("sterndrive-raw-water", "block")
    assert all(words in said for words in ("probe every drain", "by hand")), said
    assert "run about" not in said


def test_a_blocked_passage_is_opened_and_never_run_through():
    """Nothing came out: whatever goes in next may not get through either."""
    one = PROFILES["pwc-two-stroke"].find("cylinder-passages").circuit
    held = replace(scene.water("cylinder-passages", LayupState.UNPROVEN), blocked=True)
    said = frost_act(
        Standing.EXPOSED,
        scene.RACK,
        one,
        held,
        Speech.for_yard(scene.yard_of(scene.RACK), scene.local(14, 15)),
        scene.local(14, 22),
        LOW_C,
    )
    assert said.startswith("Before 22:00, find what blocks")
    assert "probe" in said
    assert "run about" not in said


def test_a_thin_margin_asks_for_the_first_step_of_the_plan():
    yard = scene.yard_of(scene.RACK)
    speech = Speech.for_yard(yard, scene.local(14, 15))
    circuit = scene.circuit(drainage=Drainage.NONE)
    thin = frost_act(Standing.THIN, scene.RACK, circuit, scene.mix(-9.0), speech, None, -8.0)
    assert thin == "Read a sample of the head passages when convenient."
    bare = frost_act(Standing.THIN, scene.RACK, circuit, scene.water(), speech, None, 0.5)
    assert "before a colder night, run " in bare


def test_an_hour_that_has_passed_is_no_deadline_to_be_met():
    speech = Speech.for_yard(scene.yard_of(scene.RACK), scene.local(14, 14))
    assert before_deadline(speech, scene.local(14, 22)) == "before 22:00"
    assert before_deadline(speech, scene.local(14, 14)) == "now"
    assert before_deadline(speech, None) == "today"
