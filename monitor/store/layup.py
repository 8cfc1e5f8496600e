"""Craft, where they stood, and their lay-up record, which only ever grows."""

import json
import re
from collections.abc import Iterable, Mapping
from datetime import datetime

from sqlalchemy import Connection, Row, delete, func, insert, select

from monitor.clock import from_ms, to_ms
from monitor.craft.account import Iced
from monitor.craft.chain import FIRST, Link, entry_json, entry_of, link
from monitor.craft.kept import Craft, MeasuredLag, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile, composed
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, RecordError
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

    def put_craft(self, one: Craft) -> None:
        """Enter a craft, or put what is known of it now in place of what was.

        Raises
        ------
        RecordError
            If another craft has its hull number.
        """
        if one.hull_number:
            other = self._connection.execute(
                select(craft.c.craft_id, craft.c.name).where(
                    craft.c.yard_id == self._yard_id,
                    craft.c.hull_number == one.hull_number,
                    craft.c.craft_id != one.id,
                )
            ).first()
            if other is not None:
                raise _refusal(
                    one.id,
                    "hull_number",
                    f"{one.name} has {one.hull_number!r}, which is {other.name}'s"
                    f" ({other.craft_id})",
                    "Each craft has its own; read it off the transom again.",
                )
        self._connection.execute(
            delete(craft).where(craft.c.yard_id == self._yard_id, craft.c.craft_id == one.id)
        )
        self._connection.execute(insert(craft).values(self._row(one)))

    def stays(self, craft_id: str) -> tuple[Stay, ...]:
        """Where a craft stood, in order."""
        return self._all_stays(stays.c.craft_id == craft_id).get(craft_id, ())

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
        added = 0
        for stay in new:
            since = to_ms(stay.since)
            known = {to_ms(one.since): one for one in self.stays(stay.craft)}.get(since)
            if known is None:
                self._connection.execute(
                    insert(stays).values(
                        yard_id=self._yard_id,
                        craft_id=stay.craft,
                        since_ms=since,
                        space=stay.space,
                        berth=stay.berth,
                        by=stay.by,
                    )
                )
                added += 1
            elif (known.space, known.berth) != (stay.space, stay.berth):
                raise _refusal(
                    stay.craft,
                    "stays",
                    f"from {stay.since.isoformat()} on it stands in {known.space}/{known.berth}"
                    f" already, not in {stay.space}/{stay.berth}",
                    "History stays: enter a later move.",
                )
        return added

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
            If an entry of that id says something else.
        """
        added = 0
        for entry in new:
            known = self._connection.scalar(
                select(layup_entries.c.body).where(
                    layup_entries.c.yard_id == self._yard_id,
                    layup_entries.c.craft_id == entry.craft,
                    layup_entries.c.entry_id == entry.id,
                )
            )
            if known is not None:
                if json.loads(known)["entry"] != json.loads(json.dumps(entry_json(entry))):
                    raise _refusal(
                        entry.craft,
                        f"entry {entry.id}",
                        "it is on record already and says something else",
                        "Nothing is edited: write a new entry that replaces it.",
                    )
                continue
            last = self._connection.execute(
                select(layup_entries.c.number, layup_entries.c.hash)
                .where(
                    layup_entries.c.yard_id == self._yard_id,
                    layup_entries.c.craft_id == entry.craft,
                )
                .order_by(layup_entries.c.number.desc())
                .limit(1)
            ).first()
            number, before = (0, FIRST) if last is None else (last.number + 1, last.hash)
            one = link(entry, number, written_at, before)
            self._connection.execute(
                insert(layup_entries).values(
                    yard_id=self._yard_id,
                    craft_id=entry.craft,
                    number=one.number,
                    entry_id=entry.id,
                    at_ms=to_ms(entry.at),
                    body=one.body,
                    hash=one.hash,
                )
            )
            added += 1
        return added

    def iced(self) -> dict[str, tuple[Iced, ...]]:
        """When each craft's circuits were judged to hold ice, from the changes of standing."""
        rows = self._connection.execute(
            select(standing_changes.c.craft, standing_changes.c.part, standing_changes.c.at_ms)
            .where(
                standing_changes.c.yard_id == self._yard_id,
                standing_changes.c.hazard == Hazard.FROST,
                standing_changes.c.standing.in_([Standing.ICING, Standing.SOLID]),
                standing_changes.c.craft != "",
            )
            .order_by(standing_changes.c.at_ms)
        )
        found: dict[str, list[Iced]] = {}
        for row in rows:
            found.setdefault(row.craft, []).append(Iced(circuit=row.part, at=from_ms(row.at_ms)))
        return {key: tuple(times) for key, times in found.items()}

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
            iced=self.iced().get(craft_id, ()),
        )

    def records(self, profiles: Mapping[str, Profile]) -> list[CraftRecord]:
        """All that is on record about every craft, by id; four queries whatever their number.

        Raises
        ------
        RecordError
            If a craft's profile is not in the library any more.
        """
        entries, places = self.all_entries(), self._all_stays(stays.c.yard_id == self._yard_id)
        iced = self.iced()
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
        """Grows whenever craft, moves or entries are added: tells when to add up anew."""
        counts = [
            self._connection.scalar(
                select(func.count()).select_from(table).where(table.c.yard_id == self._yard_id)
            )
            for table in (craft, stays, layup_entries)
        ]
        return (int(counts[0] or 0), int(counts[1] or 0), int(counts[2] or 0))

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
