"""Lay-up work as it was written; every entry is a link of its craft's chain."""

import json
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from monitor.clock import to_ms
from monitor.craft.canonical import UNREADABLE, entry_json, entry_of
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.links import LinkKind
from monitor.craft.revising import says_worse
from monitor.store.chain import Chain, Content
from monitor.store.craft_rows import refusal
from monitor.store.statements import in_batches
from monitor.store.tables import layup_entries


class EntryRows:
    """The work of one yard."""

    def __init__(self, connection: Connection, yard_id: int, chain: Chain) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._chain = chain

    def bodies_of(self, craft_ids: Collection[str] | None = None) -> dict[str, list[str]]:
        """Bodies of every entry of these craft or of all, in the order of writing."""
        found: dict[str, list[str]] = {}
        of_yard = (
            select(layup_entries.c.craft_id, layup_entries.c.body)
            .where(layup_entries.c.yard_id == self._yard_id)
            .order_by(layup_entries.c.craft_id, layup_entries.c.number)
        )
        if craft_ids is None:
            statements = [of_yard]
        else:
            batches = in_batches(sorted(craft_ids))
            statements = [of_yard.where(layup_entries.c.craft_id.in_(some)) for some in batches]
        for statement in statements:
            for row in self._connection.execute(statement):
                found.setdefault(row.craft_id, []).append(row.body)
        return found

    def append_entries(self, new: Iterable[LayupEntry], written_at: datetime) -> int:
        """Chain entries behind those on record; one that is there already adds nothing.

        Returns
        -------
        int
            How many were new.

        Raises
        ------
        RecordError
            If an entry of that id says something else or cannot be read; or if the same act at the
            same moment is on record already in other words, and the new ones say no worse of it: a
            file was edited, and the old words would count on. A doubt always goes in.
        """
        entries = list(new)
        known = {
            craft: _by_id(bodies)
            for craft, bodies in self.bodies_of({entry.craft for entry in entries}).items()
        }
        on_record = {craft: _deeds(of_one) for craft, of_one in known.items()}
        in_rows = self._ids_in_rows(set(known))
        given = {(entry.craft, entry.id) for entry in entries}
        replaced = {(entry.craft, entry.replaces) for entry in entries}
        fresh: list[LayupEntry] = []
        for entry in entries:
            said, of_one = entry_json(entry), known.setdefault(entry.craft, {})
            if entry.id in of_one:
                _refuse_edited(entry, said, of_one[entry.id])
                continue
            if (entry.craft, entry.id) in in_rows:
                raise refusal(
                    entry.craft,
                    f"entry {entry.id}",
                    "it is on record already and cannot be read there",
                    "`laidup verify` says what became of it. Enter what is true as a further entry"
                    f" with replaces = {entry.id!r}.",
                )
            twin = on_record.get(entry.craft, {}).get(_deed(said))
            if twin and (entry.craft, twin) not in given | replaced:
                _refuse_twin(entry, twin, of_one[twin])
            of_one[entry.id] = said
            fresh.append(entry)
        links = self._chain.append_links(
            [Content(craft=one.craft, kind=LinkKind.ENTRY, said=entry_json(one)) for one in fresh],
            written_at,
        )
        rows = [
            {
                "yard_id": self._yard_id,
                "craft_id": entry.craft,
                "number": link.number,
                "entry_id": entry.id,
                "at_ms": to_ms(entry.at),
                "body": link.body,
                "hash": link.hash,
            }
            for entry, link in zip(fresh, links, strict=True)
        ]
        if rows:
            self._connection.execute(insert(layup_entries), rows)
        return len(rows)

    def _ids_in_rows(self, craft_ids: Collection[str]) -> set[tuple[str, str]]:
        """Craft and id of every entry of these craft by their own columns, readable or not."""
        found: set[tuple[str, str]] = set()
        for some in in_batches(sorted(craft_ids)):
            rows = self._connection.execute(
                select(layup_entries.c.craft_id, layup_entries.c.entry_id).where(
                    layup_entries.c.yard_id == self._yard_id,
                    layup_entries.c.craft_id.in_(some),
                )
            )
            found.update((row.craft_id, row.entry_id) for row in rows)
        return found


def _refuse_edited(entry: LayupEntry, said: dict[str, Any], before: dict[str, Any]) -> None:
    """Refuse an entry that says something else than it does on record."""
    if before != _as_hour_kept(said, before):
        raise refusal(
            entry.craft,
            f"entry {entry.id}",
            "it is on record already and says something else",
            "Nothing is edited: write a new entry that replaces it.",
        )


def _refuse_twin(entry: LayupEntry, twin: str, on_record: dict[str, Any]) -> None:
    """Refuse an act that is on record in other words, unless the new ones say worse of it."""
    if not says_worse(entry, entry_of(on_record)):
        raise refusal(
            entry.craft,
            f"{entry.act} at {entry.at.isoformat()}",
            f"it is on record already in other words, as entry {twin}",
            "Nothing is edited: put the old words back, and write a further entry with"
            f" replaces = {twin!r}.",
        )


def _by_id(bodies: Iterable[str]) -> dict[str, dict[str, Any]]:
    """What the entries of one craft say; one that cannot be read is left out."""
    found = {}
    for body in bodies:
        try:
            said = json.loads(body)["entry"]
            found[entry_of(said).id] = said
        except UNREADABLE:
            continue
    return found


def _deeds(entries: Mapping[str, Mapping[str, Any]]) -> dict[tuple[str, ...], str]:
    """Entry by what was done when to which circuits, without those that were replaced."""
    gone = {entry.get("replaces") for entry in entries.values()}
    return {_deed(one): key for key, one in entries.items() if key not in gone}


def _as_hour_kept(said: dict[str, Any], before: Mapping[str, Any]) -> dict[str, Any]:
    """What is told again, of the hour no more than the record has: it was not always kept."""
    told = {key: value for key, value in said.items() if key != "day_began"}
    return told | ({"day_began": before["day_began"]} if "day_began" in before else {})


def _deed(entry: Mapping[str, Any]) -> tuple[str, ...]:
    # Several may be withdrawn at one time, each by an entry of its own.
    gone = (str(entry.get("replaces")),) if entry["act"] == Act.WITHDRAWN else ()
    return (entry["at"], entry["act"], *gone, *entry.get("circuits", ()))
