"""Which months' raw readings may go from the store; what is held against each other before.

A month may go once its archive file is there, reads back as it says, agrees hour by hour with the
last leaf of each hour in the trees of the closed days and row by row with the store, and once its
hourly rollups are made and are what these rows give.
"""

import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np

from monitor.clock import from_ms, to_ms
from monitor.errors import ArchiveError
from monitor.store.archive_check import TellSensor, UnfitRowsError, checked_parts, tell_sensors
from monitor.store.archive_file import ArchivedMonth, read_about
from monitor.store.archive_folder import archive_path, damaged_file, month_bounds
from monitor.store.archive_rows import RowsDigest
from monitor.store.archiving import closed_months, rows_of_month
from monitor.store.rollups import CHANNELS
from monitor.store.transaction import Transaction
from monitor.yard.hourly import HOUR_MS, REACH_MS, HourlyTrace, as_trace, hours_of_sensor

# The present season began last July at the earliest, and whoever compares it with the one before
# asks for the same month of last year: with these months and the present one both are whole, as is
# all that anything judges by, and what comes late or is corrected seldom reaches half as far back.
KEPT_MONTHS = 13
_MOST_NOTED = 1_000_000
_FIGURES = ("low", "high", "mean", "seen", "wet_min", "frost_min", "frost_kh")
_NO_DIFFERENCE = 1e-6  # of a mean or of degree-hours, from one processor to another


class DueMonth(NamedTuple):
    """A month whose raw readings may go if its archive file fits."""

    month: date
    file: Path
    rows: int  # in the store now
    is_begun: bool  # a run that was ended began to drop it


def first_kept_month(tx: Transaction, now: datetime) -> date:
    """The first month that stays whole, by the clock or the newest reading, which is earlier.

    So a clock that runs ahead drops nothing too early, and a yard that sleeps nothing at all.
    """
    newest = max((one.at_ms for one in tx.yard_readings.latest_readings().values()), default=0)
    day = from_ms(min(newest, to_ms(now))).astimezone(UTC)
    months = day.year * 12 + day.month - 1 - KEPT_MONTHS
    return date(max(months // 12, 1), months % 12 + 1, 1)


def due_months(
    tx: Transaction, yard: str, folder: Path, now: datetime, before: date | None = None
) -> list[DueMonth]:
    """Months that are old enough, the oldest first; of their files nothing is read.

    Parameters
    ----------
    tx : Transaction
    yard : str
        Its id.
    folder : Path
        Of the archive.
    now : datetime
    before : date, optional
        Only months before this one, named by its first day.
    """
    until = first_kept_month(tx, now)
    if before is not None:
        until = min(until, before)
    known = {one.month: one for one in tx.dropped_months.all_months()}
    begun = {one for one, said in known.items() if said.dropped_at is None}
    found = []
    for month in sorted({*closed_months(tx), *begun}):
        if month >= until or (month in known and month not in begun):
            continue
        rows = tx.yard_readings.count_between(*month_bounds(month))
        if rows or month in begun:
            file = archive_path(folder, yard, month)
            found.append(DueMonth(month, file, rows, month in begun))
    return found


def write_through(file: Path) -> None:
    """Have a file on its disk, and read back from there rather than from memory.

    Raises
    ------
    ArchiveError
        If it is not there, or cannot be written out.
    """
    try:
        for place in (file, file.parent):
            opened = os.open(place, os.O_RDONLY)
            try:
                os.fsync(opened)
                if place == file:
                    os.posix_fadvise(opened, 0, 0, os.POSIX_FADV_DONTNEED)
            finally:
                os.close(opened)
    except OSError as error:
        raise damaged_file(file, error) from error


def check_rollups(tx: Transaction, month: date, tell_sensor: TellSensor) -> None:
    """Hold the hourly rollups that rest on a month's readings against these readings.

    Raises
    ------
    UnfitRowsError
        If one is missing, or another than they give.
    """
    begin_ms, end_ms = month_bounds(month)
    from_ms = max(begin_ms - REACH_MS, tx.dropped_months.rollups_from_ms)
    until_ms = end_ms + REACH_MS
    check_made(tx, month)
    hours = list(range(from_ms, until_ms, HOUR_MS))
    for sensor in sorted({sensor for sensor, _ in tx.series.known_series()}):
        tell_sensor(month, sensor)
        stored = tx.rollups.hours_between([sensor], from_ms, until_ms)
        traces = tx.readings.traces_between(
            [(sensor, one) for one in CHANNELS], from_ms - REACH_MS, until_ms + REACH_MS
        )
        air, damp = (traces[sensor, one] for one in CHANNELS)
        for channel, made in hours_of_sensor(air, damp, hours).items():
            if not _same_hours(stored[sensor, channel], as_trace(channel, made)):
                raise UnfitRowsError(
                    f"the hourly {channel} of {sensor} in {month:%Y-%m} is not what its readings"
                    " give. `laidup rollups --anew` makes it so"
                )


def check_made(tx: Transaction, month: date) -> None:
    """Raise `UnfitRowsError` where rollups that rest on a month are yet to be made."""
    if not tx.rollups.are_made(month_bounds(month)[1] + REACH_MS):
        raise UnfitRowsError(
            f"hours of {month:%Y-%m} are not rolled up yet. `laidup rollups` makes them"
        )


def check_rows(
    tx: Transaction, yard: str, month: date, file: Path, tell_sensor: TellSensor
) -> ArchivedMonth:
    """Read a month's file back: against its sum, the leaves of its hours, and the store's rows.

    Raises
    ------
    ArchiveError
        If one of them differs, or readings of that month wait for their leaf.
    """
    begin_ms, end_ms = month_bounds(month)
    if any(begin_ms <= one.hour_ms < end_ms for one in tx.late_hours.noted_hours(_MOST_NOTED)):
        raise ArchiveError(
            f"readings of {month:%Y-%m} came late and wait for the next day to be closed. Archive"
            " it again tomorrow, then drop it"
        )
    about = check_file(tx, yard, month, file, tell_sensor)
    digest = RowsDigest()
    for part in tell_sensors(rows_of_month(tx, month), month, tell_sensor):
        digest.add_part(part)
    if (digest.rows, digest.hex) != (about.rows, about.digest):
        raise ArchiveError(
            f"{file} has {about.rows:,} readings that are not the {digest.rows:,} of the store."
            " `laidup archive --to` writes the month anew"
        )
    return about


def check_file(
    tx: Transaction, yard: str, month: date, file: Path, tell_sensor: TellSensor
) -> ArchivedMonth:
    """Read a month's file back, against its sum and the leaves of its hours alone."""
    for _ in checked_parts(tx, yard, month, file, tell_sensor):
        pass  # sound once all have come
    return read_about(file, yard, month)


def _same_hours(stored: HourlyTrace, made: HourlyTrace) -> bool:
    if stored.hour_ms.tolist() != made.hour_ms.tolist():
        return False
    if stored.readings.tolist() != made.readings.tolist():
        return False
    pairs = ((getattr(stored, name), getattr(made, name)) for name in _FIGURES)
    return all(np.allclose(a, b, rtol=0, atol=_NO_DIFFERENCE, equal_nan=True) for a, b in pairs)
