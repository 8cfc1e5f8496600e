"""A publisher of numbered packs, which remembers those that the broker has acknowledged."""

import threading
import time

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from monitor.yard.space import Sensor
from tests.real.need import wait_until

SENSORS = [Sensor(name=f"urn:dev:ops:drill-{n}", space="barn") for n in range(5)]
START_S = 1_767_225_600  # 2026-01-01


def pack(number: int) -> str:
    """The pack with this number: two readings at a time of its own."""
    at_s = START_S + 60 * (number // len(SENSORS))
    name = SENSORS[number % len(SENSORS)].name
    return (
        f'[{{"bn":"{name}:","bt":{at_s},"n":"temperature","u":"Cel","v":{number % 5}}},'
        f'{{"n":"humidity","u":"%RH","v":{70 + number % 20}}}]'
    )


class Sender:
    """Publishes pack after pack, and says its last seconds again after a reconnect."""

    def __init__(self, port: int, per_s: float = 250.0, repeat_s: float = 0.0) -> None:
        self._per_s = per_s
        self._repeat_s = repeat_s
        self._numbers: dict[int, int] = {}  # packet id -> number
        self._early: set[int] = set()
        self._lock = threading.Lock()
        self._recent: list[tuple[float, int]] = []
        self._again = threading.Event()
        self._stopping = threading.Event()
        self._connections = 0
        self.acknowledged: set[int] = set()
        self.sent = 0
        self._client = paho.Client(
            CallbackAPIVersion.VERSION2,
            "drill-sender",
            clean_session=False,
            protocol=paho.MQTTv311,
        )
        self._client.max_inflight_messages_set(100)
        self._client.reconnect_delay_set(1, 1)
        self._client.on_connect = self._connected
        self._client.on_publish = self._confirmed
        self._client.connect("127.0.0.1", port, keepalive=5)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _connected(self, *_: object) -> None:
        self._connections += 1
        if self._connections > 1:
            self._again.set()

    def _confirmed(self, _client: object, _userdata: object, packet_id: int, *_: object) -> None:
        with self._lock:
            number = self._numbers.pop(packet_id, None)
            if number is None:
                self._early.add(packet_id)  # confirmed before `publish` told us its id
            else:
                self.acknowledged.add(number)

    def _say(self, number: int) -> None:
        packet_id = self._client.publish("drill/all", pack(number), qos=1).mid
        with self._lock:
            if packet_id in self._early:
                self._early.discard(packet_id)
                self.acknowledged.add(number)
            else:
                self._numbers[packet_id] = number

    def _run(self) -> None:
        due = time.monotonic()
        while not self._stopping.is_set():
            now = time.monotonic()
            if self._again.is_set():
                self._again.clear()
                self._recent = [one for one in self._recent if now - one[0] <= self._repeat_s]
                for _, number in self._recent:
                    self._say(number)
            if now < due:
                time.sleep(due - now)
            self._say(self.sent)
            if self._repeat_s:
                self._recent.append((now, self.sent))
            self.sent += 1
            due += 1 / self._per_s

    def finish(self) -> None:
        """Send no more, and wait until the broker has confirmed everything."""
        if self._repeat_s:
            # Whoever sends repeats after a reconnect: the last fault must not be the last word.
            time.sleep(1.5)
        self._stopping.set()
        self._thread.join(10)
        wait_until(lambda: not self._numbers, 40, "the broker to confirm all that was sent")
        self._client.disconnect()
        self._client.loop_stop()
