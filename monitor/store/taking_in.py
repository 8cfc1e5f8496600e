"""Craft go into the record as their files give them, whole or not at all."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.admission import faults_by_itself
from monitor.craft.breaks import Break
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.craft.revising import (
    CRAFT_FILES,
    CraftChange,
    craft_as_filed,
    craft_brought_back,
    craft_changes,
    file_against_people,
    lost_circuits,
)
from monitor.errors import Fault, RecordError
from monitor.store.craft_forms import as_stored_craft, as_stored_stay
from monitor.store.layup import Layup
from monitor.yard.named_work import entries_by_id

NOBODY: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What an import brought, and how much of it was new."""

    craft: int
    new_craft: int
    stays: int
    new_stays: int
    entries: int
    new_entries: int
    changes: tuple[CraftChange, ...] = ()  # of craft that were on record
    refused: tuple[RecordError, ...] = ()  # craft of which nothing was taken in
    marked: tuple[Break, ...] = ()  # breaks of the record behind which something was written
    position: int = 0  # of the next link behind all of it

    @property
    def refused_craft(self) -> dict[str, str]:
        """Why a craft was not taken in, in words, by its id."""
        found: dict[str, list[str]] = {}
        for error in self.refused:
            for fault in error.faults:
                found.setdefault(fault.craft, []).append(str(fault))
        return {key: " ".join(told) for key, told in found.items()}


def take_in(
    layup: Layup,
    records: Iterable[CraftRecord],
    profiles: Mapping[str, Profile],
    now: datetime,
    by: str = "",
    names: Mapping[str, str] = NOBODY,
) -> TakenIn:
    """Enter whole craft; what is on record already adds nothing.

    Call it inside one transaction: the first refusal undoes all of it.

    Parameters
    ----------
    layup : Layup
    records : iterable of CraftRecord
        As files give them; what a file leaves out of a craft stays as it was.
    profiles : mapping of str to Profile
        The library.
    now : datetime
        Time of writing.
    by : str
        Whose doing a change of a craft is.
    names : mapping of str to str, optional
        People of the yard by id: new work that names them otherwise is entered under the id.

    Raises
    ------
    RecordError
        If something contradicts what is on record or itself, or a change of type or fittings would
        take work on record its circuit.
    """
    of_craft = layup.all_entries()
    records = [_as_kept(one, of_craft, names) for one in records]
    known = {one.id: one for one in layup.all_craft()}
    before = dict(known)
    crafts = []
    turns: list[LayupEntry] = []
    changes: list[CraftChange] = []
    wrong: list[Fault] = []
    for record in records:
        was = known.get(record.craft.id)
        becomes = craft_as_filed(record, was)
        on_record = of_craft.get(becomes.id, ())
        if by == CRAFT_FILES:
            becomes, differing = _craft_by_own_file(layup, record, was)
            wrong.extend(differing)
        if was is not None and was != becomes:
            moves = [one.since for one in layup.stays_of(becomes.id)]
            becomes, away = craft_brought_back(becomes, was, on_record, moves, now)
            turns.extend(away)
            work = (*on_record, *record.entries)
            wrong.extend(lost_circuits(was, becomes, work, profiles, "craft"))
            changes.extend(craft_changes(was, becomes))
        known[becomes.id] = becomes
        crafts.append(becomes)
        wrong.extend(_new_faults(record, on_record))
    if wrong:
        raise RecordError(wrong)
    layup.put_craft(crafts, now, by)
    return TakenIn(
        craft=len(records),
        new_craft=sum(record.craft.id not in before for record in records),
        stays=sum(len(record.stays) for record in records),
        new_stays=layup.add_stays((stay for record in records for stay in record.stays), now),
        entries=sum(len(record.entries) for record in records),
        new_entries=layup.append_entries(
            (*turns, *(entry for record in records for entry in record.entries)), now
        ),
        changes=tuple(changes),
        marked=tuple(layup.chain.marked),
        position=layup.chain.next_position(),
    )


def _craft_by_own_file(
    layup: Layup, record: CraftRecord, was: Craft | None
) -> tuple[Craft, list[Fault]]:
    """A craft as the yard's own file leaves it, and why the file is refused where it is."""
    becomes = craft_as_filed(record, was)
    if was is None or was == becomes:
        return becomes, []
    return file_against_people(record, was, becomes, layup.craft_versions(was.id))


def _as_kept(
    record: CraftRecord, of_craft: Mapping[str, Sequence[LayupEntry]], names: Mapping[str, str]
) -> CraftRecord:
    """What a file says in the form that is kept: people by id, times as they read back."""
    on_record = of_craft.get(record.craft.id, ())
    return replace(
        record,
        craft=as_stored_craft(record.craft),
        stays=tuple(map(as_stored_stay, record.stays)),
        entries=entries_by_id(record.entries, on_record, names),
    )


def _new_faults(record: CraftRecord, on_record: Sequence[LayupEntry]) -> Iterator[Fault]:
    """What new work of a file contradicts itself in; what is on record already stays as it is."""
    ids = {one.id for one in on_record}
    for n, entry in enumerate(record.entries, start=1):
        if entry.id not in ids:
            key = f"{record.craft.id}.layup[{n}]"
            for fault in faults_by_itself(entry, CRAFT_FILES, key):
                yield replace(fault, craft=record.craft.id, entry=entry.id)


def not_taken_in(
    layup: Layup,
    records: Iterable[CraftRecord],
    now: datetime,
    names: Mapping[str, str] = NOBODY,
) -> list[Craft]:
    """Craft of which the files say what the record does not; nothing is written.

    What contradicts the record counts too: it would be refused, and is not on it either.
    """
    records = list(records)
    ids = {one.craft.id for one in records}
    known = {one.id: one for one in layup.all_craft(ids)}
    entries, stays = layup.all_entries(ids), layup.all_stays(ids)
    return [
        record.craft
        for record in (_as_kept(one, entries, names) for one in records)
        if _says_more_than(
            record,
            layup,
            known.get(record.craft.id),
            entries.get(record.craft.id, ()),
            stays.get(record.craft.id, ()),
            now,
        )
    ]


def _says_more_than(
    record: CraftRecord,
    layup: Layup,
    was: Craft | None,
    work: Sequence[LayupEntry],
    stays: Sequence[Stay],
    now: datetime,
) -> bool:
    """Whether a craft's file says what is not on record of it: its own row, a move or work."""
    becomes, refused = _craft_by_own_file(layup, record, was)
    if was is None or refused:
        return True
    entered = {one.id for one in work}
    if was != becomes:
        moves = [one.since for one in stays]
        becomes, turns = craft_brought_back(becomes, was, work, moves, now)
        if becomes != was or not {one.id for one in turns} <= entered:
            return True
    moved = {(one.since, one.space, one.berth) for one in stays}
    return (
        not {(one.since, one.space, one.berth) for one in record.stays} <= moved
        or not {one.id for one in record.entries} <= entered
    )
