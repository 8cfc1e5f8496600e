"""Readings of a month, from the store or an archive file, held against the closed days' leaves."""

from collections.abc import Callable, Iterable, Iterator
from datetime import date
from pathlib import Path

from monitor.errors import ArchiveError
from monitor.store.archive_file import read_about, read_parts
from monitor.store.archive_folder import ARCHIVE_REMEDY, month_bounds
from monitor.store.archive_rows import RowsDigest, SensorPart
from monitor.store.closed_trees import ClosedTrees, HourLeaf, hour_words, leaf_of_rows
from monitor.store.transaction import Transaction
from monitor.yard.day_leaves import ReadingSteps
from monitor.yard.reading import Channel

_CAME_LATE = (
    "readings came late after the file was written. `laidup archive --to` writes the month anew"
)
_ODD_FILE = f"do not rely on this file: {ARCHIVE_REMEDY}"
_ODD_STORE = "`laidup verify` says more; no file of this month was changed"

TellSensor = Callable[[date, str], None]


class UnfitRowsError(ArchiveError):
    """Readings of a month are not those of its closed days."""


def checked_parts(
    tx: Transaction,
    yard: str,
    month: date,
    file: Path,
    tell_sensor: TellSensor = lambda *_: None,
) -> Iterator[SensorPart]:
    """The readings of a file, held against the leaves of its hours: sound once all have come.

    Raises
    ------
    ArchiveError
        If it is damaged, or names the first hour that no leaf, or another, is of.
    """
    said = read_about(file, yard, month)
    digest = RowsDigest()
    parts = tell_sensors(read_parts(file, yard, month), month, tell_sensor)
    try:
        for part in compare_rows(tx, month, parts):
            digest.add_part(part)
            yield part
    except UnfitRowsError as error:
        raise ArchiveError(f"{file}: {error}") from error
    if (digest.rows, digest.hex) != (said.rows, said.digest):
        raise ArchiveError(f"{file}: it holds other rows than it says; {_ODD_FILE}")


def tell_sensors(
    parts: Iterable[SensorPart], month: date, tell_sensor: TellSensor
) -> Iterator[SensorPart]:
    """Pass readings on, and tell of each sensor that is begun."""
    last = ""
    for part in parts:
        if part.sensor != last:
            last = part.sensor
            tell_sensor(month, last)
        yield part


def compare_rows(
    tx: Transaction, month: date, parts: Iterable[SensorPart], *, of_store: bool = False
) -> Iterator[SensorPart]:
    """Pass readings of a month on, each once its hours were compared with their last leaves.

    Raises
    ------
    UnfitRowsError
        At the first hour that does not fit, or is missing.
    """
    trees = ClosedTrees(tx, month)
    for one in trees.find_breaks():
        raise UnfitRowsError(f"{one.words}. {one.remedy}")
    remedy = _ODD_STORE if of_store else _ODD_FILE
    waiting = sorted(trees.sensors)
    sensor, leaves = "", dict[int, list[HourLeaf]]()
    for part in parts:
        if part.sensor != sensor:
            _refuse_missing(sensor, leaves, remedy)
            while waiting and waiting[0] < part.sensor:
                name = waiting.pop(0)
                _refuse_missing(name, _leaves_of_month(trees, name, month), remedy)
            waiting = [name for name in waiting if name != part.sensor]
            sensor, leaves = part.sensor, _leaves_of_month(trees, part.sensor, month)
        for hour_ms, rows in part.rows_by_hour().items():
            _compare_hour(sensor, hour_ms, rows, leaves.pop(hour_ms, []), remedy)
        yield part
    _refuse_missing(sensor, leaves, remedy)
    for name in waiting:
        _refuse_missing(name, _leaves_of_month(trees, name, month), remedy)


def _leaves_of_month(trees: ClosedTrees, sensor: str, month: date) -> dict[int, list[HourLeaf]]:
    begin_ms, end_ms = month_bounds(month)
    found, unfit = trees.leaves_of_sensor(sensor)
    if unfit:
        raise UnfitRowsError(f"{unfit[0].words}. {unfit[0].remedy}")
    return {hour: found[hour] for hour in sorted(found) if begin_ms <= hour < end_ms}


def _compare_hour(
    sensor: str,
    hour_ms: int,
    rows: dict[Channel, list[ReadingSteps]],
    leaves: list[HourLeaf],
    remedy: str,
) -> None:
    made = [leaf_of_rows(hour_ms, leaf.channels, rows) == leaf.said for leaf in leaves]
    if made and made[-1]:
        return
    told = f"readings of {sensor} in the hour from {hour_words(hour_ms)}"
    if not leaves:
        raise UnfitRowsError(f"{told} are in no closed day; {remedy}")
    if any(made):
        raise UnfitRowsError(f"{told} are older than the last closed day has them: {_CAME_LATE}")
    raise UnfitRowsError(f"{told} are not those of its closed day; {remedy}")


def _refuse_missing(sensor: str, leaves: dict[int, list[HourLeaf]], remedy: str) -> None:
    """Raise where a closed day has readings of an hour that did not come."""
    for hour_ms, of_hour in leaves.items():
        _compare_hour(sensor, hour_ms, {}, of_hour, remedy)
