"""Craft, where they stood, and their lay-up record, which only ever grows."""

import json
import re
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any
from zlib import crc32

from sqlalchemy import Connection, Row, delete, func, insert, select

from monitor.clock import from_ms, to_ms
from monitor.craft.account import Iced
from monitor.craft.canonical import entry_json, entry_of
from monitor.craft.chain import FIRST, Link, link
from monitor.craft.kept import Craft, MeasuredLag, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile, composed
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, RecordError
from monitor.store.batches import in_batches
from monitor.store.tables import craft, layup_entries, standing_changes, stays
from monitor.yard.assessment import Hazard, Standing


class Layup:
    """The craft of one yard and all work on record."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def craft(self, craft_id: str) -> Craft | None:
        """One craft by id, here or gone."""
        found = self._craft(craft.c.craft_id == craft_id)
        return found[0] if found else None

    def all_craft(self) -> list[Craft]:
        """Every craft that the yard ever had in its care, by id: k2 before k10."""
        found = self._craft(craft.c.yard_id == self._yard_id)
        return sorted(found, key=lambda one: _natural(one.id))

    def put_craft(self, new: Iterable[Craft]) -> None:
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
        for one in new:
            row = self._row(one)
            other = with_hull.get(row["hull_number"])
            if other is not None and other["craft_id"] != one.id:
                raise _refusal(
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
        for some in in_batches(list(changed)):
            self._connection.execute(
                delete(craft).where(craft.c.yard_id == self._yard_id, craft.c.craft_id.in_(some))
            )
        if changed:
            self._connection.execute(insert(craft), list(changed.values()))

    def stays(self, craft_id: str) -> tuple[Stay, ...]:
        """Where a craft stood, in order."""
        return self._all_stays(stays.c.craft_id == craft_id).get(craft_id, ())

    def all_stays(self) -> dict[str, tuple[Stay, ...]]:
        """Where every craft stood, in order."""
        return self._all_stays(stays.c.yard_id == self._yard_id)

    def add_stays(self, new: Iterable[Stay]) -> int:
        """Enter moves; one that is on record already adds nothing.

        Returns
        -------
        int
            How many were new.

        Raises
        ------
        RecordError
            If the craft is on record as standing elsewhere from that very moment on.
        """
        moves = list(new)
        places: dict[tuple[str, int], Stay] = {}
        for some in in_batches(sorted({stay.craft for stay in moves})):
            for of_one in self._all_stays(stays.c.craft_id.in_(some)).values():
                places.update(((stay.craft, to_ms(stay.since)), stay) for stay in of_one)
        rows: list[dict[str, object]] = []
        for stay in moves:
            since_ms = to_ms(stay.since)
            known = places.get((stay.craft, since_ms))
            if known is None:
                places[stay.craft, since_ms] = stay
                rows.append(
                    {
                        "yard_id": self._yard_id,
                        "craft_id": stay.craft,
                        "since_ms": since_ms,
                        "space": stay.space,
                        "berth": stay.berth,
                        "by": stay.by,
                    }
                )
            elif (known.space, known.berth) != (stay.space, stay.berth):
                raise _refusal(
                    stay.craft,
                    "stays",
                    f"from {stay.since.isoformat()} on it stands in {known.space}/{known.berth}"
                    f" already, not in {stay.space}/{stay.berth}",
                    "History stays: enter a later move.",
                )
        if rows:
            self._connection.execute(insert(stays), rows)
        return len(rows)

    def entries(self, craft_id: str) -> tuple[LayupEntry, ...]:
        """Every entry of a craft in the order of writing, replaced ones among them."""
        return self._all_entries(layup_entries.c.craft_id == craft_id).get(craft_id, ())

    def all_entries(self) -> dict[str, tuple[LayupEntry, ...]]:
        """Every entry of every craft."""
        return self._all_entries(layup_entries.c.yard_id == self._yard_id)

    def links(self, craft_id: str) -> list[Link]:
        """A craft's chain, in order, as it was written."""
        rows = self._connection.execute(
            select(layup_entries)
            .where(layup_entries.c.yard_id == self._yard_id, layup_entries.c.craft_id == craft_id)
            .order_by(layup_entries.c.number)
        )
        return [Link(number=row.number, body=row.body, hash=row.hash) for row in rows]

    def append(self, new: Iterable[LayupEntry], written_at: datetime) -> int:
        """Chain entries behind those on record; one that is there already adds nothing.

        Returns
        -------
        int
            How many were new.

        Raises
        ------
        RecordError
            If an entry of that id says something else; or if the same act at the same moment is on
            record already in other words: a file was edited, and the old words would count on.
        """
        entries = list(new)
        chains = self._chains({entry.craft for entry in entries})
        on_record = {craft: chain.deeds() for craft, chain in chains.items()}
        given = {(entry.craft, entry.id) for entry in entries}
        replaced = {(entry.craft, entry.replaces) for entry in entries}
        rows: list[dict[str, object]] = []
        for entry in entries:
            chain = chains.setdefault(entry.craft, _Chain())
            known = chain.bodies.get(entry.id)
            if known is not None:
                if json.loads(known)["entry"] != entry_json(entry):
                    raise _refusal(
                        entry.craft,
                        f"entry {entry.id}",
                        "it is on record already and says something else",
                        "Nothing is edited: write a new entry that replaces it.",
                    )
                continue
            twin = on_record.get(entry.craft, {}).get(_deed(entry_json(entry)))
            if twin and not {(entry.craft, twin)} & (given | replaced):
                raise _refusal(
                    entry.craft,
                    f"{entry.act} at {entry.at.isoformat()}",
                    f"it is on record already in other words, as entry {twin}",
                    "Nothing is edited: put the old words back, and write a further entry with"
                    f" replaces = {twin!r}.",
                )
            one = link(entry, chain.next_number, written_at, chain.end)
            chain.grow(entry.id, one)
            rows.append(
                {
                    "yard_id": self._yard_id,
                    "craft_id": entry.craft,
                    "number": one.number,
                    "entry_id": entry.id,
                    "at_ms": to_ms(entry.at),
                    "body": one.body,
                    "hash": one.hash,
                }
            )
        if rows:
            self._connection.execute(insert(layup_entries), rows)
        return len(rows)

    def _chains(self, craft_ids: Collection[str]) -> dict[str, "_Chain"]:
        found: dict[str, _Chain] = {}
        for some in in_batches(sorted(craft_ids)):
            rows = self._connection.execute(
                select(layup_entries)
                .where(layup_entries.c.yard_id == self._yard_id, layup_entries.c.craft_id.in_(some))
                .order_by(layup_entries.c.craft_id, layup_entries.c.number)
            )
            for row in rows:
                found.setdefault(row.craft_id, _Chain()).grow(
                    row.entry_id, Link(number=row.number, body=row.body, hash=row.hash)
                )
        return found

    def record(self, craft_id: str, profiles: Mapping[str, Profile]) -> CraftRecord | None:
        """All that is on record about one craft.

        Raises
        ------
        RecordError
            If its profile is not in the library any more.
        """
        one = self.craft(craft_id)
        if one is None:
            return None
        return CraftRecord(
            craft=one,
            profile=_type(one, profiles),
            entries=self.entries(craft_id),
            stays=self.stays(craft_id),
            iced=self._all_iced(standing_changes.c.craft == craft_id).get(craft_id, ()),
        )

    def records(self, profiles: Mapping[str, Profile]) -> list[CraftRecord]:
        """All that is on record about every craft, by id; four queries whatever their number.

        Raises
        ------
        RecordError
            If a craft's profile is not in the library any more.
        """
        entries, places = self.all_entries(), self.all_stays()
        iced = self._all_iced(standing_changes.c.craft != "")
        return [
            CraftRecord(
                craft=one,
                profile=_type(one, profiles),
                entries=entries.get(one.id, ()),
                stays=places.get(one.id, ()),
                iced=iced.get(one.id, ()),
            )
            for one in self.all_craft()
        ]

    def revision(self) -> tuple[int, int, int]:
        """Another one whenever craft, moves or entries are: tells when to add up anew.

        Moves and entries only ever grow. What is known of a craft is put in place of what was, so
        its rows themselves are summed up.
        """
        rows = self._connection.execute(
            select(craft).where(craft.c.yard_id == self._yard_id).order_by(craft.c.craft_id)
        )
        counts = [
            self._connection.scalar(
                select(func.count()).select_from(table).where(table.c.yard_id == self._yard_id)
            )
            for table in (stays, layup_entries)
        ]
        return (crc32(repr(rows.all()).encode()), int(counts[0] or 0), int(counts[1] or 0))

    def _craft(self, condition: object) -> list[Craft]:
        rows = self._connection.execute(
            select(craft)
            .where(craft.c.yard_id == self._yard_id, condition)  # type: ignore[arg-type]
            .order_by(craft.c.craft_id)
        )
        return [_craft_of(row) for row in rows]

    def _all_stays(self, condition: object) -> dict[str, tuple[Stay, ...]]:
        rows = self._connection.execute(
            select(stays)
            .where(stays.c.yard_id == self._yard_id, condition)  # type: ignore[arg-type]
            .order_by(stays.c.craft_id, stays.c.since_ms)
        )
        found: dict[str, list[Stay]] = {}
        for row in rows:
            found.setdefault(row.craft_id, []).append(
                Stay(
                    craft=row.craft_id,
                    since=from_ms(row.since_ms),
                    space=row.space,
                    berth=row.berth,
                    by=row.by,
                )
            )
        return {key: tuple(places) for key, places in found.items()}

    def _all_entries(self, condition: object) -> dict[str, tuple[LayupEntry, ...]]:
        rows = self._connection.execute(
            select(layup_entries.c.craft_id, layup_entries.c.body)
            .where(layup_entries.c.yard_id == self._yard_id, condition)  # type: ignore[arg-type]
            .order_by(layup_entries.c.craft_id, layup_entries.c.number)
        )
        found: dict[str, list[LayupEntry]] = {}
        for row in rows:
            found.setdefault(row.craft_id, []).append(entry_of(json.loads(row.body)["entry"]))
        return {key: tuple(entries) for key, entries in found.items()}

    def _all_iced(self, condition: object) -> dict[str, tuple[Iced, ...]]:
        """When circuits were judged to hold ice, from the changes of standing."""
        rows = self._connection.execute(
            select(standing_changes.c.craft, standing_changes.c.part, standing_changes.c.at_ms)
            .where(
                standing_changes.c.yard_id == self._yard_id,
                standing_changes.c.hazard == Hazard.FROST,
                standing_changes.c.standing.in_([Standing.ICING, Standing.SOLID]),
                condition,  # type: ignore[arg-type]
            )
            .order_by(standing_changes.c.at_ms)
        )
        found: dict[str, list[Iced]] = {}
        for row in rows:
            found.setdefault(row.craft, []).append(Iced(circuit=row.part, at=from_ms(row.at_ms)))
        return {key: tuple(times) for key, times in found.items()}

    def _row(self, one: Craft) -> dict[str, object]:
        return {
            "yard_id": self._yard_id,
            "craft_id": one.id,
            "name": one.name,
            "profile": one.profile,
            "fittings": json.dumps(list(one.fittings)),
            "owner": one.owner,
            "hull_number": one.hull_number or None,
            "arrived_ms": to_ms(one.arrived_at),
            "left_ms": None if one.left_at is None else to_ms(one.left_at),
            "measured": json.dumps(
                [
                    {
                        "circuit": lag.circuit,
                        "low_h": lag.low_h,
                        "high_h": lag.high_h,
                        "how": lag.how,
                    }
                    for lag in one.measured
                ]
            ),
            "note": one.note,
        }


class _Chain:
    """What is on record of one craft, and the end that the next entry is chained to."""

    def __init__(self) -> None:
        self.bodies: dict[str, str] = {}  # by entry id
        self.next_number = 0
        self.end = FIRST

    def grow(self, entry_id: str, one: Link) -> None:
        """Take in the entry that stands next in the chain."""
        self.bodies[entry_id] = one.body
        self.next_number, self.end = one.number + 1, one.hash

    def deeds(self) -> dict[tuple[str, ...], str]:
        """Entry by what was done when to which circuits, without those that were replaced."""
        entries = [json.loads(body)["entry"] for body in self.bodies.values()]
        gone = {entry.get("replaces") for entry in entries}
        return {_deed(entry): entry["id"] for entry in entries if entry["id"] not in gone}


def _deed(entry: Mapping[str, Any]) -> tuple[str, ...]:
    return (entry["at"], entry["act"], *entry.get("circuits", ()))


def _natural(text: str) -> list[tuple[str, int]]:
    return [(word, int(part or 0)) for word, part in re.findall(r"(\D*)(\d*)", text)]


def _craft_of(row: Row[tuple[object, ...]]) -> Craft:
    return Craft(
        id=row.craft_id,
        name=row.name,
        profile=row.profile,
        fittings=tuple(json.loads(row.fittings)),
        owner=row.owner,
        hull_number=row.hull_number or "",
        arrived_at=from_ms(row.arrived_ms),
        left_at=None if row.left_ms is None else from_ms(row.left_ms),
        measured=tuple(MeasuredLag(**lag) for lag in json.loads(row.measured)),
        note=row.note,
    )


def _type(one: Craft, profiles: Mapping[str, Profile]) -> Profile:
    for name in (one.profile, *one.fittings):
        if name not in profiles:
            raise _refusal(
                one.id,
                "profile",
                f"{one.name} is of {name!r}, and no profile of that name is left",
                f"Put {name}.toml back into the profiles.",
            )
    return composed(one.profile, one.fittings, profiles)


def _refusal(craft_id: str, key: str, problem: str, remedy: str) -> RecordError:
    return RecordError(
        [Fault(file="lay-up record", key=f"{craft_id}.{key}", problem=problem, remedy=remedy)]
    )
