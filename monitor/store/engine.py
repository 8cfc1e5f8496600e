"""How a connection to the database behaves: durable, one writer at a time, readers undisturbed."""

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import ConnectionPoolEntry

from monitor.errors import StoreError

_BUSY_S = 30.0  # how long a writer waits for another before it gives up


def writing_engine(url: str) -> Engine:
    """Engine whose transactions hold the write lock from their first statement.

    Raises
    ------
    StoreError
        If the address names no database that laidup can use.
    """
    # Else SQLite takes the lock at the first write, after the reads it rests on: updates get lost.
    return _engine(url, "BEGIN IMMEDIATE")


def reading_engine(url: str) -> Engine:
    """Engine whose transactions see one steady snapshot and never wait for a writer."""
    return _engine(url, "BEGIN")


def _engine(url: str, begin: str) -> Engine:
    try:
        parsed = make_url(url)
        if parsed.get_backend_name() not in {"sqlite", "postgresql"}:
            raise StoreError(f"{url}: laidup keeps its store in sqlite or postgresql")
        if parsed.get_backend_name() == "postgresql":
            return create_engine(parsed, pool_pre_ping=True)
        engine = create_engine(parsed, connect_args={"timeout": _BUSY_S})
    except ArgumentError as error:
        raise StoreError(f"{url}: {error}; write it like sqlite:///laidup.db") from error
    except ModuleNotFoundError as error:
        raise StoreError(
            f"{url}: the driver {error.name} is missing; install laidup[postgres]"
        ) from error

    def connected(connection: DBAPIConnection, _: ConnectionPoolEntry) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves
        cursor = connection.cursor()
        cursor.execute("PRAGMA journal_mode = WAL")
        cursor.execute("PRAGMA synchronous = FULL")  # a power cut may not lose what was acked
        cursor.close()

    def begun(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    event.listen(engine, "connect", connected)
    event.listen(engine, "begin", begun)
    return engine
