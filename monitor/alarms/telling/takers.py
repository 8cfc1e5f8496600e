"""Who has taken what on, told at once and in one line to everybody else who was told of it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.alarms.definitions import Definition
from monitor.alarms.entry import danger_of
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import plain, space_name
from monitor.store.transaction import Transaction
from monitor.wording import Wording, listed_first
from monitor.yard.alarm import Alarm
from monitor.yard.message import Message, MessageKind
from monitor.yard.people import display_name
from monitor.yard.readers import messages_to, words_for
from monitor.yard.space import Person, Yard
from monitor.yard.watch import Conversation

_WITHIN = timedelta(hours=1)  # what was taken on longer ago is told by the letters since
_NAMED = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOn:
    """What one person took on at one moment."""

    by: str
    at: datetime
    alarms: tuple[Alarm, ...]


def notices_of_takers(
    tx: Transaction,
    yard: Yard,
    craft: Mapping[str, StoredCraft],
    definitions: Mapping[str, Definition],
    now: datetime,
) -> list[Message]:
    """One line to each of the yard's people who was told of what somebody else has taken on.

    Adding a notice to the outbox twice adds nothing: its key is its thread, the person and the
    moment of the answer.
    """
    taken = _taken_since(tx, now - _WITHIN)
    if not taken:
        return []
    people = {each.id: each for each in yard.people}
    threads = [each for each in tx.conversations.open_threads() if not each.owner and each.count]
    notices = []
    for one in taken:
        for thread in threads:
            person = people.get(thread.person)
            told = _notified_alarms(thread, one.alarms, definitions)
            if person is not None and person.id != one.by and told:
                notices += _notices(one, told, thread, person, yard, craft, now)
    return notices


def _taken_since(tx: Transaction, since: datetime) -> list[TakenOn]:
    together: dict[tuple[datetime, str], list[Alarm]] = {}
    for at, by, alarm in tx.alarms.taken_on(since):
        together.setdefault((at, by), []).append(alarm)
    return [TakenOn(by=by, at=at, alarms=tuple(a)) for (at, by), a in together.items()]


def _notified_alarms(
    thread: Conversation, alarms: Iterable[Alarm], definitions: Mapping[str, Definition]
) -> list[Alarm]:
    return [
        alarm
        for alarm in alarms
        if (definition := definitions.get(alarm.cause)) is not None
        and danger_of(alarm, definition) in thread.told
    ]


def _notices(
    taken: TakenOn,
    told: list[Alarm],
    thread: Conversation,
    person: Person,
    yard: Yard,
    craft: Mapping[str, StoredCraft],
    now: datetime,
) -> list[Message]:
    words = words_for(yard, now, person)
    who = plain(display_name(yard, taken.by))
    line = f"{who} has taken on {_listed(told, yard, craft, words)}"
    return messages_to(
        person,
        key=f"{thread.thread}/taken/{taken.at:%Y%m%dT%H%M%S.%f}/{taken.by}",
        kind=MessageKind.NOTICE,
        subject=line,
        text=f"{line}. Since {words.clock(taken.at)}.\n",
        created_at=now,
        thread=thread.thread,
    )


def _listed(
    alarms: Iterable[Alarm], yard: Yard, craft: Mapping[str, StoredCraft], words: Wording
) -> str:
    """Each craft or space once, with its first hour that is still ahead; the soonest first."""
    hours: dict[str, datetime | None] = {}
    for alarm in alarms:
        known = craft.get(alarm.craft)
        name = plain(known.name if known else alarm.craft) or space_name(yard, alarm.space)
        ahead = [
            at for at in (hours.get(name), alarm.deadline) if at is not None and at > words.now
        ]
        hours[name] = min(ahead, default=None)
    in_order = sorted(hours.items(), key=lambda one: (one[1] is None, one[1] or words.now, one[0]))
    named = [f"{name} by {words.clock(at)}" if at else name for name, at in in_order]
    return listed_first(named, _NAMED)
