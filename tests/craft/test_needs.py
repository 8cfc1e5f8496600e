"""What is missing: acts, quantities, and that doing them is enough."""

from dataclasses import replace

import pytest
from CoolProp.CoolProp import PropsSI

from monitor.craft.layup import Act, LayupEntry, Liquid, OilLook, Outflow, Posture, Product
from monitor.craft.needs import NEW_MARGIN_K, STANDING_MARGIN_K, Need, needs
from monitor.craft.record import CraftRecord
from monitor.craft.rules.examine import examine
from monitor.yard.assessment import Caution
from tests.craft.scene import EVE, SHELTERS, STRONG, TWO_STROKE, held, record, twelve, work

LOW_C = -12.0
ACTS = {
    "drain": Act.DRAINED,
    "run through": Act.ANTIFREEZE_RUN_THROUGH,
    "pour in": Act.ANTIFREEZE_POURED,
    "change oil": Act.OIL_CHANGED,
    "test": Act.INSPECTED,
    "read a sample": Act.INSPECTED,
    "blow out": Act.BLOWN_OUT,
    "take the battery to the bench": Act.BATTERY_REMOVED,
}


def missing(craft: str, low_c: float = LOW_C) -> list[Need]:
    return needs(twelve()[craft], SHELTERS, EVE, low_c)


def done(need: Need, craft: str) -> LayupEntry:
    """The entry of a person who did just that."""
    return work(
        ACTS[need.act],
        0,
        *need.circuits,
        at=EVE,
        craft=craft,
        id=f"done-{need.act.replace(' ', '-')}-{'-'.join(need.circuits)}",
        dry=True if need.act in {"drain", "blow out"} else None,
        posture=Posture.UPRIGHT if need.act == "drain" else None,
        oil=OilLook.CLEAR if need.act == "change oil" else None,
        ice_point_c=LOW_C - NEW_MARGIN_K if need.act in {"test", "read a sample"} else None,
        outflow=Outflow.FULL_COLOUR if need.quantity_l else Outflow.NOT_LOOKED,
        quantity_l=need.quantity_l,
        engine_hot=True,
        space="bench" if "battery" in need.act else "",
        product=Product(name="jug", liquid=Liquid.PROPYLENE, strength=need.strength)
        if need.strength
        else None,
    )


@pytest.mark.parametrize("craft", ["k1", "k6"])
def test_nothing_is_missing_from_a_good_lay_up(craft):
    assert missing(craft) == []


@pytest.mark.parametrize("craft", [f"k{n}" for n in range(1, 13)])
def test_doing_what_is_missing_makes_the_craft_safe(craft):
    before: CraftRecord = twelve()[craft]
    acts = tuple(done(one, craft) for one in missing(craft))
    after = replace(before, entries=before.entries + acts)
    assert needs(after, SHELTERS, EVE, LOW_C) == []
    for one in held(after).values():
        assert one.ice_point_c <= LOW_C - STANDING_MARGIN_K


@pytest.mark.parametrize("craft", ["k2", "k3", "k5", "k7", "k8", "k9", "k11", "k12"])
def test_no_act_on_the_list_can_be_spared(craft):
    before = twelve()[craft]
    acts = [done(one, craft) for one in missing(craft)]
    for spared in range(len(acts)):
        rest = tuple(one for n, one in enumerate(acts) if n != spared)
        assert needs(replace(before, entries=before.entries + rest), SHELTERS, EVE, LOW_C)


def test_a_blocked_passage_is_drained_not_poured_again():
    first = missing("k2")[0]
    assert (first.act, first.circuits) == ("drain", ("cylinder-passages",))
    assert first.quantity_l is None


def test_circuits_of_one_flow_are_one_act():
    acts = [one for one in missing("k12") if one.act == "run through"]
    assert [set(one.circuits) for one in acts] == [set(TWO_STROKE)]


def test_the_battery_aboard_is_an_act_of_its_own():
    assert [one.act for one in missing("k4")] == ["take the battery to the bench"]


def test_the_quantity_makes_the_mix_that_is_asked_for():
    # Worked back with CoolProp's density and freezing point of propylene glycol (MPG).
    [need] = [one for one in missing("k12") if one.quantity_l]
    volume = sum(twelve()["k12"].profile.find(name).circuit.volume_l for name in need.circuits)
    fluid = f"INCOMP::MPG[{need.strength}]"
    product_kg = PropsSI("D", "T", 293.15, "P", 101325, fluid) / 1000 * need.quantity_l
    mixed = need.strength * product_kg / (product_kg + 0.9982 * volume)
    ice_c = PropsSI("T_freeze", "T", 293.15, "P", 101325, f"INCOMP::MPG[{mixed}]") - 273.15
    assert ice_c == pytest.approx(LOW_C - NEW_MARGIN_K, abs=0.4)
    assert ice_c <= LOW_C - NEW_MARGIN_K


def test_what_stands_in_there_already_is_built_on():
    # A raw side that reads -5 °C needs less than one full of water.
    thin = work("antifreeze-run-through", 0, *TWO_STROKE, product=STRONG, ice_point_c=-5.0)
    [from_thin] = [
        one for one in needs(record(thin), SHELTERS, EVE, LOW_C) if one.act == "run through"
    ]
    [from_water] = [
        one for one in needs(record(), SHELTERS, EVE, LOW_C) if one.act == "run through"
    ]
    assert from_thin.strength == from_water.strength == 0.5
    assert from_thin.quantity_l < 0.8 * from_water.quantity_l


def test_no_mix_holds_at_the_pole():
    words = " ".join(one.words for one in missing("k12", -60.0))
    assert "No glycol mix holds -65.0 °C" in words


def test_above_freezing_nothing_is_missing_but_a_battery():
    assert missing("k5", 1.0) == []


def test_every_care_is_a_caution_with_words():
    known = {one.value for one in Caution}
    for craft in twelve():
        for need in missing(craft):
            assert {str(care) for care in need.cautions} <= known


def test_glycol_acts_carry_the_glycol_caution_and_runs_the_exhausts():
    [run] = [one for one in missing("k12") if one.act == "run through"]
    assert {str(care) for care in run.cautions} == {"glycol", "carbon monoxide"}


def test_the_rules_are_silent_on_circuits_once_all_is_done():
    before = twelve()["k9"]
    acts = tuple(done(one, "k9") for one in missing("k9"))
    after = replace(before, entries=before.entries + acts)
    assert "circuit-missing" not in {one.rule for one in examine(after, SHELTERS, EVE)}
