"""Faults of brokers, clocks and senders: are readings true, and in time?"""

import time
from pathlib import Path

import cbor2
import requests

from tests.line.drills.raw_mqtt import RawPublisher
from tests.line.drills.warnings import Warned, WarningDrill, Word
from tests.line.drills.whole_yard import SENSORS, WholeYard, reading
from tests.real.need import wait_until

_GARBAGE = 40_000
_PROCESSOR_S = 10.0  # that a flood may take: what waits behind it waits so long on an idle machine
_MEMORY_MB = 250.0
_DAY_S = 86400.0
_CLOCKLESS = SENSORS[3]
_NO_FROST = 18.0  # °C: only the fault has news, so its letter need not wait behind a frost's


def _behind(yard: WholeYard, flood: str, before_s: float) -> Warned:
    """What becomes of one good reading behind a flood; ``before_s``: processor time until then."""
    waited_s = _seconds_until_stored(yard, "mill/north", 600.0)
    processor_s = yard.processor_s - before_s
    return Warned(
        held=processor_s <= _PROCESSOR_S and yard.memory_mb < _MEMORY_MB,
        words=(Word(to="store", what="the good reading", after_s=waited_s),),
        memory_mb=yard.memory_mb,
        note=f"{flood}; {processor_s:.1f} s of processor, {yard.aside() / 1e6:.1f} MB aside",
    )


def _seconds_until_stored(yard: WholeYard, topic: str, longest_s: float) -> float:
    """Publish one good reading, and tell how long it takes to be in the store."""
    at_s = int(time.time())
    before = len(yard.stored())
    began = time.monotonic()
    with RawPublisher(yard.broker.port, "honest-sensor") as sensor:
        sensor.publish(topic, reading(SENSORS[0], at_s, 3.5).encode())
    wait_until(lambda: len(yard.stored()) > before, longest_s, "the good reading to be stored")
    return time.monotonic() - began


def flood_of_garbage(folder: Path) -> Warned:
    """Send tens of thousands of messages that nobody can read, and one good one behind them."""
    with WholeYard(folder).running() as yard:
        lines = [f"garbage {n:06d} {'x' * 300}" for n in range(_GARBAGE)]
        before_s = yard.processor_s
        flood = yard.publish_lines("mill/broken", lines)
        assert flood.wait(120) == 0
        return _behind(yard, f"{_GARBAGE} messages of garbage", before_s)


def flood_of_large_messages(folder: Path) -> Warned:
    """Send 500 messages of 900 kB, and one good reading behind them."""
    with WholeYard(folder).running() as yard:
        before_s = yard.processor_s
        with RawPublisher(yard.broker.port, "broken-camera") as camera:
            for n in range(500):
                camera.hand_over("mill/camera", (b"%03d" % n) + b"\xff" * 900_000)
            camera.wait()
        return _behind(yard, "500 messages of 900 kB", before_s)


def packs_that_grow(folder: Path) -> Warned:
    """Send packs of CBOR and JSON that are small to send and costly to read, then a good one."""
    folded = b"\xd8\x1c\x82\x01\x02"
    for level in range(23, 0, -1):  # each list holds the next one twice (tags 28 and 29)
        folded = b"\xd8\x1c\x82" + folded + b"\xd8\x1d" + cbor2.dumps(level)
    costly = (
        b"\x81\xa2\x00\x61a\x02" + folded,
        b"\x81" * 60_000,
        b"[" * 60_000,
        b"[" + b",".join([b"{}"] * 20_000) + b"]",
        b'[{"n":"a","v":' + b"9" * 60_000 + b"}]",
    )
    with WholeYard(folder).running() as yard:
        before_s = yard.processor_s
        with RawPublisher(yard.broker.port, "broken-gateway") as gateway:
            for n in range(500):
                gateway.hand_over("mill/gateway", costly[n % len(costly)])
            gateway.wait()
        return _behind(yard, "500 packs", before_s)


def broker_that_drops(folder: Path) -> Warned:
    """Stop the daemon and send more than the broker's default queue holds; start it again."""
    with WholeYard(folder, "max_queued_messages 1000\nsys_interval 1\n").running() as yard:
        wait_until(lambda: yard.counter() is not None, 20, "the broker's first count")
        yard.end_daemon()
        now_s = int(time.time())
        sent = [reading(SENSORS[n % 4], now_s - n // 4, _NO_FROST) for n in range(3000)]
        yard.publish("mill/all", *sent)
        yard.strike()
        yard.start_daemon()
        wait_until(lambda: bool(yard.mails("2,000 messages")), 150, "a mail of the drops")
        words = yard.mails("2,000 messages")
        stored = len(yard.stored())
        return Warned(
            held=len(words) == 1 and "max_queued_messages" in yard.mail.messages[0].text(),
            words=tuple(words),
            memory_mb=yard.memory_mb,
            note=f"{len(sent)} packs acknowledged by the broker, {stored} stored",
        )


def clock_a_day_behind(folder: Path) -> Warned:
    """Start on a clock that is a day behind, and set it right; one sensor has no clock at all."""
    command = ("-m", "tests.line.drills.shifted_daemon")
    yard = WholeYard(folder, command=command)
    yard.set_clock(-_DAY_S)
    sent = 0

    def send(rounds: int) -> None:
        nonlocal sent
        for _ in range(rounds):
            for place, sensor in enumerate(SENSORS):
                at_s = None if sensor == _CLOCKLESS else time.time() + sent / 1000
                yard.publish(f"mill/{place}", reading(sensor, at_s, 3.5 + place / 10))
                sent += 1

    def false_times() -> int:
        return sum(abs(at_ms / 1000 - time.time()) > 300 for _, _, at_ms, _, _ in yard.stored())

    def all_true() -> bool:
        return len(yard.stored()) == sent and not false_times()

    with yard.running():
        yard.strike()
        send(4)
        wait_until(all_true, 30, "every reading at its true time")
        wait_until(lambda: bool(yard.mails("Set laidup's clock")), 30, "a mail about the clock")
        health = requests.get(yard.page("health"), timeout=10).json()["checks"]["own_clock"]
        blamed = yard.blamed()
        yard.set_clock(0)
        send(3)
        wait_until(all_true, 30, "every reading at its true time after the clock was set")
        wait_until(
            lambda: (
                "own_clock" not in requests.get(yard.page("health"), timeout=10).json()["checks"]
            ),
            30,
            "the fault to end",
        )
        words = yard.mails("behind the clocks of its sensors")
        return Warned(
            held=len(words) == 1 and health["status"] == "warn" and not blamed + yard.blamed(),
            words=tuple(words),
            memory_mb=yard.memory_mb,
            note=f"{sent} readings stored, {false_times()} at false times, {blamed} sensors blamed",
        )


DRILLS: list[WarningDrill] = [
    WarningDrill(
        name="the daemon's own clock a day behind, then set right",
        parts="mosquitto_pub; aiosmtpd",
        run=clock_a_day_behind,
    ),
    WarningDrill(
        name="a broker with its default queue drops what comes while laidup is stopped",
        parts="mosquitto_pub; aiosmtpd",
        run=broker_that_drops,
    ),
    WarningDrill(
        name="500 packs that grow when they are read before a good reading",
        parts="MQTT over a bare socket",
        run=packs_that_grow,
    ),
    WarningDrill(
        name="40,000 messages of garbage before a good reading",
        parts="mosquitto_pub; MQTT over a bare socket",
        run=flood_of_garbage,
    ),
    WarningDrill(
        name="500 messages of 900 kB before a good reading",
        parts="MQTT over a bare socket",
        run=flood_of_large_messages,
    ),
]
