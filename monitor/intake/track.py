"""One series as intake follows it: flags each reading as it comes, without asking the store."""

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
        "_fall_per_min",
        "_flat_ms",
        "_high",
        "_last_at",
        "_last_flag",
        "_last_value",
        "_low",
        "_older",
        "_recent",
        "_rise_per_min",
        "_run_since",
        "_spike_fail",
        "_spike_suspect",
        "bounds",
        "channel",
        "kept_update_s",
        "newest_ms",
        "sensor",
        "series_id",
        "update_s",
    )

    def __init__(self, sensor: str, channel: Channel, bounds: Bounds) -> None:
        self.sensor = sensor
        self.channel = channel
        self.series_id = 0  # 0: not yet asked for
        self.update_s: float | None = None  # longest time until its next reading, as it last said
        self.kept_update_s: float | None = None  # what the store knows of that
        self.bounds = bounds
        # Flat copies: they are looked up for every single reading.
        self._low = max(bounds.sensor_low, bounds.operator_low)
        self._high = min(bounds.sensor_high, bounds.operator_high)
        self._rise_per_min = bounds.rise_per_min
        self._fall_per_min = bounds.fall_per_min
        self._spike_suspect = bounds.spike_suspect
        self._spike_fail = bounds.spike_fail
        self._flat_ms = bounds.flat_ms
        self.forget_state()

    def forget_state(self) -> None:
        """Forget the state; the store must be asked before the next reading is followed."""
        self.newest_ms: int | None = None
        self._recent: dict[int, int] = {}
        self._older: dict[int, int] = {}
        self._last_at: int | None = None
        self._last_value = 0
        self._last_flag = 0
        self._before_at: int | None = None
        self._before_value = 0
        self._run_since = 0

    def is_repeat(self, at_ms: int, value: int) -> bool:
        """Tell whether this is one of the last readings once more."""
        return self._recent.get(at_ms, self._older.get(at_ms)) == value

    def flag_next(self, at_ms: int, value: int) -> tuple[int, int | None]:
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
        recent = self._recent
        if len(recent) == _REMEMBERED:
            self._older = recent
            self._recent = recent = {}
        recent[at_ms] = value
        flag = 1
        if not self._low <= value <= self._high:
            flag = int(gross_range(value, self.bounds))
            if flag != 3:
                return flag, None
        last_at = self._last_at
        if last_at is None:
            self._run_since = self._last_at = at_ms
            self._last_value, self._last_flag = value, flag
            return flag, None
        gap = at_ms - last_at
        rise = value - self._last_value
        amended = None
        if rise:
            self._run_since = at_ms
            height = self._spike_height(last_at, gap, rise)
            if height > self._spike_suspect:
                doubt = 4 if height > self._spike_fail else 3
                if doubt > self._last_flag:
                    amended = doubt
                # The reading before was a spike: the one before it is the better measure.
                gap += last_at - self.amended_ms
                rise = value - self._before_value
            if self._is_too_fast(gap, rise):
                flag = 3
        elif gap > GAP_MS:
            self._run_since = at_ms
        elif at_ms - self._run_since >= self._flat_ms:
            flag = 3
        self._before_at, self._before_value = last_at, self._last_value
        self._last_at, self._last_value, self._last_flag = at_ms, value, flag
        return flag, amended

    def _spike_height(self, last_at: int, gap: int, rise: int) -> int:
        """By how much the last reading stands out from both its neighbours; 0 if from one only."""
        before_at = self._before_at
        if before_at is None or gap > NEIGHBOUR_MS or last_at - before_at > NEIGHBOUR_MS:
            return 0
        step = self._last_value - self._before_value
        return min(abs(step), abs(rise)) if step > 0 > rise or step < 0 < rise else 0

    def _is_too_fast(self, gap: int, rise: int) -> bool:
        """Whether a value rises or falls faster than the air or a thing can."""
        if gap > GAP_MS:
            return False
        if gap < MINUTE_MS:
            gap = MINUTE_MS
        limit = self._rise_per_min if rise > 0 else self._fall_per_min
        return abs(rise) * MINUTE_MS > limit * gap

    def restore_state(
        self, at_ms: NDArray[np.int64], value: NDArray[np.int64], flag: NDArray[np.int8]
    ) -> None:
        """Take up the state from the end of the stored series.

        Parameters
        ----------
        at_ms, value, flag : ndarray, shape (n,), n > 0
            In time order, reaching back further than the flat line test does.
        """
        self.forget_state()
        self.newest_ms = int(at_ms[-1])
        end = slice(-_REMEMBERED, None)
        self._recent = dict(zip(at_ms[end].tolist(), value[end].tolist(), strict=True))
        gross = np.array([gross_range(int(one), self.bounds) for one in value], dtype=np.int8)
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
        """Time of the reading that the last call of `flag_next` amended."""
        return self._before_at or 0
