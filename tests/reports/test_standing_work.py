"""Craft that are not laid up yet: on the list from the first day, in an alarm on a night for it."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.craft.protection import Basis, LayupState, Protection, plain_water
from monitor.craft.record import stored_craft
from monitor.judgement.judge import judge_yard
from monitor.judgement.round import Round
from monitor.reports.letter import letter
from monitor.reports.picture import compose_picture
from monitor.reports.sentences import state_of_things
from monitor.reports.standing_work import list_standing_work, standing_work_lines
from monitor.reports.week import compose
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel
from monitor.yard.space import Person, Role
from tests.craft.scene import EVE, SHELTERS, twelve
from tests.judgement import scene
from tests.judgement.test_round import put

NOW = scene.local(14, 16)
SAM = Person(id="sam", name="Sam", roles=frozenset({Role.OPERATOR}), mail="sam@kettlemoss.example")
YARD = replace(scene.yard_of(scene.SHED, scene.BARN), people=(SAM,))


def undone(space=scene.SHED):
    one = stored_craft(twelve()["k2"], SHELTERS, EVE)
    bare = {name: plain_water(name, LayupState.UNKNOWN, "") for name in one.protection}
    return replace(
        one, space=space.id, since=None, came_from="", battery=None, unsettled=(), surfaces=(),
        protection=bare,
    )  # fmt: skip


def with_states(craft, state, **changes):
    held = {
        name: replace(one, state=state, **changes) if state is not LayupState.PROVEN
        else Protection(
            circuit=name, state=state, ice_point_c=-30.0, burst_point_c=-30.0,
            basis=Basis.MEASURED, why="read",
        )
        for name, one in craft.protection.items()
    }  # fmt: skip
    return replace(craft, protection=held)


def picture(craft, air=9.0):
    since = NOW - timedelta(hours=90)
    readings = {}
    for space in YARD.spaces:
        readings |= scene.trace(f"air-{space.id}", Channel.TEMPERATURE, air, since, NOW)
    judged = judge_yard(YARD, [craft], readings, NOW)
    return compose_picture(YARD, [craft], judged, [], NOW)


def test_a_craft_not_laid_up_is_listed_with_its_job_though_no_night_asks_for_it():
    found = picture(undone())
    assert not found.tasks
    (work,) = found.standing_work
    assert work.craft.id == "k2"
    assert {name for step in work.steps for name in step.circuits} <= set(work.craft.protection)
    assert work.minutes == sum(step.minutes for step in work.steps) > 0.0
    assert "not laid up yet" in state_of_things(found, words_for(YARD, NOW))


@pytest.mark.parametrize(
    ("state", "space", "listed"),
    [
        (LayupState.PROVEN, scene.SHED, False),
        (LayupState.UNPROVEN, scene.SHED, True),
        (LayupState.VOID, scene.SHED, True),
        (LayupState.HEAT_ONLY, scene.BARN, False),
        (LayupState.HEAT_ONLY, scene.SHED, True),
    ],
)
def test_only_evidence_or_heat_where_it_stands_takes_a_craft_off_the_list(state, space, listed):
    found = picture(with_states(undone(space), state))
    assert bool(found.standing_work) == listed


def test_a_craft_that_tonight_threatens_is_a_task_and_not_named_twice():
    found = picture(undone(), air=lambda hours: 8.0 - np.maximum(hours - 80.0, 0.0))
    assert [one.id for task in found.tasks for one in task.craft] == ["k2"]
    assert not found.standing_work


def test_a_craft_whose_job_cannot_be_planned_keeps_its_place_on_the_list(monkeypatch, caplog):
    def fails(*_):
        raise KeyError("a fault in one plan")

    monkeypatch.setattr("monitor.reports.standing_work.plan_from", fails)
    (work,) = list_standing_work([undone()], YARD)
    (line,) = standing_work_lines([work], YARD, words_for(YARD, NOW))
    assert "could not be planned" in line
    assert "k2" in caplog.text


@pytest.fixture
def store(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    opened = Store(url, YARD.id)
    yield opened
    opened.close()


def mild_then_cold(hours):
    """Days between 6 and 12 °C in a shed; the last evening falls by a kelvin an hour."""
    daily = 9.0 - 3.0 * np.cos(2 * np.pi * (hours - 16.0) / 24.0)
    return daily - np.maximum(hours - 9 * 24.0 - 5.0, 0.0)


def test_mild_weeks_tell_nobody_of_an_undone_craft_and_the_night_that_matters_does(store):
    begin = scene.local(5, 12)
    end = begin + timedelta(days=9, hours=14)
    for space in YARD.spaces:
        sensor = f"air-{space.id}"
        put(store, scene.trace(sensor, Channel.TEMPERATURE, mild_then_cold, begin, end, 1800.0))
    craft, clock = undone(), ReadingsClock(begin)
    judging, alarms = Round(store, YARD, clock), AlarmRound(store, YARD, clock)
    letters = []
    at = begin + timedelta(days=3)
    while at <= end:
        clock.advance_to(at)
        judging.run([craft])
        written = alarms.run({craft.id: craft}).messages
        with store.snapshot() as tx:
            letters += (
                [(at, one) for one, _ in tx.outbox.newest_messages(written)] if written else []
            )
        at += timedelta(hours=6 if at < end - timedelta(hours=14) else 2)
    assert letters
    assert all("frost" in message.thread for _, message in letters)
    # Nothing in mild days; then a word before the shed has cooled to 0 °C.
    assert begin + timedelta(days=9) < letters[0][0] < end - timedelta(hours=2)


def test_the_weekly_letter_lists_the_work_that_is_left(store):
    since = NOW - timedelta(hours=40)
    for space in YARD.spaces:
        put(store, scene.trace(f"air-{space.id}", Channel.TEMPERATURE, 9.0, since, NOW, 1800.0))
    craft = undone()
    Round(store, YARD, ReadingsClock(NOW)).run([craft])
    written = letter(compose(store, YARD, [craft], date(2026, 11, 9), NOW), SAM)
    for part in (written.text, written.html):
        assert "not laid up yet" in part.lower()
        assert "min of lay-up" in " ".join(part.split())
