"""One month of a yard's raw readings as a Parquet file: written whole or not at all, read back.

A row is a reading as the store keeps it, in whole steps of its channel's resolution. A group of
rows holds one sensor's readings of ten days at most, channel by channel in order of time; sensors
stand in order of their names. Beside the file stands its sum, as `sha256sum --check` reads it.
"""

import fcntl
import os
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from monitor.errors import ArchiveError
from monitor.store.archive_folder import (
    ARCHIVE_REMEDY,
    archive_path,
    compare_sum,
    damaged_file,
    month_bounds,
    sum_of_file,
    write_sum,
)
from monitor.store.archive_rows import (
    RowsDigest,
    SensorPart,
    import_pyarrow,
    may_hold,
    read_group,
    schema_of,
    table_of,
)
from monitor.store.day_trees import DAY_MS

PART_MS = 10 * DAY_MS  # of one sensor, whose readings are held in memory at once
_FORM = "laidup readings 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivedMonth:
    """What an archive file says of itself."""

    file: Path
    yard: str
    month: date  # its first day
    rows: int
    digest: str  # of its rows, hex: `RowsDigest`


def write_month(folder: Path, yard: str, month: date, parts: Iterable[SensorPart]) -> ArchivedMonth:
    """Write a month's file, read it back, and only then give it its name.

    Whatever stands under that name until then stays whole; a kill leaves the one or the other.

    Parameters
    ----------
    folder : Path
    yard : str
        The yard's id.
    month : date
        Its first day.
    parts : iterable of SensorPart
        In order of sensor and time.

    Raises
    ------
    ArchiveError
        If it cannot be written, or does not read back as it was.
    LaidupError
        If pyarrow is not installed.
    """
    file = archive_path(folder, yard, month)
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        part.unlink(missing_ok=True)
        written = _write_rows(part, yard, month, parts)
        digest = RowsDigest()
        for one in read_parts(part, yard, month):
            digest.add_part(one)
        if (digest.rows, digest.hex) != (written.rows, written.hex):
            raise ArchiveError(f"{file} does not hold what was written to it; look at its disk")
        write_sum(file, sum_of_file(part))
        part.replace(file)
        _sync_folder(folder)
    except OSError as error:
        remedy = "No file of this month was changed. Make room, or name another folder"
        raise ArchiveError(f"{file} cannot be written: {error.strerror}. {remedy}") from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return ArchivedMonth(file=file, yard=yard, month=month, rows=written.rows, digest=written.hex)


def remove_left(folder: Path, yard: str) -> None:
    """Remove what runs that were killed left of a yard's files; what is being written stays."""
    for left in folder.glob(f".{yard}-*.part"):
        with suppress(OSError), left.open("rb+") as opened:
            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
            left.unlink()


def read_about(file: Path, yard: str, month: date) -> ArchivedMonth:
    """What a file says of itself, once its sum is that of the file.

    Raises
    ------
    ArchiveError
        If it is damaged, cut short, or of another yard or month; it names the remedy.
    LaidupError
        If pyarrow is not installed.
    """
    _, said = _open_file(file, yard, month)
    compare_sum(file)
    return said


def read_parts(
    file: Path,
    yard: str,
    month: date,
    sensor: str = "",
    within_ms: tuple[int, int] | None = None,
) -> Iterator[SensorPart]:
    """The readings of a file, or of one sensor in it, in order of sensor and time.

    With ``within_ms``, a beginning and an end, parts that have none of that stretch are left out.

    Raises
    ------
    ArchiveError
        If it cannot be read, or holds what is no row of that month.
    LaidupError
        If pyarrow is not installed.
    """
    pa, _ = import_pyarrow()
    opened, _ = _open_file(file, yard, month)
    begin_ms, end_ms = month_bounds(month)
    with opened:
        for n in range(opened.num_row_groups):
            if not may_hold(opened, n, sensor, within_ms):
                continue
            try:
                part = read_group(opened, n)
            except (OSError, pa.ArrowException, ValueError) as error:
                raise damaged_file(file, error) from error
            if not all(
                begin_ms <= row.at_ms < end_ms for rows in part.rows.values() for row in rows
            ):
                raise ArchiveError(f"{file} holds readings of another month. {ARCHIVE_REMEDY}")
            if not sensor or part.sensor == sensor:
                yield part


def _write_rows(file: Path, yard: str, month: date, parts: Iterable[SensorPart]) -> RowsDigest:
    pa, pq = import_pyarrow()
    digest = RowsDigest()
    with file.open("xb") as out:
        with suppress(OSError):  # a share that knows no locks
            fcntl.flock(out, fcntl.LOCK_EX)  # until it is closed: nobody takes it for left behind
        with pq.ParquetWriter(
            out,
            schema_of(pa),
            compression="zstd",
            use_dictionary=["sensor", "channel", "flag"],
            column_encoding={name: "DELTA_BINARY_PACKED" for name in ("at", "value", "sent")},
            write_page_checksum=True,
        ) as writer:
            for part in parts:
                digest.add_part(part)
                writer.write_table(table_of(pa, part), row_group_size=2**31 - 1)
            about = {"form": _FORM, "yard": yard, "month": f"{month:%Y-%m}"}
            about |= {"rows": str(digest.rows), "sha256": digest.hex}
            writer.add_key_value_metadata({f"laidup.{key}": said for key, said in about.items()})
        out.flush()
        os.fsync(out.fileno())
    return digest


def _open_file(file: Path, yard: str, month: date) -> tuple[Any, ArchivedMonth]:
    """The file as pyarrow has it, and what it says of itself."""
    pa, pq = import_pyarrow()
    try:
        opened = pq.ParquetFile(file, page_checksum_verification=True)
        said = opened.metadata.metadata or {}
    except (OSError, pa.ArrowException) as error:
        raise damaged_file(file, error) from error
    about = {
        key: said.get(f"laidup.{key}".encode(), b"").decode("utf-8", "replace")
        for key in ("form", "yard", "month", "rows", "sha256")
    }
    wanted = {"form": _FORM, "yard": yard, "month": f"{month:%Y-%m}"}
    for key, value in wanted.items():
        if about[key] != value:
            opened.close()
            told = f"{file} is no archive of {yard} of {month:%Y-%m}: its {key} is"
            raise ArchiveError(f"{told} {about[key] or 'not said'}. Put the right file there")
    rows = int(about["rows"]) if about["rows"].isdecimal() else -1
    return opened, ArchivedMonth(
        file=file, yard=yard, month=month, rows=rows, digest=about["sha256"]
    )


def _sync_folder(folder: Path) -> None:
    """Have the file's new name outlast a loss of power."""
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
