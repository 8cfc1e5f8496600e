"""The last days' readings, kept between rounds so that each round reads only the newest."""

import time
from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.air.grid import MS_PER_H, PAST_H, Traces
from monitor.judgement.air.packed_traces import PackedTrace, PackedTraces
from monitor.store.series import SeriesKey
from monitor.store.statements import in_batches
from monitor.store.transaction import Transaction
from monitor.yard.reading import Trace

SPAN_H = PAST_H + 2.0  # a reading before the grid's first step still tells it something
_AGAIN_H = 24.0  # readings this recent are read each time: packs come late
_AMENDED_H = 1.0  # a reading may change the flags of those before it by so much
_LONGER_H = 1.0  # than must be: packing costs as much as to read that once more
_SERIES_AT_ONCE = 100  # unpacked they take ten megabytes
_ALL_AGAIN_S = 600.0  # the machine's seconds after which all are, for a logger's whole backlog


class RecentReadings:
    """Readings of the last 98 hours, packed but for those that are read each time."""

    def __init__(self, series: list[SeriesKey]) -> None:
        """Remember which series; nothing is read yet."""
        self._series = series
        self._packed: dict[SeriesKey, PackedTrace] = {}
        self._fresh_ms = 0  # what came since they were packed lies after this
        self._traces = PackedTraces({}, {}, 0, 0)
        self._until_ms: int | None = None
        self._read_at_s = -np.inf

    def read_traces(self, tx: Transaction, now: datetime, late: datetime | None = None) -> Traces:
        """Readings up to ``now``, from the store or from what is kept of it.

        ``late`` is the time of the oldest reading that came since the last call: from an hour
        before it on they are read anew, and all where it lies more than a day back. Without word
        of it a reading is seen at once for a day, and within ten minutes after that.
        """
        until = to_ms(now) + 1
        begin = until - int(SPAN_H * MS_PER_H)
        fresh = until - int(_AGAIN_H * MS_PER_H)
        kept_until = self._until_ms
        whole = time.monotonic() - self._read_at_s > _ALL_AGAIN_S
        whole = whole or (late is not None and to_ms(late) < fresh)
        new: dict[SeriesKey, Trace] = {}
        if whole or kept_until is None or not fresh <= kept_until <= until:
            self._packed = _read_packed(tx, self._series, begin, until)
            self._fresh_ms, self._read_at_s = until, time.monotonic()
        else:
            if late is not None:
                told = min(to_ms(late), kept_until) - int(_AMENDED_H * MS_PER_H)
                fresh = max(fresh, told)
            if fresh - self._fresh_ms > _LONGER_H * MS_PER_H:
                self._packed, self._fresh_ms = _pack_all(self._traces), fresh
            # What the rounds before read anew is not among the packed.
            self._fresh_ms = min(self._fresh_ms, fresh)
            new = tx.readings.traces_between(self._series, self._fresh_ms, until)
        self._until_ms = until
        self._traces = PackedTraces(self._packed, new, begin, self._fresh_ms)
        return self._traces


def read_past_traces(
    tx: Transaction, series: Sequence[SeriesKey], begin_ms: int, until_ms: int
) -> Traces:
    """Readings of a stretch of the past, for one look at them."""
    return PackedTraces(_read_packed(tx, series, begin_ms, until_ms), {}, begin_ms, until_ms)


def _read_packed(
    tx: Transaction, series: Sequence[SeriesKey], begin_ms: int, until_ms: int
) -> dict[SeriesKey, PackedTrace]:
    """Read series some at a time: as they come, all of them would take a hundred megabytes."""
    packed: dict[SeriesKey, PackedTrace] = {}
    for some in in_batches(series, _SERIES_AT_ONCE):
        packed |= _pack_all(tx.readings.traces_between(some, begin_ms, until_ms))
    return packed


def _pack_all(traces: Mapping[SeriesKey, Trace]) -> dict[SeriesKey, PackedTrace]:
    return {key: PackedTrace.of_trace(one) for key, one in traces.items()}
