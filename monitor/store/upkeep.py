"""Looks after the store itself: room on its disk, the reserve, and whether its file is sound."""

import logging
import math
import time
from collections.abc import Callable
from datetime import datetime, timedelta

from monitor.clock import Clock
from monitor.errors import StoreError
from monitor.store import reserve, tables
from monitor.store.reserve import RoomSample, allocate_ahead
from monitor.store.rolling_up import make_due_hours, move_landed
from monitor.store.store import Store
from monitor.yard.health import NO_BYTES, StoreCondition

log = logging.getLogger("laidup.store")

_SAMPLE_EVERY = timedelta(hours=1)
_CHECK_EVERY_S = 600.0
_ALLOCATE_EVERY_S = 600.0
_TRANSACTIONS = 20  # to roll readings up in, each time: about a second of work
_REST = 200.0  # times as long as a check took: it costs a two-hundredth of the time, at any size


def condition_of(store: Store, now: datetime, *, check: bool = True) -> StoreCondition:
    """The condition of a store as a command finds it: nothing is written and nothing is made.

    Parameters
    ----------
    store : Store
    now : datetime
    check : bool
        Look for damage in the whole file, which takes a second for some 100 MB.

    Raises
    ------
    StoreError
        If the store gives nothing.
    """
    damage = store.find_damage() if check else store.damage
    path, kept = store.path, store.reserve
    if path is None or kept is None:
        return StoreCondition(damage=damage)
    free = reserve.free_bytes(path.parent)
    with store.snapshot() as tx:
        shrinks = tx.room_samples.shrinks_bytes_a_day(now, free)
    return StoreCondition(
        free_bytes=free,
        shrinks_bytes_a_day=math.nan if shrinks is None else shrinks,
        reserve_bytes=kept.kept_bytes,
        reserve_whole_bytes=reserve.SIZE,
        damage=damage,
    )


class StoreUpkeep:
    """Measures a store again and again, at a small and constant cost."""

    def __init__(
        self, store: Store, clock: Clock, *, monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        """Remember what to look after; nothing is measured yet.

        Parameters
        ----------
        store : Store
        clock : Clock
            Dates the samples of room.
        monotonic : callable
            Seconds of a clock that nobody sets; paces the checks.
        """
        self._store = store
        self._clock = clock
        self._monotonic = monotonic
        self._sampled_at: datetime | None = None
        self._shrinks = math.nan
        self._oldest: RoomSample | None = None
        self._free: int | None = None
        self._held: int | None = None
        self._check_at_s = self._allocate_at_s = monotonic()
        self._to_check = [""]  # the whole file, then one table after the other
        self._found: dict[str, str] = {}  # damage by table; by "" of the whole file

    @property
    def condition(self) -> StoreCondition:
        """What was last measured."""
        # From memory alone: who asks must not wait for a disk that hangs.
        return StoreCondition(
            free_bytes=self._free,
            shrinks_bytes_a_day=self._shrinks,
            reserve_bytes=self._held,
            reserve_whole_bytes=reserve.SIZE,
            damage=next(iter(self._found.values()), "") or self._store.damage,
        )

    def run_once(self) -> None:
        """Measure the room, fill the reserve, move and roll up readings, check in time."""
        self.measure_room()
        self._allocate_and_sample()
        self._move_landed()
        self._roll_up()
        if self._monotonic() >= self._check_at_s:
            began_s = self._monotonic()
            self._check()
            took_s = self._monotonic() - began_s
            self._check_at_s = self._monotonic() + max(_CHECK_EVERY_S, _REST * took_s)

    def measure_room(self) -> None:
        """Measure the room, and make the reserve whole where there is some; any thread may."""
        path, kept = self._store.path, self._store.reserve
        if path is None or kept is None:
            return
        kept.make()
        self._held = kept.kept_bytes
        self._free = reserve.free_bytes(path.parent)
        self._lower_pace(self._free)

    def _lower_pace(self, free: int) -> None:
        """Forget what a sample has shown of a disk that has been emptied since."""
        # Only an hourly sample raises it: a file that comes and goes is no trend.
        if self._oldest is None:
            return
        shrinks = self._oldest.shrinks_bytes_a_day(self._clock.now(), free)
        if shrinks is not None and shrinks < self._shrinks:
            self._shrinks = shrinks

    def _allocate_and_sample(self) -> None:
        path, held = self._store.path, self._held or 0
        if path is None or self._free is None:
            return
        whole = held >= reserve.SIZE
        if whole and self._free > NO_BYTES and self._monotonic() >= self._allocate_at_s:
            # With less room it would take what the reserve gave up.
            allocate_ahead(path)
            self._allocate_at_s = self._monotonic() + _ALLOCATE_EVERY_S
        now = self._clock.now()
        if self._sampled_at is not None and abs(now - self._sampled_at) < _SAMPLE_EVERY:
            return
        try:
            with self._store.transaction(can_wait=True) as tx:
                oldest = tx.room_samples.oldest_sample()
                tx.room_samples.add(now, self._free)
        except StoreError as error:
            log.debug("The room on the disk could not be noted: %s", error)
            return
        shrinks = None if oldest is None else oldest.shrinks_bytes_a_day(now, self._free)
        self._shrinks = math.nan if shrinks is None else shrinks
        self._oldest = oldest
        self._sampled_at = now

    def _move_landed(self) -> None:
        try:
            move_landed(self._store, self._clock.now())
        except StoreError as error:  # it can wait: they are read where they are
            log.debug("Readings could not be moved on: %s", error)

    def _roll_up(self) -> None:
        try:
            make_due_hours(self._store, self._clock.now(), at_most=_TRANSACTIONS)
        except StoreError as error:  # it can wait: whoever reads works hours out for themselves
            log.debug("Hours could not be rolled up: %s", error)

    def _check(self) -> None:
        table = self._to_check.pop()
        self._to_check = self._to_check or sorted(tables.metadata.tables)
        found = self._store.find_damage(table)
        if found and found != self._found.get(table):
            log.error("The store's file is damaged: %s", found)
        self._found = {key: value for key, value in self._found.items() if key != table}
        if found:
            self._found[table] = found
