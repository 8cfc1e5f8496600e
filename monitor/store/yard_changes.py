"""What people changed of the yard itself: a list that only grows."""

import json
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select

from monitor.clock import from_ms, to_ms
from monitor.errors import StoreError
from monitor.store.engine import as_store_errors, parse_address, reading_engine
from monitor.store.tables import yard_changes, yards
from monitor.yard.yard_change import Item, YardChange, YardPart

# Earlier versions took names with marks that turn the direction of writing. What was kept then is
# read without them, for a yard must not stand unwatched over a mark that nobody sees.
_NAMES = {"name", "label", "value"}
_TURNING = re.compile(r"[\x7f-\x9f\u2028-\u202e\u2066-\u2069]")


class ChangesOfYard:
    """The changes of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def last_number(self) -> int:
        """Number of the newest change; 0 where there is none."""
        found = self._connection.scalar(
            select(func.max(yard_changes.c.number)).where(yard_changes.c.yard_id == self._yard_id)
        )
        return int(found or 0)

    def all_changes(self) -> list[YardChange]:
        """Every change, in the order of writing."""
        return _read_changes(self._connection, self._yard_id)

    def add(self, changes: Sequence[YardChange]) -> None:
        """Write changes behind those that are there; their numbers go on from the last.

        Raises
        ------
        ValueError
            If a number is not the next one: somebody else has written meanwhile.
        """
        for number, one in enumerate(changes, start=self.last_number() + 1):
            if one.number != number:
                raise ValueError(f"change {one.number} of the yard comes in the place of {number}")
            self._connection.execute(
                insert(yard_changes).values(
                    yard_id=self._yard_id,
                    number=one.number,
                    at_ms=to_ms(one.at),
                    since_ms=to_ms(one.since),
                    who=one.by,
                    part=str(one.part),
                    key=one.key,
                    before=_text(one.before),
                    after=_text(one.after),
                    undoes=one.undoes,
                )
            )


def read_yard_changes(url: str, yard: str) -> list[YardChange]:
    """The changes of a yard in a store that may not be there yet, or be of an earlier revision.

    Raises
    ------
    StoreError
        If there is a store, and it does not answer.
    """
    parsed = parse_address(url)
    if parsed.get_backend_name() == "sqlite" and not Path(parsed.database or "").exists():
        return []  # to ask SQLite would make the file
    engine = reading_engine(url)
    try:
        with as_store_errors(url, "cannot be opened"), engine.connect() as connection:
            if not engine.dialect.has_table(connection, yard_changes.name):
                return []
            yard_id = connection.scalar(select(yards.c.yard_id).where(yards.c.key == yard))
            return [] if yard_id is None else _read_changes(connection, int(yard_id))
    finally:
        engine.dispose()


def _read_changes(connection: Connection, yard_id: int) -> list[YardChange]:
    rows = connection.execute(
        select(yard_changes)
        .where(yard_changes.c.yard_id == yard_id)
        .order_by(yard_changes.c.number)
    )
    return [_change(row) for row in rows]


def _change(row: Row[Any]) -> YardChange:
    try:
        return YardChange(
            number=row.number,
            at=from_ms(row.at_ms),
            since=from_ms(row.since_ms),
            by=row.who,
            part=YardPart(row.part),
            key=row.key,
            before=_item(row.before),
            after=_item(row.after),
            undoes=row.undoes,
        )
    except (ValueError, TypeError) as error:  # SQLite keeps any value in any column
        raise StoreError(
            f"change {row.number!r} of the yard cannot be read: {error}; put back a copy of the"
            " store (`laidup restore`)"
        ) from error


def _text(item: Item | None) -> str | None:
    return None if item is None else json.dumps(item, sort_keys=True)


def _item(text: str | None) -> Item | None:
    if text is None:
        return None
    item = json.loads(text)
    if not isinstance(item, dict):
        raise TypeError(f"{text!r} is no item")
    return {
        key: _TURNING.sub("", value) if key in _NAMES and isinstance(value, str) else value
        for key, value in item.items()
    }
