"""What is known of each craft now; every version that it had is a link of its chain."""

import re
from collections.abc import Collection, Iterable
from datetime import datetime

from sqlalchemy import Connection, Row, delete, insert, select

from monitor.craft.craft_stays import Craft
from monitor.craft.links import LinkKind, craft_json
from monitor.errors import Fault, RecordError
from monitor.store.chain import Chain, Content
from monitor.store.craft_forms import as_stored_craft, craft_row
from monitor.store.statements import in_batches
from monitor.store.tables import craft


class CraftRows:
    """The craft of one yard, here or gone."""

    def __init__(self, connection: Connection, yard_id: int, chain: Chain) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._chain = chain

    def rows(self, craft_ids: Collection[str] | None = None) -> list[Row[tuple[object, ...]]]:
        """Rows of some craft or of all, by id: k2 before k10; without one whose id is no text."""
        of_yard = select(craft).where(craft.c.yard_id == self._yard_id)
        statements = [of_yard]
        if craft_ids is not None:
            batches = in_batches(sorted(craft_ids))
            statements = [of_yard.where(craft.c.craft_id.in_(some)) for some in batches]
        rows = [
            row
            for statement in statements
            for row in self._connection.execute(statement)
            if isinstance(row.craft_id, str)
        ]
        return sorted(rows, key=lambda row: natural_order(row.craft_id))

    def ids_and_names(self) -> list[tuple[str, object]]:
        """Id and name of every craft as their columns hold them, by id."""
        asked = select(craft.c.craft_id, craft.c.name).where(craft.c.yard_id == self._yard_id)
        rows = [row for row in self._connection.execute(asked) if isinstance(row.craft_id, str)]
        return sorted(((row[0], row[1]) for row in rows), key=lambda one: natural_order(one[0]))

    def put(self, new: Iterable[Craft], written_at: datetime, by: str = "") -> None:
        """Enter craft, or put what is known of them now in place of what was.

        Raises
        ------
        RecordError
            If another craft has the hull number of one of them.
        """
        rows = self._connection.execute(select(craft).where(craft.c.yard_id == self._yard_id))
        known = {row.craft_id: dict(row._mapping) for row in rows}
        with_hull = {row["hull_number"]: row for row in known.values() if row["hull_number"]}
        changed = {}
        links = []
        for one in new:
            row = craft_row(one, self._yard_id)
            other = with_hull.get(row["hull_number"])
            if other is not None and other["craft_id"] != one.id:
                raise refusal(
                    one.id,
                    "hull_number",
                    f"{one.name} has {one.hull_number!r}, which is {other['name']}'s"
                    f" ({other['craft_id']})",
                    "Each craft has its own; read it off the transom again.",
                )
            before = known.get(one.id)
            if row == before:
                continue
            if before is not None:
                with_hull.pop(before["hull_number"], None)
            if one.hull_number:
                with_hull[one.hull_number] = row
            known[one.id] = changed[one.id] = row
            said = craft_json(as_stored_craft(one))
            links.append(Content(craft=one.id, kind=LinkKind.CRAFT, said=said, by=by))
        self._chain.append_links(links, written_at)
        for some in in_batches(list(changed)):
            self._connection.execute(
                delete(craft).where(craft.c.yard_id == self._yard_id, craft.c.craft_id.in_(some))
            )
        if changed:
            self._connection.execute(insert(craft), list(changed.values()))


def refusal(craft_id: str, key: str, problem: str, remedy: str) -> RecordError:
    """Error that says why something cannot go into a craft's record."""
    return RecordError(
        [
            Fault(
                file="lay-up record",
                key=f"{craft_id}.{key}",
                problem=problem,
                remedy=remedy,
                craft=craft_id,
            )
        ]
    )


def natural_order(text: str) -> list[tuple[str, int]]:
    """Key that sorts ids as people count: k2 before k10."""
    return [(word, int(part or 0)) for word, part in re.findall(r"(\D*)(\d*)", text)]
