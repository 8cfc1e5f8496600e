"""Who has taken what on, or given it back, told at once and in one line to the others who knew."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from monitor.alarms.definitions import Definition
from monitor.alarms.entry import danger_of
from monitor.alarms.named_alarms import alarms_named, staff_role
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import plain, space_name
from monitor.store.transaction import Transaction
from monitor.wording import Wording, listed_first
from monitor.yard.alarm import Alarm, AlarmState
from monitor.yard.message import Message, MessageKind
from monitor.yard.people import display_name
from monitor.yard.readers import messages_to, words_for
from monitor.yard.space import Person, Yard
from monitor.yard.watch import Conversation

_WITHIN = timedelta(hours=1)  # what was taken on longer ago is told by the letters since
_NAMED = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOn:
    """What one person took on at one moment, or gave back at one moment since."""

    by: str
    at: datetime
    alarms: tuple[Alarm, ...]
    given_back_at: datetime | None = None


def notices_of_takers(
    tx: Transaction,
    yard: Yard,
    craft: Mapping[str, StoredCraft],
    definitions: Mapping[str, Definition],
    now: datetime,
) -> list[Message]:
    """One line to each of the yard's people who was told of what somebody else has taken on.

    Of what was given back they hear as soon; nobody hears of what was given back before they could
    hear that it was taken on. Adding a notice to the outbox twice adds nothing: its key is its
    thread, the person and the moment of the answer.
    """
    changes = _taken_since(tx, now - _WITHIN)
    if not changes:
        return []
    people = {each.id: each for each in yard.people}
    threads = [each for each in tx.conversations.open_threads() if not each.owner and each.count]
    notices = []
    for one in changes:
        for thread in threads:
            person = people.get(thread.person)
            told = _notified_alarms(thread, one.alarms, definitions)
            if person is None or person.id == one.by or not told:
                continue
            if one.given_back_at is None or tx.outbox.has_message_of(_key_of(one, thread)):
                notices += _notices(one, told, thread, person, yard, craft, now)
    return notices


def _taken_since(tx: Transaction, since: datetime) -> list[TakenOn]:
    """What people took on and still have, and what they took on and gave back, in time order."""
    given = tx.alarms.given_back(since)
    together: dict[tuple[datetime, str, datetime | None], list[Alarm]] = {}
    for at, by, alarm in tx.alarms.taken_on(since):
        back = [
            when for when, who, each in given if (who, each.id) == (by, alarm.id) and when >= at
        ]
        together.setdefault((at, by, min(back, default=None)), []).append(alarm)
    return [
        TakenOn(by=by, at=at, alarms=tuple(alarms), given_back_at=back)
        for (at, by, back), alarms in together.items()
    ]


def _key_of(taken: TakenOn, thread: Conversation) -> str:
    """Key of the notice that somebody has taken it on."""
    return f"{thread.thread}/taken/{taken.at:%Y%m%dT%H%M%S.%f}/{taken.by}"


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
    listed = _listed(told, yard, craft, words)
    key, since = _key_of(taken, thread), taken.at
    line = f"{who} has taken on {listed}"
    if taken.given_back_at is not None:
        key, since = f"{key}/given-back", taken.given_back_at
        alone = all(each.state is AlarmState.UNACKNOWLEDGED for each in told)
        line = f"{who} has given back {listed}{': nobody has it' if alone else ''}"
    written = messages_to(
        person,
        key=key,
        kind=MessageKind.NOTICE,
        subject=line,
        text=f"{line}. Since {words.clock(since)}.\n",
        created_at=now,
        thread=thread.thread,
    )
    named = alarms_named(line, told, craft, yard)
    return [replace(one, alarms=named, role=staff_role(person)) for one in written]


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
