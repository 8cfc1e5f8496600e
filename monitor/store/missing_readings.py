"""Readings that the store once had: whether it lacks any, and who refuses to read without them."""

from pathlib import Path

from monitor.clock import from_ms as time_from_ms
from monitor.errors import ArchiveError
from monitor.store.closed_trees import ClosedTrees
from monitor.store.day_trees import day_of
from monitor.store.transaction import Transaction
from monitor.yard.day_leaves import ReadingSteps
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel


class NoArchive:
    """Where no folder of archive files was named: dropped readings are refused, not left out."""

    def __init__(self, tx: Transaction) -> None:
        self._tx = tx

    def rows_between(
        self, sensor: str, channel: Channel, from_ms: int, to_ms: int
    ) -> list[ReadingSteps]:
        """Nothing, where the store lacks nothing.

        Raises
        ------
        ArchiveError
            If readings of that stretch were dropped.
        """
        del channel
        before_ms = self._tx.dropped_months.before_ms or 0
        if from_ms < before_ms and store_lacks(self._tx, sensor, from_ms, min(to_ms, before_ms)):
            raise ArchiveError(
                f"raw readings of {sensor} before {time_from_ms(before_ms):%Y-%m-%d} are no longer"
                " in the store but in archive files; name their folder in the yard's file"
                " ([archive] folder)"
            )
        return []

    def oldest_ms(self, sensor: str, channel: Channel, from_ms: int, to_ms: int) -> int | None:
        """None, or an error as of `rows_between`."""
        self.rows_between(sensor, channel, from_ms, to_ms)
        return None

    newest_ms = oldest_ms

    def file_of(self, hour_ms: int, sensor: str) -> Path | None:
        """None, or an error as of `rows_between`."""
        self.rows_between(sensor, Channel.TEMPERATURE, hour_ms, hour_ms + HOUR_MS)
        return None


def store_lacks(tx: Transaction, sensor: str, from_ms: int, to_ms: int) -> bool:
    """Whether the closed days have an hour of a sensor that the store has no reading of."""
    since = day_of(max(from_ms - from_ms % HOUR_MS, 0))
    leaves, _ = ClosedTrees(tx, since).leaves_of_sensor(sensor)
    told = {
        hour
        for hour, of_hour in leaves.items()
        if from_ms - HOUR_MS < hour < to_ms and any(of_hour[-1].said[2:])
    }
    for series_id in tx.series.series_of(sensor).values():
        told -= tx.readings.hours_read(series_id, from_ms - HOUR_MS, to_ms + HOUR_MS)
    return bool(told)
