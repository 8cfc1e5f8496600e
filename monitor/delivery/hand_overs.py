"""Whether a channel takes messages just now, from memory: who asks need not wait for the store."""

import time
from collections.abc import Callable
from threading import Lock

from monitor.yard.message import DeliveryOutcome, Receipt

_LONG_S = 8.0  # a mail takes two; a server that takes longer may take ten minutes


class HandOvers:
    """The hand-over that goes on, and how the last one ended. Any thread may ask."""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        """Nothing was tried yet. ``monotonic``: seconds of a clock that nobody sets."""
        self._monotonic = monotonic
        self._lock = Lock()
        self._began_s: float | None = None
        self._put_off = ""

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

    @property
    def trouble(self) -> str:
        """Why messages do not leave just now; empty while they do or none was tried."""
        with self._lock:
            for_s = 0.0 if self._began_s is None else self._monotonic() - self._began_s
            if for_s > _LONG_S:
                return f"the far side has not taken a message for {for_s:.0f} s"
            return self._put_off
