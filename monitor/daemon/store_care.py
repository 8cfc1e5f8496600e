"""The threads that look after the store: its room and file, its record, whether it answers."""

import logging
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace

from monitor.clock import Clock
from monitor.daemon.pace import UPKEEP_WITHIN_S, Schedule, repeat_turns, take_turn
from monitor.delivery.part_turns import PartTurns
from monitor.health.store_probe import ProbeAnswer, StoreProbe
from monitor.store.copy_age import CopiesSeen, CopySettings, check_copies
from monitor.store.record_upkeep import RecordUpkeep
from monitor.store.store import Store
from monitor.store.upkeep import StoreUpkeep
from monitor.yard.health import StoreCondition
from monitor.yard.space import Yard

log = logging.getLogger("laidup")

_COPIES_EVERY_S = 10.0


class StoreCare:
    """Knows from memory how the store stands; a thread each asks, measures and checks."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        clock: Clock,
        *,
        agency: str | None,
        backup: CopySettings | None,
        pace: Schedule,
        turning: PartTurns,
        hasten_round: Callable[[], None],
    ) -> None:
        """Remember what to look after; the record alone is checked at once.

        Parameters
        ----------
        store : Store
        yard : Yard
        clock : Clock
        agency : str or None
            Whose public forecast the yard asks for.
        backup : CopySettings or None
            Where copies of the store are kept; None: nobody promises any.
        pace : Schedule
        turning : PartTurns
        hasten_round : callable
            Has a round of judgement soon, to tell of what was found.
        """
        self._upkeep = StoreUpkeep(store, clock)
        self._record = RecordUpkeep(store, clock)
        self._probe = StoreProbe(store, yard, clock, agency)
        self._backup, self._yard_id, self._clock = backup, yard.id, clock
        self._pace, self._turning, self._hasten_round = pace, turning, hasten_round
        self._copies = CopiesSeen()
        self._wrong = (False, False, False)  # with room and file, when last looked at
        turning.expect_part("upkeep", UPKEEP_WITHIN_S)
        turning.expect_part("record", UPKEEP_WITHIN_S)
        self._record.run_once()  # before anything is entered behind a break

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._probe.take_yard(yard)

    def store_condition(self) -> StoreCondition:
        """How the store stands, from memory."""
        return replace(self._upkeep.condition, rewritten=self._record.rewritten)

    def probe_answer(self) -> ProbeAnswer:
        """How the store answered last, from memory."""
        return self._probe.latest_answer()

    def copies_seen(self) -> CopiesSeen:
        """How the copies of the store stand, from memory."""
        return self._copies

    def have_record_checked(self) -> None:
        """Have the whole record checked at the next turn."""
        self._record.have_all_checked()

    def make_threads(self, stopping: threading.Event) -> Iterator[threading.Thread]:
        """The threads, not started yet."""
        pace = self._pace
        yield _repeating("upkeep", stopping, pace.upkeep_every_s, self._tend_store)
        yield _repeating("record", stopping, pace.probe_every_s, self._check_record)
        # Its question may be open for as long as a disk hangs.
        yield _repeating("health", stopping, pace.probe_every_s, self._ask_store, daemon=True)
        if self._backup is not None:
            # Its folder may be on another machine, which may hang.
            yield _repeating("copies", stopping, _COPIES_EVERY_S, self._check_copies, daemon=True)

    def _tend_store(self) -> None:
        """Measure the store's room and check its file; a check of a large one takes a while."""
        take_turn(self._turning, "upkeep", "Looking after the store", self._upkeep.run_once)
        found = self._upkeep.condition
        wrong = (found.little_room, found.full, bool(found.damage))
        if wrong != self._wrong:
            self._hasten_round()  # to tell of it, or that it is over
        self._wrong = wrong

    def _check_record(self) -> None:
        """Compare the lay-up record with what was written; of what is broken, nothing counts."""
        take_turn(self._turning, "record", "The check of the record", self._check_record_once)

    def _check_record_once(self) -> None:
        if self._record.run_once():
            self._hasten_round()  # to judge by what still holds, and to tell of it

    def _ask_store(self) -> None:
        """Ask the store again and again how it is, so that nobody else has to wait for it."""
        try:
            self._upkeep.measure_room()
            self._probe.run_once()
            if self._probe.latest_answer().refusal is not None:
                self._hasten_round()  # a round tells whether the watch cannot use it either
        except Exception:
            log.exception("The store could not be asked how it is; it will be asked again.")

    def _check_copies(self) -> None:
        if self._backup is not None:
            self._copies = check_copies(self._backup, self._yard_id, self._clock.now())


def _repeating(
    name: str,
    stopping: threading.Event,
    every_s: float,
    turn: Callable[[], None],
    *,
    daemon: bool = False,
) -> threading.Thread:
    return threading.Thread(
        target=repeat_turns, args=(stopping, every_s, turn), name=name, daemon=daemon
    )
