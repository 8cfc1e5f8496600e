"""What one worker knows of its messages by itself: waits that no clock moves, unwritten receipts.

The store remembers over a restart, by the wall clock, and takes nothing while its disk is full.
What stands here is lost with the process; until then it holds whatever becomes of the other two.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from monitor.yard.message import Receipt

_WAITED_AT_ONCE = 100  # keys in one question to the store


@dataclass(frozen=True, slots=True, kw_only=True)
class UnwrittenAttempt:
    """An attempt whose receipt the store has not taken yet."""

    key: str
    at: datetime
    receipt: Receipt
    due: datetime | None  # of the next try, by the wall clock; None: the message has ended


@dataclass(slots=True)
class _Known:
    first_try_s: float
    next_try_s: float | None = None  # None: it has ended, or is in hand


@dataclass(slots=True)
class Remembered:
    """The messages of one channel that were tried here and have not ended in the store."""

    elapsed_s: Callable[[], float]  # of a clock that nobody sets
    unwritten: list[UnwrittenAttempt] = field(default_factory=list)
    _known: dict[str, _Known] = field(default_factory=dict)

    def begin_try(self, key: str) -> None:
        """A message is in hand."""
        self._known.setdefault(key, _Known(self.elapsed_s())).next_try_s = None

    def end_try(self, attempt: UnwrittenAttempt, wait_s: float | None) -> None:
        """A try has ended: keep its receipt until it is written, and the seconds to wait."""
        self.unwritten.append(attempt)
        self._known[attempt.key].next_try_s = None if wait_s is None else self.elapsed_s() + wait_s

    def all_written(self) -> None:
        """The store has taken every receipt."""
        for attempt in self.unwritten:
            if attempt.due is None:
                self._known.pop(attempt.key, None)
        self.unwritten.clear()

    def end_waits(self) -> None:
        """No message waits any longer: the channel works again."""
        for known in self._known.values():
            if known.next_try_s is not None:
                known.next_try_s = self.elapsed_s()

    def age_s(self, key: str) -> float:
        """Seconds since the first try that this process made of a message in hand."""
        return self.elapsed_s() - self._known[key].first_try_s

    def keys_due(self) -> frozenset[str]:
        """Keys whose wait is over; not all of very many."""
        now_s = self.elapsed_s()
        over = [
            (known.next_try_s, key)
            for key, known in self._known.items()
            if known.next_try_s is not None and known.next_try_s <= now_s
        ]
        return frozenset(key for _, key in sorted(over)[:_WAITED_AT_ONCE])

    def unwritten_tries(self, key: str) -> int:
        """Tries of a message that the store does not know of."""
        return sum(attempt.key == key for attempt in self.unwritten)

    def may_be_tried(self, key: str) -> bool:
        """Whether a message that the store calls due may be tried, by what is not written there."""
        if not self.unwritten_tries(key):
            return True
        next_try_s = self._known[key].next_try_s
        return next_try_s is not None and next_try_s <= self.elapsed_s()
