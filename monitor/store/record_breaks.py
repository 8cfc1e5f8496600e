"""Craft whose chain does not hold, as the last check found them: nothing of their record counts."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select

from monitor.clock import to_ms
from monitor.craft.breaks import Break
from monitor.craft.chain_check import open_breaks_of
from monitor.store.chain import Chain
from monitor.store.statements import in_batches
from monitor.store.tables import record_breaks
from monitor.wording import listed_first

_NAMED = 3  # breaks of one craft, before the rest are only counted


class RecordBreaks:
    """What the chains of one yard's craft were found to be broken by."""

    def __init__(self, connection: Connection, yard_id: int, chain: Chain) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._chain = chain

    def break_words(self) -> dict[str, str]:
        """What is broken, by the id of each craft that it was found of."""
        rows = self._connection.execute(
            select(record_breaks.c.craft_id, record_breaks.c.words).where(
                record_breaks.c.yard_id == self._yard_id
            )
        )
        return {row.craft_id: row.words for row in rows}

    def check_chains(self, craft_ids: Collection[str]) -> dict[str, str]:
        """Check the chains of these craft now, and give what is broken of them, in words."""
        chains = self._chain.stored_rows(craft_ids)
        found = {key: open_breaks_of(chain) for key, chain in chains.items()}
        return words_of_breaks(found)

    def put(self, craft_ids: Collection[str], found: Mapping[str, str], at: datetime) -> None:
        """Keep what a check of these craft found, in place of what was found of them before."""
        known = self.break_words()
        new = {key: words for key, words in found.items() if known.get(key) != words}
        gone = (known.keys() & set(craft_ids)) - found.keys()
        for some in in_batches(sorted(gone | new.keys())):
            self._connection.execute(
                delete(record_breaks).where(
                    record_breaks.c.yard_id == self._yard_id,
                    record_breaks.c.craft_id.in_(some),
                )
            )
        rows = [
            {"yard_id": self._yard_id, "craft_id": key, "found_ms": to_ms(at), "words": words}
            for key, words in new.items()
        ]
        if rows:
            self._connection.execute(insert(record_breaks), rows)

    def check_again(self, craft_ids: Collection[str], at: datetime) -> None:
        """Check again those of these craft that are known to be broken, after an entry of theirs.

        Among them those of which the chain itself saw it as it was written on just now.
        """
        marked = {one.craft for one in self._chain.marked}
        known = (self.break_words().keys() | marked) & set(craft_ids)
        if known:
            self.put(known, self.check_chains(known), at)


def words_of_breaks(found: Mapping[str, Sequence[Break]]) -> dict[str, str]:
    """What is broken, by the id of each craft of which anything is."""
    return {
        key: listed_first([str(one).rstrip(".") for one in breaks], _NAMED, "; ")
        for key, breaks in found.items()
        if breaks
    }
