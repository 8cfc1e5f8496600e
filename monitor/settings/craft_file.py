"""A file of craft: what they are, where they stand, and the work on record, checked as a whole."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
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
from monitor.settings.craft_list import MOST_CRAFT, at_its_line, read_craft_list
from monitor.settings.craft_names import names_meant, only_named
from monitor.settings.faults import (
    check_content,
    error_at,
    key_path,
    one_of,
    read_text_file,
    read_toml,
)
from monitor.settings.toml_lines import at_toml_lines
from monitor.settings.written_times import in_zone
from monitor.yard.named_work import entries_by_id, strangers
from monitor.yard.people import names_by_id
from monitor.yard.space import Yard


def load_craft(
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None = None,
    now: datetime | None = None,
    progress: Callable[[int], None] | None = None,
    *,
    may_be_empty: bool = False,
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
    now : datetime, optional
        The present: a craft that would arrive only after it is a slip. A file that is read at
        every start may tell of one that is expected.
    progress : callable, optional
        Is told how many craft are read.
    may_be_empty : bool
        Whether a TOML file with nothing but comments, as a new yard has it, holds no craft; else
        that is an error.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong; then nothing of the file may be used.
    """
    records, faults = read_craft(
        path, yard, profiles, on_record, now, progress, may_be_empty=may_be_empty
    )
    if faults:
        raise ConfigurationError(faults)
    return records


def read_craft(
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None = None,
    now: datetime | None = None,
    progress: Callable[[int], None] | None = None,
    *,
    may_be_empty: bool = False,
    named: Collection[str] = (),
) -> tuple[tuple[CraftRecord, ...], list[Fault]]:
    """Read a craft file as `load_craft` does, as far as it goes.

    Parameters
    ----------
    path, yard, profiles, on_record, now, progress, may_be_empty
        As of `load_craft`.
    named : collection of str
        Ids or names of the craft that are asked about: others are not looked at. Empty: all.

    Returns
    -------
    tuple of tuple and list
        The craft with which nothing is wrong, and the faults of the others; a fault without a craft
        is of the whole file.
    """
    try:
        if path.suffix.lower() == ".csv":
            return _read_list(path, yard, profiles, on_record, now, progress)
        whole = read_toml(path)
        said = only_named(whole, named) if named else whole
        if not said and (may_be_empty or named):
            return (), []
        records, faults = check_craft(said, path, yard, profiles, on_record, now, progress)
        if faults and said is not whole:  # by which craft of the file they are of
            asked = {one.craft for one in faults}
            _, every = check_craft(whole, path, yard, profiles, on_record, now)
            faults = [one for one in every if one.craft in asked]
    except ConfigurationError as error:
        records, faults = (), error.faults
    if any(fault.key for fault in faults):
        faults = at_toml_lines(faults, read_text_file(path))
    return records, faults


def _read_list(
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None,
    now: datetime | None,
    progress: Callable[[int], None] | None,
) -> tuple[tuple[CraftRecord, ...], list[Fault]]:
    """Read a season's list, one craft a row."""
    faults: list[Fault] = []
    content, lines = read_craft_list(path, on_record or {}, faults)
    try:
        records, more = check_craft(content, path, yard, profiles, on_record, now, progress)
    except ConfigurationError as error:
        records, more = (), error.faults
    return records, [*faults, *(at_its_line(fault, lines) for fault in more)]


def check_craft(
    content: dict[str, Any],
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None,
    now: datetime | None,
    progress: Callable[[int], None] | None = None,
) -> tuple[tuple[CraftRecord, ...], list[Fault]]:
    """Records of the craft in a file's content with which nothing is wrong, and all faults.

    Parameters
    ----------
    content : dict
        As TOML reads it.
    path : Path
        What faults name as its place.
    yard, profiles, on_record, now, progress
        As of `load_craft`.

    Raises
    ------
    ConfigurationError
        If it is no list of craft, or too long a one.
    """
    file = check_content(CraftFile, content, path)
    if len(file.craft) > MOST_CRAFT:
        raise error_at(
            path,
            key_path(("craft", MOST_CRAFT)),
            f"it holds {len(file.craft):,} craft, and one file takes {MOST_CRAFT:,}",
            "Cut it in two.",
        )
    faults: list[Fault] = []
    blocks: dict[int, CraftBlock] = {}
    records = []
    for n, said in enumerate(file.craft):
        here = key_path(("craft", n))
        block, wrong = _checked_block(said, here, path, yard, profiles)
        if block is not None:
            blocks[n] = block
            wrong.extend(_when_and_where(block, here, path, yard, on_record or {}, now))
            if not wrong:
                record = _record_from(block, here, path, yard, profiles, on_record, wrong)
                records.extend([] if record is None else [record])
        faults.extend(replace(one, craft=str(said.get("id", ""))) for one in wrong)
        if progress is not None:
            progress(n + 1)
    faults.extend(_duplicate_names(blocks, path))
    at_fault = {fault.craft for fault in faults}
    return tuple(one for one in records if one.craft.id not in at_fault), faults


def _checked_block(
    said: Mapping[str, Any], here: str, path: Path, yard: Yard, profiles: Mapping[str, Profile]
) -> tuple[CraftBlock | None, list[Fault]]:
    """One craft of the file, its names put in; and every fault, of its names and of the rest."""
    meant, nowhere = names_meant(said, yard, profiles)
    faults = [fault_from(error, str(path), f"{here}.{key}") for key, error in nowhere.items()]
    told = {fault.key for fault in faults}
    try:
        return check_content(CraftBlock, meant, path), faults
    except ConfigurationError as error:
        rest = [replace(one, key=f"{here}.{one.key}" if one.key else here) for one in error.faults]
        return None, [*faults, *(one for one in rest if one.key not in told)]


def _when_and_where(
    block: CraftBlock,
    here: str,
    path: Path,
    yard: Yard,
    known: Mapping[str, CraftRecord],
    now: datetime | None,
) -> Iterable[Fault]:
    """A craft that stands nowhere, or would come only after now: nobody would watch it."""
    if not block.stays and block.id not in known:
        yield Fault(
            file=str(path),
            key=f"{here}.stays",
            problem=f"{block.name} stands nowhere",
            remedy="Say in which space, and where there.",
        )
    if now is not None and in_zone(block.arrived, yard.zone) > now:
        yield Fault(
            file=str(path),
            key=f"{here}.arrived",
            problem=f"{block.name} comes on {block.arrived:%Y-%m-%d}, which is still ahead",
            remedy="Correct the date, or take it in when it is there: before, nobody watches it.",
        )


def _duplicate_names(blocks: Mapping[int, CraftBlock], path: Path) -> Iterable[Fault]:
    for field in ("id", "hull_number"):
        seen: dict[str, str] = {}
        for n, block in blocks.items():
            value = getattr(block, field)
            if not value:
                continue
            if value in seen:
                yield Fault(
                    file=str(path),
                    key=f"{key_path(('craft', n))}.{field}",
                    problem=f"{block.name} has {value!r}, which is {seen[value]}'s",
                    remedy="Each craft has its own; read it off the transom again.",
                    craft=block.id,
                )
            seen.setdefault(value, block.name)


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
    seen: set[str] = set()
    for n, entry in enumerate(entries):
        key = f"{here}.layup[{n + 1}]"
        yield from entry_faults(entry, whole, file, key)
        if old is not None and entry.id not in old:
            yield from claims_beyond_reach(entry, whole, file, key)
            yield from faults_by_itself(entry, file, key)
            for field, nobody in strangers(entry, names):
                yield fault_from(nobody, file, f"{key}.{field}")
        if entry.id in seen:
            yield Fault(
                file=file,
                key=f"{key}.id",
                problem=f"entry {entry.id!r} stands there twice",
                remedy="Keep one of them.",
            )
        seen.add(entry.id)
