"""Puts a letter into words: the subject line, the plain text and the HTML of one message."""

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from monitor.alarms.calendar import calendar_of
from monitor.alarms.entry import Letter, Standpoint
from monitor.alarms.headings import (
    SHOWN,
    items_of,
    lead_of,
    subject_of,
    title_of,
    topic_word,
)
from monitor.alarms.items import Group, Item, groups, order
from monitor.alarms.table import table_of
from monitor.phrases.names import part_name, plain, space_name
from monitor.wording import Wording
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

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
    wording = words_for(yard, now, letter.person)
    over = letter.kind is MessageKind.ALL_CLEAR
    all_groups = () if over else groups(letter.topic, letter.entries, yard, wording, letter.beside)
    shown, rest = _cut(all_groups)
    spelled_out = _spelled_out(letter, shown)
    subject = _subject(letter, all_groups)
    further = [_section(each, yard, wording) for each in letter.along]
    attached = [table_of(letter, yard, wording)] if rest else []
    dated = (calendar_of(each, yard, subject) for each in (letter, *letter.along))
    attached += [entry for entry in dated if entry is not None]
    content = {
        "yard": plain(yard.name),
        "title": title_of(letter, all_groups),
        "lead": lead_of(letter, yard, all_groups, rest),
        "overview": shown if len(items_of(shown)) > _NO_OVERVIEW else (),
        "groups": spelled_out,
        "over": _over(letter, yard) if letter.kind is MessageKind.ALL_CLEAR else (),
        "rest": _rest(rest),
        "owner": letter.standpoint is Standpoint.OWNER,
        "answer_link": answer_link,
        "update": letter.kind is MessageKind.UPDATE,
        "further": further,
        "cautions": [wording.told(CAUTION_TEXT[each]) for each in _cautions(letter)],
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
        address=letter.person.address_on(channel),
        kind=letter.kind,
        subject=subject,
        text=_ENVIRONMENT.get_template("alarm.txt.j2").render(content),
        html=_ENVIRONMENT.get_template("alarm.html.j2").render(content),
        created_at=now,
        thread=letter.conversation.thread,
        attachments=tuple(attached),
    )


def _subject(letter: Letter, listed: Sequence[Group]) -> str:
    """The line for the lock screen: what comes first, and what else is inside."""
    first = subject_of(letter, listed)
    clear = [topic_word(each) for each in letter.along if each.kind is MessageKind.ALL_CLEAR]
    others = [topic_word(each) for each in letter.along if each.kind is not MessageKind.ALL_CLEAR]
    also = f"; also {', '.join(others)}" if others else ""
    over = f"; over: {', '.join(clear)}" if clear else ""
    return f"{first}{also}{over}"


def _section(letter: Letter, yard: Yard, wording: Wording) -> dict[str, object]:
    """What went along: of what was told before only how much it is, or it hides what is new."""
    over = letter.kind is MessageKind.ALL_CLEAR
    listed = () if over else groups(letter.topic, letter.entries, yard, wording, letter.beside)
    new = [
        Group(heading=group.heading, items=tuple(item for item in group.items if item.news))
        for group in listed
    ]
    shown, rest = _cut([group for group in new if group.items])
    return {
        "title": title_of(letter, listed),
        "lead": lead_of(letter, yard, listed, rest),
        "groups": shown,
        "as_told": len(items_of(listed)) - len(items_of(new)),
        "over": _over(letter, yard) if over else (),
        "rest": _rest(rest),
        "update": letter.kind is MessageKind.UPDATE,
    }


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


def _spelled_out(letter: Letter, shown: Sequence[Group]) -> tuple[Group, ...]:
    """The items that are given with numbers and basis.

    An update does not repeat what was told before and can only wait for its inspection.
    """
    if letter.kind is MessageKind.ALL_CLEAR:
        return ()
    if letter.kind is not MessageKind.UPDATE or len(items_of(shown)) <= _NO_OVERVIEW:
        return tuple(shown)
    kept = (
        Group(
            heading=group.heading,
            items=tuple(item for item in group.items if item.news or not item.iced),
        )
        for group in shown
    )
    return tuple(group for group in kept if group.items)


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
    return names[:SHOWN] + ([f"and {len(names) - SHOWN} more"] if len(names) > SHOWN else [])


def _cautions(letter: Letter) -> list[Caution]:
    """The cautions that these acts call for, each once; none for an owner, who is asked to wait."""
    if letter.standpoint is Standpoint.OWNER or letter.kind is MessageKind.ALL_CLEAR:
        return []
    asked: list[Caution] = []
    holding = [each for each in (letter, *letter.along) if each.kind is not MessageKind.ALL_CLEAR]
    for entry in (entry for each in holding for entry in (*each.entries, *each.beside)):
        asked += entry.definition.cautions
        asked += entry.assessment.cautions if entry.assessment is not None else ()
    return [each for each in dict.fromkeys(asked) if each is not Caution.NOT_LIFE_SAFETY]
