"""What is kept aside: bounded, fair between topics, and taken once its sensor is known."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from monitor.clock import to_ms
from monitor.intake.decode import Decoder
from monitor.intake.follow import replay_aside
from monitor.intake.trust import TimePolicy
from monitor.store.aside import KeptAside
from monitor.store.store import Store
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor

NOW = datetime(2026, 1, 10, 3, tzinfo=UTC)


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url, "kettlemoss")
    yield opened
    opened.close()


def keep(store: Store, topic: str, payload: bytes, at: datetime = NOW) -> None:
    with store.transaction() as tx:
        tx.aside.keep_all([KeptAside(topic, "no sensor of this yard", payload, at)])


def test_a_loud_topic_does_not_push_out_the_others(store):
    keep(store, "quiet", b"q" * 10, NOW - timedelta(days=3))
    for n in range(50):
        keep(store, "loud", b"%010d" % n, NOW + timedelta(seconds=n))
    with store.transaction() as tx:
        assert tx.aside.trim_to(400, NOW - timedelta(days=120)) == 40  # of 36 and 37 bytes
        left = tx.aside.newest_by_topic()
    assert [row.topic for row in left].count("quiet") == 1
    assert [row.payload for row in left if row.topic == "loud"] == [
        b"%010d" % n for n in range(49, 39, -1)
    ]


def test_what_is_too_old_is_forgotten(store):
    keep(store, "old", b"x", NOW - timedelta(days=130))
    keep(store, "new", b"x")
    with store.transaction() as tx:
        assert tx.aside.trim_to(10**6, NOW - timedelta(days=120)) == 1
        assert [row.topic for row in tx.aside.newest_by_topic()] == ["new"]


def pack(name: str, at: datetime, more: str = "") -> bytes:
    return f'[{{"n":"{name}:temperature","u":"Cel","t":{at.timestamp()},"v":1.5}}{more}]'.encode()


def test_a_sensor_that_becomes_known_later_gets_its_readings_back(store):
    name = "urn:dev:ops:newcomer"
    keep(store, "a", pack(name, NOW - timedelta(minutes=5)))
    keep(store, "a", pack(name, NOW, ',{"n":"urn:dev:ops:other:temperature","u":"Cel","v":2}'))
    keep(store, "b", b"not a reading")
    keep(store, "c", f'[{{"n":"{name}:temperature","u":"Cel","v":1}}]'.encode())
    assert replay_aside(store, Decoder([], TimePolicy())) == (0, 0)
    decoder = Decoder([Sensor(name=name, space="barn")], TimePolicy())
    assert replay_aside(store, decoder) == (2, 1)
    assert replay_aside(store, decoder) == (0, 0)
    with store.snapshot() as tx:
        newest = tx.yard_readings.latest_readings()[name, Channel.TEMPERATURE]
        assert newest.at_ms == to_ms(NOW)
        # The half-read one stays, and so does what nobody can place in time.
        assert sorted(row.topic for row in tx.aside.newest_by_topic()) == ["a", "b", "c"]


def test_however_much_is_aside_all_of_it_is_tried_again(store):
    # More than is tried at once, with newer ones in front that nobody can ever read.
    name = "urn:dev:ops:newcomer"
    with store.transaction() as tx:
        for n in range(2500):
            at = NOW - timedelta(minutes=5 * n)
            tx.aside.keep_all([KeptAside("a", "no sensor of this yard", pack(name, at), at)])
            tx.aside.keep_all([KeptAside("b", "not JSON", b"%d!" % n, NOW)])
    assert replay_aside(store, Decoder([Sensor(name=name, space="barn")], TimePolicy())) == (
        2500,
        2500,
    )
    with store.snapshot() as tx:
        assert tx.aside.count_messages() == 2500


def test_many_at_once_are_counted_as_one_by_one(store):
    came = [(n % 3, NOW + timedelta(seconds=n)) for n in range(7)]
    with store.transaction() as tx:
        one_by_one = [KeptAside("a", "not JSON", b"%d" % n, at) for n, at in came]
        assert tx.aside.keep_all(one_by_one[:4]) == 3 * len(b"anot JSON0")
        assert tx.aside.keep_all(one_by_one[4:]) == 0
        assert tx.aside.keep_all([]) == 0
        rows = {row.payload: row for row in tx.aside.newest_by_topic()}
    assert {payload: row.times for payload, row in rows.items()} == {b"0": 3, b"1": 2, b"2": 2}
    assert rows[b"0"].first_at == NOW
    assert rows[b"0"].last_at == NOW + timedelta(seconds=6)
