"""May this entry go into the lay-up record? Every reason why not, with its remedy."""

import difflib
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from monitor.craft.act_table import CLAIMS, Deed, circuits_within_reach, deeds_of, is_mute
from monitor.craft.acts import ACTS
from monitor.craft.contradictions import contradictions, unusable_fields
from monitor.craft.craft_stays import intervals_in_yard
from monitor.craft.layup import ANTIFREEZE, LEAVES, Act, LayupEntry, Seen
from monitor.craft.profile import Chemistry, Profile, Shape
from monitor.craft.record import CraftRecord
from monitor.craft.settling import can_settle, settling_words
from monitor.craft.work_order import earliest_time, latest_time, standing_entries
from monitor.errors import Fault
from monitor.units import volume_in_both

# An engine needs several fillings to run clear, a line from its tank some litres: common
# practice, no source. More than this is a slip of the pen.
_MOST_FILLINGS = 20.0
_MOST_FLUSH_L = 4.0
_MOST_LEFT = 4.0  # times the volume after ordinary draining: so much a full circuit holds, est.
_DAY = timedelta(hours=24)
_CLOCK_SLIP = timedelta(hours=1)


def faults(
    entry: LayupEntry, record: CraftRecord, file: str, key: str, now: datetime | None = None
) -> list[Fault]:
    """What is wrong with a new entry for a craft.

    Parameters
    ----------
    entry : LayupEntry
        The new entry.
    record : CraftRecord
        The craft with all entries that are, or are about to be, on record beside it; the entry
        itself may be among them.
    file, key : str
        Where a person finds the entry: a file and the path inside it, or a flag.
    now : datetime, optional
        Time of writing of an entry that is new: work done later than this is refused, and so is
        what it cannot use or contradicts itself in. None: it may be on record for long.
    """
    return [
        Fault(file=file, key=f"{key}.{field}" if key else field, problem=problem, remedy=remedy)
        for check in (_time, _by_itself, _circuits, _quantity, _battery, _correction, _findings)
        for field, problem, remedy in check(entry, record, now)
    ]


def faults_by_itself(entry: LayupEntry, file: str, key: str) -> list[Fault]:
    """What of a new entry cannot be true or cannot be used, whatever else is on record."""
    return [
        Fault(file=file, key=f"{key}.{field}" if key else field, problem=problem, remedy=remedy)
        for check in (unusable_fields, contradictions)
        for field, problem, remedy in check(entry)
    ]


def claims_beyond_reach(entry: LayupEntry, record: CraftRecord, file: str, key: str) -> list[Fault]:
    """Circuits of which an act says nothing, whatever was seen: refused of a person who enters it.

    Not part of `faults`: such an entry that is on record already stays there as a note.
    """
    if entry.act not in CLAIMS:
        return []
    profile = record.profile
    can = [
        name
        for name in circuits_within_reach(entry.act, profile)
        if not is_mute(entry, profile.find(name))
    ]
    remedy = f"It can show something of {', '.join(can)}." if can else "Enter it without circuits."
    if can and entry.act is Act.OIL_CHANGED:
        remedy += " The engine's own oil is entered without a circuit."
    return [
        Fault(
            file=file,
            key=f"{key}.circuits" if key else "circuits",
            problem=(
                f"{_claimed(entry)} says nothing of {one.circuit.name} ({name}), which is"
                f" {_KINDS[one.shape]}"
            ),
            remedy=remedy,
        )
        for name in entry.circuits
        if name in profile.circuit_ids and is_mute(entry, one := profile.find(name))
    ]


def faults_of_new_work(
    entry: LayupEntry, record: CraftRecord, file: str, now: datetime
) -> list[Fault]:
    """All that would keep a new entry out of the record, so that it is said before it is written.

    A record that cannot be believed is no reason, for what is entered is kept.
    """
    whole = replace(record, entries=record.on_record)
    return [*faults(entry, whole, file, "", now), *claims_beyond_reach(entry, whole, file, "")]


def _claimed(entry: LayupEntry) -> str:
    seen = {Deed.LOOKED_INSIDE: ", seen dry,", Deed.SAMPLE_READ: ", a sample read,"}
    return str(entry.act) + "".join(seen.get(deed, "") for deed in deeds_of(entry))


_KINDS = {
    Shape.PASSAGE: "a water passage",
    Shape.LOW_LOOP: "a low loop that no drain empties",
    Shape.COOLANT_LOOP: "a closed coolant loop",
    Shape.OIL_FILLED: "filled with oil",
    Shape.SMALL_PART: "a pump, bowl, short hose or tap",
    Shape.TANK: "a tank, bag or heater",
    Shape.POCKET: "a pocket that rain fills",
}

_Complaints = Iterator[tuple[str, str, str]]


def _time(entry: LayupEntry, record: CraftRecord, now: datetime | None) -> _Complaints:
    craft = record.craft
    began, latest = entry.day_began or entry.at, entry.at
    if entry.day_began is not None:  # any hour of that day may be meant
        latest = max(latest, entry.day_began + _DAY - timedelta.resolution)
    here = any(
        one.since <= latest and (one.until is None or began < one.until)
        for one in intervals_in_yard(craft, _turns_beside(entry, record))
    )
    if latest < craft.arrived_at:
        yield (
            "at",
            f"{entry.at.isoformat()} is before {craft.name} ({craft.id}) came into the yard on"
            f" {craft.arrived_at.isoformat()}",
            "Correct the time of the work, or the craft's arrival.",
        )
    elif not here and entry.act not in {Act.BROUGHT_BACK, Act.WITHDRAWN} | LEAVES:
        yield (
            "at",
            f"{entry.at.isoformat()} is after {craft.name} ({craft.id}) left the yard, and before"
            " it came back",
            f"Correct the time of the work, or enter its return ({Act.BROUGHT_BACK}).",
        )
    if now is not None and entry.at > now + _CLOCK_SLIP:
        yield (
            "at",
            f"{entry.at.isoformat()} is still to come",
            "Enter work once it is done.",
        )


def _turns_beside(entry: LayupEntry, record: CraftRecord) -> tuple[LayupEntry, ...]:
    """What stands beside an entry; nothing where no work tells of the craft's coming and going.

    Putting work in order costs its length, and a list asks once for each of its rows.
    """
    if not any(one.act in LEAVES or one.act is Act.BROUGHT_BACK for one in record.entries):
        return ()
    others = tuple(one for one in record.entries if one.id not in {entry.id, entry.replaces})
    return standing_entries(others)


def _by_itself(entry: LayupEntry, _: CraftRecord, now: datetime | None) -> _Complaints:
    if now is not None:
        yield from unusable_fields(entry)
        yield from contradictions(entry)


def _circuits(entry: LayupEntry, record: CraftRecord, _: datetime | None) -> _Complaints:
    known, engines = record.profile.circuit_ids, record.profile.engine_names
    side = f", or {' or '.join(engines)} for all of one engine" if engines else ""
    for name in entry.circuits:
        of_engines = [f"{engine}-{name}" for engine in engines if f"{engine}-{name}" in known]
        if of_engines:
            yield (
                "circuits",
                f"{record.craft.name} ({record.craft.id}) has several engines, and {name!r} names"
                " none of them",
                f"Name the engine: {', '.join(of_engines)}{side}.",
            )
        elif name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            yield (
                "circuits",
                f"{record.craft.name} ({record.craft.id}, {record.profile.name}) has no circuit"
                f" {name!r}",
                f"Did you mean {near[0]!r}?" if near else f"It has {', '.join(known)}.",
            )
    if "circuits" in ACTS[entry.act].needs and not entry.circuits:
        yield (
            "circuits",
            f"{entry.act} names no circuit, and protection belongs to a circuit",
            f"Name those that it reached: {', '.join(known)}{side}.",
        )


def _quantity(entry: LayupEntry, record: CraftRecord, _: datetime | None) -> _Complaints:
    if entry.act not in ANTIFREEZE:
        return
    known = record.profile.circuit_ids
    volume = sum(
        record.profile.find(name).circuit.volume_l for name in entry.circuits if name in known
    )
    most = max(_MOST_FILLINGS * volume, _MOST_FLUSH_L)
    if volume and (entry.residual_l or 0.0) > _MOST_LEFT * volume:
        yield (
            "residual",
            f"{volume_in_both(entry.residual_l or 0.0)} left in {', '.join(entry.circuits)},"
            f" which hold {volume_in_both(volume)}",
            "More than they hold cannot be left in them; was it fl oz?",
        )
    if entry.quantity_l is not None and volume and entry.quantity_l > most:
        yield (
            "quantity",
            f"{volume_in_both(entry.quantity_l)} into {', '.join(entry.circuits)}, which hold"
            f" {volume_in_both(volume)}",
            f"More than {volume_in_both(most)} is a slip of unit or circuit; was it fl oz?",
        )


def _battery(entry: LayupEntry, record: CraftRecord, _: datetime | None) -> _Complaints:
    cell = record.profile.battery
    if entry.act is not Act.BATTERY_EQUALISED or cell is None:
        return
    if cell.chemistry is not Chemistry.FLOODED:
        yield (
            "act",
            f"{record.craft.name} ({record.craft.id}) has a battery of kind {cell.chemistry}, which"
            " an equalise stage ruins",
            "End the stage; only flooded batteries are equalised.",
        )


def _correction(entry: LayupEntry, record: CraftRecord, _: datetime | None) -> _Complaints:
    if not entry.replaces:
        return
    others = {one.id: one for one in record.entries if one.id != entry.id}
    if entry.replaces == entry.id:
        yield "replaces", "it replaces itself", "Name the entry that was wrong."
    elif entry.replaces not in others:
        yield (
            "replaces",
            f"{record.craft.name} ({record.craft.id}) has no entry {entry.replaces!r}",
            "`laidup layup list` shows the ids.",
        )
    elif others[entry.replaces].act is Act.WITHDRAWN and entry.act is Act.WITHDRAWN:
        gone = others[entry.replaces].replaces
        yield (
            "replaces",
            f"{entry.replaces!r} is itself a withdrawal, and withdrawing it brings nothing back",
            f"`laidup layup withdraw {entry.replaces}` enters {gone!r} again.",
        )
    rivals = sorted(one.id for one in others.values() if one.replaces == entry.replaces)
    if rivals:
        yield (
            "replaces",
            f"{entry.replaces!r} is replaced by {rivals[0]!r} already",
            f"Replace {rivals[0]!r} instead.",
        )
    trail, step = {entry.id}, entry.replaces
    while step in others and step not in trail:
        trail.add(step)
        step = others[step].replaces
    if step in trail and step != entry.replaces:
        yield "replaces", "corrections lead round in a ring", "Name the first wrong entry."


def _findings(entry: LayupEntry, record: CraftRecord, now: datetime | None) -> _Complaints:
    if not entry.findings and not entry.settles:
        return
    others = [one for one in record.entries if one.id != entry.id and one.id != entry.replaces]
    known = {seen.id: (one, seen) for one in others for seen in one.findings}
    for seen in entry.findings:
        if seen.id in known:
            yield (
                "findings",
                f"a finding {seen.id!r} is on record already",
                "Give it another id, or leave it out.",
            )
    for name in entry.settles:
        if name not in known:
            yield (
                "settles",
                f"no finding {name!r} is on record",
                f"On record: {', '.join(sorted(known)) or 'none'}.",
            )
        elif now is not None:
            yield from _settling(entry, *known[name], record.profile)


def _settling(entry: LayupEntry, finder: LayupEntry, seen: Seen, profile: Profile) -> _Complaints:
    """Why an entry cannot have settled a finding; on record already, it stays there unheeded."""
    what = "a finding" if seen.kind is None else f"a finding of kind {seen.kind!r}"
    on_part = f"{what} on {seen.part} ({seen.id})"
    if latest_time(entry) < earliest_time(finder):
        yield (
            "settles",
            f"{on_part} was made after this work was done",
            "Correct the time of the work, or of the finding.",
        )
    elif not can_settle(entry, seen, profile):
        acts = " or ".join(settling_words(seen))
        yield (
            "settles",
            f"{entry.act}, with what was seen, cannot put right {on_part}",
            f"Enter what did, on that part: {acts}. If it was never there, correct the entry that"
            f" found it ({finder.id}).",
        )
