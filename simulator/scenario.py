"""A story to publish: yards, sensors, a start and an end; messages in time order, truth at hand."""

import heapq
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

from simulator.sensors import Message, Sensor, SensorSpec
from simulator.truth import Recorder
from simulator.yard import Simulation, YardPlan

Sensors = Callable[[Simulation], Sequence[SensorSpec]]


class Scenario:
    """What one yard lives through, and what its sensors say about it.

    Iterating runs the physics and yields ``(at, topic, payload)`` in time order; memory does not
    grow with the length, so a whole season can be streamed. The same seed says the same again.

    Parameters
    ----------
    plan : YardPlan
    start, end : aware datetime
    sensors : callable
        Makes the sensor list once the simulation stands (it tells where spaces lie).
    extra : sequence of Message
        Publications of no sensor: junk on the wire.
    seed : int
        Of the sensors' noise.
    sample_s : float
        Between two readings of one sensor [s].
    """

    def __init__(
        self,
        plan: YardPlan,
        start: datetime,
        end: datetime,
        sensors: Sensors,
        extra: Sequence[Message] = (),
        seed: int = 0,
        sample_s: float = 300.0,
    ) -> None:
        if start.tzinfo is None or end.tzinfo is None:
            raise ValueError("scenario: start and end need a time zone")
        self.plan, self.start, self.end = plan, start, end
        self._sensors, self._extra, self._seed = sensors, tuple(extra), seed
        self._sample_s = sample_s
        self._recorder: Recorder | None = None

    def __iter__(self) -> Iterator[tuple[datetime, str, bytes]]:
        start_s, end_s = self.start.timestamp(), self.end.timestamp()
        simulation = Simulation([self.plan], start_s, end_s, sample_s=self._sample_s)
        recorder = self._recorder = Recorder(simulation)
        sensors = [Sensor(spec, start_s, self._seed) for spec in self._sensors(simulation)]
        # Sent late by a sensor's own delay, so a sample's messages mix with the next one's.
        waiting: list[tuple[float, int, Message]] = []
        count = 0
        for message in self._extra:
            waiting.append((message.at_s, count, message))
            count += 1
        heapq.heapify(waiting)
        for at_s in simulation.samples():
            recorder.note(at_s)
            while waiting and waiting[0][0] < at_s:
                yield _told(heapq.heappop(waiting)[2])
            view = simulation.view()
            for sensor in sensors:
                sent = sensor.sample(view, at_s)
                if sent is not None:
                    heapq.heappush(waiting, (sent.at_s, count, sent))
                    count += 1
        while waiting:
            yield _told(heapq.heappop(waiting)[2])

    def truth(self) -> dict[str, Any]:
        """What really happened up to where the last iteration came; runs it all if none did."""
        if self._recorder is None:
            for _ in self:
                pass
        if self._recorder is None:
            raise RuntimeError("scenario: nothing was simulated")
        return self._recorder.truth()


def _told(message: Message) -> tuple[datetime, str, bytes]:
    return datetime.fromtimestamp(message.at_s, UTC), message.topic, message.payload
