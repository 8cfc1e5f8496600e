"""The writer: a message that the store will never take costs only itself, and no thread."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.intake.batch import BatchSummary, Writer
from monitor.intake.decode import Decoder, Taken
from monitor.intake.inbox import Inbox, Message
from monitor.intake.trust import AS_THEY_COME
from monitor.store.migrate import migrate
from monitor.store.store import Store
from tests.line.drills import SENSORS, pack
from tests.real.need import wait_until


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    url = f"sqlite:///{tmp_path}/laidup.db"
    migrate(url)
    opened = Store(url, "drill")
    yield opened
    opened.close()


class Unlucky(Decoder):
    """A decoder with a fault of its own: it lets a value through that no database holds."""

    def decode(self, message: Message) -> tuple[list[Taken], str]:
        readings, reason = super().decode(message)
        if message.topic == "poison":
            readings = [one._replace(value=2**70) for one in readings]
        return readings, reason


def message(n: int, topic: str = "drill", payload: str | None = None) -> Message:
    return Message(topic, (payload or pack(n)).encode(), 1_767_225_600_000, True, 1, n + 1, 1)


def test_a_message_that_the_store_refuses_is_set_aside_and_the_others_are_stored(store):
    inbox, acknowledged = Inbox(100), []
    told: list[BatchSummary] = []
    decoder = Unlucky(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, told.append)
    for n in range(9):
        inbox.put(message(n, "poison" if n == 4 else "drill"))
    writer.start()
    inbox.announce()
    wait_until(lambda: len(acknowledged) == 9, 15, "all to be dealt with")
    writer.stop(5)
    assert [one.packet_id for one in acknowledged] == list(range(1, 10))
    with store.snapshot() as tx:
        assert tx.readings.count() == 16
        (kept,) = tx.aside.newest()
    assert kept.topic == "poison"
    assert "the store refuses it: " in kept.reason
    assert writer.trouble == ""
    assert told[0].aside == 1


def test_a_listener_that_fails_stops_nothing(store):
    inbox, acknowledged = Inbox(100), []

    def fails(_batch: BatchSummary) -> None:
        raise RuntimeError("not today")

    decoder = Decoder(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, fails)
    writer.start()
    for n in range(2):
        inbox.put(message(n))
        inbox.announce()
        wait_until(lambda n=n: len(acknowledged) == n + 1, 10, "the acknowledgement")
    writer.stop(5)
    with store.snapshot() as tx:
        assert tx.readings.count() == 4


def test_texts_that_no_database_holds_are_kept_readably(store):
    inbox, acknowledged = Inbox(100), []
    decoder = Decoder(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, lambda _: None)
    inbox.put(message(0, "a\0b", '[{"n":"\\ud800\\u0000","v":1}]'))
    writer.start()
    inbox.announce()
    wait_until(lambda: len(acknowledged) == 1, 10, "the acknowledgement")
    writer.stop(5)
    with store.snapshot() as tx:
        (kept,) = tx.aside.newest()
    assert kept.topic == "a\\0b"
    assert "\\ud800" in kept.reason
