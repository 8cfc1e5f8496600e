from dataclasses import replace
from datetime import timedelta
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.plan.step import JobStep, StepKind
from monitor.craft.protection import Basis, LayupState
from monitor.phrases.standings import is_well, worst_first
from monitor.reports.picture import compose_picture
from monitor.reports.sentences import state_of_things
from monitor.yard.assessment import STANDINGS, Assessment, Hazard, Standing, Subject, Urgency
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.readers import words_for
from tests.reports import kettlemoss as yard_of
from tests.written import basis_said, written

YARD, CRAFT = yard_of.yard(), yard_of.craft()


def picture(assessments=None, craft=CRAFT):
    judged = yard_of.assessments() if assessments is None else assessments
    return compose_picture(YARD, craft, judged, yard_of.alarms()[:2], yard_of.KETTLEMOSS_NOW)


def frost(standing, part="cylinders", craft="K1", act="", hazard=Hazard.FROST, **facts):
    return Assessment(
        subject=Subject("long-shed", craft, part),
        hazard=hazard,
        standing=standing,
        at=yard_of.AT,
        **written("by hand", act),
        **facts,
    )


def test_the_tasks_come_in_the_order_of_time_to_damage():
    # The order of times to first ice that the judgements themselves carry; Sora's battery freezes
    # last by the clock.
    names = [task.craft[0].name for task in picture().tasks if task.craft]
    assert names == [
        "Osprey", "Bittern", "Pintail", "Dipper", "Killdeer", "Grebe", "Plover", "Heron", "Sora",
    ]  # fmt: skip


def test_craft_that_hold_are_nobodys_task():
    named = {one.name for task in picture().tasks for one in task.craft}
    assert named.isdisjoint({"Teal", "Coot", "Loon"})


def test_a_craft_is_visited_once_with_all_that_is_wrong_with_it():
    plover = [task for task in picture().tasks if any(c.name == "Plover" for c in task.craft)]
    assert [len(task.reasons) for task in plover] == [2]


def test_two_craft_that_are_kept_damp_are_two_visits_and_sweating_metal_is_one_for_its_shed():
    def damp(craft, standing):
        return frost(standing, part="engine", craft=craft, act=f"Dry {craft}.", hazard=Hazard.DAMP)

    kept = picture([damp(craft, Standing.DRY) for craft in ("K1", "K2")]).tasks
    assert sorted(task.craft[0].id for task in kept) == ["K1", "K2"]
    assert all(task.can_wait for task in kept)
    (shed,) = picture([damp(craft, Standing.SWEATING) for craft in ("K1", "K2")]).tasks
    assert [one.id for one in shed.craft] == ["K1", "K2"]


def test_what_is_immediate_comes_before_any_deadline():
    now = frost(Standing.EXPOSED, act="Drain.", urgency=Urgency.IMMEDIATE)
    soon = frost(
        Standing.EXPOSED,
        craft="K2",
        act="Drain.",
        urgency=Urgency.EXPECTED,
        deadline=yard_of.AT + timedelta(minutes=1),
    )
    tasks = picture([soon, now]).tasks
    assert [task.craft[0].id for task in tasks] == ["K1", "K2"]
    assert tasks[0].by is None


def test_what_can_still_be_saved_comes_before_what_is_lost_and_heat_before_all():
    lost = frost(Standing.SOLID, act="Do not start.", urgency=Urgency.IMMEDIATE, margin_k=-14.0)
    soon = frost(
        Standing.EXPOSED,
        craft="K2",
        act="Drain.",
        urgency=Urgency.EXPECTED,
        deadline=yard_of.AT + timedelta(hours=2),
    )
    icing = frost(
        Standing.ICING, craft="K8", part="block", act="Warm it.", urgency=Urgency.IMMEDIATE
    )
    heat = Assessment(
        subject=Subject("stove-barn"),
        hazard=Hazard.AIR,
        standing=Standing.FALLING,
        at=yard_of.AT,
        **written("by hand", "Look at the heater."),
        urgency=Urgency.IMMEDIATE,
    )
    shown = picture([lost, soon, icing, heat])
    # With ice in it a craft is left alone: nobody may read of it before what can be saved.
    assert [task.first for task in shown.tasks[:2]] == [heat, soon]
    assert [task.has_ice for task in shown.tasks] == [False, False, True, True]
    said = state_of_things(shown, words_for(YARD, yard_of.KETTLEMOSS_NOW))
    assert said.startswith(
        "Stove Barn is losing its heat. 1 of 12 craft needs work tonight: Plover,"
    )


def test_a_circuit_that_is_lost_does_not_hide_another_that_can_be_saved():
    lost = frost(Standing.SOLID, act="Do not start.", urgency=Urgency.IMMEDIATE)
    soon = frost(
        Standing.EXPOSED,
        part="water-box",
        act="Drain.",
        urgency=Urgency.EXPECTED,
        deadline=yard_of.AT + timedelta(hours=2),
    )
    (task,) = picture([lost, soon]).tasks
    assert task.first is soon
    assert task.by == soon.deadline


def test_ice_leads_what_only_wants_doing_some_time_on_the_same_craft():
    frozen = frost(Standing.SUSPECT, act="Do not start.", urgency=Urgency.EXPECTED)
    again = replace(
        frost(Standing.VOIDED, act="Lay it up again.", hazard=Hazard.RECORD),
        urgency=Urgency.EXPECTED,
        deadline=yard_of.AT - timedelta(days=5),
    )
    thin = frost(Standing.THIN, act="Read a sample again.", urgency=Urgency.FUTURE)
    (task,) = picture([again, thin, frozen]).tasks
    assert task.first.standing is Standing.SUSPECT


def test_a_battery_that_wants_reading_some_time_hides_no_ice_on_the_same_craft():
    # Seven craft stood so in a simulated November: "Measure its voltage" was all that was read.
    frozen = frost(Standing.SUSPECT, act="Do not start.", urgency=Urgency.EXPECTED)
    unread = frost(
        Standing.NOT_KNOWN, part="battery", act="Measure it.", hazard=Hazard.BATTERY,
        urgency=Urgency.UNKNOWN,
    )  # fmt: skip
    (task,) = picture([unread, frozen]).tasks
    assert task.first is frozen
    assert task.has_ice
    # One that may freeze can be saved tonight, and goes before.
    freezing = replace(unread, standing=Standing.FREEZING, urgency=Urgency.EXPECTED)
    (task,) = picture([freezing, frozen]).tasks
    assert task.first is freezing


def test_one_silent_thermometer_is_one_errand_not_one_for_each_circuit():
    act = "Read a thermometer by hand."
    blind = [
        frost(Standing.NOT_KNOWN, part=circuit.id, craft=one.id, act=act)
        for one in CRAFT
        if one.space == "long-shed"
        for circuit in one.circuits
    ]
    (task,) = picture(blind).tasks
    assert len(task.steps) == 1
    assert {one.name for one in task.craft} == {"Teal", "Plover", "Heron"}


def test_circuits_that_one_job_saves_are_one_step_of_the_visit():
    job = PlannedAct(occasion=Occasion.BEFORE_ICE, steps=(JobStep(kind=StepKind.RUN_ANTIFREEZE),))
    facts = FrostFacts(layup=LayupState.UNKNOWN, basis=Basis.UNKNOWN, act=job)
    circuits = [
        frost(Standing.EXPOSED, part=part, urgency=Urgency.EXPECTED)
        for part in ("cylinders", "exhaust", "hoses")
    ]
    judged = [replace(one, facts=facts, calls_for_act=True) for one in circuits]
    (task,) = picture(judged).tasks
    assert (len(task.reasons), len(task.steps)) == (3, 1)


def test_damp_on_many_craft_is_one_errand_for_the_space_and_comes_after_frost():
    damp = [
        Assessment(
            subject=Subject("long-shed", craft, "block"),
            hazard=Hazard.DAMP,
            standing=Standing.SWEATING,
            at=yard_of.AT,
            **written("below the dew point", f"Keep the doors shut until {craft} is warm."),
            deadline=yard_of.AT,
            urgency=Urgency.EXPECTED,
        )
        for craft in ("K1", "K2", "K8")
    ]
    ice = frost(
        Standing.EXPOSED,
        craft="K8",
        part="block",
        act="Drain.",
        urgency=Urgency.EXPECTED,
        deadline=yard_of.AT + timedelta(hours=9),
    )
    tasks = picture([*damp, ice]).tasks
    assert [task.first.hazard for task in tasks] == [Hazard.FROST, Hazard.DAMP]
    assert len(tasks[1].steps) == 1
    assert len(tasks[1].craft) == 3


@pytest.mark.parametrize(
    ("standing", "urgency", "times"),
    [
        (Standing.EXPOSED, Urgency.EXPECTED, 1),
        (Standing.THIN, Urgency.FUTURE, 2),  # frost that can wait must not hide damp that cannot
    ],
)
def test_damp_on_one_craft_alone_is_seen_to_with_its_frost(standing, urgency, times):
    facts = {"urgency": urgency, "deadline": yard_of.AT + timedelta(hours=9)}
    ice = frost(standing, craft="K8", part="block", act="Drain.", **facts)
    wet = replace(
        ice,
        hazard=Hazard.DAMP,
        standing=Standing.SWEATING,
        **written("by hand", "Keep the doors shut."),
        urgency=Urgency.EXPECTED,
        deadline=yard_of.AT + timedelta(hours=1),
    )
    tasks = picture([wet, ice]).tasks
    assert len(tasks) == times
    said = {step.facts.act for task in tasks for step in task.steps}
    assert said == {"Drain.", "Keep the doors shut."}
    if times == 1:
        assert tasks[0].first.hazard is Hazard.FROST


def test_a_margin_that_is_only_thin_can_wait_and_is_nobodys_need():
    thin = frost(
        Standing.THIN,
        act="Read a sample again.",
        urgency=Urgency.FUTURE,
        deadline=yard_of.AT + timedelta(hours=9),
    )
    shown = picture([thin])
    assert [task.can_wait for task in shown.tasks] == [True]
    said = state_of_things(shown, words_for(YARD, yard_of.KETTLEMOSS_NOW))
    assert "work tonight" not in said
    assert "1 of 12 craft to keep an eye on" in said


def test_a_craft_with_two_errands_counts_once():
    # Its circuit is one errand, its battery on the bench another.
    battery = Assessment(
        subject=Subject("bench", "K1", "battery"),
        hazard=Hazard.BATTERY,
        standing=Standing.LOST,
        at=yard_of.AT,
        **written("by hand", "See to the maintainer."),
        urgency=Urgency.EXPECTED,
    )
    ice = frost(Standing.ICING, act="Do not start.", urgency=Urgency.IMMEDIATE)
    shown = picture([battery, ice])
    assert len(shown.tasks) == 2
    said = state_of_things(shown, words_for(YARD, yard_of.KETTLEMOSS_NOW))
    assert said.startswith(
        "1 of 12 craft needs work tonight: Teal. 1 has ice inside: leave it alone."
    )


def test_a_circuit_that_was_not_judged_is_shown_as_not_known_and_not_as_holding():
    teal = next(one for one in picture([]).craft if one.craft.name == "Teal")
    assert {a.standing for a in teal.circuits} == {Standing.NOT_KNOWN}
    assert "outflow read −30 °C" in basis_said(teal.circuits[0], YARD, teal.craft)


def test_a_space_that_was_not_judged_is_shown_as_not_known():
    assert {one.air.standing for one in picture([]).spaces} == {Standing.NOT_KNOWN}


def test_judgements_of_a_craft_that_has_left_are_left_out():
    stayed = [one for one in CRAFT if one.name != "Osprey"]
    shown = picture(craft=stayed)
    assert all(one.craft.name != "Osprey" for one in shown.craft)
    assert all(one.name != "Osprey" for task in shown.tasks for one in task.craft)


def test_the_worst_circuit_of_the_worst_craft_comes_first():
    first = picture().craft[0]
    assert (first.craft.name, first.worst.subject.part) == ("Osprey", "galley")


def test_a_battery_that_may_freeze_lifts_its_craft_above_those_that_are_well():
    names = [one.craft.name for one in picture().craft]
    assert names.index("Sora") < min(names.index(well) for well in ("Loon", "Teal", "Coot"))


def test_each_caution_is_given_once():
    cautions = picture().cautions()
    assert len(cautions) == len(set(cautions)) == 4


FROST = sorted(STANDINGS[Hazard.FROST])


@given(
    st.lists(
        st.tuples(st.sampled_from(FROST), st.floats(-60, 60) | st.sampled_from([nan, inf])),
        min_size=1,
        max_size=12,
    )
)
def test_any_mixture_of_standings_and_margins_can_be_put_in_order(mixture):
    judged = [
        frost(standing, part=str(n), margin_k=margin)
        for n, (standing, margin) in enumerate(mixture)
    ]
    in_order = sorted(judged, key=worst_first)
    quiet = [is_well(a) for a in in_order]
    assert quiet == sorted(quiet)  # nothing that is well stands before anything that is not


def test_a_margin_that_is_not_known_stands_behind_the_known_ones():
    known, unknown = frost(Standing.THIN, margin_k=1.0), replace(frost(Standing.THIN), margin_k=nan)
    assert sorted([unknown, known], key=worst_first)[0] is known
