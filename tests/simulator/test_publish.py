"""The publisher against a real broker: everything arrives, also when the broker is killed."""

import csv
import threading
import time
from datetime import UTC, datetime, timedelta

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from simulator.publish import Publisher, write_csv
from tests.real.need import free_port, wait_until

START = datetime(2026, 11, 14, tzinfo=UTC)


def story(count, apart_s=1.0):
    for number in range(count):
        yield START + timedelta(seconds=number * apart_s), "t/one", f"{number}".encode()


class Listener:
    """A subscriber that keeps its session and all it hears."""

    def __init__(self, broker):
        self.heard = []
        self.client = mqtt.Client(
            CallbackAPIVersion.VERSION2, "listener", clean_session=False, protocol=mqtt.MQTTv311
        )
        self.client.reconnect_delay_set(1, 1)
        self.client.on_connect = lambda client, *_: client.subscribe("t/#", qos=1)
        self.client.on_message = lambda _c, _u, message: self.heard.append(message.payload)
        self.subscribed = threading.Event()
        self.client.on_subscribe = lambda *_: self.subscribed.set()
        self.client.connect(broker.host, broker.port)
        self.client.loop_start()
        assert self.subscribed.wait(10)

    def close(self):
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def listener(broker):
    found = Listener(broker)
    yield found
    found.close()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_whole_story_arrives_once_and_in_order(broker, listener, protocol):
    with Publisher(broker.host, broker.port, protocol=protocol) as publisher:
        sent = publisher.play(story(3000))
    assert sent == 3000
    wait_until(lambda: len(listener.heard) >= 3000, 20, "all messages to arrive")
    assert listener.heard == [f"{number}".encode() for number in range(3000)]
    assert publisher.repeated == 0


def test_after_a_killed_broker_the_last_minute_is_said_again(broker, listener):
    with Publisher(broker.host, broker.port) as publisher:
        played = threading.Thread(target=publisher.play, args=(story(600),), kwargs={"speed": 150})
        played.start()
        wait_until(lambda: len(listener.heard) >= 150, 20, "the first messages")
        broker.kill()
        time.sleep(0.3)
        broker.start()
        played.join(60)
        assert not played.is_alive()
        assert publisher.settle()
    wanted = {f"{number}".encode() for number in range(600)}
    wait_until(lambda: wanted <= set(listener.heard), 30, "every message, some of them twice")
    assert publisher.repeated > 0
    assert publisher.sent == 600


def test_speed_paces_the_story_by_its_own_times(broker):
    marks = []
    with Publisher(broker.host, broker.port) as publisher:
        began = time.monotonic()
        publisher.play(story(5, apart_s=60.0), speed=240.0, on_time=marks.append)
        took = time.monotonic() - began
    # Four minutes of story at 240 to 1; it may be late on a busy machine, never early.
    assert took >= 1.0
    assert marks == [START + timedelta(minutes=minute) for minute in range(5)]


def test_stop_ends_a_play_at_once_even_in_a_long_pause(broker):
    stop = threading.Event()
    with Publisher(broker.host, broker.port) as publisher:
        played = threading.Thread(target=publisher.play, args=(story(3, apart_s=3600.0), 1.0, stop))
        played.start()
        stop.set()
        played.join(10)
        assert not played.is_alive()


def test_no_broker_is_said_in_words():
    port = free_port()
    with pytest.raises(ConnectionError, match=f"broker 127.0.0.1:{port} cannot be reached"):
        Publisher("127.0.0.1", port).connect()


def test_an_odd_protocol_is_refused():
    with pytest.raises(ValueError, match=r"write '5' or '3\.1\.1'"):
        Publisher("127.0.0.1", 1883, protocol="4")


def test_a_file_of_readings_has_every_reading_and_no_junk(tmp_path):
    good = (
        b'[{"bn":"urn:dev:ops:y-a:","bt":1794600000,"n":"temperature","u":"Cel","v":1.5},'
        b'{"n":"temperature","u":"Cel","v":1.25,"t":-300}]'
    )
    path = tmp_path / "readings.csv"
    count = write_csv([(START, "t/a", good), (START, "t/a", b"\x01\xfe junk")], path)
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert count == len(rows) == 2
    assert rows[1] == {
        "at": "2026-11-13T19:55:00.000Z", "sensor": "urn:dev:ops:y-a", "label": "temperature",
        "unit": "Cel", "value": "1.25",
    }  # fmt: skip
