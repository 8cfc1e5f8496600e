"""What a craft file calls things, as people write them: types, owners, places and dates."""

import re
from collections.abc import Callable, Collection, Mapping
from datetime import UTC, datetime, time, tzinfo
from typing import Any

from monitor.craft.profile import Profile
from monitor.errors import BadValueError
from monitor.settings.faults import one_of
from monitor.settings.written_times import parse_past_time
from monitor.yard.people import person_id
from monitor.yard.space import Yard

_STROKES = {"2": "two", "4": "four"}  # the nearest name to 4-stroke would be that of two
_NOTHING = frozenset({"", "-"})  # not said, or cleared
_HOUR = re.compile(r"\d:\d|\d\s*(?:am|pm|h)\b")
_LATEST = datetime(9999, 12, 1, tzinfo=UTC)


def names_meant(
    said: Mapping[str, Any], yard: Yard, profiles: Mapping[str, Profile]
) -> tuple[dict[str, Any], dict[str, ValueError]]:
    """One craft of a file with ids in place of names, and dates in place of their words.

    Parameters
    ----------
    said : mapping
        What stands in the file under one craft, unchecked.
    yard : Yard
        Whose spaces, people and zone it speaks of.
    profiles : mapping of str to Profile
        The library.

    Returns
    -------
    tuple of dict and dict
        What is meant, as it was where it leads nowhere; and what is wrong with that, by key.
    """
    wrong: dict[str, ValueError] = {}

    def read(value: object, place: str, read_text: Callable[[str], object]) -> object:
        if not isinstance(value, str) or value in _NOTHING:
            return value
        try:
            return read_text(value)
        except ValueError as error:
            wrong[place] = error
            return value

    def profile(text: str) -> object:
        return profile_meant(text, profiles)

    def moment(text: str) -> object:
        return parse_dated_time(text, yard.zone)

    readers: dict[str, Callable[[str], object]] = {
        "profile": profile,
        "owner": lambda text: owner_meant(text, yard),
        "arrived": moment,
        "left": moment,
    }
    meant = {
        key: read(value, key, readers[key]) if key in readers else value
        for key, value in said.items()
    }
    if isinstance(fittings := said.get("fittings"), list):
        meant["fittings"] = [read(one, "fittings", profile) for one in fittings]
    if isinstance(stays := said.get("stays"), list):
        of_stay = {"place": lambda text: place_meant(text, yard), "since": moment}
        meant["stays"] = [
            {
                key: read(value, f"stays[{n}].{key}", of_stay[key]) if key in of_stay else value
                for key, value in stay.items()
            }
            if isinstance(stay, dict)
            else stay
            for n, stay in enumerate(stays, start=1)
        ]
    return meant, wrong


def only_named(said: dict[str, Any], named: Collection[str]) -> dict[str, Any]:
    """Of a file's content the craft that are asked about; what is no list of craft stays whole."""
    craft = said.get("craft")
    if not isinstance(craft, list) or not all(isinstance(one, dict) for one in craft):
        return said
    wanted = {name.strip().casefold() for name in named}
    found = [one for one in craft if {_as_asked(one.get(key)) for key in ("id", "name")} & wanted]
    return {"craft": found} if found else {}


def _as_asked(value: object) -> str:
    """An id or name as a person would ask for it: signs that nobody sees may be what is wrong."""
    return "".join(sign for sign in str(value) if sign.isprintable()).casefold()


def craft_meant(said: str, names: Mapping[str, str]) -> str:
    """The id of the craft that is named by id, or by a name that no other has.

    Raises
    ------
    ValueError
        If several craft have that name.
    """
    sought = said.strip().casefold()
    if sought in names:
        return sought
    found = [key for key, name in names.items() if name.casefold() == sought]
    if len(found) > 1:
        raise BadValueError(f"{said!r} may be {' or '.join(found)}", "write the id")
    return found[0] if found else said


def profile_meant(text: str, profiles: Mapping[str, Profile]) -> str:
    """The id of a craft type that is named by its id, written somehow, or by its name.

    Raises
    ------
    ValueError
        If there is none; names the nearest.
    """
    words = text.casefold().replace("_", " ").replace("-", " ").split()
    plain = "-".join(_STROKES.get(word, word) for word in words)
    named = [key for key, one in profiles.items() if one.name.casefold() == text.casefold()]
    found = [plain] if plain in profiles else named
    if len(found) != 1:
        raise BadValueError(f"there is no profile {text!r}", one_of(plain, sorted(profiles)))
    return found[0]


def owner_meant(text: str, yard: Yard) -> str:
    """The id of the owner who is named by id or name; only who is told things can be one.

    Raises
    ------
    ValueError
        If it is nobody of the yard's people, or more than one.
    """
    people = {person.id: person.name for person in yard.people}
    try:
        return person_id(text, people) if people else text
    except ValueError as error:
        raise BadValueError(
            f"{text!r} is nobody of this yard",
            f"{one_of(text, list(people))} An owner stands under [[people]] in the yard's file.",
        ) from error


def place_meant(text: str, yard: Yard) -> str:
    """A place as ``space`` or ``space/berth``, the space named by id or name.

    Raises
    ------
    ValueError
        If the yard has no such space, or the space no such berth.
    """
    named, _, berth = (part.strip() for part in text.partition("/"))
    found = [
        one for one in yard.spaces if named.casefold() in (one.id.casefold(), one.name.casefold())
    ]
    if len(found) != 1:
        raise BadValueError(f"{named!r} is no space of this yard", _space_hint(named, berth, yard))
    [space] = found
    berth = berth.casefold()
    if berth and space.berths and berth not in space.berths:
        raise BadValueError(f"{space.name} has no berth {berth!r}", one_of(berth, [*space.berths]))
    return f"{space.id}/{berth}" if berth else space.id


def _space_hint(named: str, berth: str, yard: Yard) -> str:
    """What was meant: a space whose id or name holds the word, with the berth as it was said."""
    near = [
        one.id
        for one in yard.spaces
        if named and named.casefold() in f"{one.id} {one.name}".casefold()
    ]
    if len(near) == 1:
        return f"Did you mean {'/'.join(filter(None, (near[0], berth)))!r}?"
    return one_of(named, [one.id for one in yard.spaces])


def parse_dated_time(text: str, zone: tzinfo) -> datetime:
    """A moment of a file that may be read again in another year, so that it must name its year.

    A day alone is its beginning: work may have been done on a craft the morning that it came.

    Raises
    ------
    ValueError
        If it is no time, may be two, or names no year.
    """
    at = parse_past_time(text, _LATEST.astimezone(zone))
    if str(at.year) not in text:
        raise BadValueError(f"{text!r} names no year", "write it like 20 Oct 2026")
    return at if _HOUR.search(text.lower()) else datetime.combine(at.date(), time(), at.tzinfo)
