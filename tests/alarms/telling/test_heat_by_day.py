"""Heat that is lost in mild weather: something to look at by day; where frost is due, at once."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.judgement.round import Round
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.duty import NIGHT
from monitor.yard.reading import Channel
from monitor.yard.space import Person, Role
from tests.judgement import scene
from tests.judgement.test_round import put

BARN = replace(scene.BARN, thermostat_c=14.0)
SAM = Person(id="sam", name="Sam", roles=frozenset({Role.OPERATOR}), mail="sam@kettlemoss.example")
YARD = replace(scene.yard_of(BARN, scene.RACK), people=(SAM,))
BEGIN, FAILS = scene.local(10, 12), scene.local(14, 13)
_FAILS_H = (FAILS - BEGIN) / timedelta(hours=1)
CRAFT = scene.stored(BARN, (scene.circuit(), scene.water()))


@pytest.fixture
def store(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    opened = Store(url, YARD.id)
    yield opened
    opened.close()


def letters(store, outside_c, turns_at=None, turned_c=0.0):
    """What is written from the failure on for two days, every half hour, with its time.

    The barn is kept at 14 °C and then follows the outdoor air with a lag of 12 h; that air may
    turn once to another temperature.
    """
    end = FAILS + timedelta(hours=48)
    hours = np.arange(0.0, (end - BEGIN) / timedelta(hours=1), 0.25)
    turn_h = np.inf if turns_at is None else (turns_at - BEGIN) / timedelta(hours=1)
    outside = np.where(hours < turn_h, outside_c, turned_c)
    inside = np.full(hours.size, 14.0)
    for n in np.flatnonzero(hours > _FAILS_H):
        inside[n] = outside[n] + (inside[n - 1] - outside[n]) * np.exp(-0.25 / 12.0)
    for space, course in ((BARN, inside), (scene.RACK, outside)):

        def air(at_h, course=course):
            return np.interp(at_h, hours, course)

        put(store, scene.trace(f"air-{space.id}", Channel.TEMPERATURE, air, BEGIN, end, 900.0))
    clock = ReadingsClock(FAILS)
    judging, alarms = Round(store, YARD, clock), AlarmRound(store, YARD, clock)
    found, at = [], FAILS
    while at <= end:
        clock.advance_to(at)
        judging.run([CRAFT])
        if written := alarms.run({CRAFT.id: CRAFT}).messages:
            with store.snapshot() as tx:
                found += [(at, one) for one, _ in tx.outbox.newest_messages(written)]
        at += timedelta(minutes=30)
    return found


def is_night(at):
    return NIGHT.holds(at.astimezone(YARD.zone))


def test_heat_lost_in_mild_weather_is_told_once_and_by_day(store):
    told = letters(store, 9.0)
    ((at, letter),) = told
    assert not is_night(at)
    assert "heater" in letter.text
    assert "\ntoday  Stove Barn" in letter.text


def test_heat_lost_before_a_night_of_frost_is_told_at_once_and_by_night(store):
    (at, _), *_ = letters(store, -9.0)
    assert at <= FAILS + timedelta(hours=2)


def test_frost_that_comes_after_heat_was_lost_in_mild_weather_is_told_anew(store):
    turns = FAILS + timedelta(hours=28)
    told = letters(store, 9.0, turns_at=turns, turned_c=-9.0)
    (mild, _), (frost, letter), *_ = told
    assert mild < turns <= frost <= turns + timedelta(hours=4)
    assert "Stove Barn" in letter.subject
