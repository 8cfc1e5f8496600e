"""Puts a letter into words: the subject line, the plain text and the HTML of one message."""

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from monitor.alarms.definitions import Topic
from monitor.alarms.grouping import Letter, Standpoint
from monitor.alarms.items import Group, Item, groups, order
from monitor.alarms.wording import Wording, part_name, plain, space_name
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.message import Attachment, Message, MessageKind
from monitor.yard.space import Yard

_SHOWN = 12  # items that a message spells out; the rest are counted, and attached as a table
_NO_OVERVIEW = 3  # so few are their own overview
_TEMPLATES = Path(__file__).parent / "templates"
_ENVIRONMENT = Environment(
    loader=FileSystemLoader(_TEMPLATES),
    autoescape=select_autoescape(enabled_extensions=("html.j2",)),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    keep_trailing_newline=True,
)


def write(letter: Letter, yard: Yard, channel: str, *, answer_link: str = "") -> Message:
    """Write one letter as a message for the outbox.

    Parameters
    ----------
    letter : Letter
    yard : Yard
    channel : str
        Name of the channel that takes it.
    answer_link : str
        Where the reader acknowledges; empty where there is nothing to answer.

    Returns
    -------
    Message
        Its key is its thread, its number there and the channel: writing it twice adds nothing.
    """
    now = letter.conversation.sent[-1]
    wording = Wording.of(yard, now, letter.person)
    all_groups = groups(letter.topic, letter.entries, yard, wording)
    shown, rest = _cut(all_groups)
    subject = _subject(letter, all_groups)
    content = {
        "yard": plain(yard.name),
        "title": _title(letter, all_groups),
        "lead": _lead(letter, yard, all_groups, rest),
        "groups": shown if letter.kind is not MessageKind.ALL_CLEAR else (),
        "over": _over(letter, yard) if letter.kind is MessageKind.ALL_CLEAR else (),
        "rest": _rest(rest),
        "overview": len(_items(shown)) > _NO_OVERVIEW,
        "owner": letter.standpoint is Standpoint.OWNER,
        "answer_link": answer_link,
        "update": letter.kind is MessageKind.UPDATE,
        "cautions": [CAUTION_TEXT[caution] for caution in _cautions(letter)],
        "foot": CAUTION_TEXT[Caution.NOT_LIFE_SAFETY],
        "at": wording.moment(now),
        "name": plain(letter.person.name),
    }
    return Message(
        key="/".join(
            (
                letter.conversation.thread,
                str(letter.number),
                *([channel] if channel != "mail" else ()),
            )
        ),
        person=letter.person.id,
        channel=channel,
        address=letter.person.mail if channel == "mail" else "",
        kind=letter.kind,
        subject=subject,
        text=_ENVIRONMENT.get_template("alarm.txt.j2").render(content),
        html=_ENVIRONMENT.get_template("alarm.html.j2").render(content),
        created_at=now,
        thread=letter.conversation.thread,
        attachments=(_table(letter, yard, wording),) if rest else (),
    )


def _subject(letter: Letter, listed: Sequence[Group]) -> str:
    """The line that is read on a lock screen: what, how many, who first, by when."""
    items = _items(listed)
    what = _TITLE[letter.topic]
    if letter.kind is MessageKind.ALL_CLEAR:
        return f"{what}: all clear"
    reminder = letter.kind is MessageKind.UPDATE and not any(item.news for item in items)
    if letter.kind is MessageKind.UPDATE:
        items = [item for item in items if item.news] or items
    if all(item.iced for item in items):
        what = "Ice"
    first = items[0]
    name = first.title.split(" (")[0]
    more = f" and {len(items) - 1} more" if len(items) > 1 else ""
    prefix = "Update: " if letter.kind is MessageKind.UPDATE else ""
    if reminder:
        prefix = "Not acknowledged: "
    return f"{prefix}{what}: {name}{more}, {first.brief}"


_TITLE = {
    Topic.FROST: "Frost",
    Topic.HEAT: "Heat lost",
    Topic.DAMP: "Damp",
    Topic.BATTERY: "Battery",
    Topic.SILENCE: "Not heard",
    Topic.PATH: "Messages do not get through",
}


def _title(letter: Letter, listed: Sequence[Group]) -> str:
    n = len(_items(listed))
    if letter.kind is MessageKind.ALL_CLEAR:
        return _CLEAR_TITLE[letter.topic]
    if letter.standpoint is Standpoint.OWNER and n == 1:
        return _items(listed)[0].title.split(" (")[0]
    one, many = _COUNTED[letter.topic]
    iced = all(entry.iced for entry in letter.entries)
    if letter.topic is Topic.FROST and iced:
        one, many = "One craft has ice in it", "{n} craft have ice in them"
    return (one if n == 1 else many).format(n=n)


_COUNTED = {
    Topic.FROST: (
        "One craft is not safe from this frost",
        "{n} craft are not safe from this frost",
    ),
    Topic.HEAT: ("One space is losing its heat", "{n} spaces are losing their heat"),
    Topic.DAMP: ("Metal is getting wet in one space", "Metal is getting wet in {n} spaces"),
    Topic.BATTERY: ("One battery needs a hand", "{n} batteries need a hand"),
    Topic.PATH: ("Messages do not get through", "Messages do not get through"),
    Topic.SILENCE: ("One sensor or space is not heard", "{n} sensors or spaces are not heard"),
}
_CLEAR_TITLE = {
    Topic.FROST: "All clear: frost",
    Topic.HEAT: "All clear: the heat holds",
    Topic.DAMP: "All clear: metal is dry",
    Topic.BATTERY: "All clear: batteries",
    Topic.PATH: "All clear: messages get through again",
    Topic.SILENCE: "All clear: everything is heard again",
}


def _lead(letter: Letter, yard: Yard, listed: Sequence[Group], rest: Sequence[Item]) -> str:
    """The first sentences: a reader who stops here knows what to do."""
    owner = letter.standpoint is Standpoint.OWNER
    if letter.kind is MessageKind.ALL_CLEAR:
        if letter.topic is Topic.FROST:
            return (
                "Nothing listed in this thread is in danger from frost any more, as far as laidup"
                " can judge. Whatever had ice in it still has to be looked at before it is started."
            )
        return "The cause of this thread is gone, as far as laidup can judge."
    items = _items(listed)
    first = items[0]
    if owner:
        return (
            "The yard has been told and knows what to do. This is what laidup sees for your craft"
            " and why. Please do not start it, and do not charge its battery, before the yard has"
            " looked at it."
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
    if rest:
        sentences.append(f"The {_SHOWN} most pressing stand here, all of them in the table.")
    return " ".join(sentences)


def _named(people: Iterable[str], yard: Yard) -> str:
    wanted = set(people)
    return " and ".join(plain(each.name) for each in yard.people if each.id in wanted)


def _brief(item: Item) -> str:
    where = f", {item.space}" if item.space else ""
    return f"{item.title}{where}, {item.brief}"


def _cut(listed: Sequence[Group]) -> tuple[tuple[Group, ...], list[Item]]:
    """As much as a person reads, and the rest; what can still be saved comes first."""
    left = _SHOWN
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
    names = []
    for entry in sorted(letter.entries, key=order):
        craft = plain(entry.craft.name) if entry.craft else plain(entry.alarm.craft)
        place = space_name(yard, entry.alarm.space)
        part = part_name(entry.craft, entry.alarm.part)
        names.append(", ".join(word for word in (craft or place, part) if word))
    return names[:_SHOWN] + ([f"and {len(names) - _SHOWN} more"] if len(names) > _SHOWN else [])


def _cautions(letter: Letter) -> list[Caution]:
    """The cautions that these acts call for, each once; none for an owner, who is asked to wait."""
    if letter.standpoint is Standpoint.OWNER or letter.kind is MessageKind.ALL_CLEAR:
        return []
    asked: list[Caution] = []
    for entry in letter.entries:
        asked += entry.definition.cautions
        asked += entry.assessment.cautions if entry.assessment is not None else ()
    return [each for each in dict.fromkeys(asked) if each is not Caution.NOT_LIFE_SAFETY]


def _table(letter: Letter, yard: Yard, wording: Wording) -> Attachment:
    """Everything as a table that any spreadsheet opens."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(_COLUMNS)
    for entry in sorted(letter.entries, key=order):
        seen, craft = entry.assessment, entry.craft
        deadline = entry.alarm.deadline
        writer.writerow(
            _cell(value)
            for value in (
                entry.alarm.craft,
                craft.name if craft else "",
                space_name(yard, entry.alarm.space),
                craft.berth if craft else "",
                part_name(craft, entry.alarm.part),
                str(seen.standing) if seen else "not known",
                f"{deadline.astimezone(wording.zone):%Y-%m-%d %H:%M %Z}" if deadline else "",
                *(
                    _number(value)
                    for value in ((seen.now_c, seen.low_c, seen.limit_c) if seen else ())
                ),
                seen.act if seen else "",
                seen.basis if seen else "",
            )
        )
    return Attachment(
        filename=f"{letter.topic}.csv",
        media_type="text/csv",
        content=out.getvalue().encode("utf-8-sig"),  # the mark tells spreadsheets it is UTF-8
    )


_COLUMNS = (
    *("craft", "name", "space", "berth", "part", "standing", "act before"),
    *("now °C", "low °C", "limit °C", "act", "basis"),
)


def _number(value: float) -> str:
    return "" if value != value else f"{value:.1f}"  # NaN


def _cell(value: str) -> str:
    """A cell that a spreadsheet takes for text, never for a formula."""
    line = plain(value, limit=500)
    is_number = line.replace(".", "", 1).lstrip("-").isdigit()
    return f"'{line}" if line[:1] in {"=", "+", "-", "@"} and not is_number else line


def _items(listed: Iterable[Group]) -> list[Item]:
    return [item for group in listed for item in group.items]
