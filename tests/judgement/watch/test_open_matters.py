"""What a craft's record asks for, in words: who did what, when, and what is to be done now."""

from datetime import timedelta

import pytest

from monitor.craft.craft_condition import Unsettled, UnsettledKind
from monitor.craft.layup import Act
from monitor.craft.protection import LayupState
from monitor.judgement.judge import judge_yard
from monitor.judgement.watch.judge import COVER, LAY_UP, WRAP
from monitor.yard.assessment import Caution, Hazard, Severity, Standing, Urgency
from tests.judgement import scene

NOW = scene.local(14, 20)


def on_record(*matters):
    craft = scene.stored(
        scene.RACK, (scene.circuit(), scene.water(state=LayupState.VOID)), unsettled=matters
    )
    judged = judge_yard(scene.yard_of(scene.RACK), [craft], {}, NOW)
    return {each.subject.part: each for each in judged if each.hazard is Hazard.RECORD}


def matter(kind, act=None, circuits=()):
    at = NOW - timedelta(days=2)
    return Unsettled(kind=kind, at=at, by="Tom Varga", act=act, circuits=circuits)


@pytest.mark.parametrize(
    ("said", "part", "standing", "weight"),
    [
        (
            matter(UnsettledKind.UNDONE, Act.RUN_ON_WATER, ("head",)),
            LAY_UP,
            Standing.VOIDED,
            (Severity.MODERATE, Urgency.EXPECTED),
        ),
        (
            matter(UnsettledKind.OUT_OF_HEAT, None, ("head",)),
            LAY_UP,
            Standing.OUT_OF_HEAT,
            (Severity.SEVERE, Urgency.IMMEDIATE),
        ),
        (
            matter(UnsettledKind.SNOW, Act.SNOW_LOAD),
            WRAP,
            Standing.SNOWED,
            (Severity.MODERATE, Urgency.EXPECTED),
        ),
        (
            matter(UnsettledKind.TORN, Act.COVER_TORN),
            COVER,
            Standing.TORN,
            (Severity.MINOR, Urgency.EXPECTED),
        ),
    ],
)
def test_each_open_matter_is_one_judgement_with_its_weight_and_its_act(
    said, part, standing, weight
):
    (found,) = on_record(said).values()
    assert (found.subject.part, found.standing) == (part, standing)
    assert (found.severity, found.urgency) == weight
    assert scene.act_words(found)
    assert "12 Nov" in scene.basis_words(found)


def test_a_record_in_order_is_not_judged():
    assert on_record() == {}


def test_out_of_the_heat_says_how_a_mistaken_entry_is_put_right():
    (found,) = on_record(matter(UnsettledKind.OUT_OF_HEAT, None, ("head",))).values()
    assert "`laidup layup move`" in scene.act_words(found)
    assert "kept warm" in scene.act_words(found)


def test_snow_is_cleared_from_the_ground():
    (found,) = on_record(matter(UnsettledKind.SNOW, Act.SNOW_LOAD)).values()
    assert "from the ground" in scene.act_words(found)
    assert Caution.SNOW_LOAD in found.cautions


def test_of_two_matters_of_the_lay_up_the_graver_is_told():
    found = on_record(
        matter(UnsettledKind.UNDONE, Act.RUN_ON_WATER, ("head",)),
        matter(UnsettledKind.OUT_OF_HEAT, None, ("head",)),
    )
    assert found[LAY_UP].standing is Standing.OUT_OF_HEAT


def test_undone_work_is_not_asked_for_again_without_a_look_for_ice():
    (found,) = on_record(matter(UnsettledKind.UNDONE, Act.RUN_ON_WATER, ("head",))).values()
    assert "thaw and look first, and do not start" in scene.act_words(found)
