"""What time is it? The machine's time when the daemon runs, the readings' time when they replay."""

import time
from datetime import UTC, datetime, timedelta
from math import isfinite
from threading import Lock
from typing import Protocol

from monitor.errors import BadValueError

# Goes on while the machine sleeps: a sleep is no setting of its clock.
_ELAPSED = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)
_SET_S = 30.0  # a jump against the seconds that nobody sets: somebody has set the clock


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
        """Seconds since the machine was started."""
        return time.clock_gettime(_ELAPSED)


class CorrectedClock:
    """A machine's clock, put right by what its sensors agree on until somebody sets it.

    Each correction, and each setting of the machine's clock, shifts what `now` tells. Shifts are
    counted, so that a time told before one can be brought to what it would have been after it.
    """

    def __init__(self, machine: Clock) -> None:
        self._machine = machine
        self._lock = Lock()
        self._correction_s = 0.0
        self._shifts: list[float] = []
        self._over_elapsed_s = machine.now().timestamp() - machine.elapsed_s()

    def now(self) -> datetime:
        """Tell the machine's time, corrected."""
        return self.now_and_shifts()[0]

    def now_and_shifts(self) -> tuple[datetime, int]:
        """Tell the time, and how many shifts there have been until then."""
        with self._lock:
            machine = self._machine.now()
            over_s = machine.timestamp() - self._machine.elapsed_s()
            jump_s, self._over_elapsed_s = over_s - self._over_elapsed_s, over_s
            if abs(jump_s) > _SET_S:
                # Whoever set it knew better than the sensors; they will tell if not.
                self._shifts.append(jump_s - self._correction_s)
                self._correction_s = 0.0
            return machine + timedelta(seconds=self._correction_s), len(self._shifts)

    def machine_now(self) -> datetime:
        """Tell the machine's time as it is."""
        return self._machine.now()

    def elapsed_s(self) -> float:
        """Seconds that only run on."""
        return self._machine.elapsed_s()

    def correct_by(self, by_s: float) -> None:
        """Tell times later by so much [s] from now on."""
        with self._lock:
            self._correction_s += by_s
            self._shifts.append(by_s)

    @property
    def correction_s(self) -> float:
        """By how much the machine's time is corrected [s]; 0 where it is believed."""
        return self._correction_s

    def shifted_since_s(self, count: int) -> float:
        """By how much later a time is told now [s] than when there had been so many shifts."""
        return sum(self._shifts[count:])


class ReadingsClock:
    """A clock that readings push forward; it never goes back.

    Demo and replay run on it, as fast as the machine allows.
    """

    def __init__(self, start: datetime) -> None:
        self._lock = Lock()
        self._now = _in_utc(start)

    def now(self) -> datetime:
        """Tell the latest time that a reading has brought."""
        with self._lock:
            return self._now

    def elapsed_s(self) -> float:
        """Seconds that the readings have brought since 1970; they never go back either."""
        return self.now().timestamp()

    def advance_to(self, to: datetime) -> None:
        """Move on to ``to``; a time in the past changes nothing."""
        with self._lock:
            self._now = max(self._now, _in_utc(to))


def correctable_clock(clock: Clock) -> Clock:
    """The clock, such that it can be corrected; one that readings drive needs that never."""
    return clock if isinstance(clock, ReadingsClock | CorrectedClock) else CorrectedClock(clock)


def to_ms(at: datetime) -> int:
    """Milliseconds since 1970, as the store keeps times.

    Raises
    ------
    ValueError
        If ``at`` has no zone: a naive time names no moment.
    """
    return round(_in_utc(at).timestamp() * 1000)


def hours_after(at: datetime, hours: float) -> datetime | None:
    """Turn hours from a time on into a time; None for what never comes (inf) or is not known."""
    return at + timedelta(hours=hours) if isfinite(hours) else None


def from_ms(at_ms: int) -> datetime:
    """Aware UTC time of a stored time."""
    return datetime.fromtimestamp(at_ms / 1000, UTC)


def _in_utc(at: datetime) -> datetime:
    if at.tzinfo is None:
        raise BadValueError(
            f"{at.isoformat()}: a time without a zone names no moment",
            "add an offset",
        )
    return at.astimezone(UTC)
