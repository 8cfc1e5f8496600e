"""Who has taken what on is told to the others at once, in one line."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.alarms.acts.answers import Answers
from monitor.alarms.round import AlarmRound
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Standing
from monitor.yard.watch import WatchKey
from tests.alarms.acts.test_answers import ADDRESS, secret_of
from tests.alarms.scene import FOUR, OPERATOR, Scene, craft, frost, yard

SAM = replace(OPERATOR, id="sam", name="Sam Rook", mail="sam@yard.example")


@pytest.fixture
def scene(tmp_path):
    made = Scene(tmp_path, yard((OPERATOR, SAM)))
    made.answers = Answers(made.store, made.clock, ADDRESS)
    made.round = AlarmRound(made.store, made.yard, made.clock, answers=made.answers)
    made.craft = {"K1": craft("K1", "Plover", "shed", parts=2), "K2": craft("K2", "Heron", "shed")}
    return made


def cold(scene):
    """Both craft of Plover's circuits and Heron are threatened."""
    return [
        frost(
            one,
            Standing.EXPOSED,
            scene.clock.now(),
            part=circuit.id,
            deadline=FOUR + timedelta(hours=5),
        )
        for one in scene.craft.values()
        for circuit in one.circuits
    ]


def test_the_other_operator_hears_in_the_next_round_who_has_it(scene):
    scene.judge(*cold(scene))
    scene.after(minutes=4)
    scene.answers.answer(secret_of(scene.messages("maren")[0]))
    scene.judge(*cold(scene))
    notice = scene.messages("sam")[-1]
    assert notice.subject == "Maren Ulv has taken on Heron by 21:00, Plover by 21:00"
    assert len(notice.text.splitlines()) == 1
    assert "16:04" in notice.text
    assert len(scene.messages("maren")) == 1, "who took it on knows"


def test_what_is_due_first_stands_first(scene):
    later = [
        replace(each, deadline=FOUR + timedelta(hours=3 if each.subject.craft == "K1" else 8))
        for each in cold(scene)
    ]
    scene.judge(*later)
    scene.answers.answer(secret_of(scene.messages("maren")[0]))
    scene.after(minutes=4)
    scene.judge(*later)
    said = scene.messages("sam")[-1].subject
    assert said == "Maren Ulv has taken on Plover by 19:00, Heron by 00:00"


def test_it_is_told_once(scene):
    scene.judge(*cold(scene))
    scene.answers.answer(secret_of(scene.messages("maren")[0]))
    for _ in range(5):
        scene.after(minutes=5)
        scene.judge(*cold(scene))
    assert sum("taken on" in each.subject for each in scene.messages("sam")) == 1


def test_of_what_nobody_told_them_they_hear_nothing(scene):
    both = cold(scene)
    scene.judge(*both)
    scene.answers.answer(secret_of(scene.messages("maren")[0]))
    the_yard = replace(scene.yard, people=(OPERATOR, SAM, replace(SAM, id="pip", name="Pip")))
    scene.round = AlarmRound(scene.store, the_yard, scene.clock, answers=scene.answers)
    scene.after(minutes=1)
    scene.judge(*both)
    assert not [each for each in scene.messages("pip") if "taken on" in each.subject]


def takes_on_and_back(scene, *, round_between):
    """Maren takes all on, and gives it back two minutes later."""
    scene.judge(*cold(scene))
    scene.after(minutes=4)
    acts = AlarmActs(scene.store, scene.clock)
    with scene.store.snapshot() as tx:
        ids = [alarm.id for alarm in tx.alarms.open_alarms()]
    acts.acknowledge_each(ids, "maren")
    if round_between:
        scene.judge(*cold(scene))
    scene.after(minutes=2)
    acts.give_back(ids, "maren")
    scene.judge(*cold(scene))
    return [each.subject for each in scene.messages("sam")[1:]]


def test_who_heard_that_it_was_taken_on_hears_that_it_was_given_back(scene):
    taken, back = takes_on_and_back(scene, round_between=True)
    assert taken == "Maren Ulv has taken on Heron by 21:00, Plover by 21:00"
    assert back == "Maren Ulv has given back Heron by 21:00, Plover by 21:00: nobody has it"


def test_of_what_was_given_back_before_anybody_heard_nobody_hears(scene):
    assert takes_on_and_back(scene, round_between=False) == []


def test_what_was_given_back_calls_the_others_as_if_it_had_never_been_answered(scene):
    takes_on_and_back(scene, round_between=True)
    with scene.store.snapshot() as tx:
        alarms = tx.alarms.open_alarms()
        watches = [tx.watches.get(WatchKey.of(alarm)) for alarm in alarms]
    assert {alarm.state for alarm in alarms} == {AlarmState.UNACKNOWLEDGED}
    assert {watch.answered_at for watch in watches} == {None}
