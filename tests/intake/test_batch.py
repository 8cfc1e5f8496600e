"""The writer: a message that the store will never take costs only itself, and no thread."""

import json
from collections.abc import Iterator
from dataclasses import replace

import pytest

from monitor.intake.batch import BatchSummary, Writer
from monitor.intake.decode import DecodedReading, Decoder
from monitor.intake.inbox import ArrivedMessage, Inbox
from monitor.intake.trust import AS_THEY_COME, TimePolicy
from monitor.store.store import Store
from monitor.yard.health import IntakeFaultKind
from monitor.yard.reading import Channel
from tests.line.drills.sender import SENSORS, pack
from tests.real.need import wait_until


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url, "drill")
    yield opened
    opened.close()


class Unlucky(Decoder):
    """A decoder with a fault of its own: it lets a value through that no database holds."""

    def decode_message(self, message: ArrivedMessage) -> tuple[list[DecodedReading], str]:
        readings, reason = super().decode_message(message)
        if message.topic == "poison":
            readings = [one._replace(value=2**70) for one in readings]
        return readings, reason


def message(n: int, topic: str = "drill", payload: str | None = None) -> ArrivedMessage:
    return ArrivedMessage(
        topic, (payload or pack(n)).encode(), 1_767_225_600_000, True, 1, n + 1, 1
    )


def test_a_message_that_the_store_refuses_is_set_aside_and_the_others_are_stored(store):
    inbox, acknowledged = Inbox(100), []
    told: list[BatchSummary] = []
    decoder = Unlucky(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, told.append)
    for n in range(9):
        inbox.put_message(message(n, "poison" if n == 4 else "drill"))
    writer.start()
    inbox.wake_if_any()
    wait_until(lambda: len(acknowledged) == 9, 15, "all to be dealt with")
    writer.stop(5)
    assert [one.packet_id for one in acknowledged] == list(range(1, 10))
    with store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 16
        (kept,) = tx.aside.newest_by_topic()
    assert kept.topic == "poison"
    assert "the store refuses it: " in kept.reason
    assert writer.refusal is None
    assert told[0].aside == 1


def test_a_listener_that_fails_stops_nothing(store):
    inbox, acknowledged = Inbox(100), []

    def fails(_batch: BatchSummary) -> None:
        raise RuntimeError("not today")

    decoder = Decoder(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, fails)
    writer.start()
    for n in range(2):
        inbox.put_message(message(n))
        inbox.wake_if_any()
        wait_until(lambda n=n: len(acknowledged) == n + 1, 10, "the acknowledgement")
    writer.stop(5)
    with store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 4


def test_texts_that_no_database_holds_are_kept_readably(store):
    inbox, acknowledged = Inbox(100), []
    decoder = Decoder(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, lambda _: None)
    inbox.put_message(message(0, "a\0b", '[{"n":"\\ud800\\u0000","v":1}]'))
    writer.start()
    inbox.wake_if_any()
    wait_until(lambda: len(acknowledged) == 1, 10, "the acknowledgement")
    writer.stop(5)
    with store.snapshot() as tx:
        (kept,) = tx.aside.newest_by_topic()
    assert kept.topic == "a\\0b"
    assert "\\ud800" in kept.reason


def put(writer: Writer, inbox: Inbox, *messages: ArrivedMessage) -> None:
    before = writer.messages
    for one in messages:
        inbox.put_message(one)
    inbox.wake_if_any()
    wait_until(lambda: writer.messages == before + len(messages), 10, "them to be stored")


def test_a_second_value_for_one_time_is_kept_aside_and_the_first_stays(store):
    inbox = Inbox(100)
    name = SENSORS[0].name
    first, second = (
        f'[{{"n":"{name}:temperature","u":"Cel","t":1767225600,"v":{value}}}]' for value in (1, 1.5)
    )
    told: list[BatchSummary] = []
    writer = Writer(store, Decoder(SENSORS, AS_THEY_COME), inbox, lambda _: None, told.append)
    writer.start()
    put(writer, inbox, message(0, payload=first))
    put(writer, inbox, message(1, payload=second), message(2, payload=first))
    writer.stop(5)
    for _ in range(2):  # a restart tries what is aside again; this is not for it
        restarted = Writer(store, Decoder(SENSORS, AS_THEY_COME), Inbox(9), list, told.append)
        restarted.start()
        restarted.stop(5)
    with store.snapshot() as tx:
        assert tx.yard_readings.latest_readings()[name, Channel.TEMPERATURE].value == 1.0
        (kept,) = tx.aside.newest_by_topic()
    assert (kept.topic, kept.times) == (f"{name}:temperature", 1)
    assert kept.reason == "another value for its time; the first one, 1 Cel, stays"
    assert json.loads(kept.payload) == [
        {"n": f"{name}:temperature", "u": "Cel", "t": 1767225600, "v": 1.5}
    ]
    assert [one.aside for one in told] == [0, 1]


def test_what_a_sensor_promises_is_kept_by_channel(store):
    inbox = Inbox(100)
    name = SENSORS[0].name
    pack = (
        f'[{{"bn":"{name}:","bt":1767225600,"n":"temperature","u":"Cel","v":1,"ut":600}},'
        '{"n":"humidity","u":"%RH","v":70},{"n":"sensor_battery","u":"%EL","v":93,"ut":1e9}]'
    )
    writer = Writer(store, Decoder(SENSORS, AS_THEY_COME), inbox, lambda _: None, lambda _: None)
    writer.start()
    put(writer, inbox, message(0, payload=pack))
    writer.stop(5)
    channels = (Channel.TEMPERATURE, Channel.HUMIDITY, Channel.SENSOR_BATTERY)
    with store.snapshot() as tx:
        traces = tx.readings.traces_between([(name, channel) for channel in channels], 0, 2**60)
    # Nobody waits longer than a day.
    assert [one.update_s for one in traces.values()] == [600.0, None, 86400.0]


def test_a_wrong_clock_is_known_to_the_store_until_it_is_right(store):
    name, arrived_s = SENSORS[0].name, 1_767_225_600

    def sent(n: int, ahead_s: int) -> ArrivedMessage:
        at_s = arrived_s + 60 * n
        payload = f'[{{"n":"{name}:temperature","u":"Cel","t":{at_s + ahead_s},"v":1}}]'
        return message(n, payload=payload)._replace(arrived_ms=1000 * at_s)

    def noted() -> dict[str, float]:
        with store.snapshot() as tx:
            return {
                one: round(clock.ahead_s) for one, clock in tx.sensor_clocks.wrong_clocks().items()
            }

    for n, ahead_s, expected in ((0, 7200, {name: 7200}), (1, 7200, {name: 7200}), (2, 0, {})):
        inbox = Inbox(9)  # each after a restart: what the store knows is taken up
        writer = Writer(store, Decoder(SENSORS, TimePolicy()), inbox, list, lambda _: None)
        writer.start()
        put(writer, inbox, sent(n, ahead_s))
        writer.stop(5)
        assert noted() == expected


def test_acknowledgements_leave_in_the_order_of_arrival_though_topics_take_turns(store):
    inbox, acknowledged = Inbox(1000), []
    decoder = Decoder(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, lambda _: None)
    for n in range(60):
        inbox.put_message(message(n, "flood", "x" * 10_000))
    inbox.put_message(message(60))
    writer.start()
    inbox.wake_if_any()
    wait_until(lambda: len(acknowledged) == 61, 15, "all to be acknowledged")
    writer.stop(5)
    assert [one.packet_id for one in acknowledged] == list(range(1, 62))
    with store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 2
        assert sum(row.times for row in tx.aside.newest_by_topic()) == 60


def test_whoever_is_told_of_a_batch_finds_it_counted_and_acknowledged(store):
    inbox, acknowledged, found = Inbox(100), [], []

    def told(_batch: BatchSummary) -> None:
        found.append((writer.messages, writer.readings, len(acknowledged)))

    decoder = Decoder(SENSORS, AS_THEY_COME)
    writer = Writer(store, decoder, inbox, acknowledged.extend, told)
    writer.start()
    put(writer, inbox, message(0), message(1), message(2))
    writer.stop(5)
    assert found == [(3, 6, 3)]


def test_of_a_flood_that_nobody_can_read_the_beginnings_are_kept_and_what_can_be_read_whole(store):
    inbox, acknowledged = Inbox(1000), []
    writer = Writer(store, Decoder([], AS_THEY_COME), inbox, acknowledged.extend, lambda _: None)
    stranger = pack(0)[:-1] + " " * 20_000 + "]"  # of a sensor that may become known
    for n in range(20):
        inbox.put_message(message(n, "broken", f"{n:04d}" + "x" * 20_000))
        inbox.put_message(message(n, "stranger", stranger.replace(":0,", f":{n},")))
    writer.start()
    inbox.wake_if_any()
    wait_until(lambda: len(acknowledged) == 40, 15, "all to be acknowledged")
    writer.stop(5)
    with store.snapshot() as tx:
        rows = tx.aside.newest_by_topic()
    sizes = {
        topic: [len(row.payload) for row in rows if row.topic == topic for _ in range(row.times)]
        for topic in ("broken", "stranger")
    }
    assert sorted(sizes["broken"])[-4:] == [1024, 20_004, 20_004, 20_004]
    assert len(sizes["broken"]) == 20
    assert min(sizes["stranger"]) > 20_000
    assert all(("only its beginning" in row.reason) == (len(row.payload) == 1024) for row in rows)


def test_who_sends_as_another_s_sensor_is_counted_with_what_is_kept_aside(store):
    inbox, acknowledged = Inbox(100), []
    tied = [replace(each, topic="mill/shedgate/#") for each in SENSORS]
    writer = Writer(store, Decoder(tied, AS_THEY_COME), inbox, acknowledged.extend, lambda _: None)
    for n, topic in enumerate(("mill/shedgate/air", "mill/other/air", "mill/other/more")):
        inbox.put_message(message(n, topic))
    writer.start()
    inbox.wake_if_any()
    wait_until(lambda: len(acknowledged) == 3, 15, "all to be dealt with")
    writer.stop(5)
    with store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 2
        assert {one.topic for one in tx.aside.newest_by_topic()} == {
            "mill/other/air",
            "mill/other/more",
        }
        assert tx.intake_faults.standing_faults()[IntakeFaultKind.FOREIGN_TOPIC].amount == 2
