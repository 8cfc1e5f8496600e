"""Craft, where they stood, and their lay-up record, which only ever grows."""

import json
from collections.abc import Collection, Hashable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Row, select

from monitor.clock import from_ms
from monitor.craft.breaks import Break
from monitor.craft.canonical import UNREADABLE, entry_of
from monitor.craft.chain_check import open_breaks_of
from monitor.craft.circuit_events import Iced
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.links import Link, craft_versions
from monitor.craft.profile import Profile
from monitor.craft.reading import read_record
from monitor.craft.record import CraftRecord
from monitor.store.chain import Chain
from monitor.store.craft_forms import craft_of
from monitor.store.craft_rows import CraftRows, natural_order
from monitor.store.entry_rows import EntryRows
from monitor.store.photos import Photos
from monitor.store.record_breaks import RecordBreaks, words_of_breaks
from monitor.store.statements import in_batches
from monitor.store.stay_rows import StayRows
from monitor.store.tables import standing_changes
from monitor.yard.standing import Hazard, Standing


class Layup:
    """The craft of one yard and all work on record."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self.chain = Chain(connection, yard_id)
        self.breaks = RecordBreaks(connection, yard_id, self.chain)
        self.photos = Photos(connection, yard_id)
        self._craft = CraftRows(connection, yard_id, self.chain)
        self._stays = StayRows(connection, yard_id, self.chain)
        self._entries = EntryRows(connection, yard_id, self.chain)

    def craft_by_id(self, craft_id: str) -> Craft | None:
        """One craft by id, here or gone; None too if its row cannot be read."""
        return next(iter(self._readable(self._craft.rows([craft_id]))), None)

    def craft_versions(self, craft_id: str) -> list[tuple[Craft, str]]:
        """What was known of a craft, in the order of writing, and whose word each is."""
        return [(one.craft, one.by) for one in craft_versions(self.links_of(craft_id))]

    def all_craft(self, ids: Collection[str] | None = None) -> list[Craft]:
        """Every craft that the yard ever had in its care, by id; without rows that hold none.

        With ``ids`` only those of them.
        """
        return self._readable(self._craft.rows(ids))

    def has_all(self, ids: Collection[str]) -> bool:
        """Whether each of these is a craft's id."""
        return {row.craft_id for row in self._craft.rows(ids)} >= set(ids)

    def craft_names(self) -> dict[str, str]:
        """Name of every craft by its id, without the rest of its row; none that is no text."""
        return {key: name for key, name in self._craft.ids_and_names() if isinstance(name, str)}

    def put_craft(self, new: Iterable[Craft], written_at: datetime, by: str = "") -> None:
        """Enter craft, or put what is known of them now in place of what was.

        Raises
        ------
        RecordError
            If another craft has the hull number of one of them.
        """
        several = list(new)
        self._craft.put(several, written_at, by)
        self.breaks.check_again({one.id for one in several}, written_at)

    def stays_of(self, craft_id: str) -> tuple[Stay, ...]:
        """Where a craft stood, in order."""
        return self._stays.stays_of(craft_id)

    def all_stays(self, ids: Collection[str] | None = None) -> dict[str, tuple[Stay, ...]]:
        """Where every craft stood, in order; with ``ids`` only these."""
        return self._stays.read_stays(ids).places

    def add_stays(self, new: Iterable[Stay], written_at: datetime) -> int:
        """Enter moves and tell how many were new; one that is on record already adds nothing.

        Raises
        ------
        RecordError
            If the craft is on record as standing elsewhere from that very moment on.
        """
        several = list(new)
        added = self._stays.add(several, written_at)
        self.breaks.check_again({one.craft for one in several}, written_at)
        return added

    def entries_of(self, craft_id: str) -> tuple[LayupEntry, ...]:
        """Every readable entry of a craft in the order of writing, replaced ones among them."""
        return _readable_entries(self._entries.bodies_of([craft_id]).get(craft_id, ()))

    def all_entries(self, ids: Collection[str] | None = None) -> dict[str, tuple[LayupEntry, ...]]:
        """Every readable entry of every craft; with ``ids`` only of these."""
        return {key: _readable_entries(said) for key, said in self._entries.bodies_of(ids).items()}

    def links_of(self, craft_id: str) -> list[Link]:
        """A craft's chain, in order, as it was written."""
        return self.chain.chain_of(craft_id)

    def links_of_each(self, craft_ids: Collection[str]) -> dict[str, list[Link]]:
        """The chain of each of these craft, in order, as it was written."""
        return self.chain.chains_of(craft_ids)

    def append_entries(self, new: Iterable[LayupEntry], written_at: datetime) -> int:
        """Chain entries and tell how many were new; one that is on record adds nothing.

        Raises
        ------
        RecordError
            If what is on record already says something else.
        """
        several = list(new)
        added = self._entries.append_entries(several, written_at)
        self.photos.put_on_record({name for one in several for name in one.evidence.photo_sha256})
        self.breaks.check_again({one.craft for one in several}, written_at)
        return added

    def confirm_breaks(self, craft_id: str, by: str, at: datetime) -> tuple[Break, ...]:
        """Enter that a person compared a broken record with the paper.

        Returns
        -------
        tuple of Break
            What stays open: entries that another entry must replace.
        """
        chain = self.chain.stored_rows([craft_id])[craft_id]
        confirmed = [one for one in open_breaks_of(chain) if not one.entry_stands]
        if confirmed:
            self.chain.mark_compared(craft_id, confirmed, by, at)
        left = open_breaks_of(self.chain.stored_rows([craft_id])[craft_id])
        self.breaks.put([craft_id], words_of_breaks({craft_id: left}), at)
        return left

    def record_of(self, craft_id: str, profiles: Mapping[str, Profile]) -> CraftRecord | None:
        """All that is on record about one craft, its chain checked now; None if there is none."""
        return self.records_of([craft_id], profiles).get(craft_id)

    def records_of(
        self, craft_ids: Collection[str], profiles: Mapping[str, Profile]
    ) -> dict[str, CraftRecord]:
        """All that is on record about some craft by id, their chains checked now; see `record_of`.

        Craft of which there is none are left out. As many queries for a thousand as for a few.
        """
        asked = sorted(set(craft_ids))
        rows = {row.craft_id: row for row in self._craft.rows(asked)}
        stays = self._stays.read_stays(asked)
        said = self._entries.bodies_of(asked)
        broken = self.breaks.check_chains(asked)
        iced: dict[str, tuple[Iced, ...]] = {}
        for some in in_batches(asked):
            iced.update(self._all_iced(standing_changes.c.craft.in_(some)))
        found = {}
        for key, row in rows.items():
            craft, trouble = _craft_in(row)
            found[key] = read_record(
                craft,
                tuple(said.get(key, ())),
                stays.stays_of(key),
                iced.get(key, ()),
                profiles,
                _all_of(key, broken, stays.troubles, trouble),
            )
        return found

    def all_records(
        self,
        profiles: Mapping[str, Profile],
        *,
        check_chains: bool = False,
        found_whole: bool = False,
    ) -> list[CraftRecord]:
        """All that is on record about every craft, by id; five queries whatever their number.

        Parameters
        ----------
        profiles : mapping of str to Profile
            The library.
        check_chains : bool, optional
            Hold every chain against its links now, a millisecond a craft. Without it counts what
            the daily check found, as in the daemon's rounds.
        found_whole : bool, optional
            Whether this transaction has checked every chain already and found each to hold
            (`Verified.every_chain_holds`): none is checked again, and no break counts that an
            earlier check found.

        Returns
        -------
        list of CraftRecord
            A craft whose record cannot be read, or is not what was written, is among them and
            says so: none of its entries counts. So is one whose row is gone, by its chain.
        """
        crafts, unreadable = self._all_in_rows()
        said, stays = self._entries.bodies_of(), self._stays.read_stays()
        iced = self._all_iced(standing_changes.c.craft != "")
        broken: dict[str, str] = {}
        if check_chains and not found_whole:
            broken = self.breaks.check_chains(self.chain.craft_ids())
        elif not found_whole:
            broken = self.breaks.break_words()
        without_row = self.chain.last_versions(broken.keys() - crafts.keys())
        return [
            read_record(
                one,
                tuple(said.get(key, ())),
                stays.stays_of(key),
                iced.get(key, ()),
                profiles,
                _all_of(key, broken, stays.troubles, unreadable),
            )
            for key, one in sorted({**crafts, **without_row}.items(), key=_in_order_of_id)
        ]

    def revision_mark(self) -> Hashable:
        """Another one whenever craft, moves or entries are, or a check finds them broken."""
        return self.chain.count_links(), frozenset(self.breaks.break_words().items())

    def _all_in_rows(self) -> tuple[dict[str, Craft], dict[str, str]]:
        """Every craft by id, and of those whose row cannot be read why."""
        crafts: dict[str, Craft] = {}
        unreadable: dict[str, str] = {}
        for row in self._craft.rows():
            crafts[row.craft_id], trouble = _craft_in(row)
            unreadable.update(trouble)
        return crafts, unreadable

    def _readable(self, rows: Iterable[Row[tuple[object, ...]]]) -> list[Craft]:
        found = []
        for row in rows:
            try:
                found.append(craft_of(row))
            except (ValueError, TypeError, OverflowError):
                continue
        return found

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


def _craft_in(row: Row[Any]) -> tuple[Craft, dict[str, str]]:
    """The craft of a row; where that holds none, what is sure of it, and why, by its id."""
    try:
        return craft_of(row), {}
    except (ValueError, TypeError, OverflowError) as error:
        # Of what the row says only id and name are sure; the craft counts as here.
        craft = Craft(
            id=row.craft_id,
            name=str(row.name),
            profile=str(row.profile),
            arrived_at=datetime(1970, 1, 1, tzinfo=UTC),
        )
        return craft, {craft.id: f"its row in the table of craft cannot be read ({error})"}


def _in_order_of_id(one: tuple[str, Craft]) -> list[tuple[str, int]]:
    return natural_order(one[0])


def _all_of(craft_id: str, *troubles: Mapping[str, str]) -> list[str]:
    """All that is wrong with one craft's rows, in words."""
    return [of_craft[craft_id] for of_craft in troubles if craft_id in of_craft]


def _readable_entries(bodies: Iterable[str]) -> tuple[LayupEntry, ...]:
    """Entries of these bodies; `read_record` tells of one that cannot be read."""
    found = []
    for body in bodies:
        try:
            found.append(entry_of(json.loads(body)["entry"]))
        except UNREADABLE:
            continue
    return tuple(found)
