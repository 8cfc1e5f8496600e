"""Checks the whole record at the start and once a day, so that a break is told of by itself."""

import logging
from datetime import timedelta

from monitor.clock import Clock
from monitor.store.batches import in_batches
from monitor.store.store import Store
from monitor.store.verifying import words_of_yard_breaks

log = logging.getLogger("laidup.store")

_EVERY_S = timedelta(days=1).total_seconds()
_AT_ONCE = 100  # craft in one snapshot


class RecordUpkeep:
    """Compares a yard's record with what was written, at a small and constant cost."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store, self._clock = store, clock
        self._checked_s: float | None = None
        self._rewritten = ""

    @property
    def rewritten(self) -> str:
        """Where the last check found the yard's record cut or rewritten; empty: nowhere."""
        return self._rewritten

    def run_once(self) -> None:
        """Check the whole record if a day has passed since the last time.

        Raises
        ------
        StoreError
            If the store cannot be read or written; then it is tried again next time.
        """
        now_s = self._clock.elapsed_s()
        if self._checked_s is not None and now_s - self._checked_s < _EVERY_S:
            return
        with self._store.snapshot() as tx:
            ids = tx.layup.chain.craft_ids()
            rewritten = words_of_yard_breaks(tx)
        if rewritten and rewritten != self._rewritten:
            log.error("The lay-up record is not what was written: %s", rewritten)
        self._rewritten = rewritten
        for some in in_batches(ids, _AT_ONCE):
            with self._store.snapshot() as tx:
                found, known = tx.layup.breaks.check(some), tx.layup.breaks.words()
            if found == {key: known[key] for key in some if key in known}:
                continue
            with self._store.transaction() as tx:
                # Once more: somebody may have entered work since.
                tx.layup.breaks.put(some, tx.layup.breaks.check(some), self._clock.now())
            for craft_id, words in found.items():
                log.error("The record of craft %s does not hold: %s", craft_id, words)
        self._checked_s = now_s
