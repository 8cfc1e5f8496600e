"""Raw readings of dropped months put back into the store out of their archive files.

The last month that was dropped comes first, so that the mark moves back month by month. Until a
month is back as a whole it stays entered as dropped: whoever reads meanwhile reads all of it.
"""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from monitor.errors import ArchiveError
from monitor.store.archive_check import TellSensor
from monitor.store.archive_file import read_parts
from monitor.store.archive_folder import archive_path
from monitor.store.archive_rows import RowsDigest, SensorPart
from monitor.store.archiving import MonthOutcome, MonthState, rows_of_month
from monitor.store.droppable import check_file
from monitor.store.store import Store
from monitor.store.transaction import Transaction


def put_back_months(
    store: Store,
    yard: str,
    folder: Path,
    since: date,
    tell_sensor: TellSensor = lambda *_: None,
) -> Iterator[MonthOutcome]:
    """Put raw readings of a month and all later ones that were dropped back, the last one first.

    A kill at any moment leaves all readings to whoever reads, and the next run goes on.

    Parameters
    ----------
    store : Store
        It reads no archive: what is to be checked vouches for nothing.
    yard : str
        Its id.
    folder : Path
        Of the archive.
    since : date
        The first month, named by its first day.
    tell_sensor : callable, optional
        Told the month and the sensor that is begun.

    Raises
    ------
    StoreError
        If the store takes nothing, as on a full disk.
    LaidupError
        If pyarrow is not installed.
    """
    with store.snapshot() as tx:
        months = [one.month for one in tx.dropped_months.all_months() if one.month >= since]
    for month in reversed(months):
        file = archive_path(folder, yard, month)
        try:
            rows = _put_back(store, yard, month, file, tell_sensor)
        except ArchiveError as error:
            yield MonthOutcome(month, MonthState.UNFIT, file, words=str(error))
            return
        yield MonthOutcome(month, MonthState.BACK, file, rows)


def _put_back(store: Store, yard: str, month: date, file: Path, tell_sensor: TellSensor) -> int:
    """Put one month back; tells how many readings it has.

    Raises
    ------
    ArchiveError
        If the file does not fit its leaves, or what is in the store then is not what is in it.
    """
    with store.snapshot() as tx:
        about = check_file(tx, yard, month, file, tell_sensor)
    for part in read_parts(file, yard, month):
        tell_sensor(month, part.sensor)
        with store.transaction(can_wait=True) as tx:
            _put_part(tx, part)
    digest = RowsDigest()
    with store.snapshot() as tx:
        for part in rows_of_month(tx, month):
            digest.add_part(part)
    if (digest.rows, digest.hex) != (about.rows, about.digest):
        raise ArchiveError(
            f"the store has {digest.rows:,} readings of {month:%Y-%m} that are not the"
            f" {about.rows:,} of {file}. `laidup verify` says more"
        )
    with store.transaction(can_wait=True) as tx:
        tx.dropped_months.forget_month(month)
    return digest.rows


def _put_part(tx: Transaction, part: SensorPart) -> None:
    series = tx.series.series_of(part.sensor)
    rows = [
        (series[channel], row.at_ms, row.value, row.raw, row.flag)
        for channel, of_channel in part.rows.items()
        for row in of_channel
    ]
    tx.reading_writer.put_back(rows)
