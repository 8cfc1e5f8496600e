"""The store of one yard: opens transactions and hands out repositories; nobody else knows SQL."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, func, insert, make_url, select

from monitor.errors import StoreError
from monitor.store import tables
from monitor.store.alarms import Alarms
from monitor.store.aside import Aside
from monitor.store.assessments import Assessments
from monitor.store.engine import reading_engine, shown, told, writing_engine
from monitor.store.forecasts import Forecasts
from monitor.store.intake_faults import IntakeFaults
from monitor.store.layup import Layup
from monitor.store.outbox import Outbox
from monitor.store.readings import Readings
from monitor.store.sensor_clocks import SensorClocks
from monitor.store.watches import AnswerLinks, Conversations, Watches

REVISION = "0010"  # of the schema that this program reads and writes
_NO_YARD = -1  # nothing is kept under it: whoever only looks for an unknown yard finds nothing


class Transaction:
    """The repositories of one yard, all on one connection: they commit together or not at all."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self.readings = Readings(connection, yard_id)
        self.sensor_clocks = SensorClocks(connection, yard_id)
        self.intake_faults = IntakeFaults(connection, yard_id)
        self.aside = Aside(connection, yard_id)
        self.assessments = Assessments(connection, yard_id)
        self.alarms = Alarms(connection, yard_id)
        self.layup = Layup(connection, yard_id)
        self.watches = Watches(connection, yard_id)
        self.conversations = Conversations(connection, yard_id)
        self.answer_links = AnswerLinks(connection, yard_id)
        self.outbox = Outbox(connection, yard_id)
        self.forecasts = Forecasts(connection, yard_id)


class Store:
    """All that laidup remembers of one yard."""

    def __init__(self, url: str, yard: str, *, only_looking: bool = False) -> None:
        """Open the store and check that it is of this program's revision.

        Parameters
        ----------
        url : str
            SQLAlchemy address: ``sqlite:///file.db`` or ``postgresql://…``.
        yard : str
            The yard's id.
        only_looking : bool
            Write nothing, not even that there is such a yard; then no transaction opens.

        Raises
        ------
        StoreError
            If the database cannot be opened, or its tables are of another revision.
        """
        self._writing = writing_engine(url)
        self._reading = reading_engine(url)
        self._url = url
        self._only_looking = only_looking
        found = revision(url)
        if found is None:
            raise StoreError(
                f"{shown(url)}: there is no store yet; start `laidup run`, or make its tables with"
                " `laidup migrate`"
            )
        if found != REVISION:
            raise StoreError(
                f"{shown(url)}: its tables are of revision {found}, this program needs {REVISION};"
                + (
                    " run `laidup migrate`, or start `laidup run`, which does it too"
                    if found < REVISION
                    else " they were written by a newer laidup: update this one"
                )
            )
        with (
            told(url, "cannot be opened"),
            self._reading.connect() if only_looking else self._writing.begin() as connection,
        ):
            known = _known_yard(connection, yard)
            if known is None:
                known = _NO_YARD if only_looking else _new_yard(connection, yard)
            self._yard_id = known
        self._path = _path(url)
        self._file = _identity(self._path)

    @contextmanager
    def transaction(self) -> Iterator[Transaction]:
        """Commit the whole block, or nothing of it if it raises.

        Raises
        ------
        StoreError
            If the database takes nothing: it is locked for too long, full, or gone; or if it was
            opened only to look.
        """
        if self._only_looking:
            raise StoreError(f"{shown(self._url)}: it was opened only to look")
        if _identity(self._path) != self._file:
            # SQLite would go on writing into the file that has no name any more, and all of it
            # would be gone with this process.
            raise StoreError(
                f"{shown(self._url)}: the file was removed or replaced while it was open; put it"
                " back, or start laidup again to begin a new one"
            )
        with told(self._url, "it takes nothing"), self._writing.begin() as connection:
            yield Transaction(connection, self._yard_id)

    @contextmanager
    def snapshot(self) -> Iterator[Transaction]:
        """Read one steady state; whatever is written through it is thrown away.

        Raises
        ------
        StoreError
            If the database gives nothing.
        """
        with told(self._url, "it gives nothing"), self._reading.connect() as connection:
            yield Transaction(connection, self._yard_id)

    def close(self) -> None:
        """Give all connections back."""
        self._writing.dispose()
        self._reading.dispose()


def revision(url: str) -> str | None:
    """Revision that a database's tables are of; None where there are none yet.

    Raises
    ------
    StoreError
        If the database does not answer.
    """
    path = _path(url)
    if path is not None and Path(path).parent.is_dir() and not Path(path).exists():
        return None  # to ask SQLite would make the file
    engine = reading_engine(url)
    try:
        with told(url, "cannot be opened"), engine.connect() as connection:
            if not engine.dialect.has_table(connection, "alembic_version"):
                return None
            found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
            return str(found) if found is not None else None
    finally:
        engine.dispose()


def _path(url: str) -> str | None:
    """File of an SQLite store; None for a server."""
    parsed = make_url(url)
    return parsed.database if parsed.get_backend_name() == "sqlite" else None


def _identity(path: str | None) -> tuple[int, int] | None:
    """Which file that name leads to now; None where there is none."""
    if path is None:
        return None
    try:
        status = Path(path).stat()
    except FileNotFoundError:
        return None
    return (status.st_dev, status.st_ino)


def _known_yard(connection: Connection, yard: str) -> int | None:
    known = connection.scalar(select(tables.yards.c.yard_id).where(tables.yards.c.key == yard))
    return None if known is None else int(known)


def _new_yard(connection: Connection, yard: str) -> int:
    last = connection.scalar(select(func.max(tables.yards.c.yard_id)))
    yard_id = 0 if last is None else int(last) + 1
    connection.execute(insert(tables.yards).values(yard_id=yard_id, key=yard))
    return yard_id
