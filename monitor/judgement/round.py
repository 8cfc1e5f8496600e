"""One round of judgement over the store: read in one snapshot, compute, write in one go."""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.clock import Clock, to_ms
from monitor.craft.stored import StoredCraft
from monitor.judgement.air import MS_PER_H, PAST_H, Traces, series_needed, space_air
from monitor.judgement.judge import judge
from monitor.judgement.memory import WEEKS_H, Memory
from monitor.store.store import Store, Transaction
from monitor.yard.assessment import Assessment
from monitor.yard.space import Yard

_AT_MOST_H = PAST_H + 2.0  # a reading before the grid's first step still tells it something


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundSummary:
    """What one round found."""

    changed: tuple[Assessment, ...]  # whose standing is not what it was
    count: int
    seconds: float


class Round:
    """Judges the yard as often as it is told to."""

    def __init__(self, store: Store, yard: Yard, clock: Clock) -> None:
        """Remember what to judge by; nothing is read yet."""
        self._store = store
        self._yard = yard
        self._clock = clock
        self._series = series_needed(yard)
        self._memory: Memory | None = None

    def run(self, craft: Sequence[StoredCraft]) -> RoundSummary:
        """Judge the yard now and keep the judgements.

        Parameters
        ----------
        craft : sequence of StoredCraft
            Those in the yard's care now.

        Returns
        -------
        RoundSummary

        Raises
        ------
        StoreError
            If the store cannot be read or written; nothing of the round is kept then.

        Notes
        -----
        Nothing is computed inside a transaction: a long one would hold up intake.
        """
        began = time.perf_counter()
        now = self._clock.now()
        if self._memory is None:
            self._memory = self._remembered(now)
        with self._store.snapshot() as tx:
            traces = self._window(tx, now)
            earlier = tx.assessments.latest()
        judged = judge(self._yard, craft, traces, now, earlier, self._memory)
        with self._store.transaction() as tx:
            changed = tx.assessments.replace(judged)
        return RoundSummary(
            changed=tuple(changed), count=len(judged), seconds=time.perf_counter() - began
        )

    def _window(self, tx: Transaction, now: datetime) -> Traces:
        until = to_ms(now) + 1
        return tx.readings.window(self._series, until - int(_AT_MOST_H * MS_PER_H), until)

    def _remembered(self, now: datetime) -> Memory:
        """The weeks before, read once at the first round in stretches of four days."""
        memory = Memory()
        back_h = WEEKS_H
        while back_h > 0.0:
            then = now - timedelta(hours=back_h)
            with self._store.snapshot() as tx:
                traces = self._window(tx, then)
            for space in self._yard.spaces:
                memory.learn(space_air(space, self._yard.sensors, traces, then))
            back_h -= PAST_H
        return memory
