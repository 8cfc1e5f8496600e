"""The loop that judges, raises and clears alarms, and has messages sent."""

import ctypes
import logging
import threading
import time
from collections.abc import Callable
from datetime import datetime
from queue import SimpleQueue

from monitor.alarms.round import AlarmRound
from monitor.alarms.telling.all_well import AllWell
from monitor.clock import Clock, from_ms, to_ms
from monitor.daemon.pace import Schedule, take_turn
from monitor.delivery.part_turns import PartTurns
from monitor.errors import StoreError
from monitor.intake.batch import BatchSummary
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.reports.arrivals import ArrivalList

log = logging.getLogger("laidup")

# What a round has freed stays with the process until the C library is asked to return it: a fifth
# of the memory at 2,000 craft (tests/bench/ROUNDS.md).
_TRIM_EVERY_S = 600.0


class WatchLoop:
    """Judges when readings have come, and now and then without any; its thread is its own."""

    def __init__(
        self,
        *,
        judgement: Round,
        alarms: AlarmRound,
        all_well: AllWell,
        arrivals: ArrivalList,
        craft: CraftInCare,
        clock: Clock,
        pace: Schedule,
        turning: PartTurns,
        wake_couriers: Callable[[], None],
        before_round: Callable[[], None] = lambda: None,
    ) -> None:
        """Remember the parts of a round; nothing is judged yet.

        ``before_round`` is called in the loop's thread: the yard may be another one by then.
        """
        self._before_round = before_round
        self._judgement = judgement
        self._alarms = alarms
        self._all_well = all_well
        self._arrivals = arrivals
        self._craft = craft
        self._clock = clock
        self._pace = pace
        self._turning = turning
        self._wake_couriers = wake_couriers
        self._touched = threading.Event()
        self._news: SimpleQueue[int] = SimpleQueue()  # oldest reading of each stored batch
        self._trimmed_at = time.monotonic()
        # By the daemon's clock, when the last round began that has judged and told all it found.
        self.judged_at: datetime | None = None
        self.store_failure = ""  # why the last rounds could not use the store

    def note_batch(self, batch: BatchSummary) -> None:
        """Readings were stored: judge them soon."""
        if batch.oldest_ms is not None:
            self._news.put(batch.oldest_ms)
        self.hasten_round()

    def hasten_round(self) -> None:
        """Have a round soon."""
        self._touched.set()

    def run(self, stopping: threading.Event) -> None:
        """Judge until told to stop; whatever fails is tried again next time."""
        while not stopping.is_set():
            self._touched.wait(timeout=self._pace.round_every_s)
            if stopping.wait(self._pace.settle_s):
                return
            self._touched.clear()
            take_turn(self._turning, "watch", "The round of judgement", self._run_round)
            if self._turning.is_failing("watch"):
                self.hasten_round()  # soon again: whether it is an accident must be known
            stopping.wait(self._pace.round_gap_s)

    def _run_round(self) -> None:
        try:
            self.judge_and_tell()
        except StoreError as error:
            self.store_failure = str(error)
            raise
        self.store_failure = ""

    def judge_and_tell(self) -> None:
        """One round: judge, then raise and clear alarms and write their messages."""
        self._before_round()
        started, at = time.monotonic(), self._clock.now()
        craft = self._craft.read_now()
        late = self._oldest_news()
        try:
            judged = self._judgement.run(craft, late)
        except Exception:
            if late is not None:  # it is still news to the next round
                self._news.put(to_ms(late))
            raise
        finally:  # what cannot be judged keeps nobody from being told why, and of all else
            alarms = self._alarms.run({one.id: one for one in craft})
            if alarms.messages + self._all_well.run():
                self._wake_couriers()
        self.judged_at = at
        if self._arrivals.run(craft):
            self._wake_couriers()
        self._trim_memory()
        log.debug("Judged %d subjects in %.2f s.", judged.count, time.monotonic() - started)

    def _trim_memory(self) -> None:
        """Give free memory back to the machine now and then, where its C library can."""
        if time.monotonic() - self._trimmed_at < _TRIM_EVERY_S:
            return
        self._trimmed_at = time.monotonic()
        try:
            ctypes.CDLL(None).malloc_trim(0)
        except (OSError, AttributeError):  # another C library than glibc keeps its own ways
            log.debug("This machine's C library cannot give memory back.")

    def _oldest_news(self) -> datetime | None:
        """Time of the oldest reading that was stored since the last round."""
        news = []
        while not self._news.empty():
            news.append(self._news.get())
        return from_ms(min(news)) if news else None
