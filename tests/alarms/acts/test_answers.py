"""Acknowledge from a message: no sign-in, no guessing, no replay, no accident."""

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta

import pytest

from monitor.alarms.acts.answers import GOOD_FOR, Answers
from monitor.alarms.round import AlarmRound
from monitor.errors import ActError
from monitor.yard.alarm import AlarmState
from monitor.yard.alarm_facts import FinishedLine
from monitor.yard.assessment import Standing
from tests.alarms.scene import FOUR, Scene, cold_night, craft, frost, heat, judge_lost_heat

ADDRESS = "https://yard.example/answer"


@pytest.fixture
def scene(tmp_path):
    """A yard whose operator has a mail with a link."""
    scene = Scene(tmp_path)
    scene.answers = Answers(scene.store, scene.clock, ADDRESS)
    scene.round = AlarmRound(scene.store, scene.yard, scene.clock, answers=scene.answers)
    scene.judge(*cold_night(scene))
    return scene


def secret_of(message):
    (line,) = [line for line in message.text.splitlines() if line.startswith("https://")]
    assert line in message.html
    return line.removeprefix("https://yard.example/answer/")


def states(scene):
    with scene.store.snapshot() as tx:
        return {alarm.state for alarm in tx.alarms.open_alarms()}


def test_a_link_acknowledges_all_that_its_message_told_of_in_the_readers_name(scene):
    answered = scene.answers.answer(secret_of(scene.messages("maren")[0]), "on my way")
    assert len(answered) == 16
    assert states(scene) == {AlarmState.ACKNOWLEDGED}
    with scene.store.snapshot() as tx:
        last = tx.alarms.history_of(answered[0].id)[-1]
    assert (last.by, last.why) == ("maren", FinishedLine(text="on my way"))


def test_looking_however_often_changes_nothing(scene):
    secret = secret_of(scene.messages("maren")[0])
    for _ in range(20):
        assert scene.answers.find_answerable(secret).open
    assert states(scene) == {AlarmState.UNACKNOWLEDGED}


def test_a_link_works_once(scene):
    secret = secret_of(scene.messages("maren")[0])
    scene.answers.answer(secret)
    with pytest.raises(ActError, match="used already"):
        scene.answers.answer(secret)
    assert not scene.answers.find_answerable(secret).open


def test_of_two_answers_at_one_moment_one_counts(scene):
    secret = secret_of(scene.messages("maren")[0])

    def answer(_):
        try:
            scene.answers.answer(secret)
        except ActError:
            return 0
        return 1

    with ThreadPoolExecutor(4) as workers:
        assert sum(workers.map(answer, range(4))) == 1


def test_a_link_runs_out(scene):
    secret = secret_of(scene.messages("maren")[0])
    scene.clock.advance_to(scene.clock.now() + GOOD_FOR)
    with pytest.raises(ActError, match="run out"):
        scene.answers.answer(secret)
    assert states(scene) == {AlarmState.UNACKNOWLEDGED}


@pytest.mark.parametrize(
    "guess",
    ["", "x", "A" * 43, "A" * 42 + "=", "../" * 14 + "A", "é" * 43, "A" * 44, "'; DROP TABLE x--"],
)
def test_a_guess_opens_nothing(scene, guess):
    assert scene.answers.find_answerable(guess) is None
    with pytest.raises(ActError):
        scene.answers.answer(guess)
    assert states(scene) == {AlarmState.UNACKNOWLEDGED}


def test_one_changed_letter_is_another_secret(scene):
    secret = secret_of(scene.messages("maren")[0])
    changed = ("B" if secret[0] == "A" else "A") + secret[1:]
    assert scene.answers.find_answerable(changed) is None


def test_owners_get_no_link(scene):
    assert "https://" not in scene.messages("owner-1")[0].text
    assert "https://" not in scene.messages("owner-1")[0].html


def test_the_link_of_a_letter_acknowledges_all_that_it_told_of_and_nothing_that_came_later(
    tmp_path,
):
    scene = Scene(tmp_path)
    scene.answers = Answers(scene.store, scene.clock, ADDRESS)
    scene.round = AlarmRound(scene.store, scene.yard, scene.clock, answers=scene.answers)
    teal, coot = craft("K1", "Teal", "barn"), craft("K2", "Coot", "shed")
    scene.craft = {"K1": teal, "K2": coot}
    ice_at = FOUR + timedelta(hours=9)
    judge_lost_heat(scene, teal, ice_at, rounds=3)
    (letter,) = scene.messages("maren")
    scene.judge(
        frost(teal, Standing.EXPOSED, scene.clock.now(), deadline=ice_at),
        frost(coot, Standing.EXPOSED, scene.clock.now(), deadline=FOUR + timedelta(hours=4)),
        heat(Standing.FALLING, scene.clock.now(), ice_at),
    )
    secret = secret_of(letter)
    asks = scene.answers.find_answerable(secret).asks
    assert len(asks) == 2, "the heat, and the frost listed beside it"
    answered = scene.answers.answer(secret)
    assert {(alarm.cause, alarm.craft) for alarm in answered} == {
        ("heat-loss", ""),
        ("frost", "K1"),
    }
    looked = scene.answers.find_answerable(secret)
    assert {alarm.id for alarm in looked.taken} == {alarm.id for alarm in asks}
    assert not looked.asks
    with scene.store.snapshot() as tx:
        states = {(alarm.cause, alarm.craft): alarm.state for alarm in tx.alarms.open_alarms()}
    assert states["frost", "K2"] is AlarmState.UNACKNOWLEDGED


def test_the_links_own_table_does_not_hold_the_secret(scene):
    secret = secret_of(scene.messages("maren")[0])
    scene.store.close()
    with closing(sqlite3.connect(scene.url.removeprefix("sqlite:///"))) as database:
        rows = database.execute("SELECT * FROM answer_links").fetchall()
    assert rows
    assert secret not in str(rows)


def test_every_message_has_a_secret_of_its_own(scene):
    scene.clock.advance_to(scene.clock.now() + timedelta(hours=1))
    now = scene.clock.now()
    links = {scene.answers.offer("maren", "t", (), now)[0] for _ in range(50)}
    assert len(links) == 50
