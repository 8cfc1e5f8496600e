"""Every link of every craft's chain, in the order of writing: written here, read back to check."""

import contextlib
import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, Table, func, insert, select

from monitor.craft.break_marks import BreakAnswer, answer_in
from monitor.craft.breaks import (
    Break,
    OddRow,
    StoredChain,
    StoredEntry,
    StoredLink,
    position_of_key,
)
from monitor.craft.canonical import UNREADABLE
from monitor.craft.chain_check import breaks_of
from monitor.craft.craft_stays import Craft
from monitor.craft.links import (
    FIRST,
    YARD_CHAIN,
    Link,
    LinkKind,
    chain_link,
    content_of_body,
    craft_from_json,
)
from monitor.store.chain_rows import (
    MOST,
    craft_in,
    digests_of_rows,
    entry_in,
    link_in,
    move_in,
    odd_row,
)
from monitor.store.link_order import LinkPlace, lost_links
from monitor.store.statements import in_batches
from monitor.store.tables import craft, layup_entries, record_links, stays, yards


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What the next link of a craft's chain is to hold."""

    craft: str
    kind: LinkKind
    said: Mapping[str, Any]
    by: str = ""  # who wrote it, where ``said`` names nobody


class Chain:
    """The chains of one yard's craft."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id
        # Breaks behind which something was written through this object; each is marked there.
        self.marked: list[Break] = []

    def append_links(self, new: Sequence[Content], written_at: datetime) -> list[Link]:
        """Chain what is new behind what is on record, and give the links, in the same order.

        Call it before the rows that the links are of are written. A chain that does not hold is
        not carried on silently: a link that names its breaks goes in first.
        """
        if not new:
            return []
        known = self.stored_rows({one.craft for one in new})
        next_position = self.next_position()
        ends: dict[str, tuple[int, str]] = {}  # number and hash of each craft's last link
        rows: list[dict[str, Any]] = []

        def write(craft_id: str, kind: LinkKind, said: Mapping[str, Any], by: str = "") -> Link:
            number, before = ends[craft_id]
            link = chain_link(kind, said, number + 1, written_at, before, by)
            ends[craft_id] = (link.number, link.hash)
            rows.append(self._row(craft_id, link, next_position + len(rows)))
            return link

        for craft_id in dict.fromkeys(one.craft for one in new):
            chain = known.get(craft_id, StoredChain(craft=craft_id))
            ends[craft_id] = _end(chain)
            found = [one for one in breaks_of(chain) if one.known_since is None]
            if found:
                self.marked.extend(found)
                write(craft_id, LinkKind.BREAK, {"found": [one.key for one in found]})
        links = [write(one.craft, one.kind, one.said, one.by) for one in new]
        self._connection.execute(insert(record_links), rows)
        return links

    def mark_compared(self, craft_id: str, found: Collection[Break], by: str, at: datetime) -> None:
        """Write a person's word that the record was compared with the paper where it broke."""
        number, before = _end(self.stored_rows([craft_id])[craft_id])
        said = {"found": [one.key for one in found], "compared_by": by}
        link = chain_link(LinkKind.BREAK, said, number + 1, at, before)
        row = self._row(craft_id, link, self.next_position())
        self._connection.execute(insert(record_links), [row])

    def chain_of(self, craft_id: str) -> list[Link]:
        """A craft's chain, in order, as it stands in the store."""
        return self.chains_of([craft_id])[craft_id]

    def chains_of(self, craft_ids: Collection[str]) -> dict[str, list[Link]]:
        """The chain of each of these craft, in order, as it stands in the store."""
        stored = self.stored_rows(craft_ids)
        return {
            one: _links_of(stored[one]) if one in stored else [] for one in sorted(set(craft_ids))
        }

    def count_links(self) -> int:
        """How many links the yard's record has; it only ever grows."""
        found = self._connection.scalar(
            select(func.count())
            .select_from(record_links)
            .where(record_links.c.yard_id == self._yard_id)
        )
        return int(found or 0)

    def taken_over(self) -> tuple[int, datetime | None]:
        """How many moves and craft rows are older than their link, and when they were chained."""
        of_yard = record_links.c.yard_id == self._yard_id
        mark = record_links.c.body.contains('"taken_over":true', autoescape=True)
        count = self._connection.scalar(
            select(func.count()).select_from(record_links).where(of_yard, mark)
        )
        if not count:
            return 0, None
        body = self._connection.scalar(
            select(record_links.c.body).where(of_yard, mark).order_by(record_links.c.position)
        )
        try:
            return int(count), datetime.fromisoformat(json.loads(body or "")["written_at"])
        except (ValueError, KeyError, TypeError):  # somebody changed it: the check itself tells
            return int(count), None

    def links_of_no_yard(self) -> int:
        """Links in this database under numbers that it gives to no yard."""
        of_a_yard = record_links.c.yard_id.in_(select(yards.c.yard_id))
        counted = select(func.count()).select_from(record_links).where(~of_a_yard)
        return int(self._connection.execute(counted).scalar_one())

    def links_since(self, since: int = 0) -> list[LinkPlace]:
        """Every link from a position on, in the order of writing of the whole yard."""
        rows = self._connection.execute(
            select(
                record_links.c.position,
                record_links.c.craft_id,
                record_links.c.hash,
                record_links.c.number,
            )
            .where(
                record_links.c.yard_id == self._yard_id,
                record_links.c.position >= since,
                record_links.c.position <= MOST,
            )
            .order_by(record_links.c.position)
        )
        # A link of no craft is missed in the order; what is no hash fits no head.
        return [
            LinkPlace(
                row.position,
                row.craft_id,
                str(row.hash),
                row.number if isinstance(row.number, int) else -1,
            )
            for row in rows
            if isinstance(row.craft_id, str)
        ]

    def last_day(self) -> date | None:
        """The newest day whose tree has a link; None before the first."""
        body = self._connection.scalar(
            select(record_links.c.body)
            .where(
                record_links.c.yard_id == self._yard_id,
                record_links.c.craft_id == YARD_CHAIN,
                record_links.c.kind == LinkKind.DAY,
            )
            .order_by(record_links.c.number.desc())
            .limit(1)
        )
        return None if body is None else date.fromisoformat(json.loads(body)["day"]["day"])

    def craft_ids(self) -> list[str]:
        """Every craft of which any row speaks, in order of id.

        A row that names its craft by no text speaks of none: the chain that it was of misses it.
        """
        found: set[str] = set()
        for table in (craft, stays, layup_entries, record_links):
            found.update(
                self._connection.scalars(
                    select(table.c.craft_id).where(table.c.yard_id == self._yard_id).distinct()
                )
            )
        return sorted(one for one in found if isinstance(one, str))

    def last_versions(self, craft_ids: Collection[str]) -> dict[str, Craft]:
        """What the chain says last of these craft; those of which it says nothing are left out."""
        found: dict[str, Craft] = {}
        for some in in_batches(sorted(craft_ids)):
            for row in self._rows(record_links, some, "number"):
                if row.kind == LinkKind.CRAFT:
                    with contextlib.suppress(*UNREADABLE):
                        found[row.craft_id] = craft_from_json(json.loads(row.body)["craft"])
        return found

    def row_digests(self) -> dict[str, int]:
        """A digest of all rows that speak of a craft, by its id; it changes when any of them does.

        Comparable in this process only.
        """
        return digests_of_rows(self._connection, self._yard_id)

    def stored_rows(self, craft_ids: Collection[str]) -> dict[str, StoredChain]:
        """All rows that the chains of these craft vouch for; craft without any are left out."""
        found: dict[str, StoredChain] = {}
        lost = self._lost_at_ends()
        for some in in_batches(sorted(craft_ids)):
            odd_rows: dict[str, list[OddRow]] = {}
            links: dict[str, list[StoredLink]] = {}
            for row in self._rows(record_links, some, "number"):
                if odd := odd_row(row, record_links):
                    odd_rows.setdefault(row.craft_id, []).append(odd)
                else:
                    links.setdefault(row.craft_id, []).append(link_in(row))
            entries: dict[str, list[StoredEntry]] = {}
            for row in self._rows(layup_entries, some, "number"):
                if odd := odd_row(row, layup_entries):
                    odd_rows.setdefault(row.craft_id, []).append(odd)
                else:
                    entries.setdefault(row.craft_id, []).append(entry_in(row))
            moves: dict[str, dict[str, dict[str, Any]]] = {}
            for row in self._rows(stays, some, "since_ms"):
                since, said = move_in(row)
                moves.setdefault(row.craft_id, {})[since] = said
            crafts = {row.craft_id: craft_in(row) for row in self._rows(craft, some, "craft_id")}
            tables = (links, entries, moves, crafts, odd_rows)
            for key in sorted({key for table in tables for key in table}):
                found[key] = StoredChain(
                    craft=key,
                    links=links.get(key, ()),
                    entries=entries.get(key, ()),
                    moves=moves.get(key, {}),
                    row=crafts.get(key),
                    odd_rows=odd_rows.get(key, ()),
                    lost=lost.get(key, {}),
                )
        return found

    def break_answers(self) -> list[BreakAnswer]:
        """Every link that names breaks: a mark of work written behind them, or a person's word."""
        rows = self._connection.execute(
            select(record_links.c.craft_id, record_links.c.body).where(
                record_links.c.yard_id == self._yard_id, record_links.c.kind == LinkKind.BREAK
            )
        )
        return [
            found
            for row in rows
            if isinstance(row.craft_id, str)
            and (found := answer_in(row.craft_id, content_of_body(row.body)))
        ]

    def _lost_at_ends(self) -> dict[str, dict[int, int]]:
        """Positions missing from the yard's order that may have been a craft's last, by craft.

        With each stands of how many craft it may have been. Nothing is read but two numbers where
        none is missing.
        """
        of_yard = record_links.c.yard_id == self._yard_id
        known = record_links.c.position <= MOST
        count, last = self._connection.execute(
            select(func.count(), func.max(record_links.c.position)).where(of_yard, known)
        ).one()
        if last is None or count == int(last) + 1:
            return {}
        marked = {
            position
            for answer in self.break_answers()
            for position in map(position_of_key, answer.keys)
            if position is not None
        }
        found: dict[str, dict[int, int]] = {}
        for one in lost_links(self.links_since(), marked):
            for key in one.at_end:
                found.setdefault(key, {})[one.position] = len(one.craft)
        return found

    def next_position(self) -> int:
        """Position that the yard's next link gets."""
        last = self._connection.scalar(
            select(func.max(record_links.c.position)).where(
                record_links.c.yard_id == self._yard_id, record_links.c.position <= MOST
            )
        )
        return 0 if last is None else int(last) + 1

    def _rows(self, table: Table, craft_ids: Sequence[str], order: str) -> Iterator[Row[Any]]:
        yield from self._connection.execute(
            select(table)
            .where(table.c.yard_id == self._yard_id, table.c.craft_id.in_(craft_ids))
            .order_by(table.c.craft_id, table.c[order])
        )

    def _row(self, craft_id: str, link: Link, position: int) -> dict[str, Any]:
        return {
            "yard_id": self._yard_id,
            "position": position,
            "craft_id": craft_id,
            "number": link.number,
            "kind": str(link.kind),
            "hash": link.hash,
            # The body of a piece of work stands in its own row, and only there.
            "body": "" if link.kind is LinkKind.ENTRY else link.body,
        }


def _links_of(chain: StoredChain) -> list[Link]:
    work = {one.number: one.body for one in chain.entries}
    return [
        Link(
            number=one.number,
            body=work.get(one.number, "") if one.kind == LinkKind.ENTRY else one.body,
            hash=one.hash,
            kind=LinkKind(one.kind),
        )
        for one in chain.links
    ]


def _end(chain: StoredChain) -> tuple[int, str]:
    """Number and hash that the next link goes behind; work without a link keeps its number."""
    last = max(chain.links, key=lambda one: one.number, default=None)
    number = max(-1 if last is None else last.number, *(one.number for one in chain.entries), -1)
    return number, FIRST if last is None else last.hash
