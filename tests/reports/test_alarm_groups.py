from dataclasses import replace
from datetime import timedelta

from monitor.reports.alarm_groups import by_cause, pressing_first, tally
from monitor.yard.alarm import AlarmState, Priority
from monitor.yard.assessment import Urgency
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
    assert (group.suppressed_count, group.unacknowledged) == (3, 1)


def test_each_craft_is_named_once():
    (group,) = by_cause([FROST, replace(FROST, id="b"), replace(FROST, id="c", craft="K5")])
    assert group.craft == ("K11", "K5")


def test_no_alarms_make_no_group():
    assert by_cause([]) == ()


def test_alarms_come_in_the_order_in_which_a_person_takes_them_on():
    now = FROST.raised_at + timedelta(days=1)
    soon = replace(
        FROST,
        state=AlarmState.UNACKNOWLEDGED,
        priority=Priority.HIGH,
        urgency=Urgency.EXPECTED,
        deadline=now + timedelta(hours=1),
    )
    in_order = [
        replace(soon, id="at once", urgency=Urgency.IMMEDIATE, deadline=None),
        replace(soon, id="in an hour"),
        replace(soon, id="tomorrow", deadline=now + timedelta(days=1)),
        replace(soon, id="without an hour", deadline=None),
        replace(soon, id="an hour ago", deadline=now - timedelta(hours=1)),
        replace(soon, id="yesterday", deadline=now - timedelta(days=1)),
        replace(soon, id="lower", priority=Priority.LOW),
        replace(soon, id="taken on", state=AlarmState.ACKNOWLEDGED),
        replace(soon, id="over", state=AlarmState.RETURNED),
        replace(soon, id="shelved", state=AlarmState.SHELVED),
        replace(soon, id="suppressed", state=AlarmState.SUPPRESSED),
    ]
    assert pressing_first(reversed(in_order), now) == in_order
    assert tally(in_order) == (
        "7 not acknowledged (6 high, 1 low), 1 acknowledged, 1 over but not acknowledged,"
        " 1 shelved, 1 not told on purpose"
    )
