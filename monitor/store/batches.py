"""How many values one statement takes, and longer lists cut to that."""

from collections.abc import Iterator, Sequence
from typing import TypeVar

_Value = TypeVar("_Value")
_AT_MOST = 10_000  # SQLite takes 32 766 values in one statement, PostgreSQL 65 535


def in_batches(values: Sequence[_Value]) -> Iterator[Sequence[_Value]]:
    """Slices in order, each of which fits into one statement."""
    for start in range(0, len(values), _AT_MOST):
        yield values[start : start + _AT_MOST]
