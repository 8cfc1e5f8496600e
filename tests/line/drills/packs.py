"""Packs that the broker acknowledged, counted while every part of the line dies in turn.

A publisher sends numbered packs with QoS 1 and remembers which the broker has acknowledged; a
process of its own takes them in, wired as the daemon wires intake; a fault strikes several times
at random moments. In the end every acknowledged pack must be in the store, and nothing twice.
"""

import contextlib
import itertools
import logging
import os
import random
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
from sqlalchemy import NullPool, create_engine, text

from monitor.clock import SystemClock
from monitor.errors import StoreError
from monitor.intake.broker import BrokerSettings
from monitor.intake.client import Intake
from monitor.intake.trust import AS_THEY_COME
from monitor.store.landing import LATE_MS
from monitor.store.migrate import migrate
from monitor.store.store import Store
from tests.line.drills.sender import SENSORS, START_S, Sender
from tests.line.drills.whole_yard import ALL_READINGS
from tests.real.broker import Broker
from tests.real.need import wait_until

YARD = "drill"


class Taker:
    """A process that takes in, and can be killed and started again."""

    def __init__(self, port: int, url: str, log: Path) -> None:
        self.log = log
        self._arguments = [sys.executable, "-m", "tests.line.drills", "--take", url]
        self._arguments += ["--port", str(port)]
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it; it connects when it can."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(self._arguments, stderr=log)

    def said(self, words: str) -> int:
        """How often its log says so, over every start."""
        return self.log.read_text(encoding="utf-8").count(words)

    def end(self, how: signal.Signals = signal.SIGKILL) -> None:
        """Kill it, or ask it to stop."""
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait(30)
            self.process = None


class Gate:
    """A way to the broker that can be closed: what is sent meanwhile goes nowhere, unnoticed."""

    def __init__(self, port: int) -> None:
        self._to = port
        self.bytes_per_s = 0  # each way, as over a slow line; 0: as fast as it goes
        self._open = threading.Event()
        self._open.set()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self._sockets: list[socket.socket] = []
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                inner, _ = self._listener.accept()
                if not self._open.is_set():
                    inner.close()
                    continue
                try:
                    outer = socket.create_connection(("127.0.0.1", self._to))
                except OSError:  # no broker there just now
                    inner.close()
                    continue
                self._sockets += [inner, outer]
                for one, other in ((inner, outer), (outer, inner)):
                    threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := one.recv(65536 if not self.bytes_per_s else 4096):
                if not self._open.is_set():
                    return  # swallowed, as by a cable that was pulled
                other.sendall(data)
                if self.bytes_per_s:
                    time.sleep(len(data) / self.bytes_per_s)
        for end in (one, other):
            with contextlib.suppress(OSError):
                end.close()

    def cut(self, seconds: float) -> None:
        """Carry nothing for a while, then let new connections in."""
        self._open.clear()
        time.sleep(seconds)
        for end in self._sockets:
            with contextlib.suppress(OSError):
                end.close()
        self._sockets.clear()
        self._open.set()

    def close(self) -> None:
        """Let nobody in any more."""
        self._listener.close()


@dataclass
class Scene:
    """All parts of one drill."""

    broker: Broker
    taker: Taker
    database: Path  # of an SQLite store
    url: str
    gate: Gate
    chance: random.Random
    mounted: bool = False  # the database stands on a small disk of its own

    def wait(self, least_s: float = 0.2, most_s: float = 1.2) -> None:
        """Let a random time pass."""
        time.sleep(self.chance.uniform(least_s, most_s))

    @contextlib.contextmanager
    def locked(self) -> Iterator[None]:
        """Hold the store's write lock, as another process may."""
        with contextlib.closing(Store(self.url, YARD)) as other, other.transaction():
            yield

    @contextlib.contextmanager
    def full(self) -> Iterator[None]:
        """Leave no room for the store: its next writes fail."""
        if self.mounted:
            ballast = self.database.with_name("ballast")
            with ballast.open("wb", buffering=0) as file, contextlib.suppress(OSError):
                while True:
                    file.write(bytes(4096))
            try:
                yield
            finally:
                ballast.unlink()
            return
        # No right to mount: let the taker's files grow no more.
        assert self.taker.process is not None
        pid = self.taker.process.pid
        wal = self.database.with_name(f"{self.database.name}-wal")
        size = max(file.stat().st_size for file in (self.database, wal) if file.exists())
        before = resource.prlimit(pid, resource.RLIMIT_FSIZE)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (size // 2, before[1]))
        try:
            yield
        finally:
            resource.prlimit(pid, resource.RLIMIT_FSIZE, before)


def daemon_killed(scene: Scene) -> None:
    """kill -9 of the daemon."""
    scene.wait(0.3, 2.5)
    scene.taker.end()
    scene.taker.start()


def broker_stopped(scene: Scene) -> None:
    """The broker stopped with TERM."""
    scene.wait()
    scene.broker.stop()
    scene.wait()
    scene.broker.start()
    scene.wait(2.0, 2.5)  # until everybody is back


def broker_killed(scene: Scene) -> None:
    """kill -9 of the broker."""
    scene.wait()
    scene.broker.kill()
    scene.wait()
    scene.broker.start()
    scene.wait(2.0, 2.5)
    _session_saved(scene.broker)


def unsaved_broker_killed(scene: Scene) -> None:
    """kill -9 of a broker that has saved nothing."""
    scene.wait()
    scene.broker.kill()
    scene.wait()
    scene.broker.start()
    scene.wait(2.0, 2.5)


def both_killed(scene: Scene) -> None:
    """kill -9 of the broker and the daemon."""
    scene.wait()
    scene.broker.kill()
    scene.taker.end()
    scene.wait()
    scene.broker.start()
    scene.taker.start()
    scene.wait(2.0, 3.5)
    _session_saved(scene.broker)


def disk_full(scene: Scene) -> None:
    """The disk is full for a while."""
    scene.wait()
    failed, better = "The store takes nothing", "The store takes readings again"
    before = scene.taker.said(failed)
    with scene.full():
        wait_until(lambda: scene.taker.said(failed) > before, 20, "a write that fails")
        scene.wait(1.0, 2.0)
    wait_until(lambda: scene.taker.said(better) > before, 20, "a write that succeeds")


def store_locked(scene: Scene) -> None:
    """Another process holds the store's lock."""
    scene.wait()
    with scene.locked():
        scene.wait(2.0, 4.0)


def network_cut(scene: Scene) -> None:
    """The network carries nothing for a while."""
    scene.wait()
    scene.gate.cut(scene.chance.uniform(1.0, 3.0))
    scene.wait(1.0, 2.0)


def late_acknowledgement(scene: Scene) -> None:
    """A batch is stored only after its connection is gone and the broker counts ids anew."""
    scene.wait()
    with scene.locked():
        scene.wait(0.5, 1.0)
        scene.broker.kill()
        scene.broker.start()
        scene.wait(2.5, 3.0)  # the daemon is connected again, and holds the old batch still


@dataclass(frozen=True)
class Drill:
    """A fault, how often it strikes, and whether the sender repeats its last seconds."""

    name: str
    fault: Callable[[Scene], None]
    times: int
    repeat_s: float = 0.0
    per_s: float = 250.0
    broker: str = "autosave_interval 1"  # as in deploy/mosquitto/keeping.conf
    may_lose: int = 0  # by a broker that acknowledges before it saves, in one strike
    saves: bool = True  # within a second: its session can be waited for


# What Debian's mosquitto.conf comes to: persistence true, and all else as mosquitto has it.
_DEBIAN = "autosave_interval 1800\nmax_queued_messages 1000\nmax_inflight_messages 20"
_SECONDS = (
    6  # of packs that a killed broker may lose: what it had not saved, and until all are back
)

DRILLS = [
    Drill("daemon killed -9", daemon_killed, 20),
    Drill("broker stopped (TERM)", broker_stopped, 3),
    Drill("broker killed -9, sender repeats 10 s", broker_killed, 4, 10.0),
    Drill("broker and daemon killed -9, sender repeats 10 s", both_killed, 3, 10.0),
    Drill(
        "broker killed -9, nobody repeats, autosave_on_changes",
        broker_killed,
        4,
        per_s=20.0,
        broker="autosave_on_changes true",
        may_lose=1,
    ),
    Drill("broker killed -9, nobody repeats", broker_killed, 4, may_lose=_SECONDS * 250),
    Drill(
        "broker killed -9, nobody repeats, Debian's own settings",
        unsaved_broker_killed,
        4,
        broker=_DEBIAN,
        may_lose=_SECONDS * 250,
        saves=False,
    ),
    Drill("disk full", disk_full, 3),
    Drill("store locked by another process", store_locked, 3),
    Drill("network cut", network_cut, 3),
    Drill("late acknowledgement, sender repeats 10 s", late_acknowledgement, 2, 10.0),
]


@dataclass(frozen=True)
class Outcome:
    """What became of the packs."""

    sent: int
    acknowledged: int
    stored: int  # of the acknowledged
    doubled: int  # readings in the store that are none of those sent

    @property
    def lost(self) -> int:
        """Acknowledged to the sender, and not in the store."""
        return self.acknowledged - self.stored


def run(drill: Drill, folder: Path, seed: int, url: str = "") -> Outcome:
    """Run one drill in an empty folder; in a file there, where no ``url`` names a store."""
    disk = folder / "disk"
    disk.mkdir()
    mounted = drill.fault is disk_full and _mount(disk)
    database = disk / "laidup.db"
    url = url or f"sqlite:///{database}"
    migrate(url)
    (folder / "broker").mkdir()
    listener = "listener {port} 127.0.0.1\nallow_anonymous true\n"
    broker = Broker(folder / "broker", f"{listener}{drill.broker}\n")
    broker.start()
    gate = Gate(broker.port)
    taker = Taker(gate.port, url, folder / "taker.log")
    scene = Scene(broker, taker, database, url, gate, random.Random(seed), mounted)
    try:
        taker.start()
        wait_until(lambda: _sessions(broker) > 0, 20, "the daemon to subscribe")
        if drill.saves:
            _session_saved(broker)
        sender = Sender(broker.port, drill.per_s, drill.repeat_s)
        for _ in range(drill.times):
            drill.fault(scene)
        sender.finish()
        want = {key for number in sender.acknowledged for key in _keys(number)}
        _settle(url, want)
        taker.end(signal.SIGTERM)
        held = _stored(url)
        every = {key for number in range(sender.sent) for key in _keys(number)}
        stored = sum(1 for number in sender.acknowledged if _keys(number) <= set(held))
        return Outcome(
            sent=sender.sent,
            acknowledged=len(sender.acknowledged),
            stored=stored,
            doubled=len(held) - len(every & set(held)),
        )
    finally:
        taker.end()
        gate.close()
        broker.kill()
        if mounted:
            subprocess.run(["umount", "--lazy", str(disk)], check=False)


def _mount(disk: Path) -> bool:
    """Mount a small disk, where the machine lets us."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        return False
    command = ["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", str(disk)]
    return subprocess.run(command, check=False, capture_output=True).returncode == 0


def _sessions(broker: Broker) -> int:
    """Whether the broker keeps a session that laidup has subscribed with: nothing sent is lost."""
    heard: list[bool] = []
    client = paho.Client(CallbackAPIVersion.VERSION2, "drill-look", protocol=paho.MQTTv5)
    client.on_publish = lambda _c, _u, _id, reason, _p: heard.append(str(reason) == "Success")
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    client.publish("drill/hello", "hello", qos=1)
    wait_until(lambda: bool(heard), 5, "an answer to hello")
    client.disconnect()
    client.loop_stop()
    return sum(heard)


def _session_saved(broker: Broker) -> None:
    """Wait until the broker's file holds the daemon's session, however busy the machine is.

    A broker that dies before it has saved a session forgets that anybody subscribed, and drops
    what it acknowledges until the daemon is back. That would be the broker's fault, not the line's.
    """
    began = time.time()
    wait_until(lambda: _sessions(broker) > 0, 20, "the broker to know the daemon's session")
    file = broker.folder / "mosquitto.db"

    def saved() -> bool:
        return file.exists() and file.stat().st_mtime >= began

    wait_until(saved, 20, "the broker to save the session")


Key = tuple[str, str, int]


def _keys(number: int) -> set[Key]:
    at_ms = 1000 * (START_S + 60 * (number // len(SENSORS)))
    name = SENSORS[number % len(SENSORS)].name
    return {(name, "temperature", at_ms), (name, "humidity", at_ms)}


def _stored(url: str) -> list[Key]:
    engine = create_engine(url, poolclass=NullPool)
    with engine.connect() as other:
        rows = other.execute(
            text(
                f"SELECT sensor, channel, at_ms FROM {ALL_READINGS} AS one"
                " JOIN series USING (yard_id, series_id)"
            )
        )
        return [(str(sensor), str(channel), int(at_ms)) for sensor, channel, at_ms in rows]


_STILL_S = 60.0  # a daemon that begins anew on a busy machine takes half of it


def _settle(url: str, want: set[Key], longest_s: float = 180.0) -> None:
    """Wait until all that is wanted is there, or nothing more comes."""
    end = time.monotonic() + longest_s
    count, since = -1, time.monotonic()
    while time.monotonic() < end:
        held = _stored(url)
        if want <= set(held):
            return
        if len(held) != count:
            count, since = len(held), time.monotonic()
        elif time.monotonic() - since > _STILL_S:
            return
        time.sleep(0.3)


def take(url: str, port: int) -> None:
    """Be the process that takes in, until told to stop."""
    logging.basicConfig(format="%(message)s")
    store = Store(url, YARD)
    settings = BrokerSettings(port=port, topics=("drill/#",), keepalive_s=2)
    intake = Intake(settings, store, SENSORS, SystemClock(), lambda _: None, AS_THEY_COME)
    intake.start()
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    while not stop.wait(0.2):
        with contextlib.suppress(StoreError):
            _move_landed(store)
    intake.stop(20)


def _move_landed(store: Store) -> None:
    """Move on all but the newest readings, far more often than a yard's own daemon does."""
    with store.transaction(can_wait=True) as tx:
        latest = tx.yard_readings.latest_readings().values()
        if latest:
            newest_ms = max(reading.at_ms for reading in latest)
            tx.landing.move_mark(newest_ms - 300_000 + LATE_MS)


def table(rounds: int, only: str, seed: int) -> Iterator[str]:
    """Run the drills whose name contains ``only``; the table's lines."""
    yield "| fault | times | acknowledged | stored | lost | doubled |"
    yield "|---|---|---|---|---|---|"
    for drill, n in itertools.product(DRILLS, range(rounds)):
        if only in drill.name:
            with tempfile.TemporaryDirectory() as folder:
                came = run(drill, Path(folder), seed + n)
            yield (
                f"| {drill.name} | {drill.times} | {came.acknowledged} | {came.stored}"
                f" | {came.lost} | {came.doubled} |"
            )
    yield (
        "\nLost: packs that the broker had acknowledged to the sender and that are not in the"
        " store; doubled: readings in the store that nobody sent so. A broker killed -9"
        " acknowledges before it saves: where nobody repeats, with autosave_on_changes at most one"
        " pack a kill may go, with keeping.conf about a second's, with Debian's own settings also"
        " what comes until laidup has subscribed anew, and, had laidup been away, half an hour's."
    )
