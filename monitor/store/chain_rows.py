"""Rows that a chain vouches for: read as they stand, so that none stops the check, and digested."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Row, Table, select

from monitor.craft.breaks import OddRow, StoredEntry, StoredLink
from monitor.craft.links import craft_json, move_json
from monitor.store.craft_forms import craft_of, stay_of
from monitor.store.tables import craft, layup_entries, record_links, stays

MOST = 10**9  # links of a yard: a larger number stands there by another hand, and leaves no next


_COUNTS = ("number", "position")
_KINDS = {
    table.name: tuple(column.type.python_type for column in table.columns)
    for table in (record_links, layup_entries)
}


def odd_row(row: Row[Any], table: Table) -> OddRow | None:
    """The row, where a column holds another kind of value than stands there; else None."""
    kinds = _KINDS[table.name]
    if tuple(map(type, row)) == kinds and not _beyond_count(row._mapping):
        return None
    values = dict(row._mapping)
    of_other_kind = {
        name
        for (name, value), kind in zip(values.items(), kinds, strict=True)
        if type(value) is not kind
    }
    odd = of_other_kind or _beyond_count(values)
    shown = {name: repr(value) for name, value in values.items()}
    return OddRow(table=table.name, values=shown, odd=sorted(odd))


def _beyond_count(values: Mapping[Any, Any]) -> set[str]:
    """Columns that count, and hold what no count comes to."""
    return {name for name in _COUNTS if name in values and not 0 <= values[name] <= MOST}


def link_in(row: Row[Any]) -> StoredLink:
    """Link that a row holds which is not odd."""
    return StoredLink(
        position=row.position, number=row.number, kind=row.kind, hash=row.hash, body=row.body
    )


def entry_in(row: Row[Any]) -> StoredEntry:
    """Entry that a row holds which is not odd."""
    return StoredEntry(
        number=row.number, entry_id=row.entry_id, at_ms=row.at_ms, hash=row.hash, body=row.body
    )


def move_in(row: Row[Any]) -> tuple[str, dict[str, Any]]:
    """Time and content of a move; a row that holds none is told by its number of milliseconds."""
    try:
        said = move_json(stay_of(row))
    except (ValueError, TypeError, OverflowError):
        return f"{row.since_ms} ms", {}
    return str(said["since"]), said


def craft_in(row: Row[Any]) -> dict[str, Any]:
    """Content of a craft's row; of a row that holds none, nothing."""
    try:
        return craft_json(craft_of(row))
    except (ValueError, TypeError, OverflowError, AttributeError):
        return {}


_BITS = (1 << 64) - 1


def digests_of_rows(connection: Connection, yard_id: int) -> dict[str, int]:
    """A digest of each craft's rows, in this process only; another order of rows changes none.

    It guards nothing against a forger, who would have to meet the number of this process: it only
    says whose chain is to be checked again. Reads all rows once, about 5 µs a row.
    """
    found: dict[str, int] = {}
    for table in (craft, stays, layup_entries, record_links):
        rows = connection.execution_options(yield_per=1000).execute(
            select(table.c.craft_id, table).where(table.c.yard_id == yard_id)
        )
        for row in rows:
            if not isinstance(row[0], str):  # of no craft; the chain that it was of misses it
                continue
            said = hash((table.name, *row))
            found[row[0]] = (found.get(row[0], 0) + said) & _BITS
    return found
