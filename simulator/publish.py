"""Sending a scenario away: over MQTT at a chosen pace, or into a file of readings.

The publisher keeps what it sent in the last minute and says it again after a reconnect: a broker
that was killed may have confirmed messages that it never kept. Readers take a repeat as no news.
"""

import csv
import json
import ssl
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

Told = tuple[datetime, str, bytes]

_IN_FLIGHT = 100  # unconfirmed messages before the sender waits
_REMEMBERED = 50_000  # at most, however much was said in the last minute


class Publisher:
    """An MQTT client that sends with QoS 1 and repeats its last minute after a reconnect.

    Parameters
    ----------
    host, port
        The broker.
    client_id : str
    username, password : str, optional
    ca_file : Path, optional
        Trust this authority and speak TLS.
    protocol : {"5", "3.1.1"}
    repeat_s : float
        How much of the past is repeated after a reconnect [s].

    Raises
    ------
    ConnectionError
        From `connect`, if the broker does not take the client within the time given.
    """

    def __init__(
        self,
        host: str,
        port: int,
        client_id: str = "laidup-simulator",
        *,
        username: str | None = None,
        password: str | None = None,
        ca_file: Path | None = None,
        protocol: str = "5",
        repeat_s: float = 60.0,
    ) -> None:
        if protocol not in {"5", "3.1.1"}:
            raise ValueError(f"protocol {protocol!r}: MQTT 5 or 3.1.1, write '5' or '3.1.1'")
        self._host, self._port, self._repeat_s = host, port, repeat_s
        spoken = mqtt.MQTTv5 if protocol == "5" else mqtt.MQTTv311
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id, protocol=spoken)
        self._client.max_inflight_messages_set(_IN_FLIGHT)
        self._client.reconnect_delay_set(min_delay=1, max_delay=10)
        if username is not None:
            self._client.username_pw_set(username, password)
        if ca_file is not None:
            self._client.tls_set(str(ca_file), tls_version=ssl.PROTOCOL_TLS_CLIENT)
        self._client.on_connect = self._connected
        self._client.on_publish = self._confirmed
        self._room = threading.Condition()
        self._open: set[int] = set()
        self._early: set[int] = set()  # confirmed before `publish` told us their number
        self._recent: deque[tuple[float, str, bytes]] = deque(maxlen=_REMEMBERED)
        self._refused = ""
        self._connections = 0
        self._repeat_due = False
        self.sent = 0
        self.repeated = 0

    def __enter__(self) -> "Publisher":
        self.connect()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def connect(self, timeout_s: float = 15.0) -> None:
        """Connect, and stay connected from then on."""
        where = f"broker {self._host}:{self._port}"
        try:
            self._client.connect(self._host, self._port, keepalive=30)
        except OSError as error:
            raise ConnectionError(f"{where} cannot be reached: {error}") from error
        self._client.loop_start()
        with self._room:
            self._room.wait_for(lambda: self._connections > 0 or self._refused, timeout_s)
            up = self._connections > 0
        if not up:
            self.close()
            raise ConnectionError(f"{where}: {self._refused or 'no answer'}")

    def play(
        self,
        scenario: Iterable[Told],
        speed: float | None = None,
        stop: threading.Event | None = None,
        on_time: Callable[[datetime], None] | None = None,
    ) -> int:
        """Send a scenario; returns how many messages were sent, repeats not counted.

        Parameters
        ----------
        scenario : iterable of (at, topic, payload)
            In time order.
        speed : float, optional
            Seconds of the scenario in one second; None: as fast as the broker confirms.
        stop : threading.Event, optional
            Ends the play early.
        on_time : callable, optional
            Told the scenario's time before each message that moves it on.
        """
        stop = stop or threading.Event()
        began = time.monotonic()
        first: datetime | None = None
        last: datetime | None = None
        sent = 0
        for at, topic, payload in scenario:
            first = first or at
            if speed is not None:
                due = began + (at - first).total_seconds() / speed
                while not stop.is_set() and (wait := due - time.monotonic()) > 0:
                    self._repeat_if_due()
                    stop.wait(min(wait, 0.5))
            if stop.is_set():
                break
            if on_time is not None and at != last:
                on_time(at)
            last = at
            if not self.publish(topic, payload, stop):
                break
            sent += 1
        self.settle(stop)
        return sent

    def publish(self, topic: str, payload: bytes, stop: threading.Event | None = None) -> bool:
        """Send one message when there is room for it; False if `stop` came first."""
        self._repeat_if_due(stop)
        if not self._send(topic, payload, stop):
            return False
        now = time.monotonic()
        self._recent.append((now, topic, payload))
        while self._recent and self._recent[0][0] < now - self._repeat_s:
            self._recent.popleft()
        self.sent += 1
        return True

    def settle(self, stop: threading.Event | None = None, timeout_s: float = 30.0) -> bool:
        """Wait until the broker has confirmed everything; False if it did not in time."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end and not (stop is not None and stop.is_set()):
            self._repeat_if_due(stop)
            with self._room:
                if self._room.wait_for(lambda: not self._open, 0.2) and not self._repeat_due:
                    return True
        return False

    def close(self) -> None:
        """Leave the broker; nothing of the client stays behind."""
        self._client.disconnect()
        self._client.loop_stop()

    def _send(self, topic: str, payload: bytes, stop: threading.Event | None) -> bool:
        with self._room:
            while len(self._open) >= _IN_FLIGHT:
                self._room.wait(0.2)
                if stop is not None and stop.is_set():
                    return False
        # Outside the lock: paho may call back before publish returns.
        number = self._client.publish(topic, payload, qos=1).mid
        with self._room:
            if number in self._early:
                self._early.discard(number)
            else:
                self._open.add(number)
        return True

    def _repeat_if_due(self, stop: threading.Event | None = None) -> None:
        with self._room:
            due, self._repeat_due = self._repeat_due, False
        if not due:
            return
        oldest = time.monotonic() - self._repeat_s
        for said, topic, payload in list(self._recent):
            if said >= oldest:
                if not self._send(topic, payload, stop):
                    return
                self.repeated += 1

    # paho's thread calls these; nothing in them may raise, or the thread ends unseen.

    def _connected(self, *args: object) -> None:
        reason = args[3]
        with self._room:
            if getattr(reason, "is_failure", False):
                self._refused = str(reason)
            else:
                self._repeat_due = self._connections > 0
                self._connections += 1
            self._room.notify_all()

    def _confirmed(self, *args: object) -> None:
        number = args[2]
        with self._room:
            if number in self._open:
                self._open.discard(number)  # type: ignore[arg-type]
            else:
                self._early.add(number)  # type: ignore[arg-type]
            self._room.notify_all()


def write_csv(scenario: Iterable[Told], path: Path) -> int:
    """Write the readings of a scenario as CSV; returns how many.

    Columns ``at`` (RFC 3339, UTC), ``sensor`` (SenML base name without its last sign), ``label``,
    ``unit``, ``value``. Payloads that are no SenML are left out: a file has no wire to be noisy.
    """
    count = 0
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["at", "sensor", "label", "unit", "value"])
        for at, _, payload in scenario:
            try:
                records = json.loads(payload)
                base, base_s = records[0]["bn"].rstrip(":"), records[0]["bt"]
            except (ValueError, KeyError, TypeError, IndexError):
                continue
            for record in records:
                stamp = datetime.fromtimestamp(base_s + record.get("t", 0.0), at.tzinfo)
                told = stamp.isoformat(timespec="milliseconds").replace("+00:00", "Z")
                writer.writerow([told, base, record["n"], record["u"], record["v"]])
                count += 1
    return count
