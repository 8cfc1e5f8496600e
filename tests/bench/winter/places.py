"""Where a run's store stands, and how a drill harms it: an SQLite file, or a PostgreSQL server."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import psycopg
from sqlalchemy import URL, make_url

from tests.line.drills.watched import LIKE_ANY_USER, fill, small_disk
from tests.real.need import need
from tests.real.rights import store_with_rights

DISK_MB = 600
_LOCK = """
import sqlite3, sys
held = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=20)
held.execute("BEGIN IMMEDIATE")
print("held", flush=True)
sys.stdin.read()
"""
_WRITER = int.from_bytes(b"laidup")  # laidup's advisory lock: monitor/store/engine.py


@contextlib.contextmanager
def _filled(disk: Path) -> Iterator[None]:
    """Fill a disk, and free it again."""
    ballast = fill(disk)
    try:
        yield
    finally:
        ballast.unlink()


class StorePlace(Protocol):
    """A store that can be harmed."""

    kind: str
    url: str  # as the yard's file names it
    looking_url: str  # by which the drill itself looks into it
    like_any_user: list[str]  # a program, with its arguments, that starts the daemon

    def sizes_mb(self) -> tuple[float, float]:
        """Of the store, and of what is written ahead of it."""
        ...

    def locked(self) -> contextlib.AbstractContextManager[None]:
        """Another holds the write lock."""
        ...

    def full(self) -> contextlib.AbstractContextManager[None]:
        """Its disk takes nothing more."""
        ...

    def not_writable(self) -> contextlib.AbstractContextManager[None]:
        """It may be read alone."""
        ...

    def change(self, statement: str) -> int:
        """Change rows behind laidup's back, as an administrator may; tells how many."""
        ...


class SqlitePlace:
    """A file on a small disk of its own."""

    kind = "SQLite"

    def __init__(self, disk: Path) -> None:
        self.disk, self.file = disk, disk / "laidup.db"
        self.url = f"sqlite:///{self.file}"
        self.looking_url = f"sqlite:///file:{self.file}?mode=ro&uri=true"
        self.like_any_user = (
            [need("setpriv", "util-linux"), *LIKE_ANY_USER] if os.geteuid() == 0 else []
        )

    def sizes_mb(self) -> tuple[float, float]:
        """Of the file, and of its write-ahead log."""
        wal = self.file.with_name(f"{self.file.name}-wal")
        return tuple(one.stat().st_size / 1e6 if one.exists() else 0.0 for one in (self.file, wal))  # type: ignore[return-value]

    @contextlib.contextmanager
    def locked(self) -> Iterator[None]:
        """Another process holds the write lock."""
        holder = subprocess.Popen(
            [sys.executable, "-c", _LOCK, str(self.file)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"held\n"
        try:
            yield
        finally:
            holder.communicate(timeout=10)

    def full(self) -> contextlib.AbstractContextManager[None]:
        """Something fills the disk."""
        return _filled(self.disk)

    @contextlib.contextmanager
    def not_writable(self) -> Iterator[None]:
        """The file may be read alone; whoever has it open already goes on."""
        self.file.chmod(0o444)
        try:
            yield
        finally:
            self.file.chmod(0o600)

    def change(self, statement: str) -> int:
        """Change rows as whoever owns the file may."""
        with contextlib.closing(sqlite3.connect(self.file, timeout=30)) as other:
            count = other.execute(statement).rowcount
            other.commit()
            return count


class PostgresqlPlace:
    """A database of its own in a throw-away cluster, its tables on a small disk of their own.

    The daemon comes in as the role that deploy/ gives it.
    """

    kind = "PostgreSQL"

    def __init__(self, cluster: URL, disk: Path) -> None:
        self._cluster, self.disk = cluster, disk
        self.like_any_user: list[str] = []  # it opens no file of the store
        self._name = f"winter_{os.getpid()}_{time.monotonic_ns()}"
        self.tablespace = disk / "tables"
        self.tablespace.mkdir()
        if os.geteuid() == 0:  # the server runs as a user of its own then
            shutil.chown(self.tablespace, "postgres")
        self._administer(f"CREATE TABLESPACE {self._name} LOCATION '{self.tablespace}'")
        self._administer(f"CREATE DATABASE {self._name} TEMPLATE template0 ENCODING 'UTF8'"
                         f" TABLESPACE {self._name}")  # fmt: skip
        self.looking_url = cluster.set(database=self._name).render_as_string(hide_password=False)
        self.url = store_with_rights(self.looking_url).daemon

    def close(self) -> None:
        """Drop the database."""
        self._administer(f"DROP DATABASE {self._name} WITH (FORCE)")
        self._administer(f"DROP TABLESPACE {self._name}")

    def _administer(self, statement: str) -> None:
        address = self._cluster.set(drivername="postgresql").render_as_string(hide_password=False)
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(statement)

    def _connected(self) -> "psycopg.Connection[tuple[object, ...]]":
        address = make_url(self.looking_url).set(drivername="postgresql")
        return psycopg.connect(address.render_as_string(hide_password=False), autocommit=True)

    def sizes_mb(self) -> tuple[float, float]:
        """Of the database; what is written ahead is the whole cluster's."""
        with self._connected() as connection:
            row = connection.execute("SELECT pg_database_size(current_database())").fetchone()
            assert row is not None
            return int(row[0]) / 1e6, 0.0  # type: ignore[call-overload]

    @contextlib.contextmanager
    def locked(self) -> Iterator[None]:
        """Another session holds laidup's write lock."""
        with self._connected() as connection:
            connection.execute(f"SELECT pg_advisory_lock({_WRITER})")
            yield

    def full(self) -> contextlib.AbstractContextManager[None]:
        """Something fills the disk of the tables."""
        return _filled(self.disk)

    @contextlib.contextmanager
    def not_writable(self) -> Iterator[None]:
        """The server takes nothing from new sessions, and ends those that there are."""
        self._set_read_only("on")
        try:
            yield
        finally:
            self._set_read_only("off")

    def _set_read_only(self, to: str) -> None:
        with self._connected() as connection:
            connection.execute("SET default_transaction_read_only = off")
            connection.execute(
                f"ALTER DATABASE {self._name} SET default_transaction_read_only = {to}"
            )
            connection.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )

    def change(self, statement: str) -> int:
        """Change rows as the administrator may."""
        with self._connected() as connection:
            return connection.execute(statement).rowcount  # type: ignore[arg-type]


@contextlib.contextmanager
def sqlite_place() -> Iterator[SqlitePlace]:
    """A place for a file."""
    with tempfile.TemporaryDirectory() as folder, small_disk(Path(folder), DISK_MB) as disk:
        yield SqlitePlace(disk)


@contextlib.contextmanager
def postgresql_place(cluster: URL, megabytes: int = DISK_MB) -> Iterator[PostgresqlPlace]:
    """A place in a server that runs, its disk of so many megabytes."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)  # the server's own user goes through it
        with small_disk(Path(folder), megabytes) as disk:
            disk.chmod(0o755)
            place = PostgresqlPlace(cluster, disk)
            try:
                yield place
            finally:
                place.close()
