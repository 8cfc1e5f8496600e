"""The account of the watch, for whoever asks: made of what is in memory, at a constant cost."""

import time
from collections.abc import Callable
from datetime import timedelta
from threading import Lock

from monitor.clock import Clock
from monitor.errors import StoreError
from monitor.health.account import faults_of
from monitor.health.store_faults import HealthFacts, ObservedFault
from monitor.health.store_probe import ProbeAnswer
from monitor.health.store_seen import StoreSeen, read_store
from monitor.store.store import Store
from monitor.store.upkeep import condition_of
from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind
from monitor.yard.space import Yard


class HealthWatch:
    """Makes the account and remembers since when each fault has stood. Any thread may ask."""

    def __init__(
        self,
        yard: Yard,
        clock: Clock,
        facts: Callable[[], HealthFacts],
        judged_old_after: timedelta,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Remember whom to ask.

        Parameters
        ----------
        yard : Yard
        clock : Clock
            Dates the faults.
        facts : callable
            What is known now; it may wait for nobody.
        judged_old_after : timedelta
            A judgement older than this, by the clock, is a fault.
        monotonic : callable
            Seconds of a clock that nobody sets: a fault's age outlives a setting of the other.
        """
        self._yard = yard
        self._clock = clock
        self._facts = facts
        self._judged_old_after = judged_old_after
        self._monotonic = monotonic
        self._lock = Lock()
        self._first_seen_s: dict[tuple[HealthFaultKind, str, bool], float] = {}

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def make_account(self) -> HealthAccount:
        """The account as it is now."""
        facts = self._facts()
        found = faults_of(facts, self._yard, self._judged_old_after)
        now_s = self._monotonic()
        with self._lock:
            self._first_seen_s = {one.key: self._first_seen_s.get(one.key, now_s) for one in found}
            ages = {key: now_s - since_s for key, since_s in self._first_seen_s.items()}
        seen = facts.probe.seen or StoreSeen(at=facts.now)
        return HealthAccount(
            at=facts.now,
            faults=tuple(_dated(one, facts, ages[one.key]) for one in found),
            newest_reading_at=seen.newest_reading_at,
            judged_at=seen.judged_at,
            jobs=facts.job_states,
        )


def account_of_store(
    store: Store, yard: Yard, clock: Clock, judged_old_after: timedelta, agency: str | None = None
) -> HealthAccount:
    """The account as far as the store alone tells it, for whoever is not the daemon."""
    now = clock.now()
    try:
        probe = ProbeAnswer(seen=read_store(store, yard, now, agency))
        condition = condition_of(store, now, check=False)
        facts = HealthFacts(now=now, probe=probe, condition=condition)
    except StoreError as error:
        facts = HealthFacts(now=now, probe=ProbeAnswer(refusal=error))
    return HealthWatch(yard, clock, lambda: facts, judged_old_after).make_account()


def _dated(found: ObservedFault, facts: HealthFacts, age_s: float) -> HealthFault:
    since = found.since or facts.now - timedelta(seconds=age_s)
    return HealthFault(
        kind=found.kind,
        part=found.part,
        is_grave=found.is_grave,
        what=found.what,
        remedy=found.remedy,
        since=since,
        is_of_start=found.is_of_start,
    )
