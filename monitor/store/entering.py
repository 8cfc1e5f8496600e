"""Work goes into the record whole or not at all: the one door for files, flags, prompt and page."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.admission import claims_beyond_reach, faults
from monitor.craft.kept import Craft, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, RecordError
from monitor.store.layup import Layup


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What an import brought, and how much of it was new."""

    craft: int
    new_craft: int
    stays: int
    new_stays: int
    entries: int
    new_entries: int


def take_in(layup: Layup, records: Iterable[CraftRecord], now: datetime) -> Taken:
    """Enter whole craft; what is on record already adds nothing.

    Call it inside one transaction: the first refusal undoes all of it.

    Raises
    ------
    RecordError
        If something contradicts what is on record.
    """
    records = list(records)
    known = {one.id for one in layup.all_craft()}
    layup.put_craft(record.craft for record in records)
    return Taken(
        craft=len(records),
        new_craft=sum(record.craft.id not in known for record in records),
        stays=sum(len(record.stays) for record in records),
        new_stays=layup.add_stays(stay for record in records for stay in record.stays),
        entries=sum(len(record.entries) for record in records),
        new_entries=layup.append((entry for record in records for entry in record.entries), now),
    )


def not_taken_in(layup: Layup, records: Iterable[CraftRecord]) -> list[Craft]:
    """Craft of which the files say what the record does not; nothing is written.

    What contradicts the record counts too: it would be refused, and is not on it either.
    """
    known = {one.id: one for one in layup.all_craft()}
    entries, stays = layup.all_entries(), layup.all_stays()
    return [
        record.craft
        for record in records
        if record.craft != known.get(record.craft.id)
        or not {(one.since, one.space, one.berth) for one in record.stays}
        <= {(one.since, one.space, one.berth) for one in stays.get(record.craft.id, ())}
        or not {one.id for one in record.entries}
        <= {one.id for one in entries.get(record.craft.id, ())}
    ]


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
    records: dict[str, CraftRecord] = {}
    on_record: set[tuple[str, str]] = set()
    for entry in entries:
        if entry.craft in records:
            continue
        found = layup.record(entry.craft, profiles)
        if found is None:
            wrong.append(_no_craft(layup, entry.craft, source))
            continue
        on_record |= {(entry.craft, one.id) for one in found.entries}
        ids = {one.id for one in entries if one.craft == entry.craft}
        records[entry.craft] = replace(
            found,
            entries=tuple(one for one in found.entries if one.id not in ids)
            + tuple(one for one in entries if one.craft == entry.craft),
        )
    for number, entry in enumerate(entries, start=1):
        if entry.craft in records:
            key = f"entry {number}" if len(entries) > 1 else ""
            wrong.extend(faults(entry, records[entry.craft], source, key, now))
            if (entry.craft, entry.id) not in on_record:
                wrong.extend(claims_beyond_reach(entry, records[entry.craft], source, key))
    if wrong:
        raise RecordError(wrong)
    return layup.append(entries, now)


def move(layup: Layup, stay: Stay, now: datetime, source: str) -> int:
    """Enter a move of a craft that is on record; tells whether it was new (1) or not (0).

    Raises
    ------
    RecordError
        If there is no such craft, it was not here then, or the move is still to come.
    """
    craft = layup.craft(stay.craft)
    if craft is None:
        raise RecordError([_no_craft(layup, stay.craft, source)])
    if not craft.here_at(stay.since) or stay.since > now:
        when = "is still to come" if stay.since > now else f"is no time when {craft.name} was here"
        raise RecordError(
            [
                Fault(
                    file=source,
                    key="at",
                    problem=f"{stay.since.isoformat()} {when}",
                    remedy="Correct the time of the move.",
                )
            ]
        )
    return layup.add_stays([stay])


def _no_craft(layup: Layup, craft_id: str, source: str) -> Fault:
    known = ", ".join(one.id for one in layup.all_craft())
    return Fault(
        file=source,
        key="craft",
        problem=f"no craft {craft_id!r} is on record",
        remedy=f"On record: {known}." if known else "Bring craft in with `laidup import craft`.",
    )
