"""Copies of a store in a folder: taken and checked, named by time, thinned by days and weeks.

A copy counts only once it has been read back: the database's own check of its file, the rows of
every table, and the chains of the lay-up record.
"""

import hashlib
import shutil
from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from monitor.errors import StoreError
from monitor.store import reserve
from monitor.store.copying import copy_out, finish_copy, rows_of_copy, url_of_copy
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.store_file import file_of, has_current_tables
from monitor.store.verifying import verify_record

_UNFINISHED = ".part"
_DIGEST = ".sha256"  # as `sha256sum --check` reads it, wherever the copy was taken to
_TIMES_THE_STORE = 1.1  # room that a copy needs


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenCopy:
    """A copy that was taken and read back."""

    file: Path
    bytes: int
    rows: Mapping[str, int]  # by table
    craft: int
    links: int
    breaks: tuple[str, ...]  # of the lay-up record, as the store has them: the copy is a true one


def take_copy(url: str, yard: str, file: Path) -> TakenCopy:
    """Copy a store while it is used, read the copy back, and only then give it its name.

    Parameters
    ----------
    url : str
        The store's address.
    yard : str
        Whose record is checked in the copy; all yards are in it.
    file : Path
        The copy; one that is there already is not written over.

    Raises
    ------
    StoreError
        If there is no room, the copy cannot be written, or it does not read back as it was.
    """
    if file.exists():
        raise StoreError(f"{file} is there already; name another file, or a folder")
    _refuse_without_room(url, file)
    unfinished = file.with_name(file.name + _UNFINISHED)
    unfinished.unlink(missing_ok=True)
    try:
        rows = copy_out(url, unfinished)
        finish_copy(unfinished)
        if has_current_tables(url_of_copy(unfinished)):
            taken = check_copy(unfinished, yard)
        else:
            taken = _check_older_copy(unfinished, yard)
            rows = taken.rows  # of this program's tables
        if taken.rows != rows:
            raise StoreError(f"{file}: it does not hold what the store held; look at its disk")
        finish_copy(unfinished)  # the check opened it as a store
        digest = digest_of_file(unfinished)
        unfinished.rename(file)
        _digest_file(file).write_text(f"{digest}  {file.name}\n", encoding="ascii")
    except OSError as error:
        raise StoreError(f"{file} cannot be written: {error.strerror}") from error
    finally:
        for left in (unfinished, *_companions(unfinished)):
            left.unlink(missing_ok=True)
    return TakenCopy(
        file=file,
        bytes=file.stat().st_size,
        rows=rows,
        craft=taken.craft,
        links=taken.links,
        breaks=taken.breaks,
    )


def _check_older_copy(file: Path, yard: str) -> TakenCopy:
    """Read a copy of an earlier program's store as a restore would: brought up to date elsewhere.

    The copy itself stays as that program wrote it, which is what the way back needs.
    """
    with TemporaryDirectory(dir=file.parent, prefix=f"{file.name}-") as folder:
        working = Path(folder) / file.name
        shutil.copyfile(file, working)
        migrate(url_of_copy(working))
        return check_copy(working, yard)


def refuse_changed_copy(file: Path) -> None:
    """Raise where a copy differs from the sum that was written beside it; one without is taken.

    Raises
    ------
    StoreError
        If it differs.
    """
    said = _digest_file(file)
    if said.exists() and not said.read_text(encoding="ascii").startswith(digest_of_file(file)):
        raise StoreError(f"{file} is not what was written: its sum differs from {said.name}")


def check_copy(file: Path, yard: str) -> TakenCopy:
    """Read a copy: the database's own check, the rows, the chains of one yard's record.

    It is opened as a store, which changes its first bytes: call it on a copy that is not finished.

    Raises
    ------
    StoreError
        If it is no sound copy of that yard's store.
    """
    with closing(Store(url_of_copy(file), yard, only_looking=True)) as store:
        if not store.knows_yard:
            raise StoreError(f"{file} holds nothing of {yard}")
        damage = store.find_damage()
        if damage:
            raise StoreError(f"{file} is damaged: {damage}")
        with store.snapshot() as tx:
            found = verify_record(tx)
    return TakenCopy(
        file=file,
        bytes=file.stat().st_size,
        rows=rows_of_copy(file),
        craft=found.craft,
        links=found.links,
        breaks=tuple(str(one) for one in found.breaks),
    )


def digest_of_file(file: Path) -> str:
    """SHA-256 of a file, in hexadecimal."""
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def copies_to_drop(copies: Iterable[tuple[datetime, Path]], days: int, weeks: int) -> list[Path]:
    """Copies beside the newest of each of the last ``days`` days and ``weeks`` weeks that have any.

    A day without a copy uses up none of them, so a machine that was off for a month keeps what it
    had.
    """
    newest_first = sorted(copies, reverse=True)
    of_day: dict[str, Path] = {}
    of_week: dict[str, Path] = {}
    for at, file in newest_first:
        of_day.setdefault(f"{at:%Y-%m-%d}", file)
        of_week.setdefault(f"{at:%G-%V}", file)
    kept = {*list(of_day.values())[:days], *list(of_week.values())[:weeks]}
    return [file for _, file in newest_first[1:] if file not in kept]


def drop_copy(file: Path) -> None:
    """Remove a copy with what lies beside it."""
    for one in (file, _digest_file(file)):
        one.unlink(missing_ok=True)


def _digest_file(file: Path) -> Path:
    return file.with_name(file.name + _DIGEST)


def _companions(file: Path) -> list[Path]:
    return [file.with_name(file.name + end) for end in ("-wal", "-shm", "-journal", "-reserve")]


def _refuse_without_room(url: str, file: Path) -> None:
    if not file.parent.is_dir():
        raise StoreError(f"{file.parent} is no folder; make it, or mount its disk")
    source = file_of(url)
    if source is None:
        return  # what the rows of a server come to is seen as they are written
    wanted = _TIMES_THE_STORE * source.stat().st_size
    free = reserve.free_bytes(file.parent)
    if free < wanted:
        raise StoreError(
            f"{file.parent}: {free / 1e6:.0f} MB are free and a copy takes {wanted / 1e6:.0f} MB;"
            " make room or name another folder"
        )
