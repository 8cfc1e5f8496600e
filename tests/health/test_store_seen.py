"""What the watch reads of the store every two seconds is right, and costs the same in any yard."""

from datetime import timedelta

import pytest

from monitor.clock import to_ms
from monitor.health.store_seen import read_store
from monitor.store.assessments import Assessments
from monitor.store.store import Store
from monitor.store.yard_readings import YardReadings
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from monitor.yard.facts import SilenceFacts
from monitor.yard.reading import Channel, Reading
from monitor.yard.space import Mount
from tests.reports import kettlemoss as yard_of

NOW = yard_of.KETTLEMOSS_NOW
YARD = yard_of.yard()
NAMES = [sensor.name for sensor in YARD.sensors]


@pytest.fixture
def store(tmp_path):
    opened = yard_of.open_store(tmp_path)
    yield opened
    opened.close()


def heard(sensor, standing, at=NOW):
    subject = Subject(space="yard", craft="", part=sensor)
    return Assessment(
        subject=subject,
        hazard=Hazard.SILENCE,
        standing=standing,
        at=at,
        facts=SilenceFacts(mount=Mount.AIR),
        calls_for_act=False,
    )


def reading(sensor, age):
    at_ms = to_ms(NOW - age)
    return Reading(sensor=sensor, channel=Channel.TEMPERATURE, at_ms=at_ms, value=1.0, raw=1.0)


def put(store, *judged):
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)


def add(store, *readings):
    with store.transaction() as tx:
        tx.reading_writer.add(readings)


def land(store):
    with store.transaction() as tx:
        tx.landing.move_mark(to_ms(NOW))


def see(store):
    return read_store(store, YARD, NOW, None)


def test_it_tells_when_was_judged_and_who_is_silent(store):
    assert (see(store).judged_at, see(store).silent) == (None, ())
    put(
        store,
        heard(NAMES[0], Standing.SILENT, NOW - timedelta(minutes=1)),
        heard(NAMES[1], Standing.STEADY),
        heard(NAMES[2], Standing.NOT_KNOWN),
    )
    assert see(store).judged_at == NOW
    assert see(store).silent == tuple(sorted((NAMES[0], NAMES[2])))
    put(store, heard(NAMES[1], Standing.STEADY, NOW + timedelta(minutes=1)))
    assert (see(store).judged_at, see(store).silent) == (NOW + timedelta(minutes=1), ())


def test_another_process_sees_what_the_daemon_judged_and_then_what_it_judges_next(store):
    put(store, heard(NAMES[0], Standing.SILENT))
    other = Store(f"sqlite:///{store.path}", YARD.id, only_looking=True)
    try:
        assert [see(other).silent for _ in range(2)] == [(NAMES[0],)] * 2
        put(store, heard(NAMES[0], Standing.STEADY, NOW + timedelta(minutes=2)))
        assert see(other).silent == ()
        put(store)
        assert see(other).judged_at is None
    finally:
        other.close()


def test_it_tells_the_newest_reading_of_a_sensor_that_is_in_the_yard(store):
    assert see(store).newest_reading_at is None
    for prepare in (lambda: None, lambda: land(store)):  # in either table of readings
        prepare()
        add(store, reading(NAMES[0], timedelta(minutes=20)), reading("stranger", timedelta(0)))
        add(store, reading(NAMES[1], timedelta(minutes=-5)))  # of a clock that runs ahead
        assert see(store).newest_reading_at == NOW - timedelta(minutes=20)
    add(store, reading(NAMES[1], timedelta(minutes=2)))
    assert see(store).newest_reading_at == NOW - timedelta(minutes=2)


def test_a_crowd_of_readings_of_removed_sensors_hides_no_other(store):
    land(store)
    add(store, reading(NAMES[0], timedelta(minutes=8)))
    add(store, *(reading("stranger", timedelta(seconds=n)) for n in range(300)))
    assert see(store).newest_reading_at == NOW - timedelta(minutes=8)


def test_neither_all_judgements_nor_the_newest_reading_of_each_sensor_is_read(store, monkeypatch):
    land(store)
    add(store, *(reading(name, timedelta(minutes=1)) for name in NAMES))
    put(store, *(heard(name, Standing.STEADY) for name in NAMES))

    def refuse(*_):
        raise AssertionError("this grows with the yard")

    monkeypatch.setattr(Assessments, "latest_judgements", refuse)
    monkeypatch.setattr(YardReadings, "latest_readings", refuse)
    assert see(store).newest_reading_at == NOW - timedelta(minutes=1)
    assert see(store).judged_at == NOW
