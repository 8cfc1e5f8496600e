"""Which craft the pages of the yard list: all of a small yard, by space or name of a large one."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Query

from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import place_name, plain
from monitor.web.pages.yard_desk import YardDesk
from monitor.yard.people import names_by_id
from monitor.yard.space import Yard

MOST_LISTED = 60  # craft; a yard that has more is looked through by space or by name
LONGEST_FIND = 80  # letters
TextAsked = Annotated[str, Query(max_length=LONGEST_FIND)]
StartAsked = Annotated[int, Query(ge=0, le=1_000_000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingCraft:
    """One craft in a list."""

    id: str
    name: str
    kind: str
    owner: str
    place: str
    space: str
    berth: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftAsked:
    """Which craft of a large yard somebody asks for; nothing: its spaces, each with its count."""

    find: str = ""  # part of a name, whatever its case: of the craft or of its owner
    space: str = ""  # id
    start: int = 0  # of those found, how many to pass over

    @classmethod
    def of_form(cls, form: Mapping[str, str]) -> "CraftAsked":
        """What the page showed whose form this is."""
        return cls(find=form.get("shown_find", "")[:LONGEST_FIND],
                   space=form.get("shown_space", "")[:LONGEST_FIND])  # fmt: skip

    @property
    def wanted(self) -> str:
        """The part of a name as names are compared with it; empty: all names."""
        return plain(self.find).casefold().strip()

    @property
    def is_whole(self) -> bool:
        """Whether neither a space nor a name is asked for."""
        return not self.wanted and not self.space

    def takes_in(self, space: str, *names: str) -> bool:
        """Whether a craft in a space that is known by these names is asked for."""
        wanted = self.wanted
        return self.space in {"", space} and any(wanted in plain(one).casefold() for one in names)

    def asked_behind(self, shown: int, found: int) -> "CraftAsked | None":
        """What asks for those behind so many shown, of so many found; None: there are none."""
        behind = self.start + shown
        return replace(self, start=behind) if behind < found else None

    @property
    def query(self) -> str:
        """The same as the query of an address, with its question mark; empty: nothing is asked."""
        said = {"find": self.find, "space": self.space, "start": self.start}
        told = urlencode({key: one for key, one in said.items() if one})
        return f"?{told}" if told else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftList:
    """The craft that a page lists, and how many it leaves out."""

    asked: CraftAsked
    here: int  # craft in the yard's care
    found: int  # of them what was asked for
    craft: Sequence[StandingCraft]
    spaces: Sequence[tuple[str, str, int]]  # id, name, craft there; empty: all craft are listed
    space_name: str = ""  # of the space asked for
    away: Sequence[tuple[str, str]] = ()  # id and name
    away_found: int = 0

    @property
    def is_long(self) -> bool:
        """Whether it is too long to be looked through."""
        return self.here + self.away_found > MOST_LISTED or bool(self.asked.find)

    @property
    def next(self) -> CraftAsked | None:
        """What shows those behind; None: these are the last."""
        return self.asked.asked_behind(len(self.craft), self.found)


def count_by_space(
    spaces: Iterable[str], names: Mapping[str, str]
) -> Sequence[tuple[str, str, int]]:
    """Id, name and count of each space that is named at least once, in the yard's order.

    Parameters
    ----------
    spaces : iterable of str
        Ids, one for each thing to count; of spaces that are gone too, which come last.
    names : mapping of str to str
        Of the yard's spaces by id.
    """
    counts = Counter(spaces)
    order = {key: number for number, key in enumerate(names)}
    known = sorted(counts, key=lambda key: order.get(key, len(order)))
    return [(key, names.get(key, key), counts[key]) for key in known]


def list_craft(desk: YardDesk, craft: Sequence[StoredCraft], asked: CraftAsked) -> CraftList:
    """The craft that were asked for, by space and berth, `MOST_LISTED` at most of a large yard.

    Parameters
    ----------
    desk : YardDesk
    craft : sequence of StoredCraft
        Those in the yard's care now.
    asked : CraftAsked
    """
    names, people = {one.id: plain(one.name) for one in desk.yard.spaces}, names_by_id(desk.yard)
    order = {one.id: number for number, one in enumerate(desk.yard.spaces)}
    found = sorted(
        (one for one in craft
         if asked.takes_in(one.space, one.name, people.get(one.owner, one.owner))),
        key=lambda one: (order.get(one.space, 99), _by_number(one.berth), plain(one.name)),
    )  # fmt: skip
    is_folded = asked.is_whole and len(found) > MOST_LISTED
    shown = [] if is_folded else found[asked.start : asked.start + MOST_LISTED]
    away = [one for one in craft_away(desk, craft) if asked.wanted in one[1].casefold()]
    return CraftList(
        asked=asked,
        here=len(craft),
        found=len(found),
        craft=_standing_rows(desk, shown, names, people),
        spaces=count_by_space((one.space for one in craft), names)
        if len(craft) > MOST_LISTED
        else [],
        space_name=names.get(asked.space, asked.space),
        away=away[:MOST_LISTED],
        away_found=len(away),
    )


def _standing_rows(
    desk: YardDesk,
    craft: Sequence[StoredCraft],
    names: Mapping[str, str],
    people: Mapping[str, str],
) -> list[StandingCraft]:
    with desk.store.snapshot() as tx:
        kinds = {one.id: one.profile for one in tx.layup.all_craft([one.id for one in craft])}
    return [
        StandingCraft(
            id=one.id,
            name=plain(one.name),
            kind=_kind_of(kinds.get(one.id, ""), desk.profiles),
            owner=plain(people.get(one.owner, one.owner)),
            place=place_name(names.get(one.space, one.space), one.berth),
            space=one.space,
            berth=one.berth,
        )
        for one in craft
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftChoices:
    """Which craft a sensor can be said to hang on, each as its id and name, in order of names."""

    in_yard: Sequence[tuple[str, str]] | None  # None: more than `MOST_LISTED`
    by_sensor: Mapping[str, Sequence[tuple[str, str]]]


def craft_choices(yard: Yard, craft: Sequence[StoredCraft]) -> CraftChoices:
    """All craft of a small yard; of a large one, for each sensor, those in its space and its own.

    Two thousand names beside each of forty sensors would be three megabytes.
    """
    several = sorted(((plain(one.name).casefold(), one) for one in craft), key=lambda one: one[0])
    told = [(one.id, plain(one.name)) for _, one in several]
    if len(told) <= MOST_LISTED:
        return CraftChoices(in_yard=told, by_sensor={one.name: told for one in yard.sensors})
    by_space: dict[str, list[tuple[str, str]]] = {}
    for (_, one), said in zip(several, told, strict=True):
        by_space.setdefault(one.space, []).append(said)
    names = dict(told)
    by_sensor = {}
    for sensor in yard.sensors:
        near = by_space.get(sensor.space, [])
        own = sensor.craft or ""
        is_elsewhere = own and own not in {key for key, _ in near}
        by_sensor[sensor.name] = [(own, names.get(own, own)), *near] if is_elsewhere else near
    return CraftChoices(in_yard=None, by_sensor=by_sensor)


def craft_away(desk: YardDesk, craft: Sequence[StoredCraft]) -> list[tuple[str, str]]:
    """Craft on record that are not in the yard now: id and name."""
    here = {one.id for one in craft}
    with desk.store.snapshot() as tx:
        names = tx.layup.craft_names()
    return sorted(
        ((key, plain(name)) for key, name in names.items() if key not in here),
        key=lambda one: one[1].casefold(),
    )


def _kind_of(profile: str, profiles: Mapping[str, Profile]) -> str:
    return profiles[profile].name if profile in profiles else profile


def _by_number(berth: str) -> tuple[int, str]:
    return (int(berth) if berth.isdigit() else 10_000, berth)
