"""What time is it? The machine's time when the daemon runs, the readings' time when they replay."""

import time
from datetime import UTC, datetime
from threading import Lock
from typing import Protocol


class Clock(Protocol):
    """Anything that tells the present as an aware UTC time, and how long something took."""

    def now(self) -> datetime:
        """Tell the present, in UTC. A machine's clock may be wrong, and set at any moment."""
        ...

    def elapsed_s(self) -> float:
        """Seconds since a moment of no meaning, on a clock that nobody sets: for all waiting."""
        ...


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """Tell the machine's time, in UTC."""
        return datetime.now(UTC)

    def elapsed_s(self) -> float:
        """Seconds of the machine's monotonic clock."""
        return time.monotonic()


class ReadingsClock:
    """A clock that readings push forward; it never goes back.

    Demo and replay run on it, as fast as the machine allows.
    """

    def __init__(self, start: datetime) -> None:
        self._lock = Lock()
        self._now = _utc(start)

    def now(self) -> datetime:
        """Tell the latest time that a reading has brought."""
        with self._lock:
            return self._now

    def elapsed_s(self) -> float:
        """Seconds that the readings have brought since 1970; they never go back either."""
        return self.now().timestamp()

    def advance(self, to: datetime) -> None:
        """Move on to ``to``; a time in the past changes nothing."""
        with self._lock:
            self._now = max(self._now, _utc(to))


def to_ms(at: datetime) -> int:
    """Milliseconds since 1970, as the store keeps times.

    Raises
    ------
    ValueError
        If ``at`` has no zone: a naive time names no moment.
    """
    return round(_utc(at).timestamp() * 1000)


def from_ms(at_ms: int) -> datetime:
    """Aware UTC time of a stored time."""
    return datetime.fromtimestamp(at_ms / 1000, UTC)


def _utc(at: datetime) -> datetime:
    if at.tzinfo is None:
        raise ValueError(f"{at.isoformat()}: a time without a zone names no moment; add an offset")
    return at.astimezone(UTC)
