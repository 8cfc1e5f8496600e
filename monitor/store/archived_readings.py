"""Readings that the store no longer holds, out of the files of its archive: one reader for all.

A file is asked only for a month of closed days of which it has more readings than the store, and
only once all of its hours were found in the trees of these days. Of such a month it gives the hours
of a sensor of which the store has no reading at all; whatever stands in the store goes before.
"""

from datetime import date, timedelta
from pathlib import Path

from monitor.errors import ArchiveError, LaidupError
from monitor.store.archive_check import checked_parts
from monitor.store.archive_file import read_about, read_parts
from monitor.store.archive_folder import month_bounds, months_in
from monitor.store.closed_trees import ClosedTrees
from monitor.store.day_trees import day_bounds, day_of
from monitor.store.transaction import Transaction
from monitor.yard.day_leaves import ReadingSteps
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel

_MOST_NOTED = 1_000_000


class ArchiveFiles:
    """The files of one yard's archive, and what one process has seen in them so far."""

    def __init__(self, folder: Path, yard: str) -> None:
        """Remember where they are; nothing is read yet."""
        self.yard = yard
        self.hours: dict[date, dict[str, set[int]]] = {}  # that they alone hold: month, sensor
        self.faults: dict[date, ArchiveError] = {}  # of a month's file: read in vain once
        self._folder = folder
        self._files: dict[date, Path] | None = None

    def read_beside(self, tx: Transaction) -> "ArchivedReadings":
        """What they give beside one snapshot of the store."""
        return ArchivedReadings(tx, self)

    @property
    def files(self) -> dict[date, Path]:
        """By month, the oldest first; `months_in` says what may go wrong."""
        if self._files is None:
            self._files = months_in(self._folder, self.yard)
        return self._files


class ArchivedReadings:
    """What the archive gives of one yard beside one snapshot of its store."""

    def __init__(self, tx: Transaction, archive: ArchiveFiles) -> None:
        self._tx = tx
        self._archive = archive

    def rows_between(
        self, sensor: str, channel: Channel, from_ms: int, to_ms: int
    ) -> list[ReadingSteps]:
        """Readings ``from_ms <= at < to_ms`` that the store no longer holds, in order of time.

        Raises
        ------
        ArchiveError
            If the store lacks an hour of them that the closed days have, and the folder cannot be
            read, or the file is damaged or does not fit.
        LaidupError
            If it lacks one, and pyarrow is not installed.
        """
        try:
            return self._rows_of_files(sensor, channel, from_ms, to_ms)
        except LaidupError:
            if self._store_lacks(sensor, from_ms, to_ms):
                raise
            return []  # what nobody needs stops nobody

    def _rows_of_files(
        self, sensor: str, channel: Channel, from_ms: int, to_ms: int
    ) -> list[ReadingSteps]:
        found: list[ReadingSteps] = []
        for month, file in self._months_between(from_ms, to_ms):
            hours = self.hours_of_month(month).get(sensor, set())
            if not any(from_ms - HOUR_MS < hour < to_ms for hour in hours):
                continue
            for part in read_parts(file, self._archive.yard, month, sensor, (from_ms, to_ms)):
                found += [
                    row
                    for row in part.rows.get(channel, ())
                    if from_ms <= row.at_ms < to_ms and row.at_ms - row.at_ms % HOUR_MS in hours
                ]
        return found

    def oldest_ms(self, sensor: str, channel: Channel, from_ms: int, to_ms: int) -> int | None:
        """Time of the oldest of these readings; None without any. Errors as of `rows_between`."""
        try:
            months = self._months_between(from_ms, to_ms)
        except LaidupError:
            if self._store_lacks(sensor, from_ms, to_ms):
                raise
            return None
        for month, _ in months:
            begin_ms, end_ms = month_bounds(month)
            bounds = (max(begin_ms, from_ms), min(end_ms, to_ms))
            rows = self.rows_between(sensor, channel, *bounds)
            if rows:
                return rows[0].at_ms
        return None

    def file_of(self, hour_ms: int, sensor: str) -> Path | None:
        """The file that holds an hour of a sensor which the store no longer has; None: none does.

        Errors as of `rows_between`.
        """
        for month, file in self._months_between(hour_ms, hour_ms + HOUR_MS):
            if hour_ms in self.hours_of_month(month).get(sensor, ()):
                return file
        return None

    def _store_lacks(self, sensor: str, from_ms: int, to_ms: int) -> bool:
        """Whether the closed days have an hour of a sensor that the store has no reading of."""
        since = day_of(max(from_ms - from_ms % HOUR_MS, 0))
        leaves, _ = ClosedTrees(self._tx, since).leaves_of_sensor(sensor)
        told = {
            hour
            for hour, of_hour in leaves.items()
            if from_ms - HOUR_MS < hour < to_ms and any(of_hour[-1].said[2:])
        }
        for series_id in self._tx.series.series_of(sensor).values():
            told -= self._tx.readings.hours_read(series_id, from_ms - HOUR_MS, to_ms + HOUR_MS)
        return bool(told)

    def _months_between(self, from_ms: int, to_ms: int) -> list[tuple[date, Path]]:
        """Months with a file, of closed days, that a stretch touches."""
        last = self._tx.layup.chain.last_day()
        if last is None:
            return []
        closed_ms = day_bounds((last + timedelta(days=1)).replace(day=1))[0]
        if from_ms >= closed_ms:
            return []  # what is of this month needs no folder
        files = self._archive.files.items()
        bounds = ((month, file, *month_bounds(month)) for month, file in files)
        return [
            (month, file)
            for month, file, begin_ms, end_ms in bounds
            if begin_ms < to_ms and from_ms < end_ms <= closed_ms
        ]

    def hours_of_month(self, month: date) -> dict[str, set[int]]:
        """Hours that a month's file alone holds, by sensor. Errors as of `rows_between`."""
        hours, faults = self._archive.hours, self._archive.faults
        if month in faults:
            raise faults[month]
        if month not in hours:
            try:
                hours[month] = self._find_hours(month)
            except ArchiveError as error:
                faults[month] = error
                raise
        return hours[month]

    def _find_hours(self, month: date) -> dict[str, set[int]]:
        file = self._archive.files[month]
        begin_ms, end_ms = month_bounds(month)
        if read_about(file, self._archive.yard, month).rows <= self._tx.yard_readings.count_between(
            begin_ms, end_ms
        ):
            return {}
        found: dict[str, set[int]] = {}
        for part in checked_parts(self._tx, self._archive.yard, month, file):
            found.setdefault(part.sensor, set()).update(part.rows_by_hour())
        names = {n: sensor for (sensor, _), n in self._tx.series.known_series().items()}
        for series_id, sensor in names.items():
            if sensor in found:
                found[sensor] -= self._tx.readings.hours_read(series_id, begin_ms, end_ms)
        for late in self._tx.late_hours.noted_hours(_MOST_NOTED):
            # Its readings changed, and were perhaps moved away: the store has the last word.
            found.get(names.get(late.series_id, ""), set()).discard(late.hour_ms)
        return found
