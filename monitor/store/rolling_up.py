"""Readings moved on and rolled up, in small transactions that hold up nobody."""

from datetime import datetime, timedelta

from monitor.clock import to_ms
from monitor.store.store import Store

_REPAIRED = timedelta(days=2)


def make_due_hours(store: Store, now: datetime, *, at_most: int | None = None) -> bool:
    """Make the hours that are over, and make anew those whose readings have changed.

    Parameters
    ----------
    store : Store
    now : datetime
    at_most : int, optional
        Transactions to spend; whatever is left is made by the next call. None: until it is done.

    Returns
    -------
    bool
        Whether all is made.

    Raises
    ------
    StoreError
        If the store takes nothing; what was made until then stays.
    """
    spent = 0
    while at_most is None or spent < at_most:
        with store.transaction(can_wait=True) as tx:
            more = tx.rollups.make_some()
            there = more or tx.rollups.advance_mark(now)
            if there and not more and not tx.rollups.any_due():
                return True
        spent += 1
    return False


def move_landed(store: Store, now: datetime) -> bool:
    """Move readings on from the table that new ones land in, if it is time; tells whether it was.

    Raises
    ------
    StoreError
        If the store takes nothing; the readings are then read where they are.
    """
    with store.snapshot() as tx:
        if not tx.landing.is_due(to_ms(now)):
            return False
    with store.transaction(can_wait=True) as tx:
        tx.landing.move_mark(to_ms(now))
    return True


def repair_hours(store: Store, now: datetime) -> None:
    """Make the hours of the last two days anew, and all others that are due.

    An hour that was made of readings which changed without a note of it, as by a disk that lost a
    write, is right again after the next night.

    Raises
    ------
    StoreError
        If the store takes nothing; what was made until then stays.
    """
    with store.transaction(can_wait=True) as tx:
        tx.rollups.have_made_since(now - _REPAIRED)
    make_due_hours(store, now)


def make_all_anew(store: Store, now: datetime) -> int:
    """Throw all hours away and make them of the readings; tells how many there are then.

    Whoever reads meanwhile gets the same figures, more slowly.

    Raises
    ------
    StoreError
        If the store takes nothing.
    """
    with store.transaction(can_wait=True) as tx:
        tx.rollups.clear_hours()
    make_due_hours(store, now)
    with store.snapshot() as tx:
        return tx.rollups.count_hours()
