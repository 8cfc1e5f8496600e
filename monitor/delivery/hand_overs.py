"""Whether a channel takes messages just now, from memory: who asks need not wait for the store."""

import time
from collections.abc import Callable
from threading import Lock

from monitor.yard.message import DeliveryOutcome, Receipt

_LONG_S = 8.0  # a mail takes two; a server that takes longer may take ten minutes
_WAITING_S = 600.0  # a server that asks to come again means five minutes, seldom more


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
