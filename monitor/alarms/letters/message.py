"""Puts a letter into words: the subject line, the plain text and the HTML of one message."""

from collections.abc import Mapping
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from monitor.alarms.entry import Letter, Standpoint
from monitor.alarms.letters.calendar import calendar_of
from monitor.alarms.letters.night_and_reasons import Airs
from monitor.alarms.letters.owner_letter import Answers, OwnerLetter, compose_owner_letter
from monitor.alarms.letters.short_letter import short_text, subject_of
from monitor.alarms.letters.staff_letter import StaffLetter, compose_letter
from monitor.alarms.letters.table import table_of
from monitor.phrases.names import plain
from monitor.phrases.owner_languages import catalogue_of
from monitor.phrases.owner_words import owner_words_for
from monitor.phrases.supplies import minutes_words
from monitor.wording import Wording
from monitor.yard.caution import CAUTION_NOTES, NOT_LIFE_SAFETY_NOTE
from monitor.yard.message import Attachment, Message, is_text_channel
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_ID_LETTERS = 8  # of an alarm's id, as `laidup alarms` shows it
_ASKED_BY_ID = 3
NO_AIRS: Airs = {}
NO_ANSWERS: Answers = {}
_TEMPLATES = Path(__file__).parent / "templates"
_ENVIRONMENT = Environment(
    loader=FileSystemLoader(_TEMPLATES),
    autoescape=select_autoescape(enabled_extensions=("html.j2",)),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    keep_trailing_newline=True,
)


def write_message(
    letter: Letter,
    yard: Yard,
    channel: str,
    *,
    answer_link: str = "",
    airs: Airs = NO_AIRS,
    answers: Answers = NO_ANSWERS,
) -> Message:
    """Write one letter as a message for the outbox.

    Parameters
    ----------
    letter : Letter
    yard : Yard
    channel : str
        Name of the channel that takes it.
    answer_link : str
        Where the reader acknowledges; empty where there is nothing to answer.
    airs : mapping of Assessment by space, optional
        What the night comes to there.
    answers : mapping of GivenAnswer by alarm id, optional
        Who has taken on what, for owners.

    Returns
    -------
    Message
        Its key is its thread, its number there and the channel: writing it twice adds nothing.
    """
    now = letter.conversation.sent[-1]
    if letter.standpoint is Standpoint.OWNER:
        words = owner_words_for(yard, now, letter.person)
        told = compose_owner_letter(letter, yard, words, answers)
        subject, content = told.subject, _owner_content(told, yard, words)
        if is_text_channel(channel):
            return letter.as_message(channel, subject, text=subject)
        template, attached = "owner", []
    else:
        words = words_for(yard, now, letter.person)
        said = compose_letter(letter, yard, words, airs)
        subject = subject_of(letter, said, yard, words, airs)
        content = _staff_content(letter, said, yard, words, subject, answer_link)
        if is_text_channel(channel):
            return letter.as_message(channel, subject, text=short_text(said, subject))
        template, attached = "staff", _attachments(letter, said, yard, words, subject)
    return letter.as_message(
        channel,
        subject,
        text=_ENVIRONMENT.get_template(f"{template}.txt.j2").render(content),
        html=_ENVIRONMENT.get_template(f"{template}.html.j2").render(content),
        attachments=attached,
    )


def _owner_content(said: OwnerLetter, yard: Yard, words: Wording) -> Mapping[str, object]:
    """What the template of an owner's letter shows."""
    catalogue = catalogue_of(words.language)
    return {
        "yard": plain(yard.name),
        "at": words.full_time(words.now),
        "said": said,
        "language": words.language,
        "more": catalogue.and_more_craft.format(count=said.not_listed) if said.not_listed else "",
        "foot": catalogue.foot,
    }


def _staff_content(
    letter: Letter,
    said: StaffLetter,
    yard: Yard,
    words: Wording,
    subject: str,
    answer_link: str,
) -> Mapping[str, object]:
    """What the template of a letter to the yard's own people shows."""
    asks = not said.is_closing
    return {
        **_content(said, yard, words, subject),
        "answer_link": answer_link if asks else "",
        "answer_command": "" if answer_link or not asks else _command_of(letter, said),
    }


def render_staff(
    said: StaffLetter, yard: Yard, words: Wording, subject: str, *, notice: str
) -> tuple[str, str]:
    """A letter that answers no alarm, as text and as HTML; ``notice`` is its first line."""
    content = {**_content(said, yard, words, subject), "notice": notice}
    text, html = (_ENVIRONMENT.get_template(f"staff.{kind}.j2") for kind in ("txt", "html"))
    return text.render(content), html.render(content)


def _content(said: StaffLetter, yard: Yard, words: Wording, subject: str) -> dict[str, object]:
    """What every letter's template shows."""
    return {
        "title": subject,
        "notice": "",
        "yard": plain(yard.name),
        "at": words.full_time(words.now),
        "said": said,
        "minutes": minutes_words,
        "caution_note": CAUTION_NOTES,
        "answer_link": "",
        "answer_command": "",
        "foot": NOT_LIFE_SAFETY_NOTE,
    }


def _command_of(letter: Letter, said: StaffLetter) -> str:
    """How a reader without a link says who takes it on."""
    ids = list(dict.fromkeys(line.alarm[:_ID_LETTERS] for line in said.lines))[:_ASKED_BY_ID]
    return f"laidup alarms ack {' '.join(ids)} --by {letter.person.id}" if ids else ""


def _attachments(
    letter: Letter, said: StaffLetter, yard: Yard, words: Wording, subject: str
) -> list[Attachment]:
    """The table of what a long letter leaves out, and calendar entries of dated acts."""
    attached = [table_of(letter, yard, words)] if said.not_listed else []
    dated = (calendar_of(each, yard, subject) for each in (letter, *letter.along))
    return attached + [entry for entry in dated if entry is not None]
