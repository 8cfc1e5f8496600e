"""A winter's packs as its sensors send them: through a broker and the real intake, or in bulk.

Both ways take the same packs, so that what they lead to can be held against each other.
"""

import json
import tempfile
import threading
import time
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from monitor.clock import ReadingsClock, from_ms
from monitor.intake.batch import BatchSummary
from monitor.intake.broker import BrokerSettings
from monitor.intake.client import Intake
from monitor.intake.quality import bounds_of, quality_flags
from monitor.store.store import Store
from monitor.yard.reading import Channel
from monitor.yard.space import Yard
from simulator.publish import Publisher, Told
from simulator.winter import Lived, Winter, scenario
from tests.real.broker import Broker
from tests.real.need import wait_until

_PATIENCE_S = 120.0  # for a stretch of packs to come out of the broker into the store


@dataclass(frozen=True, slots=True)
class Sent:
    """One reading as a sensor put it on the wire."""

    sensor: str
    channel: Channel
    at_ms: int
    steps: int  # of the channel's resolution
    update_s: float


@dataclass(frozen=True, slots=True)
class Stream:
    """A winter as a stream of packs, and its truth."""

    winter: Winter
    lived: Lived
    packs: Sequence[Told]


def stream(winter: Winter) -> Stream:
    """Live a winter on its own and keep every pack in the order in which it was sent."""
    story = scenario(winter)
    packs = list(story)
    values: dict[str, dict[str, list[float]]] = {}
    stamps: dict[str, list[float]] = {}
    for _, _, payload in packs:
        for name, label, at_s, value, _ in _records(payload):
            series = values.setdefault(name, {}).setdefault(label, [])
            series.append(value)
            if len(series) > len(stamps.setdefault(name, [])):
                stamps[name].append(at_s)
    readings = {
        name: (
            np.array(stamps[name]),
            {label: np.array(series) for label, series in channels.items()},
        )
        for name, channels in values.items()
    }
    return Stream(winter, Lived(truth=story.truth(), readings=readings), packs)


def _records(payload: bytes) -> Iterator[tuple[str, str, float, float, float]]:
    """Sensor, label, time [Unix s], value and longest time to the next [s] of a pack's records."""
    records = json.loads(payload)
    base, base_s = records[0]["bn"].rstrip(":"), records[0]["bt"]
    for record in records:
        yield base, record["n"], base_s + record.get("t", 0.0), record["v"], record["ut"]


def sent(payload: bytes) -> list[Sent]:
    """Readings of one pack."""
    found = []
    for name, label, at_s, value, update_s in _records(payload):
        channel = Channel(label)
        steps = round(value / channel.resolution)
        found.append(Sent(name, channel, round(at_s * 1000.0), steps, update_s))
    return found


class InBulk:
    """Puts a stream's packs into the store itself, with the flags that intake would give."""

    def __init__(self, told: Stream, store: Store) -> None:
        self._store, self._next = store, 0
        readings = [(at, one) for at, _, payload in told.packs for one in sent(payload)]
        by_series: dict[tuple[str, Channel], list[Sent]] = {}
        for _, one in readings:
            by_series.setdefault((one.sensor, one.channel), []).append(one)
        with store.transaction() as tx:
            ids = tx.series.series_ids(list(by_series))
            tx.series.keep_promises({ids[key]: one[0].update_s for key, one in by_series.items()})
        flags: dict[tuple[str, Channel], dict[int, int]] = {}
        for (name, channel), series in by_series.items():
            series.sort(key=lambda one: one.at_ms)
            at, steps = (np.array([getattr(x, k) for x in series]) for k in ("at_ms", "steps"))
            flagged = quality_flags(at, steps, bounds_of(channel)).tolist()
            flags[name, channel] = dict(zip(at.tolist(), flagged, strict=True))
        self._arrives = [at for at, _ in readings]
        self._rows = [
            (
                ids[one.sensor, one.channel],
                one.at_ms,
                one.steps,
                None,
                flags[one.sensor, one.channel][one.at_ms],
            )
            for _, one in readings
        ]

    def bring(self, now: datetime) -> datetime | None:
        """Store what was sent by now; returns the time of the oldest reading of it."""
        until = bisect_right(self._arrives, now)
        rows, self._next = self._rows[self._next : until], until
        if not rows:
            return None
        with self._store.transaction() as tx:
            tx.reading_writer.append_rows(rows)
        return from_ms(min(at_ms for _, at_ms, *_ in rows))


class OverMqtt:
    """Publishes a stream's packs to a broker, from where the real intake takes them.

    Attributes
    ----------
    published, heard : int
        Readings sent, and readings that intake has stored for the first time.
    aside : int
        Messages that intake could not use: none should be.
    seconds : float
        Spent on the way from the sensors into the store.
    """

    def __init__(self, told: Stream, publisher: Publisher) -> None:
        self._packs, self._next, self._publisher = told.packs, 0, publisher
        self._news = threading.Condition()
        self._oldest_ms: list[int] = []
        self.published = self.heard = self.aside = 0
        self.seconds = 0.0

    def on_batch(self, batch: BatchSummary) -> None:
        """Take note of what intake has stored; called in its own thread."""
        with self._news:
            self.heard += batch.readings
            self.aside += batch.aside
            if batch.oldest_ms is not None:
                self._oldest_ms.append(batch.oldest_ms)
            self._news.notify_all()

    def bring(self, now: datetime) -> datetime | None:
        """Send what was sent by now and wait until it is stored; returns the oldest's time."""
        began = time.monotonic()
        while self._next < len(self._packs) and self._packs[self._next][0] <= now:
            _, topic, payload = self._packs[self._next]
            self._publisher.publish(topic, payload)
            self.published += len(json.loads(payload))
            self._next += 1
        with self._news:
            if not self._news.wait_for(lambda: self.heard >= self.published, _PATIENCE_S):
                raise TimeoutError(
                    f"{self.heard} of {self.published} readings were stored within"
                    f" {_PATIENCE_S:g} s; {self.aside} messages could not be used"
                )
            oldest, self._oldest_ms = self._oldest_ms, []
        self.seconds += time.monotonic() - began
        return from_ms(min(oldest)) if oldest else None


@contextmanager
def over_mqtt(told: Stream, store: Store, yard: Yard, clock: ReadingsClock) -> Iterator[OverMqtt]:
    """Start a broker of its own and the real intake; all is gone afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        broker = Broker(Path(folder), log_type="error")
        broker.start()
        try:
            with Publisher(broker.host, broker.port) as publisher:
                line = OverMqtt(told, publisher)
                settings = BrokerSettings(port=broker.port, topics=(f"{yard.id}/readings/#",))
                intake = Intake(settings, store, yard.sensors, clock, line.on_batch)
                intake.start()
                try:
                    wait_until(lambda: intake.intake_health().connected, 20, "intake to subscribe")
                    yield line
                finally:
                    intake.stop()
        finally:
            broker.kill()


@contextmanager
def in_bulk(told: Stream, store: Store, yard: Yard, clock: ReadingsClock) -> Iterator[InBulk]:
    """Take the packs past broker and intake, straight into the store."""
    del yard, clock
    yield InBulk(told, store)
