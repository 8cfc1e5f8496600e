"""The life of one alarm against the transitions of the standard, and against people's acts."""

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.alarms.causes.lifecycle import Observation, step_alarm
from monitor.alarms.definitions import DEFINITIONS
from monitor.errors import ActError
from monitor.yard.alarm import AlarmEvent, AlarmState, Priority
from monitor.yard.alarm_facts import Change, ChangeFacts, HeadlineFacts
from monitor.yard.assessment import Certainty, Severity, Standing
from monitor.yard.watch import Watch, WatchKey
from tests.alarms.scene import FOUR, Scene, craft, frost
from tests.tried import tried

# ISA-18.2 / IEC 62682 states and transitions in our own words; the names of the states agree
# with OPC 10000-9, their letters are from memory. Latched states (E, F) are optional and unused.
STANDARD = json.loads((Path(__file__).parent / "alarm_states.json").read_text())
LETTER = {
    AlarmState.NORMAL: "A",
    AlarmState.UNACKNOWLEDGED: "B",
    AlarmState.ACKNOWLEDGED: "C",
    AlarmState.RETURNED: "D",
    AlarmState.SHELVED: "G",
    AlarmState.SUPPRESSED: "H",
    AlarmState.OUT_OF_SERVICE: "I",
}
ALLOWED = {
    (before, after)
    for befores, _, after in STANDARD["transitions"]
    for before in befores.split(",")
}

BATTERY = DEFINITIONS["maintainer-lost"]
FROST = DEFINITIONS["frost"]
ICE = DEFINITIONS["ice"]
KEY = WatchKey(cause="frost", craft="K1", part="head-passages")
BOAT = craft("K1", "Teal", "shed")


def seen(condition, *, cause="frost", suppressed="", gone=False, severity=Severity.SEVERE, **facts):
    standing = Standing.EXPOSED if condition else Standing.HOLDING
    assessment = replace(frost(BOAT, standing, FOUR, **facts), severity=severity)
    return Observation(
        key=replace(KEY, cause=cause),
        space="shed",
        condition=condition,
        headline=HeadlineFacts(subject="Teal"),
        priority=Priority.HIGH,
        assessment=None if condition is None else assessment,
        suppressed=suppressed,
        gone=gone,
    )


def run(definition, *steps):
    """Take an alarm through (minutes, seen) and give back its state after each."""
    alarm, watch = None, Watch(key=replace(KEY, cause=definition.cause))
    states, events = [], []
    for minutes, what in steps:
        now = FOUR + timedelta(minutes=minutes)
        done = step_alarm(alarm, watch, what, definition, now)
        alarm, watch = done.alarm, done.watch
        events += done.events
        states.append(None if alarm is None else alarm.state)
        if alarm is not None and alarm.state is AlarmState.NORMAL:
            alarm = None
    return states, events


def test_an_alarm_waits_for_its_on_delay():
    on = BATTERY.on_delay / timedelta(minutes=1)
    states, _ = run(BATTERY, (0, seen(True)), (on - 1, seen(True)), (on, seen(True)))
    assert states == [None, None, AlarmState.UNACKNOWLEDGED]


def test_a_cause_that_lapses_within_the_on_delay_starts_to_wait_anew():
    on = BATTERY.on_delay / timedelta(minutes=1)
    states, _ = run(
        BATTERY, (0, seen(True)), (on - 1, seen(False)), (on, seen(True)), (on + 5, seen(True))
    )
    assert states == [None] * 4


def test_frost_ahead_is_told_at_once():
    assert run(FROST, (0, seen(True)))[0] == [AlarmState.UNACKNOWLEDGED]


def test_a_clock_that_was_set_back_keeps_no_cause_waiting():
    began = step_alarm(
        None, Watch(key=KEY), seen(True, cause="ice"), ICE, FOUR + timedelta(days=400)
    )
    again = step_alarm(None, began.watch, seen(True, cause="ice"), ICE, FOUR)
    due = step_alarm(None, again.watch, seen(True, cause="ice"), ICE, FOUR + ICE.on_delay)
    assert due.alarm is not None


def test_the_warmth_of_noon_does_not_end_a_cold_spell():
    cold, noon, next_evening = 0, 20 * 60, 24 * 60
    states, events = run(FROST, (cold, seen(True)), (noon, seen(False)), (next_evening, seen(True)))
    assert states == [AlarmState.UNACKNOWLEDGED] * 3
    assert len(events) == 1


def test_a_craft_that_was_treated_is_cleared_without_waiting_for_the_spell_to_end():
    treated = seen(False, limit_c=-30.0)
    states, events = run(FROST, (0, seen(True)), (60, treated))
    assert states[-1] is AlarmState.RETURNED
    assert events[-1].why.change is Change.MADE_SAFE


def test_a_craft_that_was_moved_is_cleared_without_waiting_for_the_spell_to_end():
    moved = replace(seen(False), space="barn")
    states, _ = run(FROST, (0, seen(True)), (60, moved))
    assert states[-1] is AlarmState.RETURNED


def test_what_is_not_known_after_somebody_has_carried_it_away_raises_nothing():
    """A battery within its on-delay is carried in, and there nobody knows its charge."""
    definition = DEFINITIONS["battery-freezing"]
    cold = seen(True, cause="battery-freezing")
    blind = replace(seen(None, cause="battery-freezing"), space="bench")
    steps = [(9 + minutes, blind) for minutes in range(0, 120, 10)]
    states, _ = run(definition, (0, cold), *steps)
    assert set(states) == {None}


def test_what_is_not_known_where_it_stood_is_still_raised():
    definition = DEFINITIONS["battery-freezing"]
    blind = seen(None, cause="battery-freezing")
    cold = seen(True, cause="battery-freezing")
    states, _ = run(definition, (0, cold), (9, blind), (31, blind))
    assert states[-1] is AlarmState.UNACKNOWLEDGED


def test_an_alarm_whose_input_has_gone_bad_says_so_once_and_does_not_clear():
    blind = seen(None)
    days = [(minutes, blind) for minutes in range(60, 5 * 24 * 60, 60)]
    states, events = run(ICE, (0, seen(True)), (16, seen(True)), (30, seen(False)), *days)
    assert states[-1] is AlarmState.UNACKNOWLEDGED
    assert [e.why for e in events if e.before is e.after] == [ChangeFacts(change=Change.BLIND)]


def test_a_bad_input_takes_the_certainty_away():
    watch = Watch(key=KEY)
    raised = step_alarm(None, watch, seen(True), FROST, FOUR)
    blind = step_alarm(raised.alarm, raised.watch, seen(None), FROST, FOUR + timedelta(hours=1))
    assert raised.alarm.certainty is Certainty.LIKELY
    assert blind.alarm.certainty is Certainty.UNKNOWN


def test_an_acknowledged_alarm_asks_again_when_it_gets_worse():
    watch = Watch(key=KEY)
    moderate = seen(True, severity=Severity.MODERATE)
    raised = step_alarm(None, watch, moderate, FROST, FOUR)
    answered = replace(raised.alarm, state=AlarmState.ACKNOWLEDGED)
    watch = replace(raised.watch, answered_at=FOUR, answered_severity=Severity.MODERATE)
    later = FOUR + timedelta(minutes=5)
    assert (
        step_alarm(answered, watch, moderate, FROST, later).alarm.state is AlarmState.ACKNOWLEDGED
    )
    assert (
        step_alarm(answered, watch, seen(True), FROST, later).alarm.state
        is AlarmState.UNACKNOWLEDGED
    )


def test_a_craft_that_left_the_yard_leaves_no_alarm_standing():
    states, events = run(
        FROST, (0, seen(True)), (5, seen(None, gone=True)), (10, seen(None, gone=True))
    )
    assert states == [AlarmState.UNACKNOWLEDGED, AlarmState.SUPPRESSED, AlarmState.NORMAL]
    assert events[1].why == ChangeFacts(change=Change.SUBJECT_LEFT)


@pytest.mark.parametrize("cause", ["frost", "heat-loss", "sweat", "battery-freezing"])
@given(lengths=st.lists(st.integers(1, 90), min_size=16, max_size=200))
@settings(max_examples=tried(15), deadline=None)
def test_a_sensor_that_flaps_at_a_limit_for_a_day_raises_at_most_one_alarm(cause, lengths):
    definition = DEFINITIONS[cause]
    minute, steps, holds = 0, [], True
    while minute < 24 * 60:
        for length in lengths:
            until = min(minute + length, 24 * 60)
            steps += [(at, seen(holds, cause=cause)) for at in range(minute, until, 2)]
            minute, holds = until, not holds
    _, events = run(definition, *steps)
    assert sum(event.after is AlarmState.UNACKNOWLEDGED for event in events) <= 1


@given(st.lists(st.integers(1, 12 * 60), min_size=2, max_size=60))
@settings(max_examples=tried(25), deadline=None)
def test_however_slowly_a_cause_comes_and_goes_it_raises_no_more_than_two_alarms_a_day(lengths):
    # The second within a day is held on to for a day: then it is one alarm a day.
    minute, steps, holds = 0, [], True
    for length in lengths:
        steps += [(at, seen(holds, cause="ice")) for at in range(minute, minute + length, 5)]
        minute, holds = minute + length, not holds
    _, events = run(ICE, *steps)
    raised = [event.at for event in events if event.after is AlarmState.UNACKNOWLEDGED]
    for n in range(len(raised) - 2):
        assert raised[n + 2] - raised[n] > timedelta(hours=24)


class AlarmLife(RuleBasedStateMachine):
    """Any order of judgements and acts: every change is one that the standard knows."""

    @initialize()
    def begin(self) -> None:
        self.folder = TemporaryDirectory()
        self.scene = Scene(Path(self.folder.name))
        self.acts = AlarmActs(self.scene.store, self.scene.clock)
        self.boat = BOAT
        self.scene.craft = {"K1": BOAT}
        self.standing = Standing.HOLDING
        self.false_for = timedelta(0)

    def teardown(self) -> None:
        if hasattr(self, "scene"):
            self.scene.store.close()
            self.folder.cleanup()

    def _round(self) -> None:
        self.scene.judge(frost(self.boat, self.standing, self.scene.clock.now()))

    @rule(
        standing=st.sampled_from(["holding", "exposed", "icing", "suspect", "not known"]),
        minutes=st.sampled_from([1, 20, 90, 36 * 60]),
    )
    def judge(self, standing: str, minutes: int) -> None:
        self.standing = Standing(standing)
        self._round()
        self.scene.after(minutes=minutes)
        self._round()

    @rule(goes=st.booleans())
    def leave_or_return(self, goes: bool) -> None:
        self.scene.craft = {} if goes else {"K1": BOAT}
        self.scene.after(minutes=1)
        self._round()

    @rule(
        act=st.sampled_from(
            ["acknowledge", "unshelve", "take_out_of_service", "return_to_service", "shelve"]
        )
    )
    def act(self, act: str) -> None:
        for alarm in self.open():
            try:
                if act == "shelve":
                    until = self.scene.clock.now() + timedelta(hours=3)
                    self.acts.shelve(alarm.id, "maren", "waiting for parts", until)
                else:
                    getattr(self.acts, act)(alarm.id, "maren", "seen to")
            except ActError:
                with self.scene.store.snapshot() as tx:
                    assert tx.alarms.get(alarm.id) == alarm, "a refused act must change nothing"
        self.scene.after(minutes=1)

    def open(self):
        with self.scene.store.snapshot() as tx:
            return tx.alarms.open_alarms()

    @invariant()
    def every_change_is_the_standards(self) -> None:
        if not hasattr(self, "scene"):
            return
        with self.scene.store.snapshot() as tx:
            alarms = tx.alarms.raised_between(FOUR - timedelta(days=1), FOUR + timedelta(days=4000))
            histories = {alarm.id: tx.alarms.history_of(alarm.id) for alarm in alarms}
        for alarm in alarms:
            events: list[AlarmEvent] = histories[alarm.id]
            assert events, "an alarm without a history"
            state = AlarmState.NORMAL
            for event in events:
                assert event.by
                assert event.why
                assert event.before is state, "a change that nobody recorded"
                state = event.after
                if event.before is not event.after:
                    change = (LETTER[event.before], LETTER[event.after])
                    again = change == ("G", "G")
                    assert again or change in ALLOWED, f"{event.before} to {event.after}"
            assert alarm.state is state

    @invariant()
    def one_cause_over_one_subject_is_one_open_alarm(self) -> None:
        if hasattr(self, "scene"):
            subjects = [(alarm.cause, alarm.craft, alarm.part) for alarm in self.open()]
            assert len(subjects) == len(set(subjects))

    @invariant()
    def a_shelf_always_has_an_end(self) -> None:
        if hasattr(self, "scene"):
            with self.scene.store.snapshot() as tx:
                watches = tx.watches.all_watches().values()
                shelved = {a.id for a in tx.alarms.open_alarms() if a.state is AlarmState.SHELVED}
            for watch in watches:
                assert (watch.alarm in shelved) == (watch.until is not None)


AlarmLife.TestCase.settings = settings(
    max_examples=tried(25),
    stateful_step_count=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
TestAlarmLife = AlarmLife.TestCase


def test_the_machine_above_can_tell_a_wrong_change():
    assert ("A", "C") not in ALLOWED
    assert ("D", "C") not in ALLOWED
    assert ("C", "B") in ALLOWED
