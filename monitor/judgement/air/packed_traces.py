"""Readings of days in few bytes: whole steps of the channel, and times by their distance.

A trace as it is judged takes 17 bytes a reading, and thousands of series hold millions of readings.
Packed it takes 4 to 9, and is unpacked when somebody looks at it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.yard.reading import Channel, Trace

_UNPACKED = 32  # a judgement looks at one space several times in a row

Ints = NDArray[np.integer[Any]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackedTrace:
    """One trace, packed; of any order in time, and with any flags."""

    sensor: str
    channel: Channel
    first_ms: int
    apart_ms: Ints  # from reading to reading, so one less than they are
    steps: Ints  # values in the channel's resolution, as the store keeps them
    flags: NDArray[np.int8]  # a single one where all are alike
    update_s: float | None

    @classmethod
    def of_trace(cls, trace: Trace) -> "PackedTrace":
        """Pack a trace that was read from the store: its values are whole steps."""
        flags = trace.flag
        alike = flags.size > 1 and bool((flags == flags[0]).all())
        return cls(
            sensor=trace.sensor,
            channel=trace.channel,
            first_ms=int(trace.at_ms[0]) if trace.at_ms.size else 0,
            apart_ms=_in_few_bytes(np.diff(trace.at_ms)),
            steps=_in_few_bytes(np.rint(trace.value / trace.channel.resolution).astype(np.int64)),
            flags=flags[:1].copy() if alike else flags.copy(),
            update_s=trace.update_s,
        )

    def to_trace(self) -> Trace:
        """The trace again, to the last bit."""
        at_ms = np.empty(self.steps.size, np.int64)
        at_ms[:1] = self.first_ms
        np.cumsum(self.apart_ms, out=at_ms[1:])
        at_ms[1:] += self.first_ms
        return Trace(
            sensor=self.sensor,
            channel=self.channel,
            at_ms=at_ms,
            value=self.steps.astype(np.float64) * self.channel.resolution,
            flag=np.broadcast_to(self.flags, self.steps.size),
            update_s=self.update_s,
        )


class PackedTraces(Mapping[tuple[str, Channel], Trace]):
    """Traces by sensor and channel, packed but for their newest part; unpacked when asked for."""

    def __init__(
        self,
        packed: Mapping[tuple[str, Channel], PackedTrace],
        fresh: Mapping[tuple[str, Channel], Trace],
        begin_ms: int,
        fresh_ms: int,
    ) -> None:
        """Take traces that nobody changes afterwards.

        Parameters
        ----------
        packed : mapping of PackedTrace
        fresh : mapping of Trace
            Of some of the same series, or none: what stands in place of all from a time on.
        begin_ms : int
            Of the packed no earlier ones count.
        fresh_ms : int
            The time from which on the fresh count.
        """
        self._packed, self._fresh = packed, fresh
        self._begin_ms, self._fresh_ms = begin_ms, fresh_ms
        self._unpacked: dict[tuple[str, Channel], Trace] = {}

    def __getitem__(self, key: tuple[str, Channel]) -> Trace:
        """The trace of one series."""
        trace = self._unpacked.get(key)
        if trace is None:
            if len(self._unpacked) >= _UNPACKED:
                del self._unpacked[next(iter(self._unpacked))]
            trace = self._unpacked[key] = self._join(key)
        return trace

    def __contains__(self, key: object) -> bool:
        """Whether a series is among them, at no cost."""
        return key in self._packed

    def __iter__(self) -> Iterator[tuple[str, Channel]]:
        """The series."""
        return iter(self._packed)

    def __len__(self) -> int:
        """How many series there are."""
        return len(self._packed)

    def _join(self, key: tuple[str, Channel]) -> Trace:
        old, new = self._packed[key].to_trace(), self._fresh.get(key)
        if new is None:
            return old
        kept = slice(*np.searchsorted(old.at_ms, [self._begin_ms, self._fresh_ms]).tolist())
        return Trace(
            sensor=old.sensor,
            channel=old.channel,
            at_ms=np.concatenate([old.at_ms[kept], new.at_ms]),
            value=np.concatenate([old.value[kept], new.value]),
            flag=np.concatenate([old.flag[kept], new.flag]),
            update_s=new.update_s,
        )


def _in_few_bytes(numbers: NDArray[np.int64]) -> Ints:
    """The same whole numbers in the smallest type that holds them all."""
    if not numbers.size:
        return numbers.astype(np.int8)
    least, most = int(numbers.min()), int(numbers.max())
    return numbers.astype(np.result_type(np.min_scalar_type(least), np.min_scalar_type(most)))
