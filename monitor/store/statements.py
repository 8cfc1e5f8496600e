"""What statements of all repositories share: batches, rows put in place, a mark of a yard."""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import TypeVar

from sqlalchemy import Column, Connection, Table, TextClause, delete, select, text

_Value = TypeVar("_Value")
_AT_MOST = 10_000  # SQLite takes 32 766 values in one statement, PostgreSQL 65 535


def in_batches(values: Sequence[_Value], at_most: int = _AT_MOST) -> Iterator[Sequence[_Value]]:
    """Slices in order, none longer than that; without a length each fits into one statement."""
    for start in range(0, len(values), at_most):
        yield values[start : start + at_most]


class YardMark:
    """A time of one yard [ms] in a table of marks, asked for once on a connection."""

    def __init__(self, connection: Connection, column: Column[int], yard_id: int) -> None:
        self._connection, self._column, self._yard_id = connection, column, yard_id
        self._table = column.table
        self._at_ms: int | None = None
        self._asked = False

    def read_ms(self) -> int | None:
        """The mark; None where the yard has none."""
        if not self._asked:
            own = self._table.c.yard_id == self._yard_id
            self._at_ms = self._connection.scalar(select(self._column).where(own))
            self._asked = True
        return self._at_ms

    def put(self, at_ms: int | None) -> None:
        """Put the mark elsewhere; None takes it away."""
        own = self._table.c.yard_id == self._yard_id
        if at_ms is None:
            self._connection.execute(delete(self._table).where(own))
        else:
            row = {"yard_id": self._yard_id, self._column.name: at_ms}
            self._connection.execute(put_in_place(self._table), row)
        self._at_ms, self._asked = at_ms, True


@cache
def put_in_place(table: Table) -> TextClause:
    """Statement that enters whole rows, each in place of the one that has its key.

    To delete the old row and insert the new one would write every index of the table anew.
    """
    names = [column.name for column in table.columns]
    key = [column.name for column in table.primary_key]
    changed = ", ".join(f"{name} = excluded.{name}" for name in names if name not in key)
    return text(
        f"INSERT INTO {table.name} ({', '.join(names)})"  # noqa: S608 - our own names
        f" VALUES ({', '.join(f':{name}' for name in names)})"
        f" ON CONFLICT ({', '.join(key)}) DO UPDATE SET {changed}"
    )
