"""A machine's clock as people treat it: it runs on, and somebody sets it to any time."""

from datetime import datetime, timedelta


class SetClock:
    """The wall clock, which a test sets, over seconds that only run on."""

    def __init__(self, start: datetime) -> None:
        self._start = start
        self._elapsed_s = 0.0
        self._moved = timedelta()

    def now(self) -> datetime:
        """What the wall clock shows."""
        return self._start + timedelta(seconds=self._elapsed_s) + self._moved

    def elapsed_s(self) -> float:
        """Seconds since the start, whatever the wall clock shows."""
        return self._elapsed_s

    def run_on(self, time: timedelta) -> None:
        """Let time pass."""
        self._elapsed_s += time.total_seconds()

    def move(self, by: timedelta) -> None:
        """Set the wall clock forward, or back."""
        self._moved += by
