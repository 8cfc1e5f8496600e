"""Raw readings of archived months removed from the store, in steps that each may be the last.

A month is entered as dropped first: from then on nothing changes in it. Only then file, leaves,
readings and rollups are held against each other, and only if all agree its readings go, some days
of a sensor in a transaction that compares them with the file once more. At every moment an hour of
a sensor is in the store as a whole or in the file alone, so whoever reads meanwhile reads all.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from monitor.clock import Clock
from monitor.errors import ArchiveError
from monitor.store.archive_check import TellSensor
from monitor.store.archive_file import ArchivedMonth, read_parts
from monitor.store.archive_folder import month_bounds, sum_of_file
from monitor.store.archive_rows import SensorPart
from monitor.store.archiving import rows_of_month
from monitor.store.closed_trees import hour_words
from monitor.store.droppable import (
    DueMonth,
    check_file,
    check_made,
    check_rollups,
    check_rows,
    write_through,
)
from monitor.store.dropped_months import DroppedMonth
from monitor.store.stale_hours import hour_of
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.hourly import HOUR_MS


class DropState(StrEnum):
    """What became of a month."""

    DROPPED = "dropped"
    KEPT = "kept"  # something does not fit: nothing was removed
    STOPPED = "stopped"  # something does not fit any more: the rest stays


class DropOutcome(NamedTuple):
    """One month after an attempt to drop it."""

    month: date
    state: DropState
    file: Path
    removed: int = 0  # readings, by this run
    left: int = 0  # readings that stay: a silent sensor's newest hours, or all
    words: str = ""  # why, where it was kept or stopped


def drop_months(
    store: Store,
    yard: str,
    due: Sequence[DueMonth],
    clock: Clock,
    tell_sensor: TellSensor = lambda *_: None,
) -> Iterator[DropOutcome]:
    """Remove raw readings of months, the oldest first; the first that does not fit is the last.

    A kill at any moment leaves all readings to whoever reads, and the next run goes on.

    Parameters
    ----------
    store : Store
        It reads no archive: what is to be checked vouches for nothing.
    yard : str
        Its id.
    due : sequence of DueMonth
        Of `due_months`.
    clock : Clock
        Dates the steps.
    tell_sensor : callable, optional
        Told the month and the sensor that is begun.

    Raises
    ------
    StoreError
        If the store takes nothing, as on a full disk.
    LaidupError
        If pyarrow is not installed.
    """
    for one in due:
        outcome = _drop_month(store, yard, one, clock, tell_sensor)
        yield outcome
        if outcome.state is not DropState.DROPPED:
            return


def _drop_month(
    store: Store, yard: str, due: DueMonth, clock: Clock, tell_sensor: TellSensor
) -> DropOutcome:
    month, file = due.month, due.file
    with store.snapshot() as tx:
        known = tx.dropped_months.month_of(month)
    removed = 0
    try:
        write_through(file)
        if known is None or known.checked_at is None:
            _check_month(store, yard, due, known, clock.now, tell_sensor)
        else:
            _check_again(store, yard, due, known, tell_sensor)
    except ArchiveError as error:
        if known is None or known.checked_at is None:
            _forget(store, month)
            return DropOutcome(month, DropState.KEPT, file, 0, due.rows, str(error))
        return DropOutcome(month, DropState.STOPPED, file, 0, due.rows, str(error))
    spared: dict[str, set[int]] = {}
    try:
        for part in read_parts(file, yard, month):
            tell_sensor(month, part.sensor)
            with store.transaction(can_wait=True) as tx:
                tx.dropped_months.refuse_unchecked(month)
                removed += _remove_part(tx, part, spared.setdefault(part.sensor, set()))
        with store.snapshot() as tx:
            left = _count_left(tx, month, spared)
    except ArchiveError as error:
        left = due.rows - removed
        return DropOutcome(month, DropState.STOPPED, file, removed, left, str(error))
    with store.transaction(can_wait=True) as tx:
        tx.dropped_months.note_dropped(month, clock.now())
    return DropOutcome(month, DropState.DROPPED, file, removed, left)


def _check_month(
    store: Store,
    yard: str,
    due: DueMonth,
    known: DroppedMonth | None,
    now: Callable[[], datetime],
    tell_sensor: TellSensor,
) -> None:
    """Enter a month as dropped, and hold all that must agree against each other.

    Raises
    ------
    ArchiveError
        At the first thing that does not fit; nothing was removed.
    """
    month, file = due.month, due.file
    if known is not None:
        _forget(store, month)  # of a run that was ended before it had removed anything
    with store.snapshot() as tx:
        check_rollups(tx, month, tell_sensor)
    with store.transaction(can_wait=True) as tx:
        tx.dropped_months.begin_month(month, month_bounds(month)[1], now())
    with store.snapshot() as tx:
        check_made(tx, month)  # nothing came between
        about = check_rows(tx, yard, month, file, tell_sensor)
    with store.transaction(can_wait=True) as tx:
        tx.dropped_months.note_checked(
            month, now(), rows=about.rows, digest=about.digest, file_sum=sum_of_file(file)
        )


def _check_again(
    store: Store, yard: str, due: DueMonth, known: DroppedMonth, tell_sensor: TellSensor
) -> None:
    """Hold the file of a month of which some was removed against its leaves, and what it was."""
    with store.snapshot() as tx:
        about: ArchivedMonth = check_file(tx, yard, due.month, due.file, tell_sensor)
    if (about.rows, about.digest) != (known.rows, known.digest):
        raise ArchiveError(
            f"{due.file} is not the file by which the store began to drop {due.month:%Y-%m}. Take"
            " that one from a backup"
        )


def _forget(store: Store, month: date) -> None:
    with store.transaction(can_wait=True) as tx:
        known = tx.dropped_months.month_of(month)
        if known is not None and known.checked_at is None:
            tx.dropped_months.forget_month(month)


def _remove_part(tx: Transaction, part: SensorPart, spared: set[int]) -> int:
    """Remove readings of one sensor that the file has so, but for those that stay; tells how many.

    The newest reading of each of its series stays with its whole hour, for who fell silent is still
    known since when; ``spared`` takes these hours up.

    Raises
    ------
    ArchiveError
        If the store has one that is not in the file so.
    """
    series = tx.series.series_of(part.sensor)
    filed = part.rows_by_hour()
    first_ms, end_ms = min(filed), max(filed) + HOUR_MS
    read = tx.day_trees.hours_of_series(series.values(), first_ms, end_ms)
    newest = (tx.readings.newest_ms(series_id) for series_id in series.values())
    spared |= {hour_of(at_ms) for at_ms in newest if at_ms is not None}
    there = {hour for by_hour in read.values() for hour in by_hour}
    rows = 0
    for hour in there:
        stored = {
            channel: read[series_id][hour]
            for channel, series_id in series.items()
            if hour in read.get(series_id, ())
        }
        if stored != filed.get(hour):
            raise ArchiveError(
                f"readings of {part.sensor} changed in the store while they were dropped, in the"
                f" hour from {hour_words(hour)}; they stay. `laidup verify` says more"
            )
        rows += 0 if hour in spared else sum(map(len, stored.values()))
    gone = sum(
        tx.reading_writer.remove_rows(series_id, from_ms, until_ms)
        for from_ms, until_ms in _stretches_between(first_ms, end_ms, spared)
        for series_id in series.values()
    )
    if gone != rows:
        raise ArchiveError(
            f"of {part.sensor} {gone:,} readings from {hour_words(first_ms)} on would have gone,"
            f" and {rows:,} were compared; they stay"
        )
    return gone


def _stretches_between(first_ms: int, end_ms: int, spared: set[int]) -> Iterator[tuple[int, int]]:
    """What is left of a stretch of time without some of its hours."""
    since_ms = first_ms
    for hour in sorted(hour for hour in spared if first_ms <= hour < end_ms):
        if since_ms < hour:
            yield since_ms, hour
        since_ms = hour + HOUR_MS
    if since_ms < end_ms:
        yield since_ms, end_ms


def _count_left(tx: Transaction, month: date, spared: Mapping[str, set[int]]) -> int:
    """How many readings of a month are in the store still.

    Raises
    ------
    ArchiveError
        If one of them should have gone.
    """
    count = 0
    for part in rows_of_month(tx, month):
        for hour in part.rows_by_hour():
            if hour not in spared.get(part.sensor, ()):
                raise ArchiveError(
                    f"readings of {part.sensor} in the hour from {hour_words(hour)} are in the"
                    " store and not in the file; they stay. `laidup verify` says more"
                )
        count += part.size
    return count
