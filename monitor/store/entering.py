"""Work goes into the record whole or not at all: the one door for files, flags, prompt and page."""

import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.act_table import CLAIMS
from monitor.craft.admission import claims_beyond_reach, faults, faults_by_itself
from monitor.craft.breaks import Break
from monitor.craft.craft_stays import Craft, Stay, intervals_in_yard
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.reading import UNKNOWN_TYPE
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
from monitor.craft.work_order import standing_entries
from monitor.errors import Fault, RecordError, StoreError
from monitor.store.craft_forms import as_stored_craft, as_stored_stay
from monitor.store.layup import Layup
from monitor.store.store import Store
from monitor.yard.named_work import entries_by_id

log = logging.getLogger("laidup.store")

NOBODY: Mapping[str, str] = {}
# Without circuits these speak of every one, also of those on which something was refused.
_OF_WHOLE_CRAFT = CLAIMS | {Act.KEPT_WARM, Act.STOOD, Act.OWNER_STATEMENT, Act.REPAIRED}


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


def take_in_each(
    store: Store,
    records: Sequence[CraftRecord],
    profiles: Mapping[str, Profile],
    now: datetime,
    by: str = "",
    names: Mapping[str, str] = NOBODY,
) -> TakenIn:
    """Enter whole craft; where one is refused, the others are taken in without it.

    Where new work contradicts itself, the work of that craft on other circuits is taken in.

    Returns
    -------
    TakenIn
        Its ``refused`` says what was refused, and why.

    Raises
    ------
    RecordError
        If something is refused that no one craft is to blame for.
    """
    rest, refused = list(records), []
    while True:
        try:
            with store.transaction() as tx:
                taken = take_in(tx.layup, rest, profiles, now, by, names)
        except RecordError as error:
            refused.append(error)
            named = {fault.craft for fault in error.faults}
            kept = [one for one in rest if one.craft.id not in named]
            if len(kept) == len(rest):
                raise  # of no craft that could be left out
            left = (_without_refused_work(one, error) for one in rest if one.craft.id in named)
            rest = [*kept, *(one for one in left if one is not None)]
        else:
            return replace(taken, refused=tuple(refused))


def keep_files_taken_in(store: Store, digest: str, taken: TakenIn) -> None:
    """Keep which craft files were just taken in whole, so that who only looks need not read them.

    Parameters
    ----------
    store : Store
    digest : str
        Of the files; empty where one of them could not be used.
    taken : TakenIn
        What became of all that they say.
    """
    whole = "" if taken.refused else digest
    try:
        with store.snapshot() as tx:
            known = tx.taken_files.craft_to_read(whole) == frozenset()
            if known or not (whole or tx.taken_files.kept_digest()):
                return
        with store.transaction(can_wait=True) as tx:
            tx.taken_files.keep_digest(whole, taken.position)
    except StoreError as error:  # they are read again each time: slower, and nothing else
        log.warning("Which craft files were taken in is not kept: %s", error)


def _without_refused_work(record: CraftRecord, error: RecordError) -> CraftRecord | None:
    """Leave out refused entries and all that may depend on them; None: nothing can be left.

    What is left out may have undone what stands before it. So nothing goes in on a circuit of
    which anything is left out; a run, or other work of the craft as a whole, goes in.
    """
    refused = _entries_refused(record, error)
    if refused is None or not all(
        one.act in CLAIMS and one.circuits and not one.replaces for one in refused
    ):
        return None
    out = _ids_that_depend_on(refused, record.entries)
    fitting = tuple(one for one in record.entries if one.id not in out)
    if any(one.act in _OF_WHOLE_CRAFT and not one.circuits for one in fitting):
        return None
    return replace(record, entries=fitting)


def _entries_refused(record: CraftRecord, error: RecordError) -> list[LayupEntry] | None:
    """Work of a craft that an error refuses; None where it refuses more of it than work."""
    ids = {one.entry for one in error.faults if one.craft == record.craft.id}
    return None if "" in ids else [one for one in record.entries if one.id in ids]


def _ids_that_depend_on(refused: Iterable[LayupEntry], entries: Sequence[LayupEntry]) -> set[str]:
    """Ids of refused work, of all on the same circuits and of what replaces any of it."""
    ids = {one.id for one in refused}
    while True:
        doubtful = {name for one in entries if one.id in ids for name in one.circuits}
        more = {one.id for one in entries if doubtful & set(one.circuits) or one.replaces in ids}
        if more <= ids:
            return ids
        ids |= more


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


def enter(
    layup: Layup,
    entries: Sequence[LayupEntry],
    profiles: Mapping[str, Profile],
    now: datetime,
    source: str,
) -> int:
    """Enter work on craft that are on record.

    Parameters
    ----------
    layup : Layup
        The repository, inside one transaction.
    entries : sequence of LayupEntry
        New work; entries that are on record already add nothing.
    profiles : mapping of str to Profile
        The library.
    now : datetime
        Time of writing; work later than this is refused.
    source : str
        What errors name as the place of the slip: a file, the flags, the page.

    Returns
    -------
    int
        How many were new.

    Raises
    ------
    RecordError
        With one fault for each thing that is wrong; then nothing was written.
    """
    wrong: list[Fault] = []
    found: dict[str, CraftRecord] = {}
    known = layup.records_of({one.craft for one in entries}, profiles)
    for entry in entries:
        if entry.craft in found:
            continue
        record = known.get(entry.craft)
        if record is None:
            wrong.append(_no_craft(layup, entry.craft, source))
        elif record.profile is UNKNOWN_TYPE and entry.circuits:
            wrong.append(_no_type(record, source))
        else:
            found[entry.craft] = record
    on_record = {(one.craft.id, work.id) for one in found.values() for work in one.on_record}
    new_work: dict[str, list[LayupEntry]] = {}
    for entry in entries:
        new_work.setdefault(entry.craft, []).append(entry)
    records = {key: _with_new_work(one, new_work[key]) for key, one in found.items()}
    for number, entry in enumerate(entries, start=1):
        if entry.craft in records:
            key = f"entry {number}" if len(entries) > 1 else ""
            wrong.extend(faults(entry, records[entry.craft], source, key, now))
            if (entry.craft, entry.id) not in on_record:
                wrong.extend(claims_beyond_reach(entry, records[entry.craft], source, key))
                wrong.extend(_photos_not_kept(layup, entry, source, key))
    if wrong:
        raise RecordError(wrong)
    return layup.append_entries(entries, now)


def _photos_not_kept(layup: Layup, entry: LayupEntry, source: str, key: str) -> Iterator[Fault]:
    names = entry.evidence.photo_sha256
    for name in sorted(set(names) - layup.photos.kept_names(names)) if names else ():
        yield Fault(
            file=source,
            key=f"{key}.photo_sha256".lstrip("."),
            problem=f"no photo {name[:12]} is kept here",
            remedy="Take it in first: `laidup import photos FOLDER`, or `layup add --photo FILE`.",
            craft=entry.craft,
            entry=entry.id,
        )


def _with_new_work(record: CraftRecord, new: Sequence[LayupEntry]) -> CraftRecord:
    """A record with the new work of its craft behind the work on record."""
    ids = {one.id for one in new}
    on_record = tuple(one for one in record.on_record if one.id not in ids)
    return replace(record, entries=(*on_record, *new))


def move(layup: Layup, stay: Stay, now: datetime, source: str) -> int:
    """Enter a move of a craft that is on record; tells whether it was new (1) or not (0).

    Raises
    ------
    RecordError
        If there is no such craft, it was not here then, or the move is still to come.
    """
    craft = layup.craft_by_id(stay.craft)
    if craft is None:
        raise RecordError([_no_craft(layup, stay.craft, source)])
    entries = standing_entries(layup.entries_of(stay.craft))
    here = any(one.holds(stay.since) for one in intervals_in_yard(craft, entries))
    if not here or stay.since > now:
        when = "is still to come" if stay.since > now else f"is no time when {craft.name} was here"
        raise RecordError(
            [
                Fault(
                    file=source,
                    key="at",
                    problem=f"{stay.since.isoformat()} {when}",
                    remedy="Correct the time of the move, or enter the craft's return first.",
                )
            ]
        )
    return layup.add_stays([stay], now)


def _no_type(record: CraftRecord, source: str) -> Fault:
    return Fault(
        file=source,
        key="craft",
        problem=f"the record of {record.craft.name} ({record.craft.id}) cannot be read:"
        f" {record.unreadable}",
        remedy="Mend that first; until then nobody can tell which circuits it has.",
    )


def _no_craft(layup: Layup, craft_id: str, source: str) -> Fault:
    known = ", ".join(one.id for one in layup.all_craft())
    return Fault(
        file=source,
        key="craft",
        problem=f"no craft {craft_id!r} is on record",
        remedy=f"On record: {known}." if known else "Bring craft in with `laidup import craft`.",
    )
