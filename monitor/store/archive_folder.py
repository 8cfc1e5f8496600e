"""A folder of archive files: their names by yard and month, and the sum beside each.

A sum is written as `sha256sum --check` reads it, wherever the folder was taken to.
"""

import fcntl
import hashlib
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path

from monitor.errors import ArchiveError
from monitor.store.day_trees import day_bounds
from monitor.store.dropped_months import DroppedMonth

ARCHIVE_REMEDY = (
    "`laidup archive --to` writes the month anew while the store holds it; else take the file from"
    " a backup"
)

_COPY = "take that one from a backup"


def parse_month(text: str) -> date:
    """The first day of a month that is written as ``2026-11``.

    Raises
    ------
    ValueError
        If it is no month.
    """
    if len(text) != len("2026-11"):
        raise ValueError(f"{text!r} is no month")
    return date.fromisoformat(f"{text}-01")


def month_after(month: date) -> date:
    """The first day of the next month."""
    return date(month.year + month.month // 12, month.month % 12 + 1, 1)


def month_bounds(month: date) -> tuple[int, int]:
    """Beginning and end of a month of UTC [ms]."""
    return day_bounds(month)[0], day_bounds(month_after(month))[0]


def archive_path(folder: Path, yard: str, month: date) -> Path:
    """Where a month's file stands."""
    return folder / f"{yard}-{month:%Y-%m}.parquet"


def months_in(folder: Path, yard: str) -> dict[date, Path]:
    """The yard's files in a folder by month, the oldest first; other files are left out.

    Raises
    ------
    ArchiveError
        If the folder is not there or cannot be read.
    """
    found: dict[date, Path] = {}
    try:
        for file in folder.iterdir():
            if file.suffix == ".parquet" and file.name.startswith(f"{yard}-"):
                with suppress(ValueError):
                    found[parse_month(file.stem.removeprefix(f"{yard}-"))] = file
    except OSError as error:
        remedy = "Make it, or mount its disk"
        raise ArchiveError(f"{folder} cannot be read: {error.strerror}. {remedy}") from error
    return dict(sorted(found.items()))


def sum_of_file(file: Path) -> str:
    """SHA-256 of a file, hex."""
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def damaged_file(file: Path, error: Exception) -> ArchiveError:
    """The error of a file that cannot be read, with what to do."""
    if isinstance(error, FileNotFoundError):
        return ArchiveError(f"{file} is not there. {ARCHIVE_REMEDY}")
    why = str(error).splitlines()[0] if str(error) else type(error).__name__
    return ArchiveError(f"{file} is damaged ({why}). {ARCHIVE_REMEDY}")


@contextmanager
def only_run(folder: Path, yard: str) -> Iterator[None]:
    """Be the only run that drops months of a yard, or puts them back.

    Raises
    ------
    ArchiveError
        If another one is at work, or the folder cannot be written.
    """
    place = folder / f".{yard}.lock"
    try:
        opened = place.open("ab")
    except OSError as error:
        raise ArchiveError(
            f"{place} cannot be written: {error.strerror}. Make the folder, mount its disk, or give"
            " it to this user"
        ) from error
    with opened:
        try:
            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise ArchiveError(
                f"another run drops months of {yard} or puts them back. Wait for its end"
            ) from error
        except OSError:
            pass  # a share that knows no locks; each step looks at the mark besides
        yield


def faults_of_dropped(folder: Path, yard: str, months: Iterable[DroppedMonth]) -> Iterator[str]:
    """What is wrong with the files of months whose raw readings they alone have; each is read.

    Parameters
    ----------
    folder : Path
    yard : str
        Its id.
    months : iterable of DroppedMonth
        Those of which nothing was removed yet are left out.
    """
    for one in months:
        file = archive_path(folder, yard, one.month)
        try:
            if one.checked_at is not None and sum_of_file(file) != one.file_sum:
                yield f"{file} is another file than when its readings left the store: {_COPY}"
        except OSError as error:
            yield str(damaged_file(file, error))


def _sum_file(file: Path) -> Path:
    return file.with_name(f"{file.name}.sha256")


def write_sum(file: Path, digest: str) -> None:
    """Write the sum that stands beside a file, as a whole.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    beside = _sum_file(file)
    part = beside.with_name(f".{beside.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8") as out:
            out.write(f"{digest}  {file.name}\n")
            out.flush()
            os.fsync(out.fileno())
        part.replace(beside)
    finally:
        part.unlink(missing_ok=True)


def compare_sum(file: Path) -> None:
    """Raise where a file differs from the sum beside it; one without is taken.

    Raises
    ------
    ArchiveError
        If it differs, or one of the two cannot be read.
    """
    beside = _sum_file(file)
    try:
        said = beside.read_text(encoding="utf-8").split(" ")[0]
        fits = said == sum_of_file(file)
    except FileNotFoundError:
        return  # its rows have a digest of their own
    except (OSError, UnicodeError) as error:
        raise damaged_file(beside, error) from error
    if not fits:
        raise ArchiveError(
            f"{file} is damaged: its sum differs from {beside.name}. {ARCHIVE_REMEDY}"
        )
