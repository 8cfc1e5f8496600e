"""Readings that the store no longer holds, out of the files of its archive: one reader for all.

A file is asked only for a month of closed days that was dropped or of which it has more readings
than the store, and only once all of its hours were found in the trees of these days. Of such a
month it gives the hours of a sensor of which the store has no reading at all; whatever stands in
the store goes before. What nobody can give is refused, and never told as if it had not been.
"""

from datetime import date, timedelta
from pathlib import Path

from monitor.errors import ArchiveError, LaidupError
from monitor.store.archive_check import checked_parts
from monitor.store.archive_file import read_about, read_parts
from monitor.store.archive_folder import archive_path, month_bounds, months_in
from monitor.store.day_trees import day_bounds
from monitor.store.missing_readings import store_lacks
from monitor.store.transaction import Transaction
from monitor.yard.day_leaves import ReadingSteps
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel

FileMark = tuple[int, int, int] | None


class ArchiveFiles:
    """The files of one yard's archive, and what one process has seen in them so far."""

    def __init__(self, folder: Path, yard: str, *, only_dropped: bool = False) -> None:
        """Remember where they are; nothing is read yet."""
        self.yard = yard
        self.folder = folder
        self.only_dropped = only_dropped
        # That they alone hold, by sensor: of a month, whether it was dropped, and its file then.
        self.hours: dict[tuple[date, bool, FileMark], dict[str, set[int]]] = {}

    def read_beside(self, tx: Transaction) -> "ArchivedReadings":
        """What they give beside one snapshot of the store."""
        return ArchivedReadings(tx, self)


class ArchivedReadings:
    """What the archive gives of one yard beside one snapshot of its store."""

    def __init__(self, tx: Transaction, archive: ArchiveFiles) -> None:
        self._tx = tx
        self._archive = archive
        self._files: dict[date, Path] | None = None
        self._faults: dict[date, ArchiveError] = {}  # of a month's file: read in vain once

    def rows_between(
        self, sensor: str, channel: Channel, from_ms: int, to_ms: int
    ) -> list[ReadingSteps]:
        """Readings ``from_ms <= at < to_ms`` that the store no longer holds, in order of time.

        Raises
        ------
        ArchiveError
            If the store lacks an hour of them that the closed days have, and the folder cannot be
            read, or the file is not there, is damaged or does not fit.
            Or if it lacks one, and pyarrow is not installed.
        """
        try:
            return self._rows_of_files(sensor, channel, from_ms, to_ms)
        except LaidupError as error:
            if store_lacks(self._tx, sensor, from_ms, to_ms):
                raise ArchiveError(str(error)) from error
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
        return self._first_of(sensor, channel, from_ms, to_ms, newest=False)

    def newest_ms(self, sensor: str, channel: Channel, from_ms: int, to_ms: int) -> int | None:
        """Time of the newest of these readings; None without any. Errors as of `rows_between`."""
        return self._first_of(sensor, channel, from_ms, to_ms, newest=True)

    def _first_of(
        self, sensor: str, channel: Channel, from_ms: int, to_ms: int, *, newest: bool
    ) -> int | None:
        try:
            months = self._months_between(from_ms, to_ms)
        except LaidupError:
            if store_lacks(self._tx, sensor, from_ms, to_ms):
                raise
            return None
        for month, _ in reversed(months) if newest else months:
            begin_ms, end_ms = month_bounds(month)
            bounds = (max(begin_ms, from_ms), min(end_ms, to_ms))
            rows = self.rows_between(sensor, channel, *bounds)
            if rows:
                return rows[-1 if newest else 0].at_ms
        return None

    def file_of(self, hour_ms: int, sensor: str) -> Path | None:
        """The file that holds an hour of a sensor which the store no longer has; None: none does.

        Errors as of `rows_between`.
        """
        for month, file in self._months_between(hour_ms, hour_ms + HOUR_MS):
            if hour_ms in self.hours_of_month(month).get(sensor, ()):
                return file
        return None

    def _months_between(self, from_ms: int, to_ms: int) -> list[tuple[date, Path]]:
        """Months with a file, of closed days, that a stretch touches; the oldest first.

        A month that was dropped has one, or whoever reads it is told that it is not there.
        """
        months = self._tx.dropped_months
        last = self._tx.layup.chain.last_day()
        if last is None:
            return []
        closed_ms = day_bounds((last + timedelta(days=1)).replace(day=1))[0]
        if self._archive.only_dropped:
            closed_ms = min(closed_ms, months.before_ms or 0)
        if from_ms >= closed_ms:
            return []  # what is of this month needs no folder
        files = dict(self._listed_files())
        for one in months.all_months():
            place = archive_path(self._archive.folder, self._archive.yard, one.month)
            files.setdefault(one.month, place)
        bounds = ((month, files[month], *month_bounds(month)) for month in sorted(files))
        return [
            (month, file)
            for month, file, begin_ms, end_ms in bounds
            if begin_ms < to_ms and from_ms < end_ms <= closed_ms
        ]

    def _listed_files(self) -> dict[date, Path]:
        if self._files is None:
            self._files = months_in(self._archive.folder, self._archive.yard)
        return self._files

    def hours_of_month(self, month: date) -> dict[str, set[int]]:
        """Hours that a month's file alone holds, by sensor. Errors as of `rows_between`."""
        if month in self._faults:
            raise self._faults[month]
        was_dropped = self._tx.dropped_months.month_of(month) is not None
        file = archive_path(self._archive.folder, self._archive.yard, month)
        try:
            key = (month, was_dropped, _mark_of(file))
            if key not in self._archive.hours:
                # Of a dropped month all that the file has: ever more of it is gone from the store.
                found = self._hours_in(file, month)
                self._archive.hours[key] = found if was_dropped else self._alone(found, month)
            return self._archive.hours[key]
        except ArchiveError as error:
            self._faults[month] = error
            raise

    def _hours_in(self, file: Path, month: date) -> dict[str, set[int]]:
        begin_ms, end_ms = month_bounds(month)
        about = read_about(file, self._archive.yard, month)
        is_needed = self._tx.dropped_months.month_of(month) is not None
        if not is_needed and about.rows <= self._tx.yard_readings.count_between(begin_ms, end_ms):
            return {}
        found: dict[str, set[int]] = {}
        for part in checked_parts(self._tx, self._archive.yard, month, file):
            found.setdefault(part.sensor, set()).update(part.rows_by_hour())
        return found

    def _alone(self, found: dict[str, set[int]], month: date) -> dict[str, set[int]]:
        """Of these hours of a file those of which the store has no reading."""
        begin_ms, end_ms = month_bounds(month)
        names = {n: sensor for (sensor, _), n in self._tx.series.known_series().items()}
        for series_id, sensor in names.items():
            if sensor in found:
                found[sensor] -= self._tx.readings.hours_read(series_id, begin_ms, end_ms)
        for late in self._tx.late_hours.noted_hours():
            # Its readings changed, and were perhaps moved away: the store has the last word.
            found.get(names.get(late.series_id, ""), set()).discard(late.hour_ms)
        return found


def _mark_of(file: Path) -> FileMark:
    """What tells a file from another one under its name; None: there is none."""
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns
