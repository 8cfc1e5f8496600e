"""Readings by where their sensor hung: each counts to the place of its time, and to no other.

A sensor that is moved tells from then on of another air. What it sent before stays with the place
that it hung in, under a name of its own (`earlier_sensors` of the yard), so that neither place is
judged by the air of the other.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from monitor.judgement.air.grid import Traces
from monitor.yard.reading import Channel, Trace
from monitor.yard.space import Sensor, Yard, sensors_of_place

SeriesKey = tuple[str, Channel]


def by_place(traces: Traces, yard: Yard) -> Traces:
    """The readings of a yard, of each sensor only those of the place that it stands for.

    Parameters
    ----------
    traces : mapping
        By the name under which they were sent.
    yard : Yard

    Returns
    -------
    mapping
        By the names of `sensors_of_place`; the same as it was where no sensor was ever moved.
    """
    moved = {one.name: one for one in sensors_of_place(yard) if one.since or one.until}
    return _PlacedTraces(traces, moved) if moved else traces


class _PlacedTraces(Mapping[SeriesKey, Trace]):
    """Traces cut to the time of a place when they are asked for."""

    def __init__(self, sent: Traces, moved: Mapping[str, Sensor]) -> None:
        self._sent, self._moved = sent, moved

    def __getitem__(self, key: SeriesKey) -> Trace:
        name, channel = key
        sensor = self._moved.get(name)
        if sensor is None:
            return self._sent[key]
        trace = self._sent[sensor.sent_as, channel].cut_between(*sensor.span_ms)
        return replace(trace, sensor=sensor.name)

    def __contains__(self, key: object) -> bool:
        if not isinstance(key, tuple):
            return False
        sensor = self._moved.get(key[0])
        return (key if sensor is None else (sensor.sent_as, key[1])) in self._sent

    def __iter__(self) -> Iterator[SeriesKey]:
        yield from self._sent
        for name, sensor in self._moved.items():
            if name != sensor.sent_as:
                yield from ((name, channel) for of, channel in self._sent if of == sensor.sent_as)

    def __len__(self) -> int:
        return sum(1 for _ in self)
