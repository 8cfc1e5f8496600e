"""The last days' readings, kept between rounds so that each round reads only the newest."""

import time
from datetime import datetime

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.air.grid import MS_PER_H, PAST_H, Traces
from monitor.store.readings import SeriesKey
from monitor.store.store import Transaction
from monitor.yard.reading import Trace

SPAN_H = PAST_H + 2.0  # a reading before the grid's first step still tells it something
_AGAIN_H = 24.0  # readings this recent are read each time: packs come late
_AGAIN_TOLD_H = 6.0  # where it is told how late: flags are amended afterwards too
_ALL_AGAIN_S = 600.0  # the machine's seconds after which all are, for a logger's whole backlog


class RecentReadings:
    """Readings of the last 98 hours."""

    def __init__(self, series: list[SeriesKey]) -> None:
        """Remember which series; nothing is read yet."""
        self._series = series
        self._traces: dict[SeriesKey, Trace] = {}
        self._until_ms: int | None = None
        self._read_at_s = -np.inf

    def read_traces(self, tx: Transaction, now: datetime, late: datetime | None = None) -> Traces:
        """Readings up to ``now``, from the store or from what is kept of it.

        ``late`` is the time of the oldest reading that came since the last call: all are read
        anew where it lies more than a day back. Without word of it such a reading is seen within
        ten minutes.
        """
        until = to_ms(now) + 1
        begin = until - int(SPAN_H * MS_PER_H)
        fresh = until - int(_AGAIN_H * MS_PER_H)
        kept_until = self._until_ms
        whole = time.monotonic() - self._read_at_s > _ALL_AGAIN_S
        whole = whole or (late is not None and to_ms(late) < fresh)
        if whole or kept_until is None or not fresh <= kept_until <= until:
            self._traces = tx.readings.traces_between(self._series, begin, until)
            self._read_at_s = time.monotonic()
        else:
            if late is not None:
                told = min(to_ms(late), kept_until, until - int(_AGAIN_TOLD_H * MS_PER_H))
                fresh = max(fresh, told)
            new = tx.readings.traces_between(self._series, fresh, until)
            self._traces = {
                key: _append_fresh(self._traces[key], new[key], begin, fresh)
                for key in self._series
            }
        self._until_ms = until
        return self._traces


def _append_fresh(old: Trace, new: Trace, begin_ms: int, fresh_ms: int) -> Trace:
    """Old readings from ``begin`` up to ``fresh``, and the new ones after that."""
    kept = slice(*(int(at) for at in np.searchsorted(old.at_ms, [begin_ms, fresh_ms])))
    return Trace(
        sensor=old.sensor,
        channel=old.channel,
        at_ms=np.concatenate([old.at_ms[kept], new.at_ms]),
        value=np.concatenate([old.value[kept], new.value]),
        flag=np.concatenate([old.flag[kept], new.flag]),
        update_s=new.update_s,
    )
