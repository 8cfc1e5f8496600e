from dataclasses import replace
from datetime import timedelta

from monitor.reports.alarm_groups import by_cause
from monitor.yard.alarm import AlarmState, Priority
from tests.reports import kettlemoss as yard_of

FROST, SILENCE, BATTERY = yard_of.alarms()


def many(count, **changes):
    return [
        replace(FROST, id=f"a{n}", raised_at=FROST.raised_at + timedelta(minutes=n), **changes)
        for n in range(count)
    ]


def test_a_cold_night_over_a_yard_is_one_group_with_the_oldest_first():
    (group,) = by_cause(reversed(many(40)))
    assert len(group.alarms) == 40
    assert group.alarms[0].id == "a0"
    assert group.unacknowledged == 40


def test_what_nobody_has_taken_on_comes_before_what_ranks_higher():
    taken = replace(FROST, state=AlarmState.ACKNOWLEDGED, priority=Priority.HIGH)
    waiting = replace(SILENCE, state=AlarmState.UNACKNOWLEDGED, priority=Priority.LOW)
    assert [group.cause for group in by_cause([taken, waiting])] == ["silence", "frost"]


def test_of_two_that_wait_the_higher_priority_comes_first():
    low = replace(BATTERY, state=AlarmState.UNACKNOWLEDGED)
    assert [group.cause for group in by_cause([low, FROST])] == ["frost", "battery"]


def test_alarms_that_are_held_back_are_counted_apart():
    held = (AlarmState.SHELVED, AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE)
    (group,) = by_cause([replace(FROST, id=str(state), state=state) for state in held] + [FROST])
    assert (group.held_back, group.unacknowledged) == (3, 1)


def test_each_craft_is_named_once():
    (group,) = by_cause([FROST, replace(FROST, id="b"), replace(FROST, id="c", craft="K5")])
    assert group.craft == ("K11", "K5")


def test_no_alarms_make_no_group():
    assert by_cause([]) == ()
