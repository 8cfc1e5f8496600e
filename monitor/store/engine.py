"""How a connection to the database behaves: durable, one writer at a time, readers undisturbed."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from urllib.parse import quote

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import DBAPIConnection, DBAPICursor, IsolationLevel
from sqlalchemy.exc import (
    ArgumentError,
    DatabaseError,
    DataError,
    IntegrityError,
    NoSuchModuleError,
)
from sqlalchemy.exc import TimeoutError as NoConnectionError
from sqlalchemy.pool import ConnectionPoolEntry

from monitor.errors import (
    BadValueError,
    StoreBusyError,
    StoreDamagedError,
    StoreError,
    StoreFullError,
    StoreReadonlyError,
)

CONNECTIONS = 16  # of an engine at most; watch, intake, post and the others take one each
BUSY_S = 30.0  # how long a writer waits for another before it gives up
_HELD_PAGES = 8000  # 32 MB of one transaction; a round over 2,000 craft changes some 5 MB
_CONNECTION_WAIT_S = 30.0  # for one of its connections to be given back
_POOL_LOOK_S = 0.25  # after which whoever waits looks into the pool anew
_RETRY_S = 0.02  # between tries to turn a new file, while another turns it
_WRITER = int.from_bytes(b"laidup")  # PostgreSQL's name for our write lock, within one database
_BEGIN_SQLITE_WRITER = "BEGIN IMMEDIATE"
# A flipped bit makes text that is no UTF-8: of that row one letter is lost, not the whole table.
_TEXT_OF_ANY_BYTES = partial(str, encoding="utf-8", errors="replace")


def writing_engine(url: str, connections: int = CONNECTIONS, busy_s: float = BUSY_S) -> Engine:
    """Engine whose transactions hold the write lock from their first statement.

    Parameters
    ----------
    url : str
        SQLAlchemy address.
    connections : int
        How many may be open at once; whoever wants one more waits, for half a minute at most.
    busy_s : float
        How long to wait for another writer [s].

    Raises
    ------
    StoreError
        If the address names no database that laidup can use.
    """
    parsed = parse_address(url)
    if parsed.get_backend_name() == "sqlite":
        # Else SQLite takes the lock at the first write, after the reads it rests on.
        return _sqlite(parsed, _BEGIN_SQLITE_WRITER, connections, busy_s)
    # READ COMMITTED sees in each statement what others committed before it: with the lock taken
    # first, all that a writer reads stays true until it commits.
    engine = _postgresql(parsed, "READ COMMITTED", connections)
    lock = f"SELECT pg_advisory_xact_lock({_WRITER})"
    _begin_with(engine, f"SET LOCAL lock_timeout = '{1000.0 * busy_s:.0f}ms'; {lock}")
    return engine


def reading_engine(url: str, connections: int = CONNECTIONS) -> Engine:
    """Engine whose transactions see one steady snapshot and never wait for a writer.

    Parameters
    ----------
    url : str
        SQLAlchemy address.
    connections : int
        How many may be open at once; whoever wants one more waits, for half a minute at most.

    Raises
    ------
    StoreError
        If the address names no database that laidup can use.
    """
    parsed = parse_address(url)
    if parsed.get_backend_name() == "sqlite":
        return _sqlite(parsed, "BEGIN", connections, BUSY_S)
    return _postgresql(parsed, "REPEATABLE READ", connections)


@contextmanager
def checked_out(engine: Engine) -> Iterator[Connection]:
    """Lend a connection of an engine, for which whoever asks waits for half a minute at most.

    Where another thread empties the pool while somebody waits at it, nothing is ever given back to
    that pool; so whoever waits looks anew a few times a second.

    Raises
    ------
    sqlalchemy.exc.TimeoutError
        If all of its connections stay in use.
    """
    end_s = time.monotonic() + _CONNECTION_WAIT_S
    while True:
        try:
            connection = engine.connect()
        except NoConnectionError:
            if time.monotonic() >= end_s:
                raise
        else:
            break
    with connection:
        yield connection


def shown(url: str) -> str:
    """Address of a store as people may see it: without the password, and what may hold one.

    A server's address may say it behind a question mark too (libpq's ``password``), or misspell it.

    Raises
    ------
    StoreError
        If it is no address.
    """
    return _plain(parse_address(url))


def _plain(url: URL) -> str:
    return repr(url.set(query={}))  # which hides the password


def with_password(url: str, password: str) -> str:
    """The address of a server's store with a password in it.

    Raises
    ------
    BadValueError
        If it is the address of a file, which has none, or has one already.
    """
    parsed = parse_address(url)
    if parsed.get_backend_name() != "postgresql":
        raise BadValueError("a file has no password", "take password_file or password_env away")
    if parsed.password is not None:
        raise BadValueError("the address has a password of its own", "take it out of url")
    return parsed.set(password=password).render_as_string(hide_password=False)


@contextmanager
def as_store_errors(url: str, what: str) -> Iterator[None]:
    """Say what the database complains of as a StoreError: locked, full, gone, no database at all.

    A broken constraint is a slip of laidup's own and keeps its trace.
    """
    try:
        yield
    except (IntegrityError, DataError):
        raise
    except NoConnectionError as error:
        raise StoreBusyError(f"{shown(url)}: {what}: all its connections are in use") from error
    except DatabaseError as error:
        raise _kind_of(error)(f"{shown(url)}: {what}: {error.orig}") from error


_BY_RESULT: dict[int, type[StoreError]] = {  # SQLite's primary result codes
    sqlite3.SQLITE_BUSY: StoreBusyError,
    sqlite3.SQLITE_LOCKED: StoreBusyError,
    sqlite3.SQLITE_FULL: StoreFullError,
    sqlite3.SQLITE_READONLY: StoreReadonlyError,
    sqlite3.SQLITE_PERM: StoreReadonlyError,
    sqlite3.SQLITE_CORRUPT: StoreDamagedError,
    sqlite3.SQLITE_NOTADB: StoreDamagedError,
}


_BY_STATE: dict[str, type[StoreError]] = {  # PostgreSQL's SQLSTATE, appendix A of its manual
    "55P03": StoreBusyError,  # lock_not_available
    "40P01": StoreBusyError,  # deadlock_detected
    "53300": StoreBusyError,  # too_many_connections
    "53100": StoreFullError,  # disk_full
    "25006": StoreReadonlyError,  # read_only_sql_transaction
    "42501": StoreReadonlyError,  # insufficient_privilege
    "XX001": StoreDamagedError,  # data_corrupted
    "XX002": StoreDamagedError,  # index_corrupted
}


def _kind_of(error: DatabaseError) -> type[StoreError]:
    """What a database's own code says of its refusal; its words are for people."""
    result = int(getattr(error.orig, "sqlite_errorcode", 0)) & 0xFF
    state = str(getattr(error.orig, "sqlstate", None) or "")
    return _BY_RESULT.get(result) or _BY_STATE.get(state, StoreError)


def parse_address(url: str) -> URL:
    """Read the address of a store.

    Raises
    ------
    StoreError
        If it is none, or of a database in which laidup keeps no store.
    """
    try:
        parsed = make_url(url)
    except (ArgumentError, ValueError):
        # Neither the address nor the complaint: a mistyped one may show its password anywhere.
        raise StoreError(
            "[store] url is no address of a database; write it like sqlite:///laidup.db or"
            " postgresql+psycopg://user@host/name, with the password in [store] password_file"
        ) from None
    if parsed.get_backend_name() not in {"sqlite", "postgresql"}:
        raise StoreError(f"{_plain(parsed)}: laidup keeps its store in sqlite or postgresql")
    return parsed


def _sqlite(url: URL, begin: str, connections: int, busy_s: float) -> Engine:
    engine = create_engine(
        _of_a_file_that_is_there(url),
        connect_args={"timeout": busy_s},
        pool_size=connections,
        max_overflow=0,
        pool_timeout=_POOL_LOOK_S,
    )

    def connected(connection: DBAPIConnection, _: ConnectionPoolEntry) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves
        connection.text_factory = _TEXT_OF_ANY_BYTES
        cursor = connection.cursor()
        _keep_write_ahead_log(cursor, busy_s)
        cursor.execute("PRAGMA secure_delete = ON")  # what is forgotten leaves the file too
        cursor.execute("PRAGMA synchronous = FULL")  # a power cut may not lose what was acked
        # What a transaction changes past the cache of 2 MB would be written early, and once more
        # for each change after that. So it stays in memory until the commit, for as long as that.
        cursor.execute(f"PRAGMA cache_spill = {_HELD_PAGES}")
        cursor.close()

    event.listen(engine, "connect", connected)
    _begin_with(engine, begin)
    return engine


def _of_a_file_that_is_there(url: URL) -> URL:
    """An address by which SQLite opens a file, and makes none (``SQLite, URI filenames, mode``).

    Where the file is moved away just before it is opened, an empty one in its place would look like
    a store of nothing, and would stand in the way of whoever puts it back.
    """
    if url.database in {None, "", ":memory:"}:
        return url
    query = {**url.query, "uri": "true", "mode": "rw"}
    return url.set(database=f"file:{quote(str(url.database))}", query=query)


def _keep_write_ahead_log(cursor: DBAPICursor, busy_s: float) -> None:
    """Have SQLite write ahead, so that readers go on beside a writer.

    A file's first turn to it wants the file alone; of several that open a new one at once SQLite
    refuses the rest at once, without the wait that it keeps elsewhere. So the wait is here.
    """
    end = time.monotonic() + busy_s
    while True:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() >= end:
                raise
            time.sleep(_RETRY_S)
        else:
            return


def _postgresql(url: URL, isolation: IsolationLevel, connections: int) -> Engine:
    try:
        return create_engine(
            url,
            pool_pre_ping=True,
            isolation_level=isolation,
            pool_size=connections,
            max_overflow=0,
            pool_timeout=_POOL_LOOK_S,
        )
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
