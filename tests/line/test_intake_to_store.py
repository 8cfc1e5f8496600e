"""From mosquitto_pub over a real mosquitto into the store; what is no reading is kept aside."""

import json
import subprocess
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from monitor.clock import SystemClock, to_ms
from monitor.errors import BrokerError
from monitor.intake import inbox
from monitor.intake.batch import BatchSummary
from monitor.intake.broker import BrokerSettings
from monitor.intake.client import Intake
from monitor.intake.session import check_broker
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Sensor
from tests.real.broker import Broker
from tests.real.need import need, wait_until

SENSOR = Sensor(name="urn:dev:ops:kettlemoss-barn", space="barn")
NOW_S = int(datetime.now(UTC).timestamp())


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url, "kettlemoss")
    yield opened
    opened.close()


class Line:
    def __init__(self, store: Store, broker: Broker, **settings: object) -> None:
        self.store = store
        self.broker = broker
        self.program = need("mosquitto_pub", "mosquitto-clients")
        self.batches: list[BatchSummary] = []
        self.intake = Intake(
            BrokerSettings(port=broker.port, topics=("kettlemoss/#",), **settings),
            store,
            [SENSOR],
            SystemClock(),
            self.batches.append,
        )

    def publish(self, payload: str | bytes, topic: str = "kettlemoss/barn", *more: str) -> None:
        data = payload.encode() if isinstance(payload, str) else payload
        subprocess.run(
            [self.program, *f"-h 127.0.0.1 -p {self.broker.port} -q 1 -s -t".split(), topic, *more],
            input=data,
            check=True,
            timeout=20,
        )

    def wait_for(self, messages: int) -> None:
        wait_until(
            lambda: self.intake.intake_health().messages >= messages, 10, f"{messages} messages"
        )


@pytest.fixture(params=["5", "3.1.1"])
def line(request, store, broker: Broker) -> Iterator[Line]:
    made = Line(store, broker, version=request.param)
    made.intake.start()
    wait_until(lambda: made.intake.intake_health().connected, 10, "the broker")
    yield made
    made.intake.stop(5)


def pack(at_s: float, celsius: float, percent: float = 81.5) -> str:
    return json.dumps(
        [
            {"bn": f"{SENSOR.name}:", "bt": at_s, "n": "temperature", "u": "Cel", "v": celsius},
            {"n": "humidity", "u": "%RH", "v": percent},
        ]
    )


def test_a_published_pack_is_in_the_store_once_however_often_it_is_sent(line):
    for _ in range(3):
        line.publish(pack(NOW_S, -3.25))
    line.wait_for(3)
    with line.store.snapshot() as tx:
        latest = tx.yard_readings.latest_readings()
        assert tx.yard_readings.count_readings() == 2
    temperature = latest[SENSOR.name, Channel.TEMPERATURE]
    assert (temperature.at_ms, temperature.value) == (NOW_S * 1000, pytest.approx(-3.25))
    assert temperature.flag is Flag.PASS
    assert latest[SENSOR.name, Channel.HUMIDITY].value == pytest.approx(81.5)
    assert line.batches[0].readings == 2
    assert line.batches[0].newest_ms == NOW_S * 1000
    assert line.batches[0].sensors == {SENSOR.name}


def test_one_bad_record_costs_only_itself_and_the_message_is_kept_with_its_reasons(line):
    line.publish(
        json.dumps(
            [
                {"bn": f"{SENSOR.name}:", "bt": NOW_S, "n": "temperature", "u": "Cel", "v": 1.5},
                {"n": "humidity", "u": "Cel", "v": 80},
                {"bn": "urn:dev:ops:stranger:", "n": "temperature", "u": "Cel", "v": 2},
            ]
        )
    )
    line.wait_for(1)
    with line.store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 1
        (kept,) = tx.aside.newest_by_topic()
    assert kept.topic == "kettlemoss/barn"
    assert "does not fit humidity" in kept.reason
    assert "urn:dev:ops:stranger:temperature: no sensor of this yard" in kept.reason


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"\xff\x00 not a reading", "no SenML pack"),
        (pack(NOW_S + 10 * 86400, 1.0), "clock is 10 days ahead"),
        (pack(NOW_S - 90 * 86400, 1.0), "90 days ago"),
        (pack(NOW_S, -300.0), "is no temperature"),
        ("[" * 5000, "nested too deeply"),
        (b"x" * 900_000, "too large, 900000 bytes"),
    ],
    ids=["bytes", "future", "past", "below absolute zero", "nested", "large"],
)
def test_what_cannot_be_used_is_kept_aside_and_the_next_message_is_taken(line, payload, reason):
    line.publish(payload)
    line.publish(pack(NOW_S, 4.5))
    line.wait_for(2)
    with line.store.snapshot() as tx:
        assert tx.yard_readings.latest_readings()[
            SENSOR.name, Channel.TEMPERATURE
        ].value == pytest.approx(4.5)
        (kept,) = tx.aside.newest_by_topic()
    assert reason in kept.reason
    assert kept.times == 1
    assert len(kept.payload) <= 64 * 1024
    assert line.intake.intake_health().aside == 1


def test_a_retained_relative_time_is_not_believed(store, broker):
    line = Line(store, broker)
    line.publish(f'[{{"n":"{SENSOR.name}:temperature","u":"Cel","v":4}}]', "kettlemoss/barn", "-r")
    line.intake.start()
    line.wait_for(1)
    line.intake.stop(5)
    with store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 0
        assert "nobody knows how long it waited" in tx.aside.newest_by_topic()[0].reason


def test_what_is_sent_while_intake_is_away_waits_in_the_broker(line):
    line.intake.stop(5)
    for n in range(20):
        line.publish(pack(NOW_S - n, n))
    again = Line(line.store, line.broker, version=line.intake._connection._settings.version)
    again.intake.start()
    again.wait_for(20)
    again.intake.stop(5)
    with line.store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 40


def test_a_broker_that_is_not_there_is_waited_for_in_words(store, broker):
    broker.stop()
    line = Line(store, broker)
    line.intake.start()
    wait_until(lambda: "No connection" in line.intake.intake_health().broker, 10, "words")
    assert "nothing listens there" in line.intake.intake_health().broker
    broker.start()
    wait_until(lambda: line.intake.intake_health().connected, 10, "the broker")
    line.intake.stop(5)
    assert to_ms(SystemClock().now()) > 0


def test_a_clock_that_is_wrong_by_the_same_amount_is_put_right_from_the_third_message(line):
    year_1970 = 86_400.0
    for n in range(4):
        line.publish(pack(year_1970 + 10 * n, -5.0 + n))
    line.wait_for(4)
    with line.store.snapshot() as tx:
        reading = tx.yard_readings.latest_readings()[SENSOR.name, Channel.TEMPERATURE]
        assert tx.yard_readings.count_readings() == 4
        assert tx.aside.count_messages() == 2
    assert reading.value == pytest.approx(-2.0)
    assert reading.flag is Flag.NOT_EVALUATED
    assert abs(reading.at_ms / 1000 - datetime.now(UTC).timestamp()) < 60
    assert f"The clock of {SENSOR.name} is" in line.intake.intake_health().clocks[0]


def test_a_first_try_says_that_the_broker_answers_and_leaves_the_session_alone(line):
    settings = BrokerSettings(port=line.broker.port, topics=("kettlemoss/#",))
    assert "lets laidup read kettlemoss/#" in check_broker(settings)
    assert line.intake.intake_health().connected
    assert line.intake.intake_health().connections == 1


def test_a_first_try_says_why_there_is_no_broker(broker):
    broker.stop()
    with pytest.raises(BrokerError, match="nothing listens there"):
        check_broker(BrokerSettings(port=broker.port))


def test_after_a_restart_a_busy_yard_is_live_again_though_it_leaves_no_gap(
    store, broker, monkeypatch
):
    # What has no time of its own is taken only live. A sensor in twenty a second never pauses.
    monkeypatch.setattr(inbox, "SPAN_S", 0.5)
    first = Line(store, broker)
    first.intake.start()
    wait_until(lambda: first.intake.intake_health().connected, 10, "the broker")
    first.intake.stop(5)
    chatter = threading.Event()

    def chat() -> None:
        program, n = [first.program, "-p", str(broker.port), "-q", "1", "-t", "kettlemoss/x"], 0
        with subprocess.Popen([*program, "-l"], stdin=subprocess.PIPE) as sender:
            assert sender.stdin is not None
            while not chatter.wait(0.05):
                n += 1
                line = f'[{{"n":"{SENSOR.name}:temperature","u":"Cel","v":{n % 7}}}]\n'
                sender.stdin.write(line.encode())
                sender.stdin.flush()

    thread = threading.Thread(target=chat)
    thread.start()
    try:
        time.sleep(0.5)  # some wait in the broker: nobody will know when they were sent
        second = Line(store, broker)
        second.intake.start()
        wait_until(lambda: second.intake.intake_health().readings > 0, 8, "a live reading")
        assert second.intake.intake_health().aside > 0
    finally:
        chatter.set()
        thread.join()
        second.intake.stop(5)
