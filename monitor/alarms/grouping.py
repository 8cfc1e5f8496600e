"""Who is told what, when: one cause, one thread of messages per person, and no flood.

A thread opens with everything that holds. It speaks again only when a new subject joins or one
stands worse than was told, and the more it has said in a day, the longer it waits to say more.
It closes with one all clear. What is told is a craft, a space or a sensor: a second circuit of a
craft that is told already changes no act, and so is no news.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta

from monitor.alarms.definitions import Topic
from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.alarms.escalation import REMIND_AFTER, Roster, looks_after
from monitor.alarms.pace import DAY, earliest, is_news, is_news_to_owner, told_too
from monitor.yard.alarm import ACTIVE, AlarmState, Priority
from monitor.yard.duty import Span
from monitor.yard.message import MessageKind
from monitor.yard.space import Person, Role, SpaceKind, Yard
from monitor.yard.watch import Conversation, Told

_HEAT_WITHIN = timedelta(minutes=30)  # a lost heater is found lost after a quarter of an hour
_HEAT_NEAR = timedelta(hours=3)
_NIGHT = Span(begins=time(21), ends=time(6))
_CLOSED = frozenset({AlarmState.NORMAL, AlarmState.RETURNED})


def audience(
    yard: Yard, entry: Entry, threads: Mapping[tuple[str, Topic], Conversation], roster: Roster
) -> dict[str, Standpoint]:
    """Who hears of an alarm, and as what.

    Staff by role, space, duty and escalation, and whoever of them has been told of it already, or
    of the topic in a space of theirs.
    An owner hears of own craft only, and only of what the definition says an owner can use.
    """
    definition, space = entry.definition, entry.alarm.space
    staff = {person.id for person in roster.told(definition, entry.alarm)}
    staff |= {
        person.id
        for person in roster.called(definition, space)
        if (thread := threads.get((person.id, definition.topic))) is not None
        # Whoever was told as a mechanic, of a torn cover, is not drawn into the operators' frost.
        and (thread.called_after or not person.roles.isdisjoint(definition.tells))
        and (entry.about in thread.told or looks_after(person, space, yard))
    }
    told = dict.fromkeys(staff, Standpoint.STAFF)
    if Role.OWNER in definition.tells and entry.craft is not None and entry.craft.owner:
        told.setdefault(entry.craft.owner, Standpoint.OWNER)
    return told


def letters(
    yard: Yard,
    entries: Sequence[Entry],
    conversations: Iterable[Conversation],
    now: datetime,
) -> tuple[list[Letter], list[Conversation]]:
    """What is to be told now, and the threads that changed.

    Parameters
    ----------
    yard : Yard
    entries : sequence of Entry
        Every alarm that is open, and those that this round brought back to normal.
    conversations : iterable of Conversation
        The open threads.
    now : datetime

    Returns
    -------
    (list of Letter, list of Conversation)
    """
    roster = Roster(yard, now)
    running = {(each.person, Topic(each.topic)): each for each in conversations}
    staffed = {key: each for key, each in running.items() if not each.owner}
    heard: dict[tuple[str, Topic], dict[Standpoint, list[Entry]]] = {}
    for entry in entries:
        for reader, standpoint in audience(yard, entry, staffed, roster).items():
            by = heard.setdefault((reader, entry.definition.topic), {})
            by.setdefault(standpoint, []).append(entry)
    heatless = _heatless(entries)
    written: list[Letter] = []
    changed: list[Conversation] = []
    for person_id, topic in sorted(heard.keys() | running.keys()):
        person = roster.person(person_id)
        conversation = running.get((person_id, topic))
        if person is None:  # left the yard's list: nobody to tell
            if conversation is not None:
                changed.append(replace(conversation, closed_at=now))
            continue
        by = heard.get((person_id, topic), {})
        standpoint = Standpoint.STAFF if Standpoint.STAFF in by else Standpoint.OWNER
        mine = by.get(standpoint, [])
        letter, after = _one(
            yard, roster, person, standpoint, topic, mine, conversation, heatless, now
        )
        if letter is not None:
            written.append(letter)
        if after is not None and after != conversation:
            changed.append(after)
    return written, changed


def _one(
    yard: Yard,
    roster: Roster,
    person: Person,
    standpoint: Standpoint,
    topic: Topic,
    entries: list[Entry],
    conversation: Conversation | None,
    heatless: Mapping[str, Sequence[Entry]],
    now: datetime,
) -> tuple[Letter | None, Conversation | None]:
    """What one person is to be told of one topic now."""
    active = _worst_of_each([entry for entry in entries if entry.alarm.state in ACTIVE])
    if conversation is None:
        if not any(entry.alarm.state is AlarmState.UNACKNOWLEDGED for entry in active):
            return None, None
        conversation = Conversation(
            thread=f"{topic}/{now:%Y%m%dT%H%M%S}/{person.id}",
            person=person.id,
            topic=str(topic),
            opened_at=now,
            owner=standpoint is Standpoint.OWNER,
            called_after=_called_after(roster, person, standpoint, active),
        )
    alive = {entry.about for entry in entries if entry.alarm.state not in _CLOSED}
    told = {key: what for key, what in conversation.told.items() if key in alive}

    def letter(kind: MessageKind, listed: Iterable[Entry], after: Conversation) -> Letter:
        return Letter(
            kind=kind,
            person=person,
            standpoint=standpoint,
            topic=topic,
            entries=tuple(listed),
            conversation=after,
            beside=tuple(
                other for entry in entries for other in heatless.get(entry.alarm.space, ())
            )
            if topic is Topic.HEAT
            else (),
        )

    if not alive and (
        _sleeps(yard, person, standpoint, (), now) or _clear_can_wait(yard, topic, now)
    ):
        return None, conversation
    if not alive:
        after = replace(
            conversation,
            told={},
            closed_at=now,
            sent=(*conversation.sent, now),
            count=conversation.count + 1,
        )
        over = [entry for entry in entries if entry.about in conversation.told]
        return letter(MessageKind.ALL_CLEAR, _worst_of_each(over), after), after

    news_to = is_news if standpoint is Standpoint.STAFF else is_news_to_owner
    marked = [
        replace(
            entry,
            news=news_to(entry, told, now)
            and not (
                standpoint is Standpoint.STAFF
                and topic is Topic.FROST
                and _told_with_the_heat(yard, entry, heatless, now)
            ),
        )
        for entry in active
    ]
    news = [entry for entry in marked if entry.news]
    silent = replace(conversation, told=told) if conversation.count else None
    if _sleeps(yard, person, standpoint, news, now):
        return None, silent
    night = _NIGHT.holds(now.astimezone(yard.zone))
    can_wait = night and all(_waits_for_morning(entry, told) for entry in news)
    if not news or can_wait or now < earliest(conversation, news, told, now):
        if not _to_remind(yard, conversation, standpoint, active, now):
            return None, silent
        conversation = replace(conversation, reminded=conversation.reminded + 1)
    elif any(entry.alarm.state is AlarmState.UNACKNOWLEDGED for entry in news):
        conversation = replace(conversation, reminded=0)
    for entry in marked:
        told[entry.about] = told_too(told.get(entry.about), entry)
    after = replace(
        conversation,
        told=told,
        sent=(*(at for at in conversation.sent if now - at < DAY), now),
        count=conversation.count + 1,
    )
    kind = MessageKind.UPDATE if conversation.count else MessageKind.ALARM
    return letter(kind, marked, after), after


def _heatless(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    """Spaces whose lost heat is told of, each with the frost that this brings to its craft."""
    entries = list(entries)
    spaces = {
        entry.alarm.space
        for entry in entries
        if entry.definition.topic is Topic.HEAT and entry.alarm.state in ACTIVE
    }
    found: dict[str, list[Entry]] = {space: [] for space in spaces}
    for entry in entries:
        frost = entry.definition.topic is Topic.FROST and entry.alarm.state in ACTIVE
        if frost and not entry.iced and entry.alarm.space in spaces:
            found[entry.alarm.space].append(entry)
    return found


def _told_with_the_heat(
    yard: Yard, entry: Entry, heatless: Mapping[str, Sequence[Entry]], now: datetime
) -> bool:
    """Whether frost in a heated space is told, or soon will be, by the message of its heat.

    It is one cause and one act: mend the heat. Where heat is not found lost within half an hour,
    or first ice is near, the frost is told by itself.
    """
    if entry.iced:
        return False
    if entry.alarm.space in heatless:
        return True
    heated = any(
        space.id == entry.alarm.space and space.kind is SpaceKind.HEATED for space in yard.spaces
    )
    deadline = entry.alarm.deadline
    near = deadline is None or deadline - now <= _HEAT_NEAR
    return heated and not near and now - entry.alarm.raised_at < _HEAT_WITHIN


def _waits_for_morning(entry: Entry, told: Mapping[str, Told]) -> bool:
    """Whether nothing is lost if nobody acts on this in the night.

    Ice in what was warned of has to wait till it thaws, and so can what ranks low.
    """
    if entry.iced:
        return entry.about in told
    return entry.alarm.priority is Priority.LOW and not entry.definition.never_missed


def _clear_can_wait(yard: Yard, topic: Topic, now: datetime) -> bool:
    """Nobody is woken to hear that all is well, but for whoever is out at a heater."""
    return topic is not Topic.HEAT and _NIGHT.holds(now.astimezone(yard.zone))


def _called_after(
    roster: Roster, person: Person, standpoint: Standpoint, entries: Iterable[Entry]
) -> tuple[str, ...]:
    """Who was told before this person and did not answer; nobody, where this one comes first."""
    if standpoint is Standpoint.OWNER:
        return ()
    before: dict[str, None] = {}
    for entry in entries:
        first = roster.first(entry.definition, entry.alarm.space)
        if person in first:
            return ()
        before |= dict.fromkeys(each.id for each in first)
    return tuple(before)


def _sleeps(
    yard: Yard, person: Person, standpoint: Standpoint, news: Iterable[Entry], now: datetime
) -> bool:
    """Whether these news can wait for the end of a person's quiet hours."""
    owner = standpoint is Standpoint.OWNER  # whom the yard does not ask to act tonight
    quiet = person.quiet or (_NIGHT if owner else None)
    if quiet is None or not quiet.holds(now.astimezone(yard.zone)):
        return False
    if owner:
        return True
    return not any(entry.definition.never_missed for entry in news)


def _to_remind(
    yard: Yard,
    conversation: Conversation,
    standpoint: Standpoint,
    entries: Iterable[Entry],
    now: datetime,
) -> bool:
    """Whether a person who was told, and did not answer, is told once more."""
    if not yard.duty.kept or standpoint is Standpoint.OWNER or not conversation.sent:
        return False
    if conversation.reminded >= len(REMIND_AFTER):
        return False
    unanswered = any(
        entry.definition.never_missed and entry.alarm.state is AlarmState.UNACKNOWLEDGED
        for entry in entries
    )
    return unanswered and now - conversation.sent[-1] >= REMIND_AFTER[conversation.reminded]


def _worst_of_each(entries: Iterable[Entry]) -> list[Entry]:
    """One entry a subject: while one cause hands over to a graver one, both may stand."""
    worst: dict[str, Entry] = {}
    for entry in entries:
        known = worst.get(entry.subject)
        if known is None or known.definition.supersedes != entry.alarm.cause:
            worst[entry.subject] = entry
    return list(worst.values())
