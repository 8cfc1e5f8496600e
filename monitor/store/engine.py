"""How a connection to the database behaves: durable, one writer at a time, readers undisturbed."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import DBAPIConnection, IsolationLevel
from sqlalchemy.exc import (
    ArgumentError,
    DatabaseError,
    DataError,
    IntegrityError,
    NoSuchModuleError,
)
from sqlalchemy.pool import ConnectionPoolEntry

from monitor.errors import StoreError

_BUSY_S = 30.0  # how long a writer waits for another before it gives up
_WRITER = int.from_bytes(b"laidup")  # PostgreSQL's name for our write lock, within one database
_BEGIN_SQLITE_WRITER = "BEGIN IMMEDIATE"
_BEGIN_POSTGRESQL_WRITER = (
    f"SET LOCAL lock_timeout = '{_BUSY_S:.0f}s'; SELECT pg_advisory_xact_lock({_WRITER})"
)


def writing_engine(url: str) -> Engine:
    """Engine whose transactions hold the write lock from their first statement.

    Raises
    ------
    StoreError
        If the address names no database that laidup can use.
    """
    parsed = _parsed(url)
    if parsed.get_backend_name() == "sqlite":
        # Else SQLite takes the lock at the first write, after the reads it rests on.
        return _sqlite(parsed, _BEGIN_SQLITE_WRITER)
    # READ COMMITTED sees in each statement what others committed before it: with the lock taken
    # first, all that a writer reads stays true until it commits.
    engine = _postgresql(parsed, "READ COMMITTED")
    _begin_with(engine, _BEGIN_POSTGRESQL_WRITER)
    return engine


def reading_engine(url: str) -> Engine:
    """Engine whose transactions see one steady snapshot and never wait for a writer.

    Raises
    ------
    StoreError
        If the address names no database that laidup can use.
    """
    parsed = _parsed(url)
    if parsed.get_backend_name() == "sqlite":
        return _sqlite(parsed, "BEGIN")
    return _postgresql(parsed, "REPEATABLE READ")


def shown(url: str) -> str:
    """Address of a store as people may see it: without the password.

    Raises
    ------
    StoreError
        If it is no address.
    """
    return repr(_parsed(url))  # which hides the password


@contextmanager
def told(url: str, what: str) -> Iterator[None]:
    """Say what the database complains of as a StoreError: locked, full, gone, no database at all.

    A broken constraint is a slip of laidup's own and keeps its trace.
    """
    try:
        yield
    except (IntegrityError, DataError):
        raise
    except DatabaseError as error:
        raise StoreError(f"{shown(url)}: {what}: {error.orig}") from error


def _parsed(url: str) -> URL:
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise StoreError(f"{url}: {error}; write it like sqlite:///laidup.db") from error
    if parsed.get_backend_name() not in {"sqlite", "postgresql"}:
        raise StoreError(f"{parsed!r}: laidup keeps its store in sqlite or postgresql")
    return parsed


def _sqlite(url: URL, begin: str) -> Engine:
    engine = create_engine(url, connect_args={"timeout": _BUSY_S})

    def connected(connection: DBAPIConnection, _: ConnectionPoolEntry) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves
        cursor = connection.cursor()
        cursor.execute("PRAGMA journal_mode = WAL")
        cursor.execute("PRAGMA synchronous = FULL")  # a power cut may not lose what was acked
        cursor.close()

    event.listen(engine, "connect", connected)
    _begin_with(engine, begin)
    return engine


def _postgresql(url: URL, isolation: IsolationLevel) -> Engine:
    try:
        return create_engine(url, pool_pre_ping=True, isolation_level=isolation)
    except ModuleNotFoundError as error:
        raise StoreError(
            f"{url!r}: the driver {error.name} is missing; install laidup[postgres]"
        ) from error
    except NoSuchModuleError as error:
        raise StoreError(f"{url!r}: {error}; write it like postgresql+psycopg://…") from error


def _begin_with(engine: Engine, statement: str) -> None:
    def begun(connection: Connection) -> None:
        connection.exec_driver_sql(statement)

    event.listen(engine, "begin", begun)
