"""How fast is intake, beside an MQTT subscriber that does nothing? `python -m tests.bench.intake`.

All messages wait in the broker (mosquitto_pub has sent them, QoS 1); a fresh process then takes
them. Floor: a paho subscriber that counts and lets paho acknowledge. Ours: the same messages
decoded, flagged, committed (SQLite WAL, synchronous FULL) and acknowledged after the commit. A rate
is messages per second of the process's own processor time, and, beside it, per second of the wall.
PostgreSQL is a cluster of this run. `--write` puts the page into INTAKE.md beside this file.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from monitor.clock import ReadingsClock, SystemClock, from_ms
from monitor.intake.batch import BatchSummary
from monitor.intake.broker import BrokerSettings
from monitor.intake.client import Intake
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.space import Sensor
from tests.real.broker import Broker
from tests.real.need import need
from tests.real.page import load_in_words, page
from tests.real.postgres import throw_away_cluster

SENSORS = [Sensor(name=f"urn:dev:ops:kettlemoss-{n:03}", space="barn") for n in range(100)]
START_S = 1_767_225_600  # 2026-01-01
CLIENT_ID = "bench"
FLOOR, OURS = "idle paho", "intake, SQLite"
FILE = Path(__file__).with_name("INTAKE.md")
HEADING = """\
# Intake against a subscriber that does nothing

Written by `python -m tests.bench.intake --write`."""
INTERVAL_S = 60


def packs(messages: int, records: int) -> Iterator[str]:
    """Packs of temperature and humidity, sensor after sensor, minute after minute."""
    pairs = records // 2
    for n in range(messages):
        sensor, turn = SENSORS[n % len(SENSORS)], n // len(SENSORS)
        fields = []
        for pair in range(pairs):
            at_s = START_S + INTERVAL_S * (turn * pairs + pair)
            base = f'"bn":"{sensor.name}:",' if pair == 0 else ""
            celsius, percent = 2 + (turn * pairs + pair) % 7 / 4, 80 + (turn + pair) % 11
            fields.append(f'{{{base}"n":"temperature","u":"Cel","t":{at_s},"v":{celsius}}}')
            fields.append(f'{{"n":"humidity","u":"%RH","t":{at_s},"v":{percent}}}')
        yield f"[{','.join(fields)}]"


def idle_subscriber(port: int, messages: int) -> dict[str, float]:
    """Take all messages with paho alone."""
    done = threading.Event()
    count = 0

    def received(_client: object, _userdata: object, _message: object) -> None:
        nonlocal count
        count += 1
        if count == messages:
            done.set()

    client = paho.Client(CallbackAPIVersion.VERSION2, CLIENT_ID, protocol=paho.MQTTv5)
    client.on_message = received
    began, cpu = time.perf_counter(), time.process_time()
    client.connect("127.0.0.1", port, clean_start=False, properties=_session())
    client.loop_start()
    _await(done, client.is_connected)
    figures = _figures(began, cpu, messages)
    client.disconnect()
    client.loop_stop()
    return figures


def intake(port: int, messages: int, url: str) -> dict[str, float]:
    """Take all messages into a store."""
    migrate(url)
    store = Store(url, f"bench-{time.time_ns()}")  # nothing of it stored yet, whatever the database
    done = threading.Event()

    def taken(_batch: BatchSummary) -> None:
        if line.intake_health().messages >= messages:
            done.set()

    settings = BrokerSettings(port=port, topics=("bench/#",), client_id=CLIENT_ID)
    line = Intake(settings, store, SENSORS, ReadingsClock(from_ms(START_S * 1000)), taken)
    began, cpu = time.perf_counter(), time.process_time()
    line.start()
    _await(done, lambda: line.intake_health().connected)
    figures = _figures(began, cpu, messages)
    line.stop(10)
    with store.snapshot() as tx:
        figures["stored"] = tx.yard_readings.count_readings()
    store.close()
    return figures


def latency(port: int, url: str, seconds: float = 15.0) -> list[float]:
    """Seconds from publishing to the commit, at 100 messages a second."""
    migrate(url)
    store = Store(url, "kettlemoss")
    found: list[float] = []

    def taken(batch: BatchSummary) -> None:
        if batch.newest_ms is not None:
            found.append(time.time() - batch.newest_ms / 1000)

    settings = BrokerSettings(port=port, topics=("bench/#",), client_id=f"{CLIENT_ID}-latency")
    line = Intake(settings, store, SENSORS, SystemClock(), taken)
    line.start()
    publisher = paho.Client(CallbackAPIVersion.VERSION2, "bench-publisher", protocol=paho.MQTTv5)
    publisher.connect("127.0.0.1", port)
    publisher.loop_start()
    while not line.intake_health().connected:
        time.sleep(0.01)
    end = time.monotonic() + seconds
    n = 0
    while time.monotonic() < end:
        name = SENSORS[n % len(SENSORS)].name
        fields = f'"bn":"{name}:","bt":{time.time():.3f},"n":"temperature","u":"Cel","v":{n % 9}'
        publisher.publish("bench/latency", f"[{{{fields}}}]", qos=1)
        n += 1
        time.sleep(0.01)
    time.sleep(1)
    publisher.disconnect()
    publisher.loop_stop()
    line.stop(10)
    store.close()
    return found


def fsync_s(folder: Path, times: int = 200) -> float:
    """Median time of one fsync after a page was appended to a file [s]."""
    spans = []
    with (folder / "fsync").open("wb") as file:
        for _ in range(times):
            file.write(b"x" * 4096)
            file.flush()
            began = time.perf_counter()
            os.fsync(file.fileno())
            spans.append(time.perf_counter() - began)
    return median(spans)


def _session() -> Properties:
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    properties.ReceiveMaximum = BrokerSettings().receive_maximum
    return properties


def _await(done: threading.Event, connected: Callable[[], bool]) -> None:
    if not done.wait(120):
        raise SystemExit(f"not all messages came; connected: {connected()}")


def _figures(began: float, cpu: float, messages: int) -> dict[str, float]:
    return {
        "wall": messages / (time.perf_counter() - began),
        "cpu": messages / (time.process_time() - cpu),
        "rss_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


class Bench:
    """A broker, a folder, and child processes that are measured."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "broker").mkdir()
        self.broker = Broker(folder / "broker")
        self.broker.start()
        self._runs = 0

    def load(self, messages: int, records: int) -> None:
        """Open the session and let mosquitto_pub fill it."""
        client = paho.Client(CallbackAPIVersion.VERSION2, CLIENT_ID, protocol=paho.MQTTv5)
        subscribed = threading.Event()
        client.on_subscribe = lambda *_: subscribed.set()
        client.connect("127.0.0.1", self.broker.port, clean_start=False, properties=_session())
        client.loop_start()
        client.subscribe("bench/#", qos=1)
        subscribed.wait(10)
        client.disconnect()
        client.loop_stop()
        lines = "\n".join(packs(messages, records))
        subprocess.run(
            [
                need("mosquitto_pub", "mosquitto-clients"),
                *f"-h 127.0.0.1 -p {self.broker.port} -q 1 -t bench/all -l".split(),
            ],
            input=lines.encode() + b"\n",
            check=True,
            timeout=300,
        )

    def child(self, *arguments: str) -> dict[str, float]:
        """Run one measurement in a process of its own."""
        run = subprocess.run(
            [
                sys.executable,
                *f"-m tests.bench.intake --port {self.broker.port}".split(),
                *arguments,
            ],
            check=True,
            timeout=400,
            stdout=subprocess.PIPE,
        )
        return json.loads(run.stdout)

    def file(self) -> str:
        """Address of a new SQLite file."""
        self._runs += 1
        return f"sqlite:///{self.folder}/{self._runs}.db"


HEADER = (
    "| subscriber | records a message | messages/s of processor | ratio | messages/s of wall"
    " | ratio | records/s of processor | memory MB |"
)


def measure(messages: int, rounds: int) -> Iterator[str]:
    """Run everything; the lines of a page in Markdown."""
    yield (
        f"{messages} messages a run, a quarter of that in packs of 20; median of {rounds} runs, the"
        f" subscribers in turn. {load_in_words()}\n"
    )
    yield HEADER
    yield "|---|---|---|---|---|---|---|---|"
    records_per_s: dict[int, float] = {}
    ratio = floor_us = 0.0
    with tempfile.TemporaryDirectory() as name, throw_away_cluster() as cluster:
        folder = Path(name)
        bench = Bench(folder)
        postgres = cluster.render_as_string(hide_password=False)
        try:
            for records, count in ((2, messages), (20, messages // 4)):
                runs: dict[str, list[dict[str, float]]] = {}
                for _ in range(rounds):  # in turn, so that a busy machine troubles all alike
                    for kind, arguments in (
                        (FLOOR, ["idle"]),
                        (OURS, ["intake", "--url", bench.file()]),
                        ("intake, PostgreSQL", ["intake", "--url", postgres]),
                    ):
                        bench.load(count, records)
                        found = bench.child(*arguments, "--messages", str(count))
                        runs.setdefault(kind, []).append(found)
                for kind in runs:
                    yield row(kind, records, runs)
                cpu = median(run["cpu"] for run in runs[OURS])
                records_per_s[records] = cpu * records
                floor_us = 1e6 / median(run["cpu"] for run in runs[FLOOR])
                if records == 2:
                    ratio = cpu * floor_us / 1e6
            yield from latency_in_words(bench, folder)
        finally:
            bench.broker.kill()
    yield "\n| aim | reached |\n| --- | --- |"
    yield f"| 0.85 of the idle subscriber, two records a message | {ratio:.2f} |"
    more = records_per_s[20] / records_per_s[2]
    yield f"| 10 times the records a second in packs of 20 | {more:.1f} |"
    left_us = 1e6 / (records_per_s[2] / 2) - floor_us
    yield (
        f"\nTen times would leave {left_us:.0f} us of processor for the 20 records of a pack beside"
        f" what the idle subscriber takes; reading the pack's JSON alone takes {json_us():.0f} us."
    )


def json_us(messages: int = 2000) -> float:
    """Processor time of reading a pack of 20 with the standard library, and nothing more [us]."""
    texts = list(packs(messages, 20))
    began = time.process_time()
    for text in texts:
        json.loads(text)
    return 1e6 * (time.process_time() - began) / messages


def row(kind: str, records: int, runs: dict[str, list[dict[str, float]]]) -> str:
    """One line of the table."""
    cpu, wall = (median(run[key] for run in runs[kind]) for key in ("cpu", "wall"))
    floor_cpu, floor_wall = (median(run[key] for run in runs[FLOOR]) for key in ("cpu", "wall"))
    memory = max(run["rss_mb"] for run in runs[kind])
    return (
        f"| {kind} | {records} | {cpu:.0f} | {cpu / floor_cpu:.2f} | {wall:.0f}"
        f" | {wall / floor_wall:.2f} | {cpu * records:.0f} | {memory:.0f} |"
    )


def latency_in_words(bench: Bench, folder: Path) -> Iterator[str]:
    """How long a message takes, in times of one fsync."""
    one_fsync_s = fsync_s(folder)
    spans = sorted(latency(bench.broker.port, bench.file()))
    middle, last = spans[len(spans) // 2], spans[len(spans) * 99 // 100]
    yield (
        f"\nFrom publishing to commit at 100 messages a second: median {middle * 1000:.1f} ms ="
        f" {middle / one_fsync_s:.1f} fsyncs, 99th percentile {last * 1000:.1f} ms ="
        f" {last / one_fsync_s:.1f} fsyncs; one fsync here takes {one_fsync_s * 1000:.2f} ms."
    )


def main() -> None:
    """Measure, or be one of the measured processes."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", nargs="?", choices=("all", "idle", "intake"), default="all")
    parser.add_argument("--messages", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    parser.add_argument("--port", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--url", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.what == "idle":
        print(json.dumps(idle_subscriber(given.port, given.messages)))
    elif given.what == "intake":
        print(json.dumps(intake(given.port, given.messages, given.url)))
    else:
        page(FILE if given.write else None, HEADING, measure(given.messages, given.rounds))


if __name__ == "__main__":
    main()
