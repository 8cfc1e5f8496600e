"""Raw readings of past months into archive files, and archive files held against the closed days.

A month is archived once each of its days is closed and every late reading of it has its leaf. What
is written was compared with the leaves hour by hour before, so no file holds what no tree holds.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from monitor.errors import ArchiveError
from monitor.store.archive_check import (
    TellSensor,
    UnfitRowsError,
    checked_parts,
    compare_rows,
    tell_sensors,
)
from monitor.store.archive_file import PART_MS, read_about, remove_left, write_month
from monitor.store.archive_folder import archive_path, month_after, month_bounds, months_in
from monitor.store.archive_rows import RowsDigest, SensorPart
from monitor.store.day_trees import day_of
from monitor.store.store import Store
from monitor.store.transaction import Transaction

_WAITS = "readings that came late wait for the next day to be closed. Run this again tomorrow"


class MonthState(StrEnum):
    """What became of a month."""

    WRITTEN = "written"
    ANEW = "written anew"  # over an older or a damaged file
    THERE = "there already"
    ALONE = "in the file alone"  # the store no longer holds a reading of it
    BACK = "put back"  # from the file into the store
    FITS = "fits"  # the file against the trees
    WAITS = "not yet"
    UNFIT = "does not fit"


class MonthOutcome(NamedTuple):
    """One month after archiving or checking it."""

    month: date
    state: MonthState
    file: Path
    rows: int = 0
    words: str = ""  # why, where it waits or does not fit


def archive_months(
    store: Store,
    yard: str,
    folder: Path,
    before: date | None = None,
    tell_sensor: TellSensor = lambda *_: None,
) -> Iterator[MonthOutcome]:
    """Write a file for each month whose days are all closed, the oldest first.

    Parameters
    ----------
    store : Store
        It is only read.
    yard : str
        The yard's id.
    folder : Path
        It must be there.
    before : date, optional
        Only months before this one, named by its first day.
    tell_sensor : callable, optional
        Told the month and the sensor that is begun.

    Raises
    ------
    ArchiveError
        If the folder or a file cannot be written; files that were written stay.
    StoreError
        If the store cannot be read.
    LaidupError
        If pyarrow is not installed.
    """
    there = months_in(folder, yard)  # a folder that is not there is told before a month is read
    remove_left(folder, yard)
    with store.snapshot() as tx:
        months = closed_months(tx)
    for month in sorted({*months, *(one for one in there if not months or one < months[0])}):
        if before is not None and month >= before:
            return
        with store.snapshot() as tx:
            one = _archive_month(tx, yard, folder, month, tell_sensor)
        if one is not None:
            yield one


def check_months(
    store: Store, yard: str, folder: Path, tell_sensor: TellSensor = lambda *_: None
) -> Iterator[MonthOutcome]:
    """Read each of a yard's files back and hold its hours against the leaves of the closed days.

    Parameters
    ----------
    store, yard, folder, tell_sensor
        As of `archive_months`.

    Raises
    ------
    ArchiveError
        If the folder cannot be read; what is wrong with one file stops no check of others.
    StoreError
        If the store cannot be read.
    LaidupError
        If pyarrow is not installed.
    """
    for month, file in months_in(folder, yard).items():
        with store.snapshot() as tx:
            yield _check_month(tx, yard, month, file, tell_sensor, MonthState.FITS)


def closed_months(tx: Transaction) -> list[date]:
    """Months with readings whose days are all closed, the oldest first, by their first day."""
    last, oldest_ms = tx.layup.chain.last_day(), tx.day_trees.oldest_reading_ms()
    months: list[date] = []
    if last is not None and oldest_ms is not None:
        month = day_of(oldest_ms).replace(day=1)
        while month_after(month) <= last + timedelta(days=1):
            months.append(month)
            month = month_after(month)
    return months


def rows_of_month(tx: Transaction, month: date) -> Iterator[SensorPart]:
    """The readings of a month in the store, in the order of its archive file."""
    begin_ms, end_ms = month_bounds(month)
    for sensor, series in sorted(tx.series.series_by_sensor().items()):
        for since_ms in range(begin_ms, end_ms, PART_MS):
            until_ms = min(since_ms + PART_MS, end_ms)
            found = tx.day_trees.hours_of_series(series.values(), since_ms, until_ms)
            rows = {
                channel: [row for hour in found[series_id].values() for row in hour]
                for channel, series_id in series.items()
                if series_id in found
            }
            if rows:
                yield SensorPart(sensor, rows)


def _archive_month(
    tx: Transaction, yard: str, folder: Path, month: date, tell_sensor: TellSensor
) -> MonthOutcome | None:
    """Archive one month; None where it has no reading."""
    file = archive_path(folder, yard, month)
    state = MonthState.WRITTEN
    is_empty = next(rows_of_month(tx, month), None) is None
    is_dropped = tx.dropped_months.month_of(month) is not None  # never over the only one there is
    if is_dropped or (is_empty and file.exists()):
        return _check_month(tx, yard, month, file, tell_sensor, MonthState.ALONE)
    if file.exists():
        rows = _same_rows(tx, yard, month, file, tell_sensor)
        if rows is not None:
            return MonthOutcome(month, MonthState.THERE, file, rows)
        state = MonthState.ANEW
    begin_ms, end_ms = month_bounds(month)
    if any(begin_ms <= one.hour_ms < end_ms for one in tx.late_hours.noted_hours()):
        return MonthOutcome(month, MonthState.WAITS, file, words=_WAITS)
    if is_empty:
        return None
    parts = tell_sensors(rows_of_month(tx, month), month, tell_sensor)
    try:
        said = write_month(folder, yard, month, compare_rows(tx, month, parts, of_store=True))
    except UnfitRowsError as error:
        return MonthOutcome(month, MonthState.UNFIT, file, words=str(error))
    return MonthOutcome(month, state, file, said.rows)


def _check_month(
    tx: Transaction,
    yard: str,
    month: date,
    file: Path,
    tell_sensor: TellSensor,
    sound: MonthState,
) -> MonthOutcome:
    """Hold a file against the closed days; ``sound`` is what became of it if it fits."""
    try:
        rows = sum(part.size for part in checked_parts(tx, yard, month, file, tell_sensor))
    except ArchiveError as error:
        return MonthOutcome(month, MonthState.UNFIT, file, words=str(error))
    return MonthOutcome(month, sound, file, rows)


def _same_rows(
    tx: Transaction, yard: str, month: date, file: Path, tell_sensor: TellSensor
) -> int | None:
    """How many rows a file has, if they are those of the store; None if they are not."""
    try:
        said = read_about(file, yard, month)
    except ArchiveError:
        return None
    digest = RowsDigest()
    for part in tell_sensors(rows_of_month(tx, month), month, tell_sensor):
        digest.add_part(part)
    return said.rows if (said.rows, said.digest) == (digest.rows, digest.hex) else None
