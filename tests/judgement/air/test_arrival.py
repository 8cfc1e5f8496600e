"""What comes late: craft that were elsewhere last night, and a logger that empties its memory."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.clock import ReadingsClock
from monitor.judgement.judge import judge_yard
from monitor.judgement.round import Round
from monitor.phrases.figures import figures_of
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Certainty, Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene
from tests.judgement.test_round import put

NOW = scene.local(14, 15)
YARD = scene.yard_of(scene.SHED)


def three_nights(hours: np.ndarray) -> np.ndarray:
    """From 15:00 on: +4 °C at three in the afternoon, -6 °C at three at night."""
    return -1.0 + 5.0 * np.cos(2 * np.pi * hours / 24.0)


def air(since_h: float) -> dict:
    since = NOW - timedelta(hours=since_h)
    return scene.trace("air-long-shed", Channel.TEMPERATURE, three_nights, since, NOW)


def frost_of(since_h: float | None):
    since = None if since_h is None else NOW - timedelta(hours=since_h)
    craft = scene.stored(scene.SHED, (scene.circuit(lag_h=1.0), scene.water()), since=since)
    return scene.pick(judge_yard(YARD, [craft], air(72.0), NOW), Hazard.FROST, "head", "k1")


def test_last_nights_ice_is_not_charged_to_a_craft_that_came_this_morning():
    # Last night at -6 °C froze 0.2 L of water in whatever stood here.
    assert frost_of(None).standing in {Standing.ICING, Standing.SOLID, Standing.SUSPECT}
    arrived = frost_of(5.0)
    assert arrived.standing is Standing.EXPOSED
    assert arrived.deadline is not None
    assert arrived.deadline > NOW


def test_a_craft_that_came_a_moment_ago_is_judged_as_a_guess():
    arrived = frost_of(0.25)
    assert arrived.facts.start_is_guessed
    assert arrived.standing is not Standing.HOLDING
    # CAP 1.2: likely is more than half.
    chance = arrived.facts.chance_first_ice
    assert arrived.certainty is (Certainty.LIKELY if chance > 0.5 else Certainty.POSSIBLE)


def test_a_craft_that_has_stood_longer_than_the_readings_is_judged_by_all_of_them():
    assert frost_of(500.0) == frost_of(None)


@pytest.fixture
def store(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    opened = Store(url, "kettlemoss")
    yield opened
    opened.close()


def test_a_backlog_of_days_changes_the_very_next_round(store):
    craft = [scene.stored(scene.SHED, (scene.circuit(lag_h=1.0), scene.water()), since=NOW)]
    put(store, air(2.0))
    late = Round(store, YARD, ReadingsClock(NOW))
    late.run(craft)
    put(store, air(72.0))  # a logger empties its memory
    late.run(craft, late=NOW - timedelta(hours=72))
    with store.snapshot() as tx:
        found = tx.assessments.latest_judgements()
    Round(store, YARD, ReadingsClock(NOW)).run(craft)
    with store.snapshot() as tx:
        # As text: NaN, where there is nothing to state, equals nothing.
        assert repr(found) == repr(tx.assessments.latest_judgements())
    assert figures_of(scene.pick(found, Hazard.AIR))["nights_known"] == 3.0


def moved(from_c: float, to_c: float, ago_h: float, **changes: object):
    """A circuit with a lag of 5 h, moved between two spaces of steady air, as it is now."""
    yard = scene.yard_of(scene.SHED, scene.BARN)
    begin = NOW - timedelta(hours=97)
    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, to_c, begin, NOW)
    readings |= scene.trace("air-stove-barn", Channel.TEMPERATURE, from_c, begin, NOW)
    came = {"since": NOW - timedelta(hours=ago_h), "came_from": scene.BARN.id} | changes
    craft = scene.stored(scene.SHED, (scene.circuit(5.0, lag_high_h=5.0), scene.water()), **came)
    return scene.pick(judge_yard(yard, [craft], readings, NOW), Hazard.FROST, "head", "k1")


def test_a_craft_moved_out_of_the_warm_takes_its_warmth_along():
    # First-order lag from 8 °C towards -10 °C, 5 h behind: after 2 h at -10 + 18 e^(-0.4).
    found = moved(8.0, -10.0, 2.0)
    assert found.now_c == pytest.approx(-10.0 + 18.0 * np.exp(-0.4), abs=0.4)
    assert found.standing is Standing.EXPOSED
    assert found.deadline is not None
    assert found.deadline > NOW


def test_a_craft_brought_in_frozen_is_not_warm_at_once():
    found = moved(-8.0, 6.0, 1.0)
    assert found.now_c < 0.0
    assert found.standing in {Standing.ICING, Standing.SOLID}
    # From nobody knows where, it is taken for as warm as the air, and said to be a guess.
    assert moved(-8.0, 6.0, 1.0, came_from="").now_c == pytest.approx(6.0, abs=0.1)
