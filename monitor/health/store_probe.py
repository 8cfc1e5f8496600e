"""Asks the store every few seconds whether it takes and gives, from a thread that may wait for it.

Whoever wants to know reads the last answer from memory, and how long the question has been open.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock

from monitor.clock import Clock
from monitor.errors import StoreError
from monitor.health.store_seen import StoreSeen, read_store
from monitor.store.store import Store
from monitor.yard.space import Yard

WAITS_FOR_LOCK_S = 3.0  # intake's own transactions take less
_REFUSALS = 2  # in a row: one may be a long transaction of laidup's own


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeAnswer:
    """How the store answered, and how long it has been silent."""

    seen: StoreSeen | None = None  # None: it was never read
    refusal: StoreError | None = field(default=None)  # why it takes or gives nothing
    silent_s: float = 0.0  # since the question that is open was put


class StoreProbe:
    """Puts the question; `latest_answer` never waits."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        clock: Clock,
        agency: str | None,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Ask through connections of its own, and give up soon where the store is locked."""
        self._store = store.beside(1, busy_s=WAITS_FOR_LOCK_S)
        self._yard = yard
        self._clock = clock
        self._agency = agency
        self._monotonic = monotonic
        self._lock = Lock()
        self._seen: StoreSeen | None = None
        self._refusal: StoreError | None = None
        self._refusals = 0
        self._asked_s: float | None = None

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def run_once(self) -> None:
        """Ask once, whether it can be written and what it holds."""
        with self._lock:
            if self._asked_s is None:  # else the last one failed, and has no answer yet
                self._asked_s = self._monotonic()
        refusal = self._ask_to_write()
        seen: StoreSeen | None = None
        try:
            seen = read_store(self._store, self._yard, self._clock.now(), self._agency)
        except StoreError as error:
            refusal = error
        with self._lock:
            self._asked_s = None
            self._seen = seen or self._seen
            self._refusals = self._refusals + 1 if refusal else 0
            self._refusal = refusal if self._refusals >= _REFUSALS else None

    def latest_answer(self) -> ProbeAnswer:
        """The last answer."""
        now_s = self._monotonic()
        with self._lock:
            return ProbeAnswer(
                seen=self._seen,
                refusal=self._refusal,
                silent_s=0.0 if self._asked_s is None else now_s - self._asked_s,
            )

    def _ask_to_write(self) -> StoreError | None:
        try:
            self._store.ask_to_write()
        except StoreError as error:
            return error
        return None
