"""Craft that come in as a list that somebody types or pastes: read, shown back, taken in whole."""

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.errors import Fault
from monitor.settings.craft_file import check_craft
from monitor.settings.craft_names import profile_meant
from monitor.web.pages.yard_desk import ListedCraft
from monitor.yard.people import id_from
from monitor.yard.space import Role, Yard
from monitor.yard.yard_change import ItemEdit, YardPart

MOST_LINES = 500
_SOURCE = Path("the list")
_HEADING = {"name", "craft"}
_NUMBER = re.compile(r"craft\[(\d+)\]")
# An owner who is nobody of the yard yet: a name with the mail address that letters reach them at.
_NEW_OWNER = re.compile(r"(?P<name>[^<>]+)<(?P<mail>[^<>\s]+@[^<>\s]+)>")


class ListLine(NamedTuple):
    """One line of a list, as its words stand there."""

    line: int
    name: str
    profile: str
    owner: str
    place: str


def lines_of(text: str) -> list[ListLine]:
    """The craft of a list: name, type, owner, place, parted by tabs, semicolons or commas."""
    found: list[ListLine] = []
    for number, line in enumerate(text.splitlines()[:MOST_LINES], start=1):
        sign = next((one for one in "\t;," if one in line), ",")
        cells = [" ".join(cell.split()) for cell in line.split(sign)]
        if not any(cells) or (not found and cells[0].casefold() in _HEADING):
            continue
        cells += [""] * (4 - len(cells))
        name, profile, owner, *place = cells[:5]
        found.append(ListLine(number, name, profile, owner, "/".join(filter(None, place))))
    return found


def owners_to_add(lines: Sequence[ListLine], yard: Yard) -> dict[str, ItemEdit]:
    """Owners of a list who are nobody of the yard yet, by how they stand there: people to add."""
    taken, found = {one.id for one in yard.people} | set(yard.helpers), dict[str, ItemEdit]()
    by_mail = {one.mail.casefold() for one in yard.people}
    for line in lines:
        match = _NEW_OWNER.fullmatch(line.owner)
        if match is None or line.owner in found or match["mail"].casefold() in by_mail:
            continue
        name = match["name"].strip()
        key = _free_id(name, taken)
        taken.add(key)
        after = {"name": name, "mail": match["mail"], "roles": [Role.OWNER.value]}
        found[line.owner] = ItemEdit(part=YardPart.PEOPLE, key=key, after=after)
    return found


def records_of_list(
    lines: Sequence[ListLine],
    owners: Mapping[str, str],
    yard: Yard,
    profiles: Mapping[str, Profile],
    on_record: Mapping[str, CraftRecord],
    now: datetime,
) -> tuple[tuple[CraftRecord, ...], list[ListedCraft]]:
    """The craft of a list, and each of its lines with what is wrong with it.

    Parameters
    ----------
    lines : sequence of ListLine
    owners : mapping of str to str
        Ids of owners by how they stand in the list.
    yard, profiles
        Whose spaces, people and types the list speaks of; its owners among them.
    on_record : mapping of str to CraftRecord
        Craft by id: one whose name is on record is not taken in again.
    now : datetime
        When they come.
    """
    known = {one.craft.name.casefold() for one in on_record.values()}
    taken = set(on_record)
    content: list[dict[str, Any]] = []
    of_line: list[ListLine] = []
    for line in lines:
        if line.name.casefold() in known:
            continue
        key = _free_id(line.name, taken)
        taken.add(key)
        known.add(line.name.casefold())
        of_line.append(line)
        said = {"id": key, "name": line.name, "profile": line.profile, "arrived": now}
        owner = owners.get(line.owner, line.owner)
        content.append(
            said
            | ({"owner": owner} if owner else {})
            | ({"stays": [{"place": line.place}]} if line.place else {})
        )
    records, faults = check_craft({"craft": content}, _SOURCE, yard, profiles, on_record, now)
    wrong = {of_line[n].line: text for n, text in _by_number(faults).items()}
    taken_in = {one.line for one in of_line}
    return records, [
        ListedCraft(
            line=one.line,
            name=one.name,
            profile=_profile_name(one.profile, profiles),
            owner=one.owner,
            place=one.place,
            problem=wrong.get(one.line, ""),
            is_known=one.line not in taken_in,
        )
        for one in lines
    ]


def _by_number(faults: Sequence[Fault]) -> dict[int, str]:
    """What is wrong with each craft of a list, by its place in it."""
    found: dict[int, list[str]] = {}
    for fault in faults:
        match = _NUMBER.match(fault.key)
        number = int(match[1]) - 1 if match else 0
        found.setdefault(number, []).append(f"{fault.problem}. {fault.remedy}")
    return {number: " ".join(dict.fromkeys(told)) for number, told in found.items()}


def _profile_name(said: str, profiles: Mapping[str, Profile]) -> str:
    try:
        return profiles[profile_meant(said, profiles)].name
    except ValueError:
        return said


def _free_id(name: str, taken: set[str]) -> str:
    plain = id_from(name)
    tries = (plain, *(f"{plain[:58]}-{number}" for number in range(2, 10_000)))
    return next(one for one in tries if one not in taken)
