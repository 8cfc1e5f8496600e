"""Which alarms are written: soon whatever a person sees, and nothing for mere noise."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.causes.alarm_write_filter import AlarmWriteFilter
from monitor.alarms.causes.lifecycle import AlarmStep
from monitor.yard.alarm import Alarm, AlarmState, Priority
from monitor.yard.alarm_facts import Blindness, FinishedLine, HeadlineFacts
from monitor.yard.assessment import Certainty, Severity, Urgency
from monitor.yard.watch import Watch, WatchKey
from tests.alarms.scene import FOUR

MINUTE = timedelta(minutes=1)
BY = FOUR + timedelta(hours=5)
FROST = Alarm(
    id="a1",
    cause="frost",
    space="shed",
    craft="plover",
    part="head",
    state=AlarmState.UNACKNOWLEDGED,
    priority=Priority.HIGH,
    raised_at=FOUR,
    changed_at=FOUR,
    urgency=Urgency.FUTURE,
    severity=Severity.SEVERE,
    certainty=Certainty.LIKELY,
    headline=HeadlineFacts(subject="Plover, head", deadline=BY, low_c=-5.0),
    deadline=BY,
)
KEY = WatchKey.of(FROST)


def with_figures(alarm=FROST, *, low_c=-5.0, by=BY):
    return replace(alarm, headline=replace(alarm.headline, low_c=low_c, deadline=by), deadline=by)


def due(chooser, row, alarm, at):
    """Which of the two lists it is in; None: it is not written."""
    step = AlarmStep(alarm, Watch(key=KEY), ())
    in_state, facts = chooser.choose_due({} if row is None else {KEY: row}, {KEY: step}, at)
    assert [*in_state, *facts] in ([], [alarm])
    return "state" if in_state else "facts" if facts else None


@pytest.fixture
def chooser():
    """One that has just refreshed all figures."""
    fresh = AlarmWriteFilter()
    due(fresh, FROST, FROST, FOUR)
    return fresh


def test_a_new_alarm_and_another_state_are_written_at_once(chooser):
    assert due(chooser, None, FROST, FOUR + MINUTE) == "state"
    answered = replace(FROST, state=AlarmState.ACKNOWLEDGED)
    assert due(chooser, FROST, answered, FOUR + MINUTE) == "state"
    assert due(chooser, FROST, FROST, FOUR + 20 * MINUTE) is None


@pytest.mark.parametrize(
    "change",
    [
        {"severity": Severity.EXTREME},
        {"urgency": Urgency.IMMEDIATE},
        {"certainty": Certainty.UNKNOWN},
        {"priority": Priority.LOW},
        {"space": "barn"},
        {"deadline": None},
        {"headline": replace(FROST.headline, begun=True)},
        {"headline": replace(FROST.headline, blind=Blindness.NO_READING)},
        {"headline": replace(FROST.headline, subject="Plover II, head")},
        {"headline": replace(FROST.headline, ice_point_c=-4.0)},
        {"headline": FinishedLine(text="Plover, head: frost")},
    ],
)
def test_whatever_does_not_run_on_is_written_at_once(chooser, change):
    assert due(chooser, FROST, replace(FROST, **change), FOUR + MINUTE) == "facts"


def test_a_deadline_that_moves_far_is_written_at_once(chooser):
    sooner = with_figures(by=BY - 15 * MINUTE)
    assert due(chooser, FROST, sooner, FOUR + MINUTE) == "facts"


@pytest.mark.parametrize(
    "moved", [with_figures(low_c=-5.11), with_figures(by=BY - 7 * MINUTE), with_figures(low_c=None)]
)
def test_a_figure_that_a_person_sees_to_move_is_written_within_ten_minutes(chooser, moved):
    assert due(chooser, FROST, moved, FOUR + 9 * MINUTE) is None
    assert due(chooser, FROST, moved, FOUR + 10 * MINUTE) == "facts"


def test_noise_is_never_written_and_a_slow_drift_is(chooser):
    for minute in range(1, 120):
        noisy = with_figures(low_c=-5.0 + 0.09 * (-1) ** minute, by=BY + 0.5 * MINUTE)
        assert due(chooser, FROST, noisy, FOUR + minute * MINUTE) is None
    row, written = FROST, []
    for minute in range(120, 240):  # 0.6 K in all
        drifted = with_figures(low_c=-5.0 - 0.005 * (minute - 119))
        if due(chooser, row, drifted, FOUR + minute * MINUTE):
            row = drifted
            written.append(drifted)
    assert len(written) >= 4
    assert abs(row.headline.low_c - drifted.headline.low_c) < 0.1 + 10 * 0.005


def test_a_minute_counts_when_the_deadline_is_near():
    near = with_figures(by=FOUR + 12 * MINUTE)
    chooser = AlarmWriteFilter()
    due(chooser, near, near, FOUR)
    sooner = with_figures(by=FOUR + 11 * MINUTE)
    assert due(chooser, near, sooner, FOUR + 10 * MINUTE) == "facts"


def test_a_clock_that_was_set_back_holds_no_figure_up(chooser):
    moved = with_figures(low_c=-6.0)
    assert due(chooser, FROST, moved, FOUR - timedelta(days=1)) == "facts"
