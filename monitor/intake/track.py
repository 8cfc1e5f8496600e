"""One series as intake follows it: flags each reading as it comes, without asking the store."""

from collections import OrderedDict

import numpy as np
from numpy.typing import NDArray

from monitor.intake.quality import (
    GAP_MS,
    MINUTE_MS,
    NEIGHBOUR_MS,
    Bounds,
    gross_range,
    unchanged_ms,
)
from monitor.yard.reading import Channel, Flag

_REMEMBERED = 64  # readings whose repeats are known without asking the store


class Track:
    """The end of one series: what the next reading is tested against.

    Only readings in time order are followed. For anything else, and at first, the track is lost,
    and its state comes from the store: see `monitor.intake.follow`.
    """

    __slots__ = (
        "_before_at",
        "_before_value",
        "_bounds",
        "_last_at",
        "_last_flag",
        "_last_value",
        "_run_since",
        "channel",
        "newest_ms",
        "recent",
        "sensor",
        "series_id",
    )

    def __init__(self, sensor: str, channel: Channel, bounds: Bounds) -> None:
        self.sensor = sensor
        self.channel = channel
        self.series_id = 0  # 0: not yet asked for
        self._bounds = bounds
        self.recent: OrderedDict[int, int] = OrderedDict()
        self.lose()

    @property
    def bounds(self) -> Bounds:
        """The bounds of this series' tests."""
        return self._bounds

    def lose(self) -> None:
        """Forget the state; the store must be asked before the next reading is followed."""
        self.newest_ms: int | None = None
        self.recent.clear()
        self._last_at: int | None = None
        self._last_value = 0
        self._last_flag = 0
        self._before_at: int | None = None
        self._before_value = 0
        self._run_since = 0

    def follow(self, at_ms: int, value: int) -> tuple[int, int | None]:
        """Flag the next reading.

        Parameters
        ----------
        at_ms : int
            Its time, later than all before.
        value : int
            In steps of the channel's resolution.

        Returns
        -------
        flag : int
            Of this reading.
        amended : int or None
            New flag of the reading before it, whose right neighbour it is; the time is
            `amended_ms`.
        """
        self.newest_ms = at_ms
        recent = self.recent
        recent[at_ms] = value
        if len(recent) > _REMEMBERED:
            recent.popitem(last=False)
        bounds = self._bounds
        flag = int(gross_range(value, bounds))
        if flag == Flag.FAIL or flag == Flag.MISSING:
            return flag, None
        last_at = self._last_at
        if last_at is None:
            self._run_since = at_ms
            self._last_at, self._last_value, self._last_flag = at_ms, value, flag
            return flag, None
        last_value = self._last_value
        base_at, base_value = last_at, last_value
        amended = None
        before_at = self._before_at
        change = value - last_value
        if change and before_at is not None:
            step = last_value - self._before_value
            if (step > 0 > change or step < 0 < change) and (
                last_at - before_at <= NEIGHBOUR_MS and at_ms - last_at <= NEIGHBOUR_MS
            ):
                height = min(abs(step), abs(change))
                if height > bounds.spike_suspect:
                    doubt = int(Flag.FAIL if height > bounds.spike_fail else Flag.SUSPECT)
                    if doubt > self._last_flag:
                        amended = doubt
                    base_at, base_value = before_at, self._before_value
        rise = value - base_value
        gap = at_ms - base_at
        if gap < MINUTE_MS:
            gap = MINUTE_MS
        if gap <= GAP_MS and (
            rise * MINUTE_MS > bounds.rise_per_min * gap
            or -rise * MINUTE_MS > bounds.fall_per_min * gap
        ):
            flag = 3
        if change or at_ms - last_at > GAP_MS:
            self._run_since = at_ms
        elif at_ms - self._run_since >= bounds.flat_ms:
            flag = 3
        self._before_at, self._before_value = last_at, last_value
        self._last_at, self._last_value, self._last_flag = at_ms, value, flag
        return flag, amended

    def restore(
        self, at_ms: NDArray[np.int64], value: NDArray[np.int64], flag: NDArray[np.int8]
    ) -> None:
        """Take up the state from the end of the stored series.

        Parameters
        ----------
        at_ms, value, flag : ndarray, shape (n,), n > 0
            In time order, reaching back further than the flat line test does.
        """
        self.lose()
        self.newest_ms = int(at_ms[-1])
        end = slice(-_REMEMBERED, None)
        self.recent.update(zip(at_ms[end].tolist(), value[end].tolist(), strict=True))
        gross = np.array([gross_range(int(one), self._bounds) for one in value], dtype=np.int8)
        good = np.flatnonzero((gross == Flag.PASS) | (gross == Flag.SUSPECT))
        if good.size:
            last = good[-1]
            self._last_at, self._last_value = int(at_ms[last]), int(value[last])
            self._last_flag = int(flag[last])
            self._run_since = self._last_at - int(unchanged_ms(at_ms[good], value[good])[-1])
        if good.size > 1:
            before = good[-2]
            self._before_at, self._before_value = int(at_ms[before]), int(value[before])

    @property
    def amended_ms(self) -> int:
        """Time of the reading that the last call of `follow` amended."""
        return self._before_at or 0
