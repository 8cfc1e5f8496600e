"""A letter to the owner of a craft: what laidup sees of it, and what the yard is asked to do."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from monitor.alarms.entry import Entry, Letter
from monitor.alarms.letters.items import Group, Item, group_items, order_of_danger
from monitor.phrases.names import part_name, plain, space_name
from monitor.phrases.topics import DAMP_AIR, DEW_AHEAD, DRYING, TopicWords, words_of_topic
from monitor.wording import Wording
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.message import MessageKind
from monitor.yard.space import Yard

SHOWN = 12  # items that a letter spells out
_LOOK_FIRST = "The frost is over; what had ice in it is not clear"


def owner_subject(letter: Letter, yard: Yard, words: Wording) -> str:
    """The line for the lock screen: what, how many, who first, by when."""
    what = _topic_words(letter).subject
    if letter.kind is MessageKind.ALL_CLEAR:
        first = f"{what}: {'over, but look first' if _had_ice(letter) else 'all clear'}"
    else:
        first = _what_comes_first(letter, _items(letter, yard, words), what)
    clear = [_topic_word(each) for each in letter.along if each.kind is MessageKind.ALL_CLEAR]
    others = [_topic_word(each) for each in letter.along if each.kind is not MessageKind.ALL_CLEAR]
    also = f"; also {', '.join(others)}" if others else ""
    over = f"; over: {', '.join(clear)}" if clear else ""
    return f"{first}{also}{over}"


def owner_content(letter: Letter, yard: Yard, words: Wording) -> Mapping[str, object]:
    """What the template of an owner's letter shows."""
    listed = _listed(letter, yard, words)
    shown, rest = _cut(listed)
    return {
        "yard": plain(yard.name),
        "title": _title_of(letter, _items(letter, yard, words)),
        "lead": _lead_of(letter),
        "groups": shown,
        "over": _over(letter, yard) if letter.kind is MessageKind.ALL_CLEAR else (),
        "rest": _rest(rest),
        "update": letter.kind is MessageKind.UPDATE,
        "further": [_section(each, yard, words) for each in letter.along],
        "foot": CAUTION_TEXT[Caution.NOT_LIFE_SAFETY],
        "at": words.moment(words.now),
    }


def _section(letter: Letter, yard: Yard, words: Wording) -> dict[str, object]:
    """What went along: of what was told before only how much it is, or it hides what is new."""
    over = letter.kind is MessageKind.ALL_CLEAR
    listed = _listed(letter, yard, words)
    new = [
        Group(heading=group.heading, items=tuple(item for item in group.items if item.news))
        for group in listed
    ]
    shown, rest = _cut([group for group in new if group.items])
    items = _items(letter, yard, words)
    return {
        "title": _title_of(letter, items),
        "lead": _lead_of(letter),
        "groups": shown,
        "as_told": len(items) - len(_items_of(new)),
        "over": _over(letter, yard) if over else (),
        "rest": _rest(rest),
        "update": letter.kind is MessageKind.UPDATE,
    }


def _listed(letter: Letter, yard: Yard, words: Wording) -> tuple[Group, ...]:
    if letter.kind is MessageKind.ALL_CLEAR:
        return ()
    return group_items(letter.topic, letter.entries, yard, words, letter.beside)


def _items(letter: Letter, yard: Yard, words: Wording) -> list[Item]:
    return _items_of(_listed(letter, yard, words))


def _items_of(listed: Iterable[Group]) -> list[Item]:
    return [item for group in listed for item in group.items]


def _what_comes_first(letter: Letter, items: list[Item], what: str) -> str:
    update = letter.kind is MessageKind.UPDATE
    if update:
        items = [item for item in items if item.news] or items
    if all(item.iced for item in items):
        what = "Ice"
    first = items[0]
    others = len({item.title for item in items}) - 1
    more = f" and {others} more" if others else ""
    return f"{'Update: ' if update else ''}{what}: {first.name}{more}, {first.brief}"


def _topic_word(letter: Letter) -> str:
    return _topic_words(letter).subject.lower()


def _topic_words(letter: Letter) -> TopicWords:
    hazards = {entry.definition.hazard for entry in letter.entries}
    if letter.entries and all(entry.alarm.cause == "damp" for entry in letter.entries):
        return DAMP_AIR
    if letter.entries and all(entry.drying for entry in letter.entries):
        return DRYING
    if letter.entries and all(entry.dew_ahead for entry in letter.entries):
        return DEW_AHEAD
    return words_of_topic(letter.topic, hazards)


def _title_of(letter: Letter, items: Sequence[Item]) -> str:
    """The first line of the letter itself."""
    said = _topic_words(letter)
    if letter.kind is MessageKind.ALL_CLEAR:
        return _LOOK_FIRST if _had_ice(letter) else f"All clear: {said.over}"
    n = len({item.title for item in items})
    if n == 1:
        return items[0].name
    many = said.many
    if letter.topic is Topic.FROST and all(entry.iced for entry in letter.entries):
        many = "{n} craft have ice in them"
    return many.format(n=n, name=items[0].name)


def _had_ice(letter: Letter) -> bool:
    """Warmth clears nothing that has been through ice: only a person who looks does."""
    return any(entry.iced for entry in letter.entries)


def _lead_of(letter: Letter) -> str:
    """The first sentences."""
    if letter.kind is not MessageKind.ALL_CLEAR:
        return (
            "This is what laidup sees for your craft, and why. Ask the yard what is being done."
            " Please do not start it, and do not charge its battery, before the yard has looked at"
            " it."
        )
    if _had_ice(letter):
        return (
            "No new ice is to be feared here, as far as laidup can judge. But what is listed"
            " had ice in it: thaw it, look for leaks and read its mix again before anyone"
            " starts it."
        )
    return "Nothing of your craft is in danger any more, as far as laidup can judge."


def _cut(listed: Sequence[Group]) -> tuple[tuple[Group, ...], list[Item]]:
    """As much as a person reads, and the rest; what can still be saved comes first."""
    left = SHOWN
    shown: list[Group] = []
    rest: list[Item] = []
    for group in listed:
        kept = group.items[:left]
        rest.extend(group.items[left:])
        left -= len(kept)
        if kept:
            shown.append(Group(heading=group.heading, items=kept))
    return tuple(shown), rest


def _rest(rest: Sequence[Item]) -> list[tuple[str, int]]:
    """How many more there are, by place."""
    places = Counter(item.space or item.title for item in rest)
    return places.most_common()


def _over(letter: Letter, yard: Yard) -> list[str]:
    """What an all clear is about."""
    names = [_name_of(entry, yard) for entry in sorted(letter.entries, key=order_of_danger)]
    return names[:SHOWN] + ([f"and {len(names) - SHOWN} more"] if len(names) > SHOWN else [])


def _name_of(entry: Entry, yard: Yard) -> str:
    craft = plain(entry.craft.name) if entry.craft else plain(entry.alarm.craft)
    place = space_name(yard, entry.alarm.space)
    part = part_name(entry.craft, entry.alarm.part)
    return ", ".join(word for word in (craft or place, part) if word)
