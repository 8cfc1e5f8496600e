"""A file of craft: what they are, where they stand, and the work on record, checked as a whole."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from monitor.craft.acts import all_circuits
from monitor.craft.admission import claims_beyond_reach, faults_by_itself
from monitor.craft.admission import faults as entry_faults
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile, composed
from monitor.craft.record import CraftRecord
from monitor.craft.revising import craft_as_filed
from monitor.errors import ConfigurationError, Fault, fault_from
from monitor.settings.craft_form import CraftBlock, CraftFile, craft_of_block, stays_of_block
from monitor.settings.craft_list import at_its_line, read_craft_list
from monitor.settings.faults import check_content, key_path, one_of, read_toml
from monitor.yard.named_work import entries_by_id, strangers
from monitor.yard.people import names_by_id
from monitor.yard.space import Yard


def load_craft(
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None = None,
) -> tuple[CraftRecord, ...]:
    """Read a craft file: TOML, or CSV with one craft a row.

    Parameters
    ----------
    path : Path
        The file; its suffix tells the form.
    yard : Yard
        Whose spaces, people and zone the file speaks of.
    profiles : mapping of str to Profile
        The library.
    on_record : mapping of str to CraftRecord, optional
        What the store holds already, by craft: what the file leaves out of a craft is taken from
        there, a correction may replace an entry of it, and a new entry names people of the yard,
        does not contradict itself and claims no more than its act can show. Where the store is not
        known, such an entry is left as it is.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong; then nothing of the file may be used.
    """
    known = on_record or {}
    if path.suffix.lower() != ".csv":
        return _checked_records(read_toml(path), path, yard, profiles, on_record)
    content, lines = read_craft_list(path, known)
    try:
        return _checked_records(content, path, yard, profiles, on_record)
    except ConfigurationError as error:
        told = [at_its_line(fault, lines) for fault in error.faults]
        raise ConfigurationError(told) from error


def _checked_records(
    content: dict[str, Any],
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None,
) -> tuple[CraftRecord, ...]:
    """Records of the craft in a file's content; raises all of its faults at once."""
    known = on_record or {}
    file = check_content(CraftFile, content, path)
    faults: list[Fault] = list(_duplicate_names(file, path))
    records = []
    for n, block in enumerate(file.craft):
        here = key_path(("craft", n))
        wrong = list(_unknown_names(block, here, path, yard, profiles))
        if not block.stays and block.id not in known:
            wrong.append(_stands_nowhere(block, here, path))
        if not wrong:
            record = _record_from(block, here, path, yard, profiles, on_record, wrong)
            if record is not None:
                records.append(record)
        faults.extend(wrong)
    if faults:
        raise ConfigurationError(faults)
    return tuple(records)


def _duplicate_names(file: CraftFile, path: Path) -> Iterable[Fault]:
    for field in ("id", "hull_number"):
        seen: dict[str, str] = {}
        for n, block in enumerate(file.craft):
            value = getattr(block, field)
            if not value:
                continue
            if value in seen:
                yield Fault(
                    file=str(path),
                    key=f"{key_path(('craft', n))}.{field}",
                    problem=f"{block.name} has {value!r}, which is {seen[value]}'s",
                    remedy="Each craft has its own; read it off the transom again.",
                )
            seen.setdefault(value, block.name)


def _unknown_names(
    block: CraftBlock, here: str, path: Path, yard: Yard, profiles: Mapping[str, Profile]
) -> Iterable[Fault]:
    """Names that lead nowhere."""

    def fault_at(key: str, problem: str, remedy: str) -> Fault:
        return Fault(file=str(path), key=f"{here}.{key}", problem=problem, remedy=remedy)

    known = sorted(profiles)
    for key, name in (("profile", block.profile), *(("fittings", one) for one in block.fittings)):
        if name not in profiles:
            yield fault_at(key, f"there is no profile {name!r}", one_of(name, known))
    people = [person.id for person in yard.people]
    if block.owner and block.owner not in people:
        yield fault_at(
            "owner", f"{block.owner!r} is nobody of this yard", one_of(block.owner, people)
        )
    spaces = {space.id: space for space in yard.spaces}
    for n, stay in enumerate(block.stays):
        space, _, berth = stay.place.partition("/")
        key = f"stays[{n + 1}].place"
        if space not in spaces:
            yield fault_at(key, f"{space!r} is no space of this yard", one_of(space, list(spaces)))
        elif berth and spaces[space].berths and berth not in spaces[space].berths:
            yield fault_at(
                key,
                f"{spaces[space].name} has no berth {berth!r}",
                one_of(berth, list(spaces[space].berths)),
            )


def _stands_nowhere(block: CraftBlock, here: str, path: Path) -> Fault:
    return Fault(
        file=str(path),
        key=f"{here}.stays",
        problem=f"{block.name} stands nowhere",
        remedy="Say in which space, and where there.",
    )


def _record_from(
    block: CraftBlock,
    here: str,
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None,
    faults: list[Fault],
) -> CraftRecord | None:
    before = (on_record or {}).get(block.id)

    def add_fault(key: str, error: ValueError) -> None:
        faults.append(fault_from(error, str(path), f"{here}.{key}" if key else here))

    try:
        said = CraftRecord(
            craft=craft_of_block(block, yard),
            profile=profiles[block.profile],
            unsaid=block.unset_fields,
        )
        craft = craft_as_filed(said, None if before is None else before.craft)
        profile = composed(craft.profile, craft.fittings, profiles)
    except ValueError as error:
        add_fault("", error)
        return None
    faults.extend(
        Fault(
            file=str(path),
            key=f"{here}.measured.{circuit}",
            problem=f"{block.name} has no circuit {circuit!r}",
            remedy=one_of(circuit, list(profile.circuit_ids)),
        )
        for circuit in block.measured
        if circuit not in profile.circuit_ids
    )
    entries: list[LayupEntry] = []
    for n, form in enumerate(block.layup):
        try:
            known = all_circuits(form.act, profile)
            entries.append(form.to_layup_entry(block.id, yard.zone, known))
        except ValueError as error:
            add_fault(f"layup[{n + 1}]", error)
    names = names_by_id(yard)
    on_file = () if before is None else before.on_record
    if on_record is not None:
        entries = list(entries_by_id(entries, on_file, names))
    record = CraftRecord(
        craft=craft,
        profile=profile,
        entries=tuple(entries),
        stays=tuple(stays_of_block(block, yard)),
        unsaid=block.unset_fields,
    )
    if len(entries) == len(block.layup):
        new_from = None if on_record is None else {one.id for one in on_file}
        faults.extend(_faults_of_work(record, on_file, new_from, str(path), here, names))
    return record


def _faults_of_work(
    record: CraftRecord,
    on_file: Sequence[LayupEntry],
    old: Collection[str] | None,
    file: str,
    here: str,
    names: Mapping[str, str],
) -> Iterable[Fault]:
    """Faults of the work of one craft; ``old``: ids on record, None where they are not known."""
    entries = record.entries
    ids = {entry.id for entry in entries}
    whole = replace(record, entries=entries + tuple(one for one in on_file if one.id not in ids))
    for n, entry in enumerate(entries):
        key = f"{here}.layup[{n + 1}]"
        yield from entry_faults(entry, whole, file, key)
        if old is not None and entry.id not in old:
            yield from claims_beyond_reach(entry, whole, file, key)
            yield from faults_by_itself(entry, file, key)
            for field, nobody in strangers(entry, names):
                yield fault_from(nobody, file, f"{key}.{field}")
        if any(one.id == entry.id for one in entries[:n]):
            yield Fault(
                file=file,
                key=f"{key}.id",
                problem=f"entry {entry.id!r} stands there twice",
                remedy="Keep one of them.",
            )
