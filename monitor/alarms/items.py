"""What a message lists: one item for each craft, space or sensor, in the order to act in."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.alarms.definitions import Topic, title_of
from monitor.alarms.entry import Entry
from monitor.alarms.wording import part_name, plain, space_name
from monitor.typeset import typeset
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.space import Yard

_FAR = datetime.max.replace(tzinfo=UTC)
_ALSO_SHOWN = 3
FIRST_ICE, FIRST_DEW = "first ice", "first dew"


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of a message's list, in words."""

    when: str  # the hour that matters, or a word where there is none
    when_what: str  # what happens then
    brief: str  # both in a phrase
    iced: bool
    title: str
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


def groups(
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
        return _one_group("", entries, _craft_item, _by_craft, yard, wording)
    lost = {entry.alarm.craft for entry in entries if entry.iced}
    ahead = [entry for entry in entries if entry.alarm.craft not in lost]
    iced = [entry for entry in entries if entry.alarm.craft in lost]
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


def order(entry: Entry) -> tuple[datetime, int, float, str]:
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
    for entry in sorted(entries, key=order):
        together.setdefault(key(entry), []).append(entry)
    if not together:
        return ()
    items = tuple(item(members, yard, wording) for members in together.values())
    return (Group(heading=heading, items=items),)


def _by_craft(entry: Entry) -> str:
    return entry.alarm.craft or entry.subject


def _by_space(entry: Entry) -> str:
    return entry.alarm.space


def _by_part(entry: Entry) -> str:
    return entry.subject


def _craft_item(entries: Sequence[Entry], yard: Yard, wording: Wording) -> Item:
    """One craft: its most pressing part with the numbers, the others in a line."""
    first = entries[0]
    craft, seen = first.craft, first.assessment
    when, when_what, brief = _when(first, wording)
    space = space_name(yard, first.alarm.space)
    berth = f", berth {plain(craft.berth)}" if craft and craft.berth else ""
    return Item(
        when=when,
        when_what=when_what,
        brief=brief,
        iced=first.iced,
        title=_craft_title(first),
        space=space,
        place=f"{space}{berth}",
        what=_what(first),
        act=_act(first, wording),
        facts=_facts(seen, wording),
        basis="" if seen is None else _said(seen.basis, 700, wording),
        also=_also(entries[1:], wording),
        news=any(entry.news for entry in entries),
    )


def _space_item(entries: Sequence[Entry], yard: Yard, wording: Wording) -> Item:
    """A space that loses its heat, or a sensor that is not heard."""
    first = entries[0]
    seen = first.assessment
    when, when_what, brief = _when(first, wording)
    sensor = part_name(None, first.alarm.part)
    return Item(
        when=when,
        when_what=when_what,
        brief=brief,
        iced=first.iced,
        title=space_name(yard, first.alarm.space),
        space="",
        place=_craft_title(first) if first.alarm.craft else "",
        what=f"{first.definition.title}: {sensor}" if sensor else first.definition.title,
        act=_act(first, wording),
        facts=_facts(seen, wording),
        basis="" if seen is None else _said(seen.basis, 700, wording),
        also="",
        news=first.news,
    )


def _damp_item(entries: Sequence[Entry], yard: Yard, wording: Wording) -> Item:
    """One space whose metal is wet: what to do there, and how many craft it touches."""
    # Metal that sweats, then what will, then air that is damp: the act serves all of them.
    worst = min(entries, key=_wettest)
    seen = worst.assessment
    known = [e.assessment.ends for e in entries if e.assessment and e.assessment.ends]
    ends = [at for at in known if at > wording.now]
    craft = {entry.alarm.craft for entry in entries if entry.alarm.craft}
    what = title_of(worst.definition, seen)
    if craft:
        where = f"{_craft_title(worst)}, {part_name(worst.craft, worst.alarm.part)}"
        what = f"{what} on {_count(len(craft), 'craft', 'craft')}; worst on {where}"
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
        title=space_name(yard, worst.alarm.space),
        space="",
        place="",
        what=what,
        act=_act(worst, wording),
        facts=_facts(seen, wording),
        basis="" if seen is None else _said(seen.basis, 700, wording),
        also="",
        news=any(entry.news for entry in entries),
    )


def _wettest(entry: Entry) -> tuple[bool, bool, float]:
    margin_k = math.nan if entry.assessment is None else entry.assessment.margin_k
    return math.isnan(margin_k), entry.dew_ahead, margin_k


def _when(entry: Entry, wording: Wording) -> tuple[str, str, str]:
    """The hour that matters, what happens then, and both in a phrase."""
    standing = _standing(entry)
    deadline = entry.alarm.deadline
    if entry.iced and standing is Standing.SOLID:
        return "Ice", "frozen through", "frozen through"
    if entry.iced and standing is not Standing.ICING:
        return "Check", "has been through ice", "has been through ice"
    if entry.iced and (deadline is None or deadline > wording.now):
        return "Ice", "forming now", "ice forming now"
    seen = entry.assessment
    if deadline is None and entry.definition.topic is Topic.FROST and seen and seen.low_at:
        hour = wording.clock(seen.low_at)
        return hour, "coldest", f"down to {wording.temperature(seen.low_c)} about {hour}"
    if deadline is None:
        since = wording.clock(entry.alarm.raised_at)
        return since, "since then", f"since {since}"
    hour = wording.clock(deadline)
    what = "ice since" if entry.iced else _HAPPENS.get(entry.definition.hazard, "act by")
    return hour, what, f"{what} {hour}"


_HAPPENS = {Hazard.FROST: FIRST_ICE, Hazard.BATTERY: "freezes", Hazard.AIR: "act by"}


def _facts(seen: Assessment | None, wording: Wording) -> tuple[tuple[str, str], ...]:
    """The numbers: now, the coming low, what it can stand, and the room between them."""
    if seen is None:
        return (("now", "no fresh reading"),)
    facts: list[tuple[str, str]] = []
    if not math.isnan(seen.now_c):
        facts.append(("now", wording.temperature(seen.now_c)))
    if not math.isnan(seen.low_c):
        at = f" at {wording.clock(seen.low_at)}" if seen.low_at else ""
        facts.append(("low", f"{wording.temperature(seen.low_c)}{at}"))
    if math.isfinite(seen.limit_c):
        label, limit = _LIMIT[seen.hazard], wording.temperature(seen.limit_c)
        if seen.hazard is Hazard.DAMP and seen.limit_c < 0.0:
            label = "frost point"
        elif seen.hazard is Hazard.FROST:
            limit = wording.ice_point(seen.limit_c)
        facts.append((label, limit))
    if room := _room(seen, wording):
        facts.append(("margin", room))
    if seen.hazard is Hazard.FROST and seen.ends is not None:
        facts.append(("frozen through", wording.clock(seen.ends)))
    return tuple(facts)


def _room(seen: Assessment, wording: Wording) -> str:
    """Say the margin in words that need no sign; empty where there is none to state."""
    margin_k = seen.margin_k
    if not math.isfinite(margin_k):
        return ""
    if seen.hazard is Hazard.DAMP:
        return f"{wording.difference(margin_k)} {'above' if margin_k >= 0 else 'below'} it"
    return f"{wording.difference(margin_k)} {'to spare' if margin_k >= 0 else 'short'}"


_LIMIT = {
    Hazard.FROST: "ice point",
    Hazard.DAMP: "dew point",
    Hazard.BATTERY: "electrolyte freezes",
    Hazard.AIR: "limit",
    Hazard.SILENCE: "limit",
}


def _also(entries: Sequence[Entry], wording: Wording) -> str:
    """The craft's other parts in one line; what its record says first, for it is why."""
    on_record = [each for each in entries if each.definition.hazard is Hazard.RECORD]
    others = [each for each in entries if each.definition.hazard is not Hazard.RECORD]
    shown = [*on_record, *others][: max(_ALSO_SHOWN, len(on_record))]
    named = []
    for entry in shown:
        when = f" {wording.clock(entry.alarm.deadline)}" if entry.alarm.deadline else ""
        named.append(f"{_part(entry)}{when}")
    more = len(entries) - len(named)
    if more > 0:
        named.append(f"{more} more")
    line = f"Also {'; '.join(named)}" if named else ""
    asked = [_act(each, wording) for each in on_record if each.definition.never_missed]
    return ". ".join([line, *asked])


def _act(entry: Entry, wording: Wording) -> str:
    asked = entry.assessment.act if entry.assessment is not None else ""
    return _said(asked or entry.definition.act, 300, wording)


def _said(text: str, limit: int, wording: Wording) -> str:
    """One line of a judgement in the reader's units."""
    return typeset(plain(wording.told(text), limit=limit))


def _what(entry: Entry) -> str:
    if entry.definition.topic is Topic.BATTERY:
        return entry.definition.title
    part = _part(entry)
    return part[:1].upper() + part[1:]


def _part(entry: Entry) -> str:
    """The circuit that is meant; of what a record says, what it says."""
    if entry.definition.hazard is Hazard.RECORD:
        title = entry.definition.title
        return title[:1].lower() + title[1:]
    return part_name(entry.craft, entry.alarm.part)


def _craft_title(entry: Entry) -> str:
    if entry.craft is None:
        return plain(entry.alarm.craft) or plain(entry.alarm.space)
    name, craft_id = plain(entry.craft.name), plain(entry.craft.id)
    return name if name == craft_id else f"{name} ({craft_id})"


def _standing(entry: Entry) -> Standing | None:
    return None if entry.assessment is None else entry.assessment.standing


def _count(n: int, one: str, many: str) -> str:
    return f"{n} {one if n == 1 else many}"
