"""A file of craft: what they are, where they stand, and the work on record, checked as a whole."""

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, StringConstraints

from monitor.craft.admission import claims_beyond_reach
from monitor.craft.admission import faults as entry_faults
from monitor.craft.kept import Craft, MeasuredLag, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile, composed
from monitor.craft.record import CraftRecord
from monitor.errors import ConfigurationError, Fault
from monitor.settings.faults import Block, check, key_path, one_of, read_toml
from monitor.settings.layup_form import EntryForm, Name, Note, in_zone
from monitor.settings.quantities import Duration
from monitor.settings.words import Id, Text
from monitor.yard.space import Yard

Place = Annotated[
    str,
    StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,62}(/[a-z0-9][a-z0-9-]{0,62})?$"),
]
HullNumber = Annotated[
    str, StringConstraints(strip_whitespace=True, max_length=20), AfterValidator(str.upper)
]


class StayBlock(Block):
    """``[[craft.stays]]``: from then on it stands here; ``place`` is space or space/berth."""

    place: Place
    since: datetime | None = None  # None: since it arrived
    by: str = ""


class MeasuredBlock(Block):
    """``[craft.measured.CIRCUIT]``: a time constant fitted from a probe in this craft."""

    lag: tuple[Duration, Duration]
    how: Text


class CraftBlock(Block):
    """``[[craft]]``: one craft in the yard's care."""

    id: Id
    name: Name
    profile: Id
    fittings: tuple[Id, ...] = ()
    owner: str = ""
    hull_number: HullNumber = ""
    arrived: datetime
    left: datetime | None = None
    note: Note = ""
    stays: tuple[StayBlock, ...] = ()
    measured: Annotated[dict[Id, MeasuredBlock], Field(default_factory=dict)]
    layup: tuple[EntryForm, ...] = ()


class CraftFile(Block):
    """All of a craft file."""

    craft: Annotated[tuple[CraftBlock, ...], Field(min_length=1)]


def load_craft(
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, tuple[LayupEntry, ...]] | None = None,
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
    on_record : mapping of str to tuple of LayupEntry, optional
        Entries that the store holds already, by craft: a correction may replace one of them, and
        a new entry may not claim more than its act can show. Where the store is not known, such
        an entry is left to be a note.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong; then nothing of the file may be used.
    """
    content = _read_csv(path) if path.suffix.lower() == ".csv" else read_toml(path)
    file = check(CraftFile, content, path)
    faults: list[Fault] = list(_doubles(file, path))
    records = []
    for n, block in enumerate(file.craft):
        here = key_path(("craft", n))
        wrong = list(_strangers(block, here, path, yard, profiles))
        if not wrong:
            before = None if on_record is None else on_record.get(block.id, ())
            record = _record(block, here, path, yard, profiles, before, wrong)
            if record is not None:
                records.append(record)
        faults.extend(wrong)
    if faults:
        raise ConfigurationError(faults)
    return tuple(records)


def _doubles(file: CraftFile, path: Path) -> Iterable[Fault]:
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


def _strangers(
    block: CraftBlock, here: str, path: Path, yard: Yard, profiles: Mapping[str, Profile]
) -> Iterable[Fault]:
    """Names that lead nowhere."""

    def fault(key: str, problem: str, remedy: str) -> Fault:
        return Fault(file=str(path), key=f"{here}.{key}", problem=problem, remedy=remedy)

    known = sorted(profiles)
    for key, name in (("profile", block.profile), *(("fittings", one) for one in block.fittings)):
        if name not in profiles:
            yield fault(key, f"there is no profile {name!r}", one_of(name, known))
    people = [person.id for person in yard.people]
    if block.owner and block.owner not in people:
        yield fault("owner", f"{block.owner!r} is nobody of this yard", one_of(block.owner, people))
    if not block.stays:
        yield fault("stays", f"{block.name} stands nowhere", "Say in which space, and where there.")
    spaces = {space.id: space for space in yard.spaces}
    for n, stay in enumerate(block.stays):
        space, _, berth = stay.place.partition("/")
        key = f"stays[{n + 1}].place"
        if space not in spaces:
            yield fault(key, f"{space!r} is no space of this yard", one_of(space, list(spaces)))
        elif berth and spaces[space].berths and berth not in spaces[space].berths:
            yield fault(
                key,
                f"{spaces[space].name} has no berth {berth!r}",
                one_of(berth, list(spaces[space].berths)),
            )


def _record(
    block: CraftBlock,
    here: str,
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    before: tuple[LayupEntry, ...] | None,
    faults: list[Fault],
) -> CraftRecord | None:
    def fault(key: str, error: ValueError) -> None:
        problem, _, remedy = str(error).partition("; ")
        faults.append(
            Fault(
                file=str(path),
                key=f"{here}.{key}" if key else here,
                problem=problem,
                remedy=(remedy[:1].upper() + remedy[1:] + ".") if remedy else "Correct it.",
            )
        )

    try:
        profile = composed(block.profile, block.fittings, profiles)
        craft = _craft(block, yard)
    except ValueError as error:
        fault("", error)
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
            entries.append(form.entry(block.id, yard.zone))
        except ValueError as error:
            fault(f"layup[{n + 1}]", error)
    record = CraftRecord(
        craft=craft,
        profile=profile,
        entries=tuple(entries),
        stays=tuple(_stays(block, yard)),
    )
    if len(entries) == len(block.layup):
        ids = {entry.id for entry in entries}
        whole = replace(
            record, entries=record.entries + tuple(one for one in before or () if one.id not in ids)
        )
        for n, entry in enumerate(entries):
            key = f"{here}.layup[{n + 1}]"
            faults.extend(entry_faults(entry, whole, str(path), key))
            if before is not None and entry.id not in {one.id for one in before}:
                faults.extend(claims_beyond_reach(entry, whole, str(path), key))
            if any(one.id == entry.id for one in entries[:n]):
                faults.append(
                    Fault(
                        file=str(path),
                        key=f"{key}.id",
                        problem=f"entry {entry.id!r} stands there twice",
                        remedy="Keep one of them.",
                    )
                )
    return record


def _craft(block: CraftBlock, yard: Yard) -> Craft:
    return Craft(
        id=block.id,
        name=block.name,
        profile=block.profile,
        fittings=block.fittings,
        owner=block.owner,
        hull_number=block.hull_number,
        arrived_at=in_zone(block.arrived, yard.zone),
        left_at=None if block.left is None else in_zone(block.left, yard.zone),
        measured=tuple(
            MeasuredLag(circuit=circuit, low_h=one.lag[0], high_h=one.lag[1], how=one.how)
            for circuit, one in block.measured.items()
        ),
        note=block.note,
    )


def _stays(block: CraftBlock, yard: Yard) -> Iterable[Stay]:
    for stay in block.stays:
        space, _, berth = stay.place.partition("/")
        yield Stay(
            craft=block.id,
            since=in_zone(stay.since or block.arrived, yard.zone),
            space=space,
            berth=berth,
            by=stay.by,
        )


_COLUMNS = ("id", "name", "profile", "arrived", "place")
_MORE_COLUMNS = ("fittings", "owner", "hull_number", "left", "note")


def _read_csv(path: Path) -> dict[str, Any]:
    """A season's list of craft: one a row, several fittings separated by spaces."""

    def fault(key: str, problem: str, remedy: str) -> ConfigurationError:
        return ConfigurationError([Fault(file=str(path), key=key, problem=problem, remedy=remedy)])

    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise fault("", "there is no such file", "Check the path.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise fault("", f"it cannot be read: {error}", "Save it as UTF-8 text.") from error
    sample = text.partition("\n")[0]
    rows = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in sample else ",")
    columns = [name.strip().lower() for name in rows.fieldnames or ()]
    rows.fieldnames = columns
    missing = [name for name in _COLUMNS if name not in columns]
    strange = [name for name in columns if name not in _COLUMNS + _MORE_COLUMNS]
    if missing or strange:
        what = f"lacks {', '.join(missing)}" if missing else f"has {', '.join(strange)}"
        raise fault(
            "line 1",
            f"the heading {what}",
            f"It needs {', '.join(_COLUMNS)}, and may have {', '.join(_MORE_COLUMNS)}.",
        )
    craft = []
    for row in rows:
        if None in row:
            raise fault(
                f"line {rows.line_num}", "it has more fields than the heading", "Quote commas."
            )
        cells = {key: (value or "").strip() for key, value in row.items()}
        filled = {key: value for key, value in cells.items() if value}
        if not filled:
            continue
        place = filled.pop("place", "")
        craft.append(
            {
                **filled,
                **({"fittings": filled["fittings"].split()} if "fittings" in filled else {}),
                "stays": [{"place": place}] if place else [],
            }
        )
    return {"craft": craft}
