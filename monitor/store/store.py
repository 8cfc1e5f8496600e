"""The store of one yard: opens transactions and hands out repositories; nobody else knows SQL."""

from collections import deque
from collections.abc import Hashable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, cast

from sqlalchemy import Connection, Engine, Pool, func, insert, select, update

from monitor.errors import StoreBusyError, StoreDamagedError, StoreError, StoreFullError
from monitor.store import tables
from monitor.store.engine import (
    BUSY_S,
    CONNECTIONS,
    as_store_errors,
    checked_out,
    reading_engine,
    shown,
    writing_engine,
)
from monitor.store.reserve import Reserve
from monitor.store.store_file import (
    ask_with_room,
    check_revision,
    file_identity,
    file_name_of,
    is_without_room,
    make_companions_writable,
)
from monitor.store.transaction import StoreMemory, Transaction

if TYPE_CHECKING:
    from monitor.store.missing_readings import NoArchive
    from monitor.store.yard_marks import SteadyReads

__all__ = ["Store", "Transaction"]

_LEFT_POOLS = 64  # of the last tries; what was in use then has long been given back
_NO_YARD = -1  # nothing is kept under it: whoever only looks for an unknown yard finds nothing


class _NoFolder:
    """Where no folder of archive files was named: what was dropped is refused, not left out."""

    only_dropped = True

    def read_beside(self, tx: Transaction) -> "NoArchive":
        """Who refuses, beside one snapshot of the store."""
        from monitor.store.missing_readings import NoArchive

        return NoArchive(tx)


class Store:
    """All that laidup remembers of one yard."""

    def __init__(
        self,
        url: str,
        yard: str,
        *,
        only_looking: bool = False,
        connections: int = CONNECTIONS,
        busy_s: float = BUSY_S,
    ) -> None:
        """Open the store and check that it is of this program's revision.

        Parameters
        ----------
        url : str
            SQLAlchemy address: ``sqlite:///file.db`` or ``postgresql://…``.
        yard : str
            The yard's id.
        only_looking : bool
            Write nothing, not even that there is such a yard; then no transaction opens.
        connections : int
            How many it may use at once for reading, and as many for writing.
        busy_s : float
            How long a transaction waits for another writer [s].

        Raises
        ------
        StoreError
            If the database cannot be opened, or its tables are of another revision.
        """
        self._url = url
        self._yard = yard
        self._only_looking = only_looking
        self._family = [self]  # all stores of this process that `beside` made of one
        self._left_pools: deque[Pool] = deque(maxlen=_LEFT_POOLS)
        self._reopening = Lock()  # of the whole family, by one thread at a time
        self._memory = StoreMemory()  # shared with the stores that `beside` made of this one
        self._memory.archive = _NoFolder()
        self._writing = writing_engine(url, connections, busy_s)
        self._reading = reading_engine(url, connections)
        self._path = file_name_of(url)
        self.reserve = None if self._path is None else Reserve(Path(self._path))
        self._damage = ""
        make_companions_writable(self._path)
        check_revision(url)
        self._yard_id = ask_with_room(self._path, self._known_or_new_yard)
        self._file = file_identity(self._path)

    def _known_or_new_yard(self) -> int:
        """Number of the yard in this database, given to it now where it is new."""
        try:
            with (
                self._answered(self._reading, "cannot be opened", can_wait=False),
                checked_out(self._reading) as connection,
            ):
                known = _known_yard(connection, self._yard)
            # Whoever opens it beside a writer that takes its time waits for no lock.
            if known is not None or self._only_looking:
                return _NO_YARD if known is None else known
            with (
                self._answered(self._writing, "cannot be opened", can_wait=False),
                checked_out(self._writing) as connection,
                connection.begin(),
            ):
                known = _known_yard(connection, self._yard)
                return _new_yard(connection, self._yard) if known is None else known
        except StoreError:
            self.close()
            raise

    @property
    def knows_yard(self) -> bool:
        """Whether anything was ever kept of this yard; never False but for who only looks."""
        return self._yard_id != _NO_YARD

    @property
    def path(self) -> Path | None:
        """File of an SQLite store; None for a server."""
        return None if self._path is None else Path(self._path)

    @property
    def damage(self) -> str:
        """What the database said when somebody's use of it met with damage; empty: nobody's did."""
        return next((one._damage for one in self._family if one._damage), "")

    def find_damage(self, table: str = "") -> str:
        """Look for damage in one table and its indexes, or in the whole file; empty: none found.

        It reads all of it: a second for some 100 MB. A database server looks after its own files.
        """
        if self._path is None:
            return ""
        try:
            with (
                self._answered(self._reading, "it is damaged", can_wait=True),
                checked_out(self._reading) as connection,
            ):
                asked = f"quick_check({table})" if table else "quick_check(1)"
                said = connection.exec_driver_sql(f"PRAGMA {asked}").scalar()
        except StoreDamagedError as error:
            return str(error)
        return "" if said == "ok" else f"{shown(self._url)}: {' '.join(str(said).split())}"

    def free_in_file(self) -> int | None:
        """Bytes within an SQLite store's file that what comes may take; None for a server."""
        if self._path is None:
            return None
        with (
            self._answered(self._reading, "it gives nothing", can_wait=True),
            checked_out(self._reading) as connection,
        ):
            free = connection.exec_driver_sql("PRAGMA freelist_count").scalar() or 0
            return int(free) * int(connection.exec_driver_sql("PRAGMA page_size").scalar() or 0)

    def use_archive(self, folder: Path | None, *, only_dropped: bool = False) -> None:
        """Have snapshots read what the store no longer holds out of archive files; None: not.

        With ``only_dropped`` the files are asked only for what `laidup archive --drop` removed.
        """
        if folder is None:
            self._memory.archive = _NoFolder()
            return
        from monitor.store.archived_readings import ArchiveFiles

        self._memory.archive = ArchiveFiles(folder, self._yard, only_dropped=only_dropped)

    def beside(self, connections: int, busy_s: float = BUSY_S) -> "Store":
        """The same store by connections of its own: whoever uses them up holds up nobody else.

        It is closed with this one.
        """
        other = Store(
            self._url,
            self._yard,
            only_looking=self._only_looking,
            connections=connections,
            busy_s=busy_s,
        )
        self._family.append(other)
        other._family = self._family
        other._reopening = self._reopening
        other._memory = self._memory
        return other

    @contextmanager
    def transaction(self, *, can_wait: bool = False) -> Iterator[Transaction]:
        """Commit the whole block, or nothing of it if it raises.

        Parameters
        ----------
        can_wait : bool
            It warns nobody (readings, forecasts, reports), so on a full disk it leaves the last
            of the reserve to what does.

        Raises
        ------
        StoreError
            If the database takes nothing: it is locked for too long, full, or gone; or if it was
            opened only to look.
        """
        if self._only_looking:
            raise StoreError(f"{shown(self._url)}: it was opened only to look")
        self._refuse_another_file()
        if can_wait:
            self._leave_room_for_warnings()
        with (
            self._answered(self._writing, "it takes nothing", can_wait=can_wait),
            checked_out(self._writing) as connection,
            connection.begin(),
        ):
            made = Transaction(connection, self._yard_id, self._memory)
            yield made
        made.note_commit(counts=not can_wait)

    @property
    def commits(self) -> int:
        """How many transactions of this process were committed that may show on a page.

        While it stays the same, only another process can have changed what `change_mark` tells of.
        """
        return self._memory.commits

    def change_mark(self) -> Hashable:
        """Mark of all that people read of the yard: equal later, and nothing of it has changed.

        Judgements, alarms with their acts, craft with their moves, the lay-up record and forecasts
        count, whichever process wrote them; readings do not, for they are read as judgements.
        """
        changes = self._memory.changes
        with self.snapshot() as tx:
            marks = cast("SteadyReads", tx.reads).marks
            # Words of one that is broken may change, and their number not.
            breaks = tx.layup.breaks.break_words() if marks.breaks else {}
            return changes, marks, frozenset(breaks.items())

    def _refuse_another_file(self) -> None:
        """Refuse to go on where the name of the file leads to none, or to another one.

        SQLite would go on with the file that has no name any more, all of which would be gone with
        this process; and each new connection would make an empty one under the name.
        """
        if file_identity(self._path) != self._file:
            raise StoreError(
                f"{shown(self._url)}: the file was removed or replaced while it was open; put it"
                " back, or start laidup again on the one that is there"
            )

    def try_writing(self) -> None:
        """Write a row as it is, through to the disk: whether the store takes what it is given.

        Raises
        ------
        StoreError
            If it does not.
        """
        with self._row_changed() as connection:
            connection.commit()

    def ask_to_write(self) -> None:
        """Change a row to what it is and take that back, so that no disk is worn.

        The lock alone tells little: where nothing may be written, PostgreSQL gives it all the same,
        and SQLite makes of the transaction one that reads.

        Raises
        ------
        StoreError
            If the store is locked, or nothing may be written.
        """
        with self._row_changed() as connection:
            connection.rollback()

    @contextmanager
    def _row_changed(self) -> Iterator[Connection]:
        self._refuse_another_file()
        row = tables.yards.c.yard_id == self._yard_id
        with (
            self._answered(self._writing, "it takes nothing", can_wait=True),
            checked_out(self._writing) as connection,
        ):
            connection.execute(update(tables.yards).where(row).values(key=self._yard))
            yield connection

    def _leave_room_for_warnings(self) -> None:
        """Take from the reserve what may wait, before the store's own last room is used for it."""
        kept = self.reserve
        if kept is None or kept.kept_bytes is None:
            return
        gone = kept.only_for_warnings or (
            is_without_room(self._path) and not kept.give_up(can_wait=True)
        )
        if gone:
            raise StoreFullError(
                f"{shown(self._url)}: its disk is full, and the room that is left is kept for"
                " alarms; make room"
            )

    @contextmanager
    def snapshot(self) -> Iterator[Transaction]:
        """Read one steady state; whatever is written through it is thrown away.

        Raises
        ------
        StoreError
            If the database gives nothing.
        """
        self._refuse_another_file()
        with (
            self._answered(self._reading, "it gives nothing", can_wait=True),
            checked_out(self._reading) as connection,
        ):
            yield Transaction(connection, self._yard_id, self._memory, only_reads=True)

    @contextmanager
    def _answered(self, engine: Engine, what: str, *, can_wait: bool) -> Iterator[None]:
        """Say what the database complains of, and do what a later try needs."""
        try:
            with as_store_errors(self._url, what):
                yield
        except StoreBusyError:
            raise
        except StoreFullError:
            if engine is self._writing and self.reserve is not None:
                self.reserve.give_up(can_wait=can_wait)
            raise
        except StoreError as error:
            if isinstance(error, StoreDamagedError):
                self._damage = str(error)
            # A connection that was opened while its file could not be written never writes again.
            self._reopen()
            raise

    def _reopen(self) -> None:
        """Let go of every connection, so that the next use opens the file anew."""
        # Of two threads that met with a refusal the other one's pool would be left out.
        with self._reopening:
            for store in self._family:
                for engine in (store._writing, store._reading):
                    store._left_pools.append(engine.pool)
                    engine.dispose()
                # One that was in use has gone back to the pool that was left, and stays open there.
                # It would keep the shared memory that it found read-only, which all use then.
                for pool in store._left_pools:
                    pool.dispose()
        make_companions_writable(self._path)

    def close(self) -> None:
        """Give all connections back."""
        self._reopen()


def _known_yard(connection: Connection, yard: str) -> int | None:
    known = connection.scalar(select(tables.yards.c.yard_id).where(tables.yards.c.key == yard))
    return None if known is None else int(known)


def _new_yard(connection: Connection, yard: str) -> int:
    last = connection.scalar(select(func.max(tables.yards.c.yard_id)))
    yard_id = 0 if last is None else int(last) + 1
    connection.execute(insert(tables.yards).values(yard_id=yard_id, key=yard))
    return yard_id
