"""A round over a real store on a file."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from monitor.clock import ReadingsClock, to_ms
from monitor.judgement.air.grid import series_needed
from monitor.judgement.air.recent_readings import RecentReadings
from monitor.judgement.judge import judge_yard
from monitor.judgement.round import Round, load_past_weeks
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Hazard, Origin, Standing, Subject
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
            tx.reading_writer.add(
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
        kept = tx.assessments.latest_judgements()
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
    clock.advance_to(warm)
    changed = judging.run(craft).changed
    assert scene.pick(list(changed), Hazard.FROST, "head", "k1").standing is Standing.SUSPECT


def test_readings_that_come_late_change_the_next_round(store):
    now = scene.local(14, 20)
    since = now - timedelta(hours=60)
    put(store, scene.trace("air-long-shed", Channel.TEMPERATURE, 6.0, since, now))
    corner = scene.air_sensor(scene.SHED, "corner")
    judging = Round(store, scene.yard_of(scene.SHED, sensors=(corner,)), ReadingsClock(now))
    judging.run([])
    put(store, scene.trace("corner", Channel.TEMPERATURE, -3.0, now - timedelta(hours=20), now))
    changed = judging.run([]).changed
    assert scene.pick(list(changed), Hazard.SILENCE, "corner").standing is Standing.STEADY
    with store.snapshot() as tx:
        assert scene.pick(tx.assessments.latest_judgements(), Hazard.AIR).now_c == pytest.approx(
            -3.0
        )


def test_rounds_in_a_row_and_one_round_at_the_end_judge_alike(store):
    last = scene.local(14, 20)
    since = last - timedelta(hours=110)
    swing = lambda hours: 1.0 - 4.0 * np.cos(2 * np.pi * hours / 24.0)  # noqa: E731
    put(store, scene.trace("air-long-shed", Channel.TEMPERATURE, swing, since, last))
    yard, craft = (
        scene.yard_of(scene.SHED),
        [scene.stored(scene.SHED, (scene.circuit(), scene.mix(-20.0)))],
    )
    clock = ReadingsClock(last - timedelta(hours=12.5))
    row = Round(store, yard, clock)
    for _ in range(25):
        row.run(craft)
        clock.advance_to(clock.now() + timedelta(minutes=30))
    with store.snapshot() as tx:
        in_a_row = tx.assessments.latest_judgements()
    with store.snapshot() as tx:
        traces = RecentReadings(series_needed(yard)).read_traces(tx, in_a_row[0].at)
    memory = load_past_weeks(store, yard, in_a_row[0].at)
    at_once = judge_yard(yard, craft, traces, in_a_row[0].at, (), memory)
    air = scene.pick(in_a_row, Hazard.AIR)
    again = scene.pick(at_once, Hazard.AIR)
    assert air.low_c == pytest.approx(again.low_c, abs=0.05)
    assert air.standing is again.standing


def test_each_change_of_standing_keeps_what_it_was_judged_by(store):
    now = scene.local(14, 20)
    cold = scene.trace("air-long-shed", Channel.TEMPERATURE, -2.0, now - timedelta(hours=90), now)
    put(store, cold)
    craft = replace(
        scene.stored(scene.SHED, (scene.circuit(), scene.water())), profile_digest="of-its-type"
    )
    made_by = Origin(program="1.2", settings="of-the-yard")
    Round(store, scene.yard_of(scene.SHED), ReadingsClock(now), origin=made_by).run([craft])
    with store.snapshot() as tx:
        kept = tx.assessments.origins_between(now - timedelta(hours=1), now + timedelta(hours=1))
    frost = kept[Hazard.FROST, Subject(scene.SHED.id, "k1", "head")]
    assert frost == Origin(program="1.2", settings="of-the-yard", profile="of-its-type")
    assert kept[Hazard.AIR, Subject(scene.SHED.id)] == made_by


def test_a_flag_that_a_newer_reading_changed_is_seen_where_only_that_reading_is_told_of(store):
    # The checks on the way in hold a reading against its neighbours, no more than an hour away.
    now = scene.local(14, 20)
    key = ("air-long-shed", Channel.TEMPERATURE)
    put(store, scene.trace(*key, 2.0, now - timedelta(hours=90), now))
    recent = RecentReadings([key])
    with store.snapshot() as tx:
        recent.read_traces(tx, now)
    later = now + timedelta(minutes=10)
    put(store, scene.trace(*key, 2.0, later, later))
    spike = to_ms(later - timedelta(hours=1))
    with store.transaction() as tx:
        tx.reading_writer.amend_flags([(tx.series.known_series()[key], spike, Flag.FAIL)])
    with store.snapshot() as tx:
        trace = recent.read_traces(tx, later, late=later)[key]
    assert trace.flag[trace.at_ms == spike].tolist() == [Flag.FAIL]
    assert trace.at_ms[-1] == to_ms(later)
    assert trace.at_ms[0] == to_ms(now - timedelta(hours=90))
    assert (np.diff(trace.at_ms) == 600_000).all()


def test_what_came_late_is_there_in_all_rounds_after_the_one_that_was_told_of_it(store):
    now = scene.local(14, 20)
    key = ("air-long-shed", Channel.TEMPERATURE)
    put(store, scene.trace(*key, 2.0, now - timedelta(hours=90), now))
    recent = RecentReadings([key])
    with store.snapshot() as tx:
        recent.read_traces(tx, now)
    late = [now - timedelta(hours=10, minutes=5), now - timedelta(hours=3, minutes=5)]
    expected = {to_ms(now - timedelta(minutes=10 * n)) for n in range(541)}
    for minute in range(1, 200, 30):
        at = now + timedelta(minutes=minute)
        oldest = late.pop() if late else at
        for came in {oldest, at}:
            put(store, scene.trace(*key, 2.0, came, came))
            expected.add(to_ms(came))
        with store.snapshot() as tx:
            trace = recent.read_traces(tx, at, late=oldest)[key]
        assert trace.at_ms.tolist() == sorted(expected)
