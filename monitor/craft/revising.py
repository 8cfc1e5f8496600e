"""When craft or work is named again: what is known otherwise, what that loses, what says worse."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime

from monitor.craft.craft_stays import Craft
from monitor.craft.layup import Act, LayupEntry, OilAppearance, Outflow
from monitor.craft.profile import Profile, composed
from monitor.craft.reading import entries_on_missing_circuits, type_words
from monitor.craft.record import CraftRecord
from monitor.craft.work_order import standing_entries
from monitor.errors import Fault

CRAFT_FILES = "craft files"  # whose doing it is what the yard's own craft files say
_LIST = "the list of craft"  # whose word a return is that nobody entered


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftChange:
    """One thing that is known of a craft otherwise than before."""

    craft: str
    name: str
    what: str
    before: str  # in words; empty: nothing was known
    after: str

    def __str__(self) -> str:
        was, becomes = self.before or "none", self.after or "none"
        return f"{self.name} ({self.craft}): {self.what} was {was}, now {becomes}"


def craft_as_filed(record: CraftRecord, before: Craft | None) -> Craft:
    """The craft after a file was read: what the file leaves out stays as it was.

    Of a craft that arrives after the day on which it left, that day is no longer its last.
    """
    if before is None:
        return record.craft
    stays = {name: getattr(before, name) for name in record.unsaid}
    left = stays.get("left_at")
    if left is not None and left < stays.get("arrived_at", record.craft.arrived_at):
        stays["left_at"] = None
    return replace(record.craft, **stays)


def craft_brought_back(
    after: Craft,
    before: Craft,
    on_record: Iterable[LayupEntry],
    moves: Iterable[datetime],
    now: datetime,
) -> tuple[Craft, tuple[LayupEntry, ...]]:
    """A craft whose list has it here again: it was away, and its first arrival stays.

    Its list gives a later arrival, or no longer says that it left. Of the latter nobody told when
    it came back, so that it counts as back by now. If it never was away, that is for a person to
    say, who withdraws both entries.

    Parameters
    ----------
    after, before : Craft
        As the list gives it, and as it is on record.
    on_record : iterable of LayupEntry
        All its work on record.
    moves : iterable of datetime
        Times of its moves on record.
    now : datetime
        When the list is read.

    Returns
    -------
    tuple of Craft and tuple of LayupEntry
        The craft with its first arrival, and its leaving and return as entries. Where it neither
        left nor was worked on or moved before the later arrival, the list only puts a date right.
    """
    arrives_later = after.arrived_at > before.arrived_at
    back_at = after.arrived_at if arrives_later else now
    left_at = before.left_at
    left = left_at is not None and left_at <= back_at
    work = tuple(on_record)
    turns = [(Act.BROUGHT_BACK, back_at)]
    if arrives_later:
        times = (*(one.at for one in work), *moves)
        was_there = any(before.arrived_at < at < after.arrived_at for at in times)
        came_back = left or was_there
    else:
        came_back = left and (after.left_at is None or after.left_at > now)
        if any(_is_return_since(one, left_at) for one in standing_entries(work)):
            turns = []  # somebody entered when it came back
    if not came_back:
        return after, ()
    if left_at is not None and left:
        turns.insert(0, (Act.TAKEN_OUT, left_at))
    arrived_at = before.arrived_at if arrives_later else after.arrived_at
    return replace(after, arrived_at=arrived_at), tuple(
        LayupEntry(
            id=f"{act}-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}".lower(),
            craft=after.id,
            at=at,
            by=_LIST,
            act=act,
        )
        for act, at in turns
    )


def _is_return_since(entry: LayupEntry, left_at: datetime | None) -> bool:
    return entry.act is Act.BROUGHT_BACK and left_at is not None and entry.at >= left_at


def craft_changes(before: Craft, after: Craft) -> list[CraftChange]:
    """What is known otherwise, field by field."""
    return [
        CraftChange(
            craft=after.id,
            name=after.name,
            what=field.name.removesuffix("_at").replace("_", " "),
            before=_words(getattr(before, field.name)),
            after=_words(getattr(after, field.name)),
        )
        for field in fields(Craft)
        if getattr(before, field.name) != getattr(after, field.name)
    ]


def file_against_people(
    record: CraftRecord, was: Craft, becomes: Craft, versions: Iterable[tuple[Craft, str]]
) -> tuple[Craft, list[Fault]]:
    """The craft after the yard's own craft file was read, once people have changed it otherwise.

    It belongs to the file until then, and to the record from then on. A file that says what it
    once was is only older; one that says a third thing was written by somebody who did not know.

    Parameters
    ----------
    record : CraftRecord
        As the file gives it.
    was, becomes : Craft
        As it is on record, and as the file would have it.
    versions : iterable of tuple of Craft and str
        What was known of it, in order, and whose word each is; the file's own is `CRAFT_FILES`, and
        of an old store nobody's.

    Returns
    -------
    tuple of Craft and list of Fault
        The craft to keep, and a fault for each field that differs.
    """
    known = list(versions)
    people = [by for _, by in known if by not in {CRAFT_FILES, ""}]
    if not people:
        return becomes, []
    said = [one.name for one in fields(Craft) if one.name not in record.unsaid]
    if any(all(getattr(old, name) == getattr(becomes, name) for name in said) for old, _ in known):
        return was, []
    return was, [
        Fault(
            file=CRAFT_FILES,
            key=f"{was.id}.{one.what}",
            craft=was.id,
            problem=f"the file has {one.after or 'nothing'}, and by {people[-1]} it is"
            f" {one.before or 'nothing'}",
            remedy="`laidup export craft --out FILE` writes the craft file as the record has it;"
            " then change it there. `laidup import craft FILE` enters a change as yours.",
        )
        for one in craft_changes(was, becomes)
    ]


def lost_circuits(
    before: Craft,
    after: Craft,
    entries: Iterable[LayupEntry],
    profiles: Mapping[str, Profile],
    source: str,
) -> list[Fault]:
    """Why a craft may not become of another type or lose a fitting: work that is on record.

    Parameters
    ----------
    before, after : Craft
    entries : iterable of LayupEntry
        All work on record, and what comes with the change.
    profiles : mapping of str to Profile
        The library; it holds the new type.
    source : str
        What the fault names as the place of the slip.
    """
    if (before.profile, before.fittings) == (after.profile, after.fittings):
        return []
    key = "profile" if before.profile != after.profile else "fittings"
    try:
        lost = entries_on_missing_circuits(
            entries, after, composed(after.profile, after.fittings, profiles)
        )
    except (KeyError, ValueError) as error:
        return [
            Fault(
                file=source,
                key=f"{after.id}.{key}",
                craft=after.id,
                problem=f"{after.name} cannot be {type_words(after)}: {error.args[0]}",
                remedy="Name a profile of the library, and fittings that it does not bring itself.",
            )
        ]
    if not lost:
        return []
    return [
        Fault(
            file=source,
            key=f"{after.id}.{key}",
            craft=after.id,
            problem=f"{after.name} was {type_words(before)} and is to be {type_words(after)}; but"
            f" {'; '.join(lost)}",
            remedy=f"Replace or withdraw that work first (`laidup layup add {after.id} --act"
            " withdrawn --replaces ENTRY`), or keep the fitting.",
        )
    ]


def _words(value: object) -> str:
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, tuple):
        return ", ".join(str(getattr(one, "circuit", one)) for one in value)
    return "" if value is None else str(value)


_BAD_OUTFLOWS = frozenset({Outflow.NONE, Outflow.CLEAR_WATER})
_BAD_OILS = frozenset({OilAppearance.MILKY, OilAppearance.WATER})


def says_worse(entry: LayupEntry, other: LayupEntry) -> bool:
    """Whether an account holds a doubt that another of the same work does not.

    Less of something, a bad sign, a finding, or a reading where the other has none or a colder
    one: whatever it was, it must come onto the record.
    """
    seen, known = entry.evidence, other.evidence
    bad = (
        seen.outflow in _BAD_OUTFLOWS and seen.outflow is not known.outflow,
        seen.oil in _BAD_OILS and seen.oil is not known.oil,
        seen.dry is False and known.dry is not False,
        seen.engine_hot is False and known.engine_hot is not False,
        seen.treated_fuel_seen is False and known.treated_fuel_seen is not False,
        seen.used_away is True and known.used_away is not True,
        entry.posture not in {None, other.posture},
        _is_above(seen.ice_point_c, known.ice_point_c),
        _is_above(entry.residual_l, other.residual_l),
        _is_above(other.quantity_l, entry.quantity_l) and entry.quantity_l is not None,
        _is_above(other.rested_v, entry.rested_v) and entry.rested_v is not None,
        any(one not in other.findings for one in entry.findings),
    )
    return any(bad)


def _is_above(value: float | None, other: float | None) -> bool:
    """Whether a value is told and is above another, or that one is not told."""
    return value is not None and (other is None or value > other)
