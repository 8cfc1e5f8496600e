"""Room kept for warnings: a file beside the store that shrinks, piece by piece, on a full disk.

All that fills a disk, laidup's own readings among it, would else take the last byte, and an alarm
that cannot be written is never told. The upper half of the file is given up to whoever of laidup
writes; the lower half only to what warns a person (alarms, messages, their claims and receipts).

The reserve's room is anybody's once it is given up, and what fills a disk in a loop takes it first.
So the database and its write-ahead log hold some of their own, which only they can grow into
(`allocate_ahead`).
"""

import contextlib
import logging
import os
import shutil
import subprocess
import threading
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select

from monitor.clock import from_ms, to_ms
from monitor.store.tables import room_samples

log = logging.getLogger("laidup.store")

SIZE = 16 * 1024 * 1024  # four times the write-ahead log that SQLite lets grow before it folds it
_PIECE = 2 * 1024 * 1024  # small: whatever else fills the disk may take what is given up
_FOR_WARNINGS = SIZE // 2
_SPARE = 8 * 1024 * 1024  # room that must be left beside it before it is made
_LOG_BYTES = 6 * 1024 * 1024  # more than SQLite lets it grow before it folds it in and begins anew
_DATABASE_BYTES = 4 * 1024 * 1024
_WITHIN_S = 30.0
_KEPT = timedelta(days=7)
_LEAST = timedelta(days=2)  # a day's rhythm of other programs' files must not pass for a trend


class Reserve:
    """The reserve of one store. Its size on disk is all there is to know, for every process."""

    def __init__(self, database: Path) -> None:
        """Name the file beside a database; it may not be there."""
        self.path = database.with_name(f"{database.name}-reserve")
        self._lock = threading.Lock()

    @property
    def kept_bytes(self) -> int | None:
        """Bytes that are kept now; None where no reserve was ever made."""
        try:
            return self.path.stat().st_size
        except OSError:
            return None

    @property
    def only_for_warnings(self) -> bool:
        """Whether so much was given up that the rest is kept for what warns a person."""
        held = self.kept_bytes
        return held is not None and held <= _FOR_WARNINGS

    def give_up(self, *, can_wait: bool) -> bool:
        """Give a piece back to the disk; True if there was one to give.

        Parameters
        ----------
        can_wait : bool
            It is asked for what can wait, and so gets nothing of what is kept for warnings.
        """
        with self._lock:
            held = self.kept_bytes or 0
            least = _FOR_WARNINGS if can_wait else 0
            if held <= least:
                return False
            left = max(held - _PIECE, least)
            try:
                os.truncate(self.path, left)
            except OSError as error:
                log.error("The reserve %s cannot be given up: %s.", self.path, error)
                return False
        log.error(
            "The disk is full: %.0f MB of the store's reserve were given up, %.0f MB are left.",
            (held - left) / 1e6,
            left / 1e6,
        )
        return True

    def make(self) -> bool:
        """Make the reserve whole where there is room for it; True if it is whole now."""
        with self._lock:
            held = self.kept_bytes or 0
            if held >= SIZE:
                return True
            if free_bytes(self.path.parent) < SIZE - held + _SPARE:
                return False
            try:
                _allocate(self.path, held)
            except OSError as error:
                log.error("The reserve %s cannot be made: %s.", self.path, error)
                return False
        log.info("Reserve made%s: %s, %.0f MB.", " again" * (held > 0), self.path, SIZE / 1e6)
        return True


def free_bytes(folder: Path) -> int:
    """Room on the disk of a folder that this user may take [bytes]."""
    return shutil.disk_usage(folder).free


def _allocate(path: Path, held: int) -> None:
    """Take real room for the file, not only a length; as it was if that fails."""
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        os.posix_fallocate(descriptor, 0, SIZE)
    except OSError:
        with contextlib.suppress(OSError):
            os.ftruncate(descriptor, held)
        raise
    finally:
        os.close(descriptor)


def allocate_ahead(database: Path) -> None:
    """Hold room for a database and its write-ahead log; does nothing where no more is to be had."""
    _allocate_beyond(database, database.stat().st_size, _DATABASE_BYTES)
    wal = database.with_name(f"{database.name}-wal")
    if wal.exists():
        _allocate_beyond(wal, 0, _LOG_BYTES)


def _allocate_beyond(file: Path, begin: int, count: int) -> None:
    """Allocate without changing the file's length, in a process of its own.

    A process that closes any descriptor of a file loses all its POSIX locks on it, SQLite's among
    them (sqlite.org/howtocorrupt.html, section 2.2). Whoever closed the database next, such as
    `laidup status`, would then take itself for the last, and remove the log that we write into.
    """
    program = shutil.which("fallocate")  # util-linux
    if program is None:  # then the reserve alone must do
        return
    command = [program, "--keep-size", "--offset", str(begin), "--length", str(count), str(file)]
    try:
        done = subprocess.run(  # noqa: S603 - a program of the system, on our own file
            command, capture_output=True, text=True, timeout=_WITHIN_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        log.debug("No room ahead for %s: %s.", file, error)
        return
    if done.returncode:
        log.debug("No room ahead for %s: %s", file, done.stderr.strip())


class RoomSample(NamedTuple):
    """Free room on a disk at one moment."""

    at: datetime
    free_bytes: int

    def shrinks_bytes_a_day(self, now: datetime, free_bytes: int) -> float | None:
        """By how much the room got less a day since then; None where that is too short ago."""
        if now - self.at < _LEAST:
            return None
        return (self.free_bytes - free_bytes) / ((now - self.at) / timedelta(days=1))


class RoomSamples:
    """Free room on the disk of one yard's store."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def add(self, at: datetime, free_bytes: int) -> None:
        """Keep what is free now; samples older than a week go."""
        of_yard = room_samples.c.yard_id == self._yard_id
        kept_from = to_ms(at - _KEPT)
        self._connection.execute(
            # What lies ahead was written by a clock that ran ahead.
            delete(room_samples).where(
                of_yard, (room_samples.c.at_ms < kept_from) | (room_samples.c.at_ms >= to_ms(at))
            )
        )
        self._connection.execute(
            insert(room_samples).values(
                yard_id=self._yard_id, at_ms=to_ms(at), free_bytes=free_bytes
            )
        )

    def oldest_sample(self) -> RoomSample | None:
        """The oldest sample that is kept."""
        row = self._connection.execute(
            select(room_samples.c.at_ms, room_samples.c.free_bytes)
            .where(room_samples.c.yard_id == self._yard_id)
            .order_by(room_samples.c.at_ms)
            .limit(1)
        ).one_or_none()
        return None if row is None else RoomSample(from_ms(row.at_ms), int(row.free_bytes))

    def shrinks_bytes_a_day(self, now: datetime, free_bytes: int) -> float | None:
        """By how much the room got less a day since the oldest sample; negative where it grew.

        None where less than two days are known.
        """
        oldest = self.oldest_sample()
        return None if oldest is None else oldest.shrinks_bytes_a_day(now, free_bytes)
