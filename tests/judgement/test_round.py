"""A round over a real store on a file."""

from datetime import timedelta

import pytest

from monitor.clock import ReadingsClock
from monitor.judgement.round import Round
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel, Flag, Reading
from tests.judgement import scene


@pytest.fixture
def store(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    opened = Store(url, "kettlemoss")
    yield opened
    opened.close()


def put(store, traces):
    with store.transaction() as tx:
        for trace in traces.values():
            tx.readings.add(
                Reading(
                    sensor=trace.sensor,
                    channel=trace.channel,
                    at_ms=int(at),
                    value=float(value),
                    raw=float(value),
                    flag=Flag(int(flag)),
                )
                for at, value, flag in zip(trace.at_ms, trace.value, trace.flag, strict=True)
            )


def test_a_round_keeps_its_judgements_and_tells_only_what_changed(store):
    now = scene.local(14, 20)
    cold = scene.trace("air-long-shed", Channel.TEMPERATURE, -2.0, now - timedelta(hours=90), now)
    put(store, cold)
    clock = ReadingsClock(now)
    craft = [scene.stored(scene.SHED, (scene.circuit(), scene.water()))]
    judging = Round(store, scene.yard_of(scene.SHED), clock)
    first = judging.run(craft)
    assert first.count == len(first.changed) == 3  # space, circuit, sensor
    second = judging.run(craft)
    assert (second.count, second.changed) == (3, ())
    with store.snapshot() as tx:
        kept = tx.assessments.latest()
    frost = scene.pick(kept, Hazard.FROST, "head", "k1")
    assert frost.standing in {Standing.ICING, Standing.SOLID}
    assert frost.limit_c == 0.0


def test_ice_is_remembered_by_the_store_over_a_warm_week(store):
    icy = scene.local(14, 20)
    put(
        store,
        scene.trace("air-long-shed", Channel.TEMPERATURE, -4.0, icy - timedelta(hours=40), icy),
    )
    clock = ReadingsClock(icy)
    craft = [scene.stored(scene.SHED, (scene.circuit(), scene.water()))]
    judging = Round(store, scene.yard_of(scene.SHED), clock)
    judging.run(craft)
    warm = scene.local(22, 20)
    put(
        store,
        scene.trace("air-long-shed", Channel.TEMPERATURE, 8.0, icy + timedelta(minutes=10), warm),
    )
    clock.advance(warm)
    changed = judging.run(craft).changed
    assert scene.pick(list(changed), Hazard.FROST, "head", "k1").standing is Standing.SUSPECT
