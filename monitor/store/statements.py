"""What statements of all repositories share: how many values one takes, and rows put in place."""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import TypeVar

from sqlalchemy import Table, TextClause, text

_Value = TypeVar("_Value")
_AT_MOST = 10_000  # SQLite takes 32 766 values in one statement, PostgreSQL 65 535


def in_batches(values: Sequence[_Value], at_most: int = _AT_MOST) -> Iterator[Sequence[_Value]]:
    """Slices in order, none longer than that; without a length each fits into one statement."""
    for start in range(0, len(values), at_most):
        yield values[start : start + at_most]


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
