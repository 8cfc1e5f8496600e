"""Judging one part of each kind must tell the same as judging every part."""

from datetime import timedelta

import numpy as np

from monitor.craft.profile import Chemistry, Surface
from monitor.craft.stored import Battery, BatteryPlace
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.grouped_judgements import GroupedJudgements, key_of
from monitor.judgement.groups import group_parts, part_groups
from monitor.judgement.judge import judge_groups, judge_yard
from monitor.phrases.figures import figures_of
from monitor.yard.assessment import Hazard
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor
from tests.judgement import scene

NOW = scene.local(15, 4)
PROBE = Sensor(
    name="probe", space="long-shed", mount=Mount.SURFACE, craft="k3", circuit="head",
    labels={"temperature": Channel.TEMPERATURE},
)  # fmt: skip
YARD = scene.yard_of(scene.SHED, scene.RACK, sensors=(PROBE,))


def readings():
    since = NOW - timedelta(hours=97)
    swing = lambda hours: 0.5 - 4.0 * np.cos(2 * np.pi * hours / 24.0)  # noqa: E731
    found = {}
    for space in (scene.SHED, scene.RACK):
        found |= scene.trace(f"air-{space.id}", Channel.TEMPERATURE, swing, since, NOW)
        found |= scene.trace(
            f"air-{space.id}", Channel.HUMIDITY, lambda hours: 80.0 - 2.0 * swing(hours), since, NOW
        )
    return found | scene.trace("probe", Channel.TEMPERATURE, 3.0, since, NOW)


def stored(number, space=scene.SHED, holds=scene.water, **more):
    battery = Battery(
        chemistry=Chemistry.AGM, capacity_ah=20.0, lag_low_h=2.0, lag_high_h=4.0,
        place=BatteryPlace.ABOARD, space=space.id, maintained=False,
    )  # fmt: skip
    return scene.stored(
        space,
        (scene.circuit(), holds("head")),
        (scene.circuit(6.0, id="box", name="Box"), holds("box")),
        craft_id=f"k{number}",
        surfaces=(Surface(id="b", name="Block", lag_low_h=3.0, lag_high_h=6.0, length_m=0.3),),
        battery=battery,
        **more,
    )


CRAFT = [
    *(stored(n) for n in range(6)),
    *(stored(n, scene.RACK) for n in range(6, 9)),
    *(stored(n, holds=lambda name: scene.mix(-4.0, name)) for n in range(9, 12)),
    stored(12, since=NOW - timedelta(hours=5)),
    stored(13, since=NOW - timedelta(days=40)),
]
OWNED = {Hazard.FROST, Hazard.DAMP, Hazard.BATTERY}


def key(judged):
    return (judged.hazard, judged.subject.craft, judged.subject.part)


def stands_for(kinds):
    return {part: by for part, (by, _) in kinds.kind_of.items()}


def verdicts(judged):
    return {
        key(each): (each.standing, each.now_c, each.low_c, each.limit_c, each.deadline)
        for each in judged
        if each.hazard in OWNED and each.subject.craft
    }


def test_every_part_gets_the_verdict_that_it_would_get_itself():
    everyone = verdicts(judge_yard(YARD, CRAFT, readings(), NOW))
    kinds = group_parts(CRAFT, GroupedJudgements({}), frozenset({"k3"}), NOW)
    few = verdicts(judge_yard(YARD, kinds.craft, readings(), NOW))
    assert len(few) < len(everyone) / 2
    assert stands_for(kinds).keys() == everyone.keys()
    for part, judged in stands_for(kinds).items():
        np.testing.assert_equal(everyone[part], few[judged])


def test_a_look_told_part_by_part_is_the_judgement_of_each_with_the_same_acts():
    nothing = GroupedJudgements({})
    kinds = part_groups(YARD, CRAFT, nothing, NOW)
    found = judge_groups(YARD, kinds, readings(), NOW, nothing, Memory())
    told = {key_of(each): each for each in found.assessments_in_order(YARD, NOW)}
    everyone = judge_yard(YARD, CRAFT, readings(), NOW)
    assert len(told) == len(everyone) > len(found.judged)
    assert any(each.turn for each in everyone)
    for each in everyone:
        other = told[key_of(each)]
        assert (other.subject, other.facts) == (each.subject, each.facts)
        assert (other.standing, other.deadline) == (each.standing, each.deadline)
        assert other.turn == each.turn


def test_a_craft_with_its_own_probe_stands_for_nobody_else():
    kinds = group_parts(CRAFT, GroupedJudgements({}), frozenset({"k3"}), NOW)
    assert {part for part, by in stands_for(kinds).items() if "k3" in (part[1], by[1])} == {
        part for part in stands_for(kinds) if part[1] == "k3"
    }


def test_what_has_been_through_ice_is_not_like_what_has_not():
    judged = judge_yard(YARD, CRAFT, readings(), NOW)
    known = {key(each): each for each in judged if each.subject.craft == "k0"}
    assert any("iced_at_unix_s" in figures_of(each) for each in known.values())
    kinds = group_parts(CRAFT, GroupedJudgements(known), frozenset(), NOW)
    assert stands_for(kinds)[Hazard.FROST, "k0", "head"][1] == "k0"
    assert stands_for(kinds)[Hazard.FROST, "k1", "head"][1] == "k1"
    assert stands_for(kinds)[Hazard.FROST, "k2", "head"][1] == "k1"
