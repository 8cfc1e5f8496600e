"""What a message lists: one item for each craft, space or sensor, in the order to act in."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.alarms.definitions import title_of
from monitor.alarms.entry import Entry
from monitor.alarms.letters.entry_words import (
    FIRST_DEW,
    act_of,
    also_of,
    basis_of,
    craft_name,
    craft_title,
    hour_of,
    what_of,
)
from monitor.phrases.names import part_name, plain, space_name
from monitor.phrases.numbers import list_numbers
from monitor.wording import Wording
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Hazard
from monitor.yard.space import Yard

_FAR = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of a message's list, in words."""

    when: str  # the hour that matters, or a word where there is none
    when_what: str  # what happens then
    brief: str  # both in a phrase
    iced: bool
    ice_ahead: bool  # first ice comes at its hour, and can still be met
    name: str  # of the craft or the space alone, for a subject line
    title: str  # with the craft's id
    space: str  # empty where the title is the space
    place: str  # with the berth
    what: str  # the part, or what is wrong
    act: str
    facts: tuple[tuple[str, str], ...]
    basis: str
    also: str
    news: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Items under one heading."""

    heading: str
    items: tuple[Item, ...]


def group_items(
    topic: Topic,
    entries: Sequence[Entry],
    yard: Yard,
    wording: Wording,
    beside: Sequence[Entry] = (),
) -> tuple[Group, ...]:
    """Sort what holds into groups; inside each, whoever suffers first stands first."""
    if topic is Topic.DAMP:
        return _one_group("", entries, _damp_item, _by_space, yard, wording)
    if topic in {Topic.HEAT, Topic.SILENCE, Topic.PATH}:
        listed = _one_group("", entries, _space_item, _by_part, yard, wording)
        heading = "Craft that freeze there, if the heat stays away"
        return (*listed, *_one_group(heading, beside, _craft_item, _by_craft, yard, wording))
    if topic is Topic.BATTERY:
        return _one_group("", entries, _craft_item, _by_danger, yard, wording)
    lost = {entry.alarm.craft for entry in entries if entry.iced}
    # Frost that comes to another circuit of a craft with ice in it can still be met; what its
    # record asks cannot be done before somebody has looked.
    iced = [
        entry
        for entry in entries
        if entry.iced or (entry.alarm.craft in lost and entry.definition.hazard is Hazard.RECORD)
    ]
    ahead = [entry for entry in entries if entry not in iced]
    heading = "Still to save, in this order" if iced else ""
    return (
        *_one_group(heading, ahead, _craft_item, _by_craft, yard, wording),
        *_one_group(
            "Ice: do not start, thaw and inspect first",
            iced,
            _craft_item,
            _by_craft,
            yard,
            wording,
        ),
    )


def order_of_danger(entry: Entry) -> tuple[datetime, int, float, str]:
    """Sorting key: who suffers first; then who stands worst, by margin."""
    margin_k = math.inf if entry.assessment is None else entry.assessment.margin_k
    return (
        entry.alarm.deadline or _FAR,
        -entry.rank,
        math.inf if math.isnan(margin_k) else margin_k,
        entry.subject,
    )


_MakeItem = Callable[[Sequence[Entry], Yard, Wording], Item]


def _one_group(
    heading: str,
    entries: Iterable[Entry],
    item: _MakeItem,
    key: Callable[[Entry], str],
    yard: Yard,
    wording: Wording,
) -> tuple[Group, ...]:
    together: dict[str, list[Entry]] = {}
    for entry in sorted(entries, key=order_of_danger):
        together.setdefault(key(entry), []).append(entry)
    if not together:
        return ()
    items = tuple(item(members, yard, wording) for members in together.values())
    return (Group(heading=heading, items=items),)


def _by_craft(entry: Entry) -> str:
    return entry.alarm.craft or entry.subject


def _by_danger(entry: Entry) -> str:
    return entry.danger  # that a battery is overcharged asks for another act than that it freezes


def _by_space(entry: Entry) -> str:
    return entry.alarm.space


def _by_part(entry: Entry) -> str:
    return entry.subject


def _craft_item(entries: Sequence[Entry], yard: Yard, wording: Wording) -> Item:
    """One craft: its most pressing part with the numbers, the others in a line."""
    first = entries[0]
    craft, seen = first.craft, first.assessment
    when, when_what, brief = hour_of(first, wording)
    space = space_name(yard, first.alarm.space)
    berth = f", berth {plain(craft.berth)}" if craft and craft.berth else ""
    return Item(
        when=when,
        when_what=when_what,
        brief=brief,
        iced=first.iced,
        ice_ahead=first.ice_ahead,
        name=craft_name(first),
        title=craft_title(first),
        space=space,
        place=f"{space}{berth}",
        what=what_of(first),
        act=act_of(first, yard, wording),
        facts=list_numbers(seen, wording),
        basis=basis_of(first, yard, wording),
        also=also_of(entries[1:], yard, wording),
        news=any(entry.news for entry in entries),
    )


def _space_item(entries: Sequence[Entry], yard: Yard, wording: Wording) -> Item:
    """A space that loses its heat, or a sensor that is not heard."""
    first = entries[0]
    seen = first.assessment
    when, when_what, brief = hour_of(first, wording)
    sensor = part_name(None, first.alarm.part)
    return Item(
        when=when,
        when_what=when_what,
        brief=brief,
        iced=first.iced,
        ice_ahead=first.ice_ahead,
        name=space_name(yard, first.alarm.space),
        title=space_name(yard, first.alarm.space),
        space="",
        place=craft_title(first) if first.alarm.craft else "",
        what=f"{first.definition.title}: {sensor}" if sensor else first.definition.title,
        act=act_of(first, yard, wording),
        facts=list_numbers(seen, wording),
        basis=basis_of(first, yard, wording),
        also="",
        news=first.news,
    )


DRYING_ACT = "The metal has passed the dew point: move the air until it is dry."


def _damp_item(entries: Sequence[Entry], yard: Yard, wording: Wording) -> Item:
    """One space whose metal is wet: what to do there, and how many craft it touches."""
    # Metal that sweats, then what will, then air that is damp: the act serves all of them.
    worst = wettest_of(entries)
    seen = worst.assessment
    known = [e.assessment.ends for e in entries if e.assessment and e.assessment.ends]
    ends = [at for at in known if at > wording.now]
    when, when_what = (wording.clock(max(ends)), "dry again") if ends else ("now", "wet")
    brief = f"dry again {when}" if ends else "wet now"
    if worst.dew_ahead:
        begins = [entry.alarm.deadline for entry in entries if entry.alarm.deadline]
        when, when_what = (wording.clock(min(begins)) if begins else "soon"), FIRST_DEW
        brief = f"{FIRST_DEW} {when}"
    return Item(
        when=when,
        when_what=when_what,
        brief=brief,
        iced=False,
        ice_ahead=False,
        name=space_name(yard, worst.alarm.space),
        title=space_name(yard, worst.alarm.space),
        space="",
        place="",
        what=wet_metal(entries),
        act=DRYING_ACT if worst.drying else act_of(worst, yard, wording),
        facts=list_numbers(seen, wording),
        basis=basis_of(worst, yard, wording),
        also="",
        news=any(entry.news for entry in entries),
    )


def wet_metal(entries: Sequence[Entry]) -> str:
    """On how many craft of a space metal is wet or will be, and where it is worst."""
    worst = wettest_of(entries)
    what = "Metal is still wet" if worst.drying else title_of(worst.definition, worst.assessment)
    alike = [entry for entry in entries if entry.drying is worst.drying]
    craft = {entry.alarm.craft for entry in alike if entry.alarm.craft}
    if not craft:
        return what
    where = f"{craft_title(worst)}, {part_name(worst.craft, worst.alarm.part)}"
    now = {entry.alarm.craft for entry in alike if not entry.dew_ahead}
    later = set() if worst.dew_ahead else craft - now
    more = f", and will on {len(later)} more" if later else ""
    return f"{what} on {len(craft - later)} craft{more}; worst on {where}"


def wettest_of(entries: Iterable[Entry]) -> Entry:
    """The one that decides what is to be done about a space's damp."""
    return min(entries, key=_wettest)


def _wettest(entry: Entry) -> tuple[bool, bool, float]:
    margin_k = math.nan if entry.assessment is None else entry.assessment.margin_k
    return math.isnan(margin_k), entry.dew_ahead, margin_k
