"""Checks the whole record at the start and when told to, and what was changed within seconds."""

import logging
import time
from collections.abc import Callable, Collection

from monitor.clock import Clock
from monitor.store.statements import in_batches
from monitor.store.store import Store
from monitor.store.yard_breaks import words_of_yard_breaks

log = logging.getLogger("laidup.store")

_AT_ONCE = 100  # craft in one snapshot
_COMPARE_EVERY_S = 5.0
_REST = 50.0  # times as long as comparing took: it costs a fiftieth of the time, at any size


class RecordUpkeep:
    """Compares a yard's record with what was written, at a small and constant share of the time."""

    def __init__(
        self, store: Store, clock: Clock, *, monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        """Remember what to check; nothing is checked yet. ``monotonic`` paces the comparing."""
        self._store, self._clock, self._monotonic = store, clock, monotonic
        self._all_due = True
        self._compare_at_s = monotonic()
        self._digests: dict[str, int] = {}  # of the rows as they were when they were checked
        self._rewritten = ""

    @property
    def rewritten(self) -> str:
        """Where the last check found the yard's record cut or rewritten; empty: nowhere."""
        return self._rewritten

    def have_all_checked(self) -> None:
        """Have the next turn check all craft; any thread may ask for it."""
        self._all_due = True

    def run_once(self) -> bool:
        """Check craft whose rows changed, or all where due; True if what is broken has changed.

        Raises
        ------
        StoreError
            If the store cannot be read or written; then it is tried again next time.
        """
        began_s, all_due = self._monotonic(), self._all_due
        if not all_due and began_s < self._compare_at_s:
            return False
        self._all_due = False  # whoever asks from now on is served by the next turn
        try:
            return self._compare_and_check(began_s, check_all=all_due)
        except BaseException:
            self._all_due = all_due or self._all_due
            raise

    def _compare_and_check(self, began_s: float, *, check_all: bool) -> bool:
        with self._store.snapshot() as tx:
            digests = tx.layup.chain.row_digests()
        every = self._digests.keys() | digests.keys()
        changed = {one for one in every if self._digests.get(one) != digests.get(one)}
        took_s = self._monotonic() - began_s
        due = every if check_all else changed
        news = self._check_craft(due) if due or check_all else False
        self._digests = digests
        self._compare_at_s = self._monotonic() + max(_COMPARE_EVERY_S, _REST * took_s)
        return news

    def _check_craft(self, ids: Collection[str]) -> bool:
        """Check the yard's list of links, and the chains of these craft."""
        with self._store.snapshot() as tx:
            rewritten = words_of_yard_breaks(tx)
        news = rewritten != self._rewritten
        if rewritten and news:
            log.error("The lay-up record is not what was written: %s", rewritten)
        self._rewritten = rewritten
        for some in in_batches(sorted(ids), _AT_ONCE):
            with self._store.snapshot() as tx:
                found, known = tx.layup.breaks.check_chains(some), tx.layup.breaks.break_words()
            if found == {key: known[key] for key in some if key in known}:
                continue
            news = True
            with self._store.transaction() as tx:
                # Once more: somebody may have entered work since.
                tx.layup.breaks.put(some, tx.layup.breaks.check_chains(some), self._clock.now())
            for craft_id, words in found.items():
                log.error("The record of craft %s does not hold: %s", craft_id, words)
        return news
