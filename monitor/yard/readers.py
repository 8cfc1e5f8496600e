"""A reader: in whose units and by whose clock a sentence is written, and by which ways it goes."""

from datetime import datetime

from monitor.wording import Units, Wording
from monitor.yard.message import Message, MessageKind
from monitor.yard.people import names_by_id
from monitor.yard.space import Person, Yard


def units_of(yard: Yard, person: Person | None = None) -> Units:
    """What a person reads in; the yard's own units where none is known or asks for others."""
    temperature = None if person is None else person.temperature_unit
    volume = None if person is None else person.volume_unit
    return Units(
        temperature=temperature or yard.temperature_unit, volume=volume or yard.volume_unit
    )


def words_for(yard: Yard, now: datetime, person: Person | None = None) -> Wording:
    """Words for a reader: one person, or whoever looks at the yard's own page or screen."""
    return Wording(zone=yard.zone, now=now, units=units_of(yard, person), people=names_by_id(yard))


def wording_for_store(yard: Yard, now: datetime) -> Wording:
    """Words to be stored: whoever reads them gets the quantities in units of their own."""
    return Wording(zone=yard.zone, now=now, units=None, people=names_by_id(yard))


def messages_to(
    person: Person,
    *,
    key: str,
    kind: MessageKind,
    subject: str,
    text: str,
    created_at: datetime,
    html: str = "",
    thread: str = "",
    language: str = "en",
) -> list[Message]:
    """One message in the same words by each way that reaches a person; none where nothing does.

    ``key`` says what is told to whom; the channel is added to it.
    """
    return [
        Message(
            key=f"{key}/{channel}",
            person=person.id,
            channel=channel,
            address=person.address_on(channel),
            kind=kind,
            subject=subject,
            text=text,
            html=html,
            created_at=created_at,
            thread=thread,
            language=language,
        )
        for channel in person.reached_by
    ]
