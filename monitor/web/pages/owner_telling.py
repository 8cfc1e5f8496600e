"""What an owner tells the yard from the page: it goes into the record, and to the yard's people."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from enum import StrEnum

from monitor.craft.canonical import derived_id
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.profile import Profile
from monitor.errors import RecordError
from monitor.phrases.names import plain
from monitor.phrases.work_told import collection_note, told_subject, told_text
from monitor.store.entering import enter
from monitor.store.store import Store
from monitor.yard.message import MessageKind
from monitor.yard.readers import messages_to, words_for
from monitor.yard.space import STAFF, Person, Yard

_SOURCE = "page"
_FARTHEST = timedelta(days=366)


class NotTaken(StrEnum):
    """Why an owner's answer is not taken, by the name of its text in `OwnerPageWords`."""

    NO_SUCH_DAY = "no_such_day"
    DAY_OUT_OF_REACH = "day_out_of_reach"
    NO_SUCH_HOUR = "no_such_hour"
    HOUR_OUT_OF_REACH = "hour_out_of_reach"


class NotTakenError(ValueError):
    """An owner's answer that cannot be; it is told in the owner's language."""

    def __init__(self, why: NotTaken) -> None:
        super().__init__(why)
        self.why = why


def tell_collection(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    owner: Person,
    craft: str,
    on: date,
    now: datetime,
) -> None:
    """Enter on which day an owner collects a craft, and tell the yard's people.

    Raises
    ------
    NotTakenError
        If that day is over, or too far off to be meant.
    RecordError
        If there is no such craft, or it is not in the yard.
    """
    today = now.astimezone(yard.zone).date()
    if not today <= on <= today + _FARTHEST:
        raise NotTakenError(NotTaken.DAY_OUT_OF_REACH)
    entry = LayupEntry(
        id="new", craft=craft, at=now.replace(second=0, microsecond=0), by=owner.id,
        act=Act.COLLECTION_TOLD, note=collection_note(on),
    )  # fmt: skip
    _enter_and_notify(store, yard, profiles, owner, entry, now)


def tell_run(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    owner: Person,
    craft: str,
    at: datetime,
    now: datetime,
) -> None:
    """Enter that an owner ran a craft, which is believed at once, and tell the yard's people.

    Raises
    ------
    NotTakenError
        If it was not there then, or that hour is still to come.
    """
    entry = LayupEntry(id="new", craft=craft, at=at, by=owner.id, act=Act.RUN_ON_WATER)
    try:
        _enter_and_notify(store, yard, profiles, owner, entry, now)
    except RecordError as error:
        raise NotTakenError(NotTaken.HOUR_OUT_OF_REACH) from error


def _enter_and_notify(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    owner: Person,
    entry: LayupEntry,
    now: datetime,
) -> None:
    """Both in one transaction; the same told twice is on record once, and told once."""
    entry = replace(entry, id=derived_id(entry))
    with store.transaction() as tx:
        if not enter(tx.layup, [entry], profiles, now, _SOURCE):
            return
        craft = tx.layup.craft_by_id(entry.craft)
        name = plain(entry.craft if craft is None else craft.name)
        for person in yard.people:
            if not person.roles & STAFF:
                continue
            words = words_for(yard, now, person)
            tx.outbox.add(
                messages_to(
                    person,
                    key=f"owner-told/{entry.craft}/{entry.id}/{person.id}",
                    kind=MessageKind.NOTICE,
                    subject=told_subject(entry, name, plain(owner.name), words),
                    text=told_text(entry, name, plain(owner.name), words),
                    created_at=now,
                )
            )
