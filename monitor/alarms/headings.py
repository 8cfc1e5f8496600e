"""What a message says first: its subject line, its title, its first sentences."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.alarms.definitions import Topic
from monitor.alarms.entry import Letter, Standpoint
from monitor.alarms.facts import FIRST_ICE
from monitor.alarms.items import Group, Item
from monitor.phrases.names import plain
from monitor.yard.assessment import Hazard
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
    name = first.title.split(" (")[0]
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
        return items[0].title.split(" (")[0]
    one, many = _words(letter).one, _words(letter).many
    if letter.topic is Topic.FROST and all(entry.iced for entry in letter.entries):
        one, many = "{name} has ice in it", "{n} craft have ice in them"
    name = items[0].title.split(" (")[0]
    return (one if n == 1 else many).format(n=n, name=name)


@dataclass(frozen=True, slots=True)
class _Words:
    """How a message of one kind is named."""

    subject: str
    one: str  # the title, where it is about one thing
    many: str
    over: str


_OF_TOPIC = {
    Topic.FROST: _Words(
        "Frost",
        "{name} is not safe from this frost",
        "{n} craft are not safe from this frost",
        "frost",
    ),
    Topic.HEAT: _Words(
        "Heat lost",
        "{name} is losing its heat",
        "{n} spaces are losing their heat",
        "the heat holds",
    ),
    Topic.DAMP: _Words(
        "Damp",
        "Metal is getting wet in {name}",
        "Metal is getting wet in {n} spaces",
        "metal is dry",
    ),
    Topic.BATTERY: _Words(
        "Battery",
        "The battery of {name} needs a hand",
        "{n} batteries need a hand",
        "batteries",
    ),
    Topic.PATH: _Words(
        "Messages do not get through",
        "Messages do not get through",
        "Messages do not get through",
        "messages get through again",
    ),
    Topic.SILENCE: _Words(
        "Not heard",
        "{name}: not every sensor is heard",
        "{n} sensors or spaces are not heard",
        "everything is heard again",
    ),
}
# What a message is about, where all that it lists is of one hazard beside its topic's own.
_OF_HAZARD = {
    Hazard.RECORD: _Words(
        "Lay-up",
        "The record of {name} leaves something to put right",
        "The records of {n} craft leave something to put right",
        "the record is in order",
    ),
    Hazard.POWER: _Words(
        "Power or gateway lost",
        "{name} has gone dark",
        "{n} warm spaces have gone dark",
        "power and gateway are back",
    ),
    Hazard.CHARGING: _Words(
        "Overcharge",
        "The battery of {name} is driven too hard",
        "{n} batteries are driven too hard",
        "maintainers charge as they should",
    ),
    Hazard.SENSING: _Words(
        "Sensors differ",
        "The sensors of {name} contradict each other",
        "The sensors of {n} spaces contradict each other",
        "the sensors agree again",
    ),
    Hazard.OWN_CLOCK: _Words(
        "Clock wrong",
        "The clock of laidup's own machine is wrong",
        "The clock of laidup's own machine is wrong",
        "the machine's clock is right again",
    ),
    Hazard.BROKER: _Words(
        "Broker drops messages",
        "The broker has thrown messages away",
        "The broker has thrown messages away",
        "the broker drops nothing more",
    ),
    Hazard.DISK: _Words(
        "Disk nearly full",
        "There is little room on the disk of laidup's store",
        "There is little room on the disk of laidup's store",
        "there is room on the disk again",
    ),
    Hazard.STORE: _Words(
        "Store damaged",
        "The file that laidup keeps everything in is damaged",
        "The file that laidup keeps everything in is damaged",
        "the store's file is sound again",
    ),
    Hazard.FORECAST: _Words(
        "Public forecast is old",
        "The public forecast is too old to plan by",
        "The public forecast is too old to plan by",
        "the public forecast is fresh again",
    ),
}
_DAMP_AIR = _Words(
    "Damp",
    "The air of {name} has been damp for a day",
    "The air of {n} spaces has been damp for a day",
    "the air is dry again",
)


_DRYING = _Words(
    "Damp",
    "Metal is still wet in {name}",
    "Metal is still wet in {n} spaces",
    "metal is dry",
)
_DEW_AHEAD = _Words(
    "Damp ahead",
    "Metal will get wet in {name}",
    "Metal will get wet in {n} spaces",
    "metal is dry",
)


def _words(letter: Letter) -> _Words:
    hazards = {entry.definition.hazard for entry in letter.entries}
    if letter.entries and all(entry.alarm.cause == "damp" for entry in letter.entries):
        return _DAMP_AIR
    if letter.entries and all(entry.drying for entry in letter.entries):
        return _DRYING
    if letter.entries and all(entry.dew_ahead for entry in letter.entries):
        return _DEW_AHEAD
    if len(hazards) == 1 and (only := hazards.pop()) in _OF_HAZARD:
        return _OF_HAZARD[only]
    return _OF_TOPIC[letter.topic]


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
    if letter.topic is Topic.FROST and any(item.when_what == FIRST_ICE for item in items):
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
