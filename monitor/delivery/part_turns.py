"""Whether the daemon's own parts turn: one that died, hangs or fails each time must be noticed."""

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass

_FAILS = 3  # so many times in a row is no accident


@dataclass(slots=True)
class _Part:
    turned_s: float
    failures: int = 0
    error: str = ""


class PartTurns:
    """Keeps when each part last finished a turn, and how that went.

    Parts report from their own threads; anybody may ask.
    """

    def __init__(
        self, allowed_s: Mapping[str, float], monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        """Start the count for each part.

        Parameters
        ----------
        allowed_s : mapping of part to float
            How long a part may go without a turn [s].
        monotonic : callable
            Seconds of a clock that nobody sets.
        """
        self._allowed_s = dict(allowed_s)
        self._monotonic = monotonic
        self._lock = threading.Lock()
        self._parts = {part: _Part(turned_s=monotonic()) for part in allowed_s}

    def expect_part(self, part: str, allowed_s: float) -> None:
        """Count one more part, which may go so long without a turn [s]."""
        with self._lock:
            self._allowed_s[part] = allowed_s
            self._parts[part] = _Part(turned_s=self._monotonic())

    def note_turn(self, part: str) -> None:
        """A part has finished a turn."""
        with self._lock:
            self._parts[part] = _Part(turned_s=self._monotonic())

    def going_on(self, part: str) -> None:
        """A part is in the middle of a long turn, and does not hang.

        A part that has no thread of its own is not counted: messages for a channel that the yard's
        file does not name are put off by the thread of the whole post.
        """
        with self._lock:
            if part in self._parts:
                self._parts[part].turned_s = self._monotonic()

    def note_failure(self, part: str, error: BaseException) -> None:
        """A part's turn ended in an error; it will try again."""
        with self._lock:
            here = self._parts[part]
            here.turned_s = self._monotonic()
            here.failures += 1
            here.error = f"{type(error).__name__}: {error}"

    def hanging_parts(self) -> dict[str, str]:
        """Parts that have not turned for longer than they may, with how long; dead ones too."""
        now_s = self._monotonic()
        with self._lock:
            return {
                name: f"has not turned for {(now_s - part.turned_s) / 60.0:.0f} min"
                for name, part in self._parts.items()
                if now_s - part.turned_s > self._allowed_s[name]
            }

    def is_failing(self, part: str) -> bool:
        """Whether a part's last turns failed, and too few of them yet to call it unwell."""
        with self._lock:
            return 0 < self._parts[part].failures < _FAILS

    def unwell_parts(self) -> dict[str, str]:
        """Parts that hang, or fail every time, with the reason."""
        with self._lock:
            failing = {
                name: f"failed {part.failures} times in a row, last with {part.error}"
                for name, part in self._parts.items()
                if part.failures >= _FAILS
            }
        return failing | self.hanging_parts()
