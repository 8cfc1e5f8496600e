"""How long to wait: between two tries of a message, and until a hand-over counts as stuck."""

import random
import time
from collections.abc import Callable
from datetime import timedelta
from threading import Lock

from monitor.yard.message import DeliveryOutcome, MessageKind, Receipt

FIRST_WAIT = timedelta(seconds=30)
# What a person must act on asks often whether the channel is back; the rest follows it.
_LONGEST_WAIT = {
    MessageKind.ALARM: timedelta(minutes=4),
    MessageKind.UPDATE: timedelta(minutes=4),
    MessageKind.NOTICE: timedelta(minutes=4),
    MessageKind.ALL_CLEAR: timedelta(minutes=30),
    MessageKind.REPORT: timedelta(minutes=30),
    MessageKind.TEST: timedelta(minutes=4),
    MessageKind.SIGN_IN: timedelta(minutes=4),
}
_JITTER = 0.25  # share of the wait, either way: many yards must not knock in step
# After so long a message tells nothing that helps. What a person must do tonight is stale sooner
# than a report.
GIVE_UP = {
    MessageKind.ALARM: timedelta(days=2),
    MessageKind.UPDATE: timedelta(days=2),
    MessageKind.NOTICE: timedelta(days=1),
    MessageKind.ALL_CLEAR: timedelta(days=2),
    MessageKind.REPORT: timedelta(days=5),
    MessageKind.TEST: timedelta(hours=1),
    MessageKind.SIGN_IN: timedelta(hours=1),  # its link may have run out
}
_LONG_S = 8.0  # a mail takes two; a server that takes longer may take ten minutes
_WAITING_S = 600.0  # a server that asks to come again means five minutes, seldom more


def wait_after(
    tries: int, kind: MessageKind, chance: random.Random, first: timedelta = FIRST_WAIT
) -> timedelta:
    """How long to wait after the try number ``tries`` (from 0): doubled each time, jittered."""
    doubled: timedelta = first * (1 << min(tries, 16))
    return min(doubled, _LONGEST_WAIT[kind]) * (1 + chance.uniform(-_JITTER, _JITTER))


def tried_for(tries: int, kind: MessageKind) -> timedelta:
    """Time that so many tries took at least, after the short waits of the first."""
    return max(tries - 6, 0) * _LONGEST_WAIT[kind] * (1 - _JITTER)


class HandOvers:
    """The hand-over that goes on, and how the last one ended. Any thread may ask."""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        """Nothing was tried yet. ``monotonic``: seconds of a clock that nobody sets."""
        self._monotonic = monotonic
        self._lock = Lock()
        self._began_s: float | None = None
        self._put_off = ""
        self._asked_to_wait = False  # by the last answer
        self._waits_since_s: float | None = None  # first asked to, since a message was done with

    def begin_hand_over(self) -> None:
        """A hand-over begins."""
        with self._lock:
            self._began_s = self._monotonic()

    def end_hand_over(self, receipt: Receipt) -> None:
        """It ended: a channel that has answered for good, even to refuse, is not stuck."""
        with self._lock:
            self._began_s = None
            put_off = receipt.outcome is DeliveryOutcome.PUT_OFF
            self._put_off = (receipt.detail or "it was put off") if put_off else ""
            self._asked_to_wait = put_off and receipt.asks_to_wait
            if not put_off:
                self._waits_since_s = None
            elif self._asked_to_wait and self._waits_since_s is None:
                self._waits_since_s = self._monotonic()

    @property
    def trouble(self) -> str:
        """Why messages do not leave just now; empty while they do or none was tried.

        A far side that asks to come again in some minutes is no trouble before those are over.
        """
        with self._lock:
            now_s = self._monotonic()
            for_s = 0.0 if self._began_s is None else now_s - self._began_s
            if for_s > _LONG_S:
                return f"the far side has not taken a message for {for_s:.0f} s"
            since_s = self._waits_since_s if self._asked_to_wait else None
            if since_s is not None and now_s - since_s < _WAITING_S:
                return ""
            return self._put_off
