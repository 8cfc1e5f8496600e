"""Work and moves go into the record whole or not at all: one door for flags, prompt and page."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from monitor.craft.admission import claims_beyond_reach, faults
from monitor.craft.craft_stays import Stay, intervals_in_yard
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.reading import UNKNOWN_TYPE
from monitor.craft.record import CraftRecord
from monitor.craft.work_order import standing_entries
from monitor.errors import Fault, RecordError
from monitor.store.layup import Layup


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
