"""What a message says first: its subject line, its title, its first sentences."""

from collections.abc import Iterable, Sequence

from monitor.alarms.entry import Letter, Standpoint
from monitor.alarms.items import Group, Item
from monitor.phrases.names import plain
from monitor.phrases.topics import DAMP_AIR, DEW_AHEAD, DRYING, TopicWords, words_of_topic
from monitor.yard.alarm import Topic
from monitor.yard.message import MessageKind
from monitor.yard.space import Yard

SHOWN = 12  # items that a message spells out; the rest are counted, and attached as a table


def items_of(listed: Iterable[Group]) -> list[Item]:
    """All items of some groups, in order."""
    return [item for group in listed for item in group.items]


def _concerned(letter: Letter, listed: Sequence[Group]) -> list[Item]:
    """What the message is about: of lost heat the spaces, and not the craft inside."""
    return items_of(listed[:1] if letter.topic is Topic.HEAT else listed)


def subject_of(letter: Letter, listed: Sequence[Group]) -> str:
    """The line that is read on a lock screen: what, how many, who first, by when."""
    items = _concerned(letter, listed)
    what = _words(letter).subject
    if letter.kind is MessageKind.ALL_CLEAR:
        return f"{what}: {'over, but look first' if _had_ice(letter) else 'all clear'}"
    reminder = letter.kind is MessageKind.UPDATE and not any(item.news for item in items)
    if letter.kind is MessageKind.UPDATE:
        items = [item for item in items if item.news] or items
    if all(item.iced for item in items):
        what = "Ice"
    first = items[0]
    name = first.name
    others = len({item.title for item in items}) - 1
    more = f" and {others} more" if others else ""
    prefix = "Update: " if letter.kind is MessageKind.UPDATE else ""
    if reminder:
        prefix = "Not acknowledged: "
    return f"{prefix}{what}: {name}{more}, {first.brief}"


def topic_word(letter: Letter) -> str:
    """What went along with a message, for the end of its subject line."""
    return _words(letter).subject.lower()


def title_of(letter: Letter, listed: Sequence[Group]) -> str:
    """The first line of the message itself."""
    items = _concerned(letter, listed)
    n = len({item.title for item in items})
    if letter.kind is MessageKind.ALL_CLEAR:
        return _LOOK_FIRST if _had_ice(letter) else f"All clear: {_words(letter).over}"
    if letter.standpoint is Standpoint.OWNER and n == 1:
        return items[0].name
    one, many = _words(letter).one, _words(letter).many
    if letter.topic is Topic.FROST and all(entry.iced for entry in letter.entries):
        one, many = "{name} has ice in it", "{n} craft have ice in them"
    name = items[0].name
    return (one if n == 1 else many).format(n=n, name=name)


def _words(letter: Letter) -> TopicWords:
    hazards = {entry.definition.hazard for entry in letter.entries}
    if letter.entries and all(entry.alarm.cause == "damp" for entry in letter.entries):
        return DAMP_AIR
    if letter.entries and all(entry.drying for entry in letter.entries):
        return DRYING
    if letter.entries and all(entry.dew_ahead for entry in letter.entries):
        return DEW_AHEAD
    return words_of_topic(letter.topic, hazards)


_LOOK_FIRST = "The frost is over; what had ice in it is not clear"


def _had_ice(letter: Letter) -> bool:
    """Warmth clears nothing that has been through ice: only a person who looks does."""
    return any(entry.iced for entry in letter.entries)


def lead_of(letter: Letter, yard: Yard, listed: Sequence[Group], rest: Sequence[Item]) -> str:
    """The first sentences: a reader who stops here knows what to do."""
    owner = letter.standpoint is Standpoint.OWNER
    if letter.kind is MessageKind.ALL_CLEAR:
        if _had_ice(letter):
            return (
                "No new ice is to be feared here, as far as laidup can judge. But what is listed"
                " had ice in it: thaw it, look for leaks and read its mix again before anyone"
                " starts it."
            )
        return "The cause of this thread is gone, as far as laidup can judge."
    items = items_of(listed)
    first = items[0]
    if owner:
        return (
            "This is what laidup sees for your craft, and why. Ask the yard what is being done."
            " Please do not start it, and do not charge its battery, before the yard has looked at"
            " it."
        )
    sentences = []
    fresh = [item for item in items if item.news]
    if letter.kind is MessageKind.UPDATE and not fresh:
        sentences.append("Nobody has acknowledged this yet.")
    if letter.conversation.called_after and letter.kind is MessageKind.ALARM:
        names = _named(letter.conversation.called_after, yard)
        sentences.append(f"Told first, and not acknowledged: {names}. So it comes to you.")
    if letter.kind is MessageKind.UPDATE and fresh:
        named = "; ".join(_brief(item) for item in fresh[:3])
        more = f"; and {len(fresh) - 3} more" if len(fresh) > 3 else ""
        sentences.append(f"New or worse since the last message: {named}{more}.")
    elif len(items) > 1:
        sentences.append(f"First: {_brief(first)}. {first.act}".rstrip())
    if letter.topic is Topic.FROST and any(item.ice_ahead for item in items):
        # Then that ice did form there is no news that anybody must be woken for.
        sentences.append(
            "What is not made safe by its hour counts as frozen: leave it alone, do not start it."
        )
    if rest:
        sentences.append(f"The {SHOWN} most pressing stand here, all of them in the table.")
    return " ".join(sentences)


def _named(people: Iterable[str], yard: Yard) -> str:
    wanted = set(people)
    return " and ".join(plain(each.name) for each in yard.people if each.id in wanted)


def _brief(item: Item) -> str:
    where = f", {item.space}" if item.space else ""
    return f"{item.title}{where}, {item.brief}"
