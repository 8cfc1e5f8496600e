"""A file of craft: what they are, where they stand, and the work on record, checked as a whole."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, StringConstraints, model_validator

from monitor.craft.admission import claims_beyond_reach
from monitor.craft.admission import faults as entry_faults
from monitor.craft.kept import Craft, MeasuredLag, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile, composed
from monitor.craft.record import CraftRecord
from monitor.craft.revising import revised
from monitor.errors import ConfigurationError, Fault
from monitor.settings.craft_list import read_craft_list
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


# What a file may leave out of a craft: it stays as it was. Beside each, what it is in `Craft`.
_OPTIONAL = {
    "fittings": "fittings",
    "owner": "owner",
    "hull_number": "hull_number",
    "left": "left_at",
    "note": "note",
    "measured": "measured",
}
_CLEARED = "-"  # instead of a value: there is none any more


class CraftBlock(Block):
    """``[[craft]]``: one craft in the yard's care; what is left out stays as it was."""

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

    @model_validator(mode="before")
    @classmethod
    def _clear(cls, said: Any) -> Any:  # noqa: ANN401  whatever stands in the file
        """Put nothing in place of each ``-``, so that it counts as said."""
        if not isinstance(said, dict):
            return said
        nothing = {name: cls.model_fields[name].get_default() for name in _OPTIONAL}
        return {
            key: (nothing[key] if nothing[key] is not None or key == "left" else {})
            if key in nothing and value == _CLEARED
            else value
            for key, value in said.items()
        }

    @property
    def unsaid(self) -> frozenset[str]:
        """Fields of `Craft` that the file does not speak of."""
        return frozenset(
            field for name, field in _OPTIONAL.items() if name not in self.model_fields_set
        )


class CraftFile(Block):
    """All of a craft file."""

    craft: Annotated[tuple[CraftBlock, ...], Field(min_length=1)]


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
        there, a correction may replace an entry of it, and a new entry may not claim more than
        its act can show. Where the store is not known, such an entry is left to be a note.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong; then nothing of the file may be used.
    """
    known = on_record or {}
    content = read_craft_list(path, known) if path.suffix.lower() == ".csv" else read_toml(path)
    file = check(CraftFile, content, path)
    faults: list[Fault] = list(_doubles(file, path))
    records = []
    for n, block in enumerate(file.craft):
        here = key_path(("craft", n))
        wrong = list(_strangers(block, here, path, yard, profiles))
        if not block.stays and block.id not in known:
            wrong.append(_stands_nowhere(block, here, path))
        if not wrong:
            record = _record(block, here, path, yard, profiles, on_record, wrong)
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


def _stands_nowhere(block: CraftBlock, here: str, path: Path) -> Fault:
    return Fault(
        file=str(path),
        key=f"{here}.stays",
        problem=f"{block.name} stands nowhere",
        remedy="Say in which space, and where there.",
    )


def _record(
    block: CraftBlock,
    here: str,
    path: Path,
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord] | None,
    faults: list[Fault],
) -> CraftRecord | None:
    before = (on_record or {}).get(block.id)

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
        said = CraftRecord(
            craft=_craft(block, yard), profile=profiles[block.profile], unsaid=block.unsaid
        )
        craft = revised(said, None if before is None else before.craft)
        profile = composed(craft.profile, craft.fittings, profiles)
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
        unsaid=block.unsaid,
    )
    if len(entries) == len(block.layup):
        ids = {entry.id for entry in entries}
        on_file = () if before is None else before.on_record
        whole = replace(
            record, entries=record.entries + tuple(one for one in on_file if one.id not in ids)
        )
        for n, entry in enumerate(entries):
            key = f"{here}.layup[{n + 1}]"
            faults.extend(entry_faults(entry, whole, str(path), key))
            if on_record is not None and entry.id not in {one.id for one in on_file}:
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
