"""Who gets a letter now: one topic, one thread of messages per person, and no flood.

What several threads have to say to one person at one time goes in one letter, and `pace` says when
a letter may go: what must never be missed takes along all that waits for one. An owner never hears
of a craft before the yard's own people do.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.alarms.telling.escalation import Roster, audience
from monitor.alarms.telling.pace import A_NIGHT, NIGHT, Pace, has_waited, once_a_day
from monitor.alarms.telling.threads import Thread, heatless_of, opened
from monitor.yard.alarm import Topic
from monitor.yard.space import Role, Yard
from monitor.yard.watch import Conversation

# By reader and topic: what they hear of, and as what.
_Heard = dict[tuple[str, Topic], dict[Standpoint, list[Entry]]]

# Which topic leads a letter of several.
_FIRST = (Topic.HEAT, Topic.FROST, Topic.BATTERY, Topic.PATH, Topic.SILENCE, Topic.DAMP)


def letters_due(
    yard: Yard,
    entries: Sequence[Entry],
    conversations: Iterable[Conversation],
    now: datetime,
) -> tuple[list[Letter], list[Conversation]]:
    """Letters that are due now, and the threads that changed.

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
    operators = {person.id for person in yard.people if Role.OPERATOR in person.roles}
    staffed = {key: each for key, each in running.items() if not each.owner}
    heard: _Heard = {}
    first: dict[str, set[str]] = {}  # by alarm: one of them knows of it before an owner hears
    for entry in entries:
        told = audience(yard, entry, staffed, roster)
        staff = {reader for reader, who in told.items() if who is Standpoint.STAFF}
        first[entry.alarm.id] = staff & operators or staff
        for reader, standpoint in told.items():
            spoken = running.get((reader, entry.definition.topic))
            if entry.passed and (spoken is None or entry.danger not in spoken.told):
                continue  # it waited for a letter, and passed by: nothing to tell any more
            by = heard.setdefault((reader, entry.definition.topic), {})
            by.setdefault(standpoint, []).append(entry)
    threads, changed = _threads(yard, roster, heard, running, heatless_of(entries), now)
    written: list[Letter] = []
    known = _Known()
    for standpoint in (Standpoint.STAFF, Standpoint.OWNER):  # the yard's own people first
        for (who, _), together in threads.items():
            if who is not standpoint:
                continue
            if who is Standpoint.OWNER:
                for thread in together:
                    thread.news = [
                        each for each in thread.news if known.holds(each, first[each.alarm.id])
                    ]
            times = sent.get(together[0].person.id, ())
            letter = _together(yard, together, Pace(times, now, yard.zone), now)
            if letter is not None:
                written.append(letter)
                sent.setdefault(letter.person.id, []).append(now)
            for thread in together:
                if thread.kept is not None:
                    changed[thread.kept.thread] = thread.kept
                if who is Standpoint.STAFF:
                    known.add(thread)
    before = {each.thread: each for each in conversations}
    return written, [each for each in changed.values() if each != before.get(each.thread)]


def _threads(
    yard: Yard,
    roster: Roster,
    heard: _Heard,
    running: Mapping[tuple[str, Topic], Conversation],
    heatless: Mapping[str, Sequence[Entry]],
    now: datetime,
) -> tuple[dict[tuple[Standpoint, str], list[Thread]], dict[str, Conversation]]:
    """Every person's threads, looked at; and those closed because their person has left."""
    threads: dict[tuple[Standpoint, str], list[Thread]] = {}
    closed: dict[str, Conversation] = {}
    for person_id, topic in sorted(heard.keys() | running.keys()):
        person = roster.person(person_id)
        conversation = running.get((person_id, topic))
        if person is None:  # left the yard's list: nobody to tell
            if conversation is not None:
                closed[conversation.thread] = replace(conversation, closed_at=now)
            continue
        by = heard.get((person_id, topic), {})
        standpoint = Standpoint.STAFF if Standpoint.STAFF in by else Standpoint.OWNER
        if not by and conversation is not None and not conversation.owner:
            standpoint = Standpoint.STAFF
        mine = by.get(standpoint, [])
        thread = opened(roster, person, standpoint, topic, mine, conversation, now, yard.zone)
        if thread is not None:
            thread.find_news(yard, heatless, now)
            threads.setdefault((standpoint, person_id), []).append(thread)
    return threads, closed


class _Known:
    """What each of the yard's own people has been told, the worst of it."""

    def __init__(self) -> None:
        self._ranks: dict[tuple[Topic, str], dict[str, int]] = {}

    def add(self, thread: Thread) -> None:
        """Take in what one of them has been told by now."""
        for danger, told in thread.told.items():
            self._ranks.setdefault((thread.topic, danger), {})[thread.person.id] = told.rank

    def holds(self, entry: Entry, people: set[str]) -> bool:
        """Whether one of these knows of this, where the yard has anybody to tell.

        Frost in a space whose lost heat somebody knows of is known.
        """
        ranks = self._ranks.get((entry.definition.topic, entry.danger), {})
        if not people or any(ranks.get(each, 0) >= entry.rank for each in people):
            return True
        return not entry.iced and (Topic.HEAT, entry.alarm.space) in self._ranks


def _together(yard: Yard, threads: list[Thread], pace: Pace, now: datetime) -> Letter | None:
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


def _presses(pace: Pace, thread: Thread) -> Iterable[bool]:
    told, opening = thread.told, not thread.before.count
    return (pace.presses(entry, told, opening=opening) for entry in thread.news)


def _due(yard: Yard, threads: list[Thread], pace: Pace, now: datetime) -> list[Thread]:
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


def _due_to_owner(yard: Yard, threads: list[Thread], pace: Pace, now: datetime) -> list[Thread]:
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
