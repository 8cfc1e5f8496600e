"""A letter in the fewest words: what goes out where the usual one cannot be written."""

from collections.abc import Iterable
from datetime import datetime

from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.alarms.letters.entry_reading import craft_name
from monitor.phrases.names import plain, space_name
from monitor.phrases.owner_languages import catalogue_of
from monitor.phrases.owner_lines import contact_sentence, names_in_subject
from monitor.phrases.owner_words import plain_owner_words
from monitor.wording import Wording
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_SHOWN = 40  # lines; whoever gets more than that needs the page


def write_bare_message(letter: Letter, yard: Yard, channel: str, answer_link: str = "") -> Message:
    """Write a letter by names, titles and hours alone.

    It rests on as little as can be, so that a fault in the words of one letter keeps no warning
    from anybody: no plan, no figures, no template.

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
        With the key that the usual letter would have.
    """
    if letter.standpoint is Standpoint.OWNER:
        return _write_to_owner(letter, yard, channel)
    words = words_for(yard, letter.conversation.sent[-1], letter.person)
    over = letter.kind is MessageKind.ALL_CLEAR
    told = [] if over else _entry_lines(letter.listed_entries or letter.entries, yard, words)
    subject = f"Over: {letter.topic}" if over else f"Look now: {told[0]}" if told else "Look now"
    if len(told) > 1:
        subject += f", and {len(told) - 1} more"
    rest = [f"and {len(told) - _SHOWN} more"] if len(told) > _SHOWN else []
    paragraphs = (
        f"{plain(yard.name)}, {words.full_time(words.now)}",
        "\n".join([*told[:_SHOWN], *rest]),
        "This letter could not be written with its figures and its act. `laidup alarms` and the"
        " page show them; the log says what failed.",
        f"To say that you have it: {answer_link}" if answer_link and not over else "",
        NOT_LIFE_SAFETY_NOTE,
    )
    text = "\n\n".join(each for each in paragraphs if each) + "\n"
    return letter.as_message(channel, subject, text)


def _write_to_owner(letter: Letter, yard: Yard, channel: str) -> Message:
    """That an owner is to start nothing before the yard has been asked, or that it is over."""
    words = plain_owner_words(yard, letter.conversation.sent[-1], letter.person)
    said = catalogue_of(words.language)
    names = names_in_subject(list(dict.fromkeys(map(craft_name, letter.listed_entries))), words)
    over = letter.kind is MessageKind.ALL_CLEAR
    subject = (said.bare_over_subject if over else said.bare_subject).format(names=names)
    paragraphs = (
        (said.bare_over_text if over else said.bare_text).format(names=names),
        contact_sentence(yard, words),
        f"--\n{said.foot}",
    )
    return letter.as_message(channel, subject, "\n\n".join(paragraphs) + "\n")


def _entry_lines(entries: Iterable[Entry], yard: Yard, words: Wording) -> list[str]:
    """One line a craft or space and what holds, by when; what is due first stands first."""
    due_of: dict[str, datetime | None] = {}
    for entry in entries:
        alarm, space = entry.alarm, space_name(yard, entry.alarm.space)
        name = plain(entry.craft.name) if entry.craft is not None else plain(alarm.craft)
        about = f"{name}, {space}" if name else space or plain(alarm.part)
        line = f"{about}: {entry.definition.title.lower()}"
        due_of[line] = _earlier(due_of.get(line), alarm.deadline)
    ordered = sorted(due_of.items(), key=lambda each: (each[1] is None, each[1] or words.now))
    return [line if due is None else f"{line}, by {words.clock(due)}" for line, due in ordered]


def _earlier(one: datetime | None, other: datetime | None) -> datetime | None:
    known = [each for each in (one, other) if each is not None]
    return min(known, default=None)
