"""A test message to one person, by every way that reaches them."""

from monitor.clock import Clock
from monitor.errors import ActError
from monitor.phrases.names import plain
from monitor.store.store import Store
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import words_for
from monitor.yard.space import Yard


def rehearse(store: Store, yard: Yard, clock: Clock, person_id: str) -> list[Message]:
    """Put a test message for one person into the outbox, one for each channel.

    Parameters
    ----------
    store : Store
    yard : Yard
    clock : Clock
    person_id : str

    Returns
    -------
    list of Message
        What was put in; look at their keys in the outbox for what became of them.

    Raises
    ------
    ActError
        If the yard has no such person, or nothing reaches them.
    """
    try:
        person = yard.person(person_id)
    except KeyError as error:
        known = ", ".join(sorted(each.id for each in yard.people))
        raise ActError(f"this yard has no person {person_id!r}; it has {known}") from error
    now = clock.now()
    words = words_for(yard, now, person)
    name = plain(yard.name)
    text = (
        f"This is a test from {name}, {words.moment(now)}.\n\n"
        f"{plain(person.name)}, this is how laidup's alarms reach you. Nothing is wrong, and"
        " there is nothing to do.\n\n--\n"
        f"{CAUTION_TEXT[Caution.NOT_LIFE_SAFETY]}\n"
    )
    messages = [
        Message(
            key=f"test/{person.id}/{now:%Y%m%dT%H%M%S.%f}/{channel}",
            person=person.id,
            channel=channel,
            address=person.address_on(channel),
            kind=MessageKind.TEST,
            subject=f"Test: this is how {name} reaches you",
            text=text,
            created_at=now,
        )
        for channel in person.reached_by
    ]
    if not messages:
        raise ActError(f"nothing reaches {person.id}: there is no address and no other channel")
    with store.transaction() as tx:
        tx.outbox.add(messages)
    return messages
