"""How many values one statement takes, and longer lists cut to that."""

from collections.abc import Iterator, Sequence
from typing import TypeVar

_Value = TypeVar("_Value")
_AT_MOST = 10_000  # SQLite takes 32 766 values in one statement, PostgreSQL 65 535


def in_batches(values: Sequence[_Value], at_most: int = _AT_MOST) -> Iterator[Sequence[_Value]]:
    """Slices in order, none longer than that; without a length each fits into one statement."""
    for start in range(0, len(values), at_most):
        yield values[start : start + at_most]
