"""Who is told what, when: one cause, one thread of messages per person, and no flood.

A thread opens with everything that holds. It speaks again only when a new subject joins or one
stands worse than was told, and it closes with one all clear. What is told is a craft, a space or a
sensor: a second circuit of a craft that is told already changes no act, and so is no news.

What several threads have to say to one person at one time goes in one letter, and `pace` says when
a letter may go: what must never be missed takes along all that waits for one. An owner never hears
of a craft before the yard's own people do.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from monitor.alarms.definitions import Topic
from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.alarms.escalation import REMIND_AFTER, Roster, looks_after
from monitor.alarms.pace import (
    A_NIGHT,
    DAY,
    NIGHT,
    Pace,
    has_waited,
    is_news,
    is_news_to_owner,
    moved_up,
    once_a_day,
    told_too,
)
from monitor.yard.alarm import ACTIVE, AlarmState
from monitor.yard.message import MessageKind
from monitor.yard.space import Person, Role, SpaceKind, Yard
from monitor.yard.watch import Conversation, Told

_HEAT_WITHIN = timedelta(minutes=30)  # a lost heater is found lost after a quarter of an hour
_HEAT_NEAR = timedelta(hours=3)
_CLOSED = frozenset({AlarmState.NORMAL, AlarmState.RETURNED})
_FIRST = (Topic.HEAT, Topic.FROST, Topic.BATTERY, Topic.PATH, Topic.SILENCE, Topic.DAMP)


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
        The open threads, and those closed within a day: their letters count for the night.
    now : datetime

    Returns
    -------
    (list of Letter, list of Conversation)
    """
    roster = Roster(yard, now)
    conversations = list(conversations)
    sent: dict[str, list[datetime]] = {}
    for each in conversations:
        sent.setdefault(each.person, []).extend(each.sent)
    running = {
        (each.person, Topic(each.topic)): each for each in conversations if each.closed_at is None
    }
    staffed = {key: each for key, each in running.items() if not each.owner}
    heard: dict[tuple[str, Topic], dict[Standpoint, list[Entry]]] = {}
    operators = {person.id for person in yard.people if Role.OPERATOR in person.roles}
    unoperated: set[str] = set()  # alarms that no operator hears of
    for entry in entries:
        told = audience(yard, entry, staffed, roster)
        if not any(who is Standpoint.STAFF and reader in operators for reader, who in told.items()):
            unoperated.add(entry.alarm.id)
        for reader, standpoint in told.items():
            by = heard.setdefault((reader, entry.definition.topic), {})
            by.setdefault(standpoint, []).append(entry)
    heatless = _heatless(entries)
    threads: dict[tuple[Standpoint, str], list[_Thread]] = {}
    changed: dict[str, Conversation] = {}
    for person_id, topic in sorted(heard.keys() | running.keys()):
        person = roster.person(person_id)
        conversation = running.get((person_id, topic))
        if person is None:  # left the yard's list: nobody to tell
            if conversation is not None:
                changed[conversation.thread] = replace(conversation, closed_at=now)
            continue
        by = heard.get((person_id, topic), {})
        standpoint = Standpoint.STAFF if Standpoint.STAFF in by else Standpoint.OWNER
        if not by and conversation is not None and not conversation.owner:
            standpoint = Standpoint.STAFF
        mine = by.get(standpoint, [])
        thread = _opened(roster, person, standpoint, topic, mine, conversation, now)
        if thread is not None:
            thread.look(yard, heatless, now)
            threads.setdefault((standpoint, person_id), []).append(thread)
    written: list[Letter] = []
    known = _Known()
    for standpoint in (Standpoint.STAFF, Standpoint.OWNER):  # the yard's own people first
        for (who, _), together in threads.items():
            if who is not standpoint:
                continue
            if who is Standpoint.OWNER:
                for thread in together:
                    thread.news = [
                        each
                        for each in thread.news
                        if each.alarm.id in unoperated or known.holds(each)
                    ]
            times = sent.get(together[0].person.id, ())
            letter = _together(yard, together, Pace(times, now, yard.zone), now)
            if letter is not None:
                written.append(letter)
                sent.setdefault(letter.person.id, []).append(now)
            for thread in together:
                if thread.kept is not None:
                    changed[thread.kept.thread] = thread.kept
                if who is Standpoint.STAFF and thread.person.id in operators:
                    known.add(thread)
    before = {each.thread: each for each in conversations}
    return written, [each for each in changed.values() if each != before.get(each.thread)]


@dataclass(slots=True, kw_only=True)
class _Thread:
    """What one thread has to say to its person in this round."""

    person: Person
    standpoint: Standpoint
    topic: Topic
    before: Conversation  # as it was, or is opened now
    entries: list[Entry]
    over: bool = False
    active: list[Entry] = field(default_factory=list)  # one a subject, news marked
    news: list[Entry] = field(default_factory=list)
    told: dict[str, Told] = field(default_factory=dict)
    beside: tuple[Entry, ...] = ()
    remind: bool = False
    sooner: list[Entry] = field(default_factory=list)  # worth a word, and no letter of its own
    kept: Conversation | None = None  # as it is after this round; None: not worth keeping yet

    def look(self, yard: Yard, heatless: Mapping[str, Sequence[Entry]], now: datetime) -> None:
        """Find out what is new, and what is over."""
        alive = {entry.about for entry in self.entries if entry.alarm.state not in _CLOSED}
        self.over = not alive
        self.told = {key: what for key, what in self.before.told.items() if key in alive}
        if self.over:
            self.kept = self.before
            return
        staff = self.standpoint is Standpoint.STAFF
        news_to = is_news if staff else is_news_to_owner
        for entry in _worst_of_each([each for each in self.entries if each.alarm.state in ACTIVE]):
            news = news_to(entry, self.told, now) and not (
                staff
                and self.topic is Topic.FROST
                and _told_with_the_heat(yard, entry, heatless, now)
            )
            self.active.append(replace(entry, news=news))
        self.news = [entry for entry in self.active if entry.news]
        if staff:
            self.sooner = [
                each for each in self.active if not each.news and moved_up(each, self.told, now)
            ]
        if self.topic is Topic.HEAT:
            self.beside = tuple(
                {
                    other.alarm.id: other
                    for entry in self.entries
                    for other in heatless.get(entry.alarm.space, ())
                }.values()
            )
        self.remind = _to_remind(yard, self.before, self.standpoint, self.active, now)
        self.kept = replace(self.before, told=self.told) if self.before.count else None

    def speaks(self) -> bool:
        """Whether a letter that goes anyway takes this along."""
        return self.over or bool(self.news or self.sooner)

    def letter(self, now: datetime) -> Letter:
        """Put all that holds into a letter, and remember that it was told."""
        before = self.before
        if self.over:
            entries = [entry for entry in self.entries if entry.about in before.told]
            self.told = {}
            kind, listed = MessageKind.ALL_CLEAR, tuple(_worst_of_each(entries))
        else:
            for entry in self.active:
                self.told[entry.about] = told_too(self.told.get(entry.about), entry)
            kind = MessageKind.UPDATE if before.count else MessageKind.ALARM
            new = {entry.alarm.id for entry in (*self.news, *self.sooner)}
            listed = tuple(replace(each, news=each.alarm.id in new) for each in self.active)
        reminded = before.reminded
        if any(entry.alarm.state is AlarmState.UNACKNOWLEDGED for entry in self.news):
            reminded = 0
        elif self.remind:
            reminded += 1
        self.kept = replace(
            before,
            told=self.told,
            closed_at=now if self.over else None,
            reminded=reminded,
            sent=(*(at for at in before.sent if now - at < DAY), now),
            count=before.count + 1,
        )
        return Letter(
            kind=kind,
            person=self.person,
            standpoint=self.standpoint,
            topic=self.topic,
            entries=listed,
            conversation=self.kept,
            beside=self.beside,
        )


class _Known:
    """What the yard's operators have been told, the worst of it."""

    def __init__(self) -> None:
        self._ranks: dict[tuple[Topic, str], int] = {}

    def add(self, thread: _Thread) -> None:
        """Take in what one of them has been told by now."""
        for about, told in thread.told.items():
            key = (thread.topic, about)
            self._ranks[key] = max(told.rank, self._ranks.get(key, 0))

    def holds(self, entry: Entry) -> bool:
        """Whether they know of this; frost in a space whose lost heat they know of, they do."""
        if self._ranks.get((entry.definition.topic, entry.about), 0) >= entry.rank:
            return True
        return not entry.iced and (Topic.HEAT, entry.alarm.space) in self._ranks


def _opened(
    roster: Roster,
    person: Person,
    standpoint: Standpoint,
    topic: Topic,
    entries: list[Entry],
    conversation: Conversation | None,
    now: datetime,
) -> _Thread | None:
    """The thread of one topic; None where nothing asks for one."""
    if conversation is None:
        active = _worst_of_each([entry for entry in entries if entry.alarm.state in ACTIVE])
        if not any(entry.alarm.state is AlarmState.UNACKNOWLEDGED for entry in active):
            return None
        conversation = Conversation(
            thread=f"{topic}/{now:%Y%m%dT%H%M%S}/{person.id}",
            person=person.id,
            topic=str(topic),
            opened_at=now,
            owner=standpoint is Standpoint.OWNER,
            called_after=_called_after(roster, person, standpoint, active),
        )
    return _Thread(
        person=person,
        standpoint=standpoint,
        topic=topic,
        before=conversation,
        entries=entries,
    )


def _together(yard: Yard, threads: list[_Thread], pace: Pace, now: datetime) -> Letter | None:
    """One letter of all that these threads of one person have to say, if one is to go now."""
    due = (_due_to_owner if threads[0].standpoint is Standpoint.OWNER else _due)(
        yard, threads, pace, now
    )
    if not due:
        return None
    speaking = [thread for thread in threads if thread.speaks() or thread in due]
    pressing = [thread.remind or any(_presses(pace, thread)) for thread in speaking]
    order = sorted(
        range(len(speaking)),
        key=lambda n: (speaking[n].over, not pressing[n], _FIRST.index(speaking[n].topic)),
    )
    first, *others = (speaking[n] for n in order)
    along = tuple(thread.letter(now) for thread in others)
    letter = first.letter(now)
    told_along = dict.fromkeys((*first.before.along, *(each.thread for each in along)))
    first.kept = replace(letter.conversation, along=tuple(told_along))
    return replace(letter, conversation=first.kept, along=along)


def _presses(pace: Pace, thread: _Thread) -> Iterable[bool]:
    told, opening = thread.before.told, not thread.before.count
    return (pace.presses(entry, told, opening=opening) for entry in thread.news)


def _due(yard: Yard, threads: list[_Thread], pace: Pace, now: datetime) -> list[_Thread]:
    """Threads that call for a letter to one of the yard's own people now; empty: none goes."""
    found = []
    for thread in threads:
        pressing = [
            entry
            for entry, presses in zip(thread.news, _presses(pace, thread), strict=True)
            if presses
        ]
        known = {entry.alarm.cause for entry in thread.active if not entry.news}
        new_cause = any(entry.alarm.cause not in known for entry in pressing)
        gathers = not new_cause and pace.gathers(thread.before, pressing)
        if thread.remind or (pressing and not gathers):
            found.append(thread)
    quiet = threads[0].person.quiet
    asleep = quiet is not None and quiet.holds(now.astimezone(yard.zone))
    if found or asleep:
        return found
    waiting = [
        thread
        for thread in threads
        if (thread.over or thread.news) and not once_a_day(thread.before, thread.news, now)
    ]
    early = any(entry.iced for thread in waiting for entry in thread.news)
    if pace.has_room(early=early):
        return waiting
    late = quiet is not None and pace.tonight < A_NIGHT
    return [thread for thread in waiting if late and has_waited(thread.news or thread.entries, now)]


def _due_to_owner(yard: Yard, threads: list[_Thread], pace: Pace, now: datetime) -> list[_Thread]:
    """Threads that call for a letter to an owner now, whom the yard does not ask to act tonight."""
    if (threads[0].person.quiet or NIGHT).holds(now.astimezone(yard.zone)):
        return []
    room = pace.tonight < A_NIGHT
    return [
        thread
        for thread in threads
        if (thread.over and room)
        or (
            thread.news
            and (room or any(_presses(pace, thread)))
            and not pace.gathers(thread.before, thread.news)
        )
    ]


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
