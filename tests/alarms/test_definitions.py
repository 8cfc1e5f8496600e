"""The alarm set holds what every alarm needs, and takes a yard's own limits."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.definitions import (
    DEFINITIONS,
    GRAVER,
    Adjustment,
    adjusted,
    priority_of,
)
from monitor.alarms.round import AlarmRound
from monitor.yard.alarm import Priority
from monitor.yard.assessment import Severity, Standing, Urgency
from monitor.yard.space import Role
from tests.alarms.scene import FOUR, Scene, craft, frost, later


@pytest.mark.parametrize("definition", DEFINITIONS.values(), ids=lambda each: each.cause)
def test_every_alarm_has_an_act_and_somebody_of_the_yard_who_can_do_it(definition):
    # ISA-18.2 / IEC 62682: what calls for no act of a person is no alarm.
    assert definition.act
    assert definition.tells & {Role.OPERATOR, Role.MECHANIC}
    assert definition.standings | definition.if_unproven


def test_what_must_never_be_missed_is_of_high_priority_and_waits_half_an_hour_at_most():
    never_missed = [each for each in DEFINITIONS.values() if each.never_missed]
    assert never_missed
    for each in never_missed:
        assert each.priority is Priority.HIGH, each.cause
        assert each.on_delay <= timedelta(minutes=30), each.cause


def test_graver_causes_exist():
    above = {cause for graver in GRAVER.values() for cause in graver}
    assert set(GRAVER) | above <= set(DEFINITIONS)


@pytest.mark.parametrize(
    ("severity", "urgency", "priority"),
    [
        (Severity.SEVERE, Urgency.IMMEDIATE, Priority.HIGH),
        (Severity.EXTREME, Urgency.EXPECTED, Priority.HIGH),
        (Severity.SEVERE, Urgency.FUTURE, Priority.MEDIUM),
        (Severity.MODERATE, Urgency.IMMEDIATE, Priority.MEDIUM),
        (Severity.MODERATE, Urgency.FUTURE, Priority.LOW),
        (Severity.MINOR, Urgency.IMMEDIATE, Priority.LOW),
        (Severity.UNKNOWN, Urgency.IMMEDIATE, Priority.HIGH),  # the definition's own
        (Severity.MINOR, Urgency.UNKNOWN, Priority.HIGH),
    ],
)
def test_priority_follows_damage_and_time_left(severity, urgency, priority):
    seen = replace(
        frost(craft("K1", "Teal", "shed"), Standing.EXPOSED, FOUR),
        severity=severity,
        urgency=urgency,
    )
    assert priority_of(DEFINITIONS["frost"], seen) is priority


def test_a_yard_may_wait_longer_and_tell_others(tmp_path):
    scene = Scene(tmp_path)
    own = adjusted(
        {"ice": Adjustment(on_delay=timedelta(hours=1), tells=frozenset({Role.MECHANIC}))}
    )
    scene.round = AlarmRound(scene.store, scene.yard, scene.clock, definitions=own)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    icing = frost(boat, Standing.ICING, FOUR)
    scene.judge(icing)
    scene.after(minutes=30)
    scene.judge(later(icing, scene.clock.now()))
    assert not scene.messages()
    scene.after(minutes=30)
    scene.judge(icing)
    assert [message.person for message in scene.messages()] == ["joss"]


@pytest.mark.parametrize(
    ("cause", "change", "said"),
    [
        ("frosst", Adjustment(), "there are battery-freezing"),
        ("ice", Adjustment(on_delay=timedelta(hours=2)), "must never be missed"),
        ("damp", Adjustment(off_delay=timedelta(hours=-1)), "negative"),
        ("damp", Adjustment(tells=frozenset({Role.OWNER})), "nobody of the yard"),
    ],
)
def test_limits_that_would_hide_an_alarm_are_refused(cause, change, said):
    with pytest.raises(ValueError, match=said):
        adjusted({cause: change})
