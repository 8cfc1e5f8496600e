"""One number for all rows that speak of a craft: whether any has changed since is seen cheaply."""

from sqlalchemy import Connection, select

from monitor.store.tables import craft, layup_entries, record_links, stays

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
