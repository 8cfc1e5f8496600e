"""A copy of the whole store in one file, taken while laidup runs, and put back from it.

The copy is an SQLite store whichever database the store is in: one format, which is checked and
looked into with the same means, and needs no other program of a server's own version. An SQLite
store is copied page by page (its online backup), a PostgreSQL one row by row, each within one
snapshot: what is written meanwhile is in the next copy, and holds up nobody.
"""

import os
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import Connection, MetaData, Table, func, insert, inspect, select

from monitor.errors import StoreError
from monitor.store.engine import as_store_errors, reading_engine, writing_engine
from monitor.store.migrate import migrate
from monitor.store.store_file import REVISION, file_of, revision_of
from monitor.store.tables import metadata

_ROWS = 10_000  # in memory at once
_OF_MIGRATIONS = "alembic_version"  # which the migration itself has filled


def url_of_copy(file: Path) -> str:
    """The address by which a copy is opened as a store."""
    return f"sqlite:///{file}"


def copy_out(url: str, file: Path) -> Mapping[str, int]:
    """Copy a whole store into a new file, and give how many rows each table had.

    Parameters
    ----------
    url : str
        Of a store; all its yards are copied. One of an earlier program is copied as it is, into
        tables of the same revision, for the way back from an upgrade.
    file : Path
        That is not there yet; readable by this user alone.

    Raises
    ------
    StoreError
        If there is no store, it gives nothing or is of a newer program, or the file cannot be
        written.
    """
    found = revision_of(url)
    if found is None:
        raise StoreError("there is no store yet; `laidup run` makes it")
    if found > REVISION:
        raise StoreError(
            f"its tables (revision {found}) were written by a newer laidup; copy it with that one"
        )
    try:
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600))
    except OSError as error:
        raise StoreError(f"{file} cannot be made: {error.strerror}") from error
    source = file_of(url)
    return _copy_pages(source, file) if source is not None else _copy_rows(url, file, found)


def copy_in(file: Path, url: str) -> Mapping[str, int]:
    """Put the rows of a copy into a database without any, and give how many each table has now.

    Raises
    ------
    StoreError
        If the copy cannot be read, or the database has tables of laidup's already.
    """
    if revision_of(url) is not None:
        raise StoreError(
            "that database has a store in it; make an empty one and name it in [store] url"
        )
    migrate(url)
    with _snapshot(url_of_copy(file)) as source, _writing(url) as target:
        _insert_rows(source, target)
        return count_rows(target)


def rows_of_copy(file: Path) -> Mapping[str, int]:
    """How many rows each table of a copy has."""
    with _snapshot(url_of_copy(file)) as connection:
        return count_rows(connection)


def count_rows(connection: Connection) -> dict[str, int]:
    """How many rows each table has, as far as a store of an earlier program has it."""
    there = set(inspect(connection).get_table_names())
    return {
        name: int(connection.scalar(select(func.count()).select_from(table)) or 0)
        for name, table in sorted(metadata.tables.items())
        if name in there
    }


def readings_among(rows: Mapping[str, int]) -> int:
    """How many of the rows of all tables are readings, those that just landed too."""
    return sum(rows.get(table, 0) for table in ("readings", "landed_readings"))


def finish_copy(file: Path) -> None:
    """Make a copy whole by itself: without a write-ahead file beside it, and on the disk.

    Raises
    ------
    StoreError
        If its disk takes nothing more.
    """
    try:
        with closing(sqlite3.connect(file, isolation_level=None)) as copy:
            copy.execute("PRAGMA journal_mode = DELETE")
        descriptor = os.open(file, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(descriptor)
            # So that whoever checks it reads what the disk has, and not what memory remembers.
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        finally:
            os.close(descriptor)
    except (sqlite3.Error, OSError) as error:
        raise StoreError(f"{file} cannot be finished: {error}") from error


def _copy_pages(source: Path, file: Path) -> Mapping[str, int]:
    """Copy an SQLite store: all pages as one snapshot has them, the write-ahead file's too."""
    url = url_of_copy(source)
    with _snapshot(url) as connection, as_store_errors(url, "it cannot be copied"):
        rows = count_rows(connection)  # which opens the snapshot that is copied
        held = connection.connection.driver_connection
        if not isinstance(held, sqlite3.Connection):
            raise StoreError(f"{source}: not an SQLite store")
        try:
            with closing(sqlite3.connect(file)) as copy:
                held.backup(copy)
        except sqlite3.Error as error:
            raise StoreError(f"{file} cannot be written: {error}") from error
    return rows


def _copy_rows(url: str, file: Path, found: str) -> Mapping[str, int]:
    """Copy a server's store row by row into an SQLite one of the same revision."""
    migrate(url_of_copy(file), found)
    with _snapshot(url) as source, _writing(url_of_copy(file)) as target:
        if found == REVISION:
            _insert_rows(source, target)
        else:
            _insert_earlier_rows(source, target)
        return count_rows(source)


def _insert_rows(source: Connection, target: Connection) -> None:
    for table in metadata.sorted_tables:
        _insert_table(source, table, target, table)


def _insert_earlier_rows(source: Connection, target: Connection) -> None:
    """Rows of an earlier program's tables, as both databases themselves describe them."""
    there, here = MetaData(), MetaData()
    there.reflect(source)
    here.reflect(target)
    for table in here.sorted_tables:
        if table.name != _OF_MIGRATIONS:
            _insert_table(source, there.tables[table.name], target, table)


def _insert_table(source: Connection, there: Table, target: Connection, here: Table) -> None:
    columns = select(*(there.c[column.name] for column in here.c))
    rows = source.execution_options(yield_per=_ROWS).execute(columns).mappings()
    for some in rows.partitions(_ROWS):
        target.execute(insert(here), [dict(row) for row in some])


@contextmanager
def _snapshot(url: str) -> Iterator[Connection]:
    engine = reading_engine(url, connections=1)
    try:
        with as_store_errors(url, "it gives nothing"), engine.connect() as connection:
            yield connection
    finally:
        engine.dispose()


@contextmanager
def _writing(url: str) -> Iterator[Connection]:
    engine = writing_engine(url, connections=1)
    try:
        with as_store_errors(url, "it takes nothing"), engine.begin() as connection:
            yield connection
    finally:
        engine.dispose()
