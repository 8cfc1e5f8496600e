"""Months whose raw readings were dropped from the store, or are being dropped: the mark of a yard.

From the moment a month is entered here, nothing in the store changes what lies before its end: no
reading is added, flagged or moved there, and no rollup of it is made anew. So what was compared
with the archive file stays so, and whoever reads that time asks the file.
"""

from datetime import date, datetime
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, delete, insert, select, text, update

from monitor.clock import from_ms, to_ms
from monitor.errors import StoreError
from monitor.store.tables import dropped_months
from monitor.yard.hourly import HOUR_MS, REACH_MS

# A reading that comes late changes flags and rollups hours around it, and its flag rests on days
# before it. So near the mark that these are in the archive none is taken, by a wide margin.
TOO_LATE_MS = 31 * 24 * HOUR_MS
_LOCK_WAIT = text("SET LOCAL lock_timeout = '20s'")
_LOCK = text("LOCK TABLE dropped_months IN ACCESS EXCLUSIVE MODE")


class DroppedMonth(NamedTuple):
    """A month whose raw readings are in its archive file alone, or on their way there."""

    month: date  # its first day
    end_ms: int
    begun_at: datetime
    checked_at: datetime | None  # None: nothing was removed yet
    dropped_at: datetime | None  # None: some of its readings are in the store still
    rows: int  # of its file
    digest: str  # of these rows, hex
    file_sum: str  # SHA-256 of the file, hex


class DroppedMonths:
    """The dropped months of one yard, on one connection."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._months: list[DroppedMonth] | None = None

    def all_months(self) -> list[DroppedMonth]:
        """Every month, the oldest first; asked for once on a connection."""
        if self._months is None:
            rows = self._connection.execute(
                select(dropped_months)
                .where(dropped_months.c.yard_id == self._yard_id)
                .order_by(dropped_months.c.end_ms)
            )
            self._months = [_month(row) for row in rows]
        return self._months

    def month_of(self, month: date) -> DroppedMonth | None:
        """What is known of one month, named by its first day; None: it was not dropped."""
        return next((one for one in self.all_months() if one.month == month), None)

    @property
    def before_ms(self) -> int | None:
        """The mark [ms]: raw readings before it are in the archive; None: all are in the store."""
        months = self.all_months()
        return months[-1].end_ms if months else None

    @property
    def taken_from_ms(self) -> int:
        """Readings before this [ms] come too late; 0 where no month was dropped."""
        return 0 if self.before_ms is None else self.before_ms + TOO_LATE_MS

    @property
    def rollups_from_ms(self) -> int:
        """Rollups of hours before this [ms] are kept as they are; 0 where no month was dropped."""
        return 0 if self.before_ms is None else self.before_ms + REACH_MS

    def refuse_change(self, oldest_ms: int) -> None:
        """Raise where a reading that changes lies before the mark, or changes rollups before it.

        Raises
        ------
        StoreError
            It names the mark.
        """
        before_ms = self.before_ms
        if before_ms is not None and oldest_ms < before_ms + 2 * REACH_MS + HOUR_MS:
            raise StoreError(
                f"a reading of {from_ms(oldest_ms):%Y-%m-%d %H:%M} UTC cannot be changed: raw"
                f" readings before {from_ms(before_ms):%Y-%m-%d} are in the archive"
            )

    def begin_month(self, month: date, end_ms: int, at: datetime) -> None:
        """From the end of this transaction on, let nothing change before the end of a month.

        Raises
        ------
        StoreBusyError
            If whoever reads or writes does not come to an end in time (PostgreSQL).
        """
        if self._connection.dialect.name == "postgresql":
            # Waits for whoever has read the old mark and still writes by it.
            self._connection.execute(_LOCK_WAIT)
            self._connection.execute(_LOCK)
        self._connection.execute(
            insert(dropped_months).values(
                yard_id=self._yard_id,
                month=f"{month:%Y-%m}",
                end_ms=end_ms,
                begun_ms=to_ms(at),
                rows=0,
                digest="",
                file_sum="",
            )
        )
        self._months = None

    def note_checked(
        self, month: date, at: datetime, *, rows: int, digest: str, file_sum: str
    ) -> None:
        """Note that file, leaves, readings and rollups of a month agreed, and what the file is.

        Raises
        ------
        StoreError
            If the month is no longer entered, as where another run took it off.
        """
        said = {"rows": rows, "digest": digest, "file_sum": file_sum}
        self._change(month, checked_ms=to_ms(at), **said)

    def note_dropped(self, month: date, at: datetime) -> None:
        """Note that the last of its readings was removed."""
        self._change(month, dropped_ms=to_ms(at))

    def forget_month(self, month: date) -> None:
        """Take a month off, all of whose readings are in the store."""
        self._connection.execute(
            delete(dropped_months).where(
                dropped_months.c.yard_id == self._yard_id,
                dropped_months.c.month == f"{month:%Y-%m}",
            )
        )
        self._months = None

    def _change(self, month: date, **values: object) -> None:
        own = dropped_months.c.yard_id == self._yard_id
        its = dropped_months.c.month == f"{month:%Y-%m}"
        done = self._connection.execute(update(dropped_months).where(own, its).values(**values))
        self._months = None
        if done.rowcount != 1:
            raise StoreError(f"{month:%Y-%m} is no longer entered as dropped; run this again")

    def refuse_unchecked(self, month: date) -> None:
        """Raise `StoreError` where readings of a month may not be removed, or no longer."""
        known = self.month_of(month)
        if known is None or known.checked_at is None:
            raise StoreError(f"{month:%Y-%m} is no longer entered as dropped; run this again")


def _month(row: Row[Any]) -> DroppedMonth:
    return DroppedMonth(
        month=date.fromisoformat(f"{row.month}-01"),
        end_ms=row.end_ms,
        begun_at=from_ms(row.begun_ms),
        checked_at=_time_or_none(row.checked_ms),
        dropped_at=_time_or_none(row.dropped_ms),
        rows=row.rows,
        digest=row.digest,
        file_sum=row.file_sum,
    )


def _time_or_none(at_ms: int | None) -> datetime | None:
    return None if at_ms is None else from_ms(at_ms)
