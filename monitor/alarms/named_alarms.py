"""Which alarms a message tells of by name, and as whom its reader is told: kept beside it.

A text on a phone names the first lines and counts the rest. So that no record says later that
somebody was told of a craft whose name no message of theirs has, an alarm counts as told only where
the name of what it is about stands in the message.
"""

import logging
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import NAME_IN_TEXT, plain, space_name
from monitor.yard.alarm import Alarm
from monitor.yard.message import Attachment, Message, is_text_channel
from monitor.yard.space import Person, Role, Yard

log = logging.getLogger("laidup.alarms")


def with_named_alarms(message: Message, letter: Letter, yard: Yard) -> Message:
    """A letter's message with the ids of the alarms that it names, and its reader's role.

    Never raises: a fault here must keep no warning from anybody. Such a message names no alarm.
    """
    role = str(Role.OWNER) if letter.standpoint is Standpoint.OWNER else staff_role(letter.person)
    try:
        told = tuple(
            dict.fromkeys(
                entry.alarm.id
                for entry in letter.listed_entries
                if _is_told(entry, letter, message, yard)
            )
        )
    except Exception:
        log.exception("Which alarms a letter tells of could not be kept.")
        told = ()
    return replace(message, alarms=told, role=role)


def alarms_named(
    text: str, alarms: Iterable[Alarm], craft: Mapping[str, StoredCraft], yard: Yard
) -> tuple[str, ...]:
    """Ids of those alarms of which the craft, or of none the space, is named in a text."""
    return tuple(
        one.id
        for one in alarms
        if _names(
            text,
            craft[one.craft].name
            if one.craft in craft
            else one.craft or space_name(yard, one.space),
        )
    )


def staff_role(person: Person) -> str:
    """As whom one of the yard's people is told: operator, or else mechanic."""
    return str(Role.OPERATOR if Role.OPERATOR in person.roles else Role.MECHANIC)


def _is_told(entry: Entry, letter: Letter, message: Message, yard: Yard) -> bool:
    """Whether a message names what an entry is about."""
    alarm = entry.alarm
    if not alarm.craft and not is_text_channel(message.channel):
        return True  # a space, a sensor, laidup's own path: spelled out in more than one way
    said = "\n".join(
        (
            message.subject,
            message.text,
            *(a.content.decode("utf-8", "replace") for a in message.attachments if _is_table(a)),
        )
    )
    names = [entry.craft.name if entry.craft is not None else alarm.craft]
    if entry.about == alarm.space:  # told by the space, for one act serves all that stand in it
        names.append(space_name(yard, alarm.space))
    return len(letter.listed_entries) == 1 or any(_names(said, name) for name in names)


def _is_table(attachment: Attachment) -> bool:
    return attachment.media_type == "text/csv"


def _names(text: str, name: str) -> bool:
    """Whether a name stands in a text as whole words, wherever a line ends."""
    whole = plain(name)
    if not whole:
        return False
    short = plain(name, NAME_IN_TEXT)
    return any(
        re.search(rf"(?<!\w){pattern}(?!\w)", text) is not None
        for pattern in {r"\s+".join(map(re.escape, one.split())) for one in (whole, short)}
    )
