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
from monitor.alarms.telling.owners import YardKnows, hold_back_from_owner
from monitor.alarms.telling.pace import (
    A_NIGHT,
    Pace,
    can_wait,
    closes_alone,
    has_waited,
    once_a_day,
)
from monitor.alarms.telling.threads import Thread, heatless_of, open_thread
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
    running = {
        (each.person, Topic(each.topic)): each for each in conversations if each.closed_at is None
    }
    heard, first_to_know = _hear_entries(yard, entries, running, roster)
    threads, changed = _threads(yard, roster, heard, running, heatless_of(entries, now), now)
    sent = _times_of_letters(conversations)
    due: list[Letter] = []
    known = YardKnows()
    # An owner hears of nothing that none of the yard's own people knows.
    staff_first = sorted(threads.items(), key=lambda one: one[0][0] is Standpoint.OWNER)
    for (who, person), together in staff_first:
        if who is Standpoint.OWNER:
            for thread in together:
                hold_back_from_owner(thread, known, first_to_know, yard, now)
        letter = _together(yard, together, Pace(sent.get(person, ()), now, yard.zone), now)
        if letter is not None:
            due.append(letter)
            sent.setdefault(person, []).append(now)
        for thread in together:
            if thread.kept is not None:
                changed[thread.kept.thread] = thread.kept
            if who is Standpoint.STAFF:
                known.add(thread)
    before = {each.thread: each for each in conversations}
    return due, [each for each in changed.values() if each != before.get(each.thread)]


def _times_of_letters(conversations: Iterable[Conversation]) -> dict[str, list[datetime]]:
    """When each person was written to, in any thread."""
    sent: dict[str, list[datetime]] = {}
    for each in conversations:
        sent.setdefault(each.person, []).extend(each.sent)
    return sent


def _hear_entries(
    yard: Yard,
    entries: Iterable[Entry],
    running: Mapping[tuple[str, Topic], Conversation],
    roster: Roster,
) -> tuple[_Heard, dict[str, set[str]]]:
    """Who hears of which entries; and by alarm, of whom one has to know before an owner hears."""
    operators = {person.id for person in yard.people if Role.OPERATOR in person.roles}
    staffed = {key: each for key, each in running.items() if not each.owner}
    heard: _Heard = {}
    first_to_know: dict[str, set[str]] = {}
    for entry in entries:
        readers = audience(yard, entry, staffed, roster)
        staff = {reader for reader, who in readers.items() if who is Standpoint.STAFF}
        first_to_know[entry.alarm.id] = staff & operators or staff
        for reader, standpoint in readers.items():
            spoken = running.get((reader, entry.definition.topic))
            if entry.passed and (spoken is None or entry.danger not in spoken.told):
                continue  # it waited for a letter, and passed by: nothing to tell any more
            by = heard.setdefault((reader, entry.definition.topic), {})
            by.setdefault(standpoint, []).append(entry)
    return heard, first_to_know


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
        thread = open_thread(roster, person, standpoint, topic, mine, conversation, now, yard.zone)
        if thread is not None:
            thread.find_news(yard, heatless, now)
            threads.setdefault((standpoint, person_id), []).append(thread)
    return threads, closed


def _together(yard: Yard, threads: list[Thread], pace: Pace, now: datetime) -> Letter | None:
    """One letter of all that these threads of one person have to say, if one is to go now."""
    due = (_due_to_owner if threads[0].standpoint is Standpoint.OWNER else _due)(
        yard, threads, pace, now
    )
    if not due:
        return None
    speaking = [thread for thread in threads if thread.has_to_say() or thread in due]
    pressing = [thread.remind or bool(_pressing_news(thread, pace)) for thread in speaking]
    order = sorted(
        range(len(speaking)),
        key=lambda n: (speaking[n].over, not pressing[n], _FIRST.index(speaking[n].topic)),
    )
    first, *others = (speaking[n] for n in order)
    along = tuple(thread.make_letter(now) for thread in others)
    letter = first.make_letter(now)
    told_along = dict.fromkeys((*first.before.along, *(each.thread for each in along)))
    first.kept = replace(letter.conversation, along=tuple(told_along))
    return replace(letter, conversation=first.kept, along=along)


def _pressing_news(thread: Thread, pace: Pace) -> list[Entry]:
    """What is new in a thread and must not wait for the next letter that has room."""
    told, opening = thread.told, not thread.before.count
    return [entry for entry in thread.news if pace.presses(entry, told, opening=opening)]


def _due(yard: Yard, threads: list[Thread], pace: Pace, now: datetime) -> list[Thread]:
    """Threads that call for a letter to one of the yard's own people now; empty: none goes."""
    at_once = [
        thread
        for thread in threads
        if thread.remind or _must_go_now(thread, pace) or any(map(pace.is_last_chance, thread.news))
    ]
    quiet = threads[0].person.quiet
    asleep = quiet is not None and quiet.holds(now.astimezone(yard.zone))
    if at_once or asleep:
        return at_once
    waiting = [thread for thread in threads if _waits_for_room(thread, now)]
    if pace.has_room(early=_hold_new_ice(waiting)):
        return waiting
    if quiet is None or pace.tonight >= A_NIGHT:
        return []
    return [thread for thread in waiting if has_waited(thread.news or thread.entries, now)]


def _must_go_now(thread: Thread, pace: Pace) -> bool:
    """Whether news presses, and its thread gathers no more: a new cause waits for nothing.

    A cause that it told of stays known once people have seen to it: who works fast would else be
    written to for each craft that the evening adds.
    """
    pressing = _pressing_news(thread, pace)
    if not pressing:
        return False
    known = {entry.alarm.cause for entry in thread.active if not entry.news}
    known |= {made_safe.cause for made_safe in thread.safe}
    new_cause = any(entry.alarm.cause not in known for entry in pressing)
    return new_cause or not pace.gathers(thread.before, pressing)


def _hold_new_ice(threads: Iterable[Thread]) -> bool:
    return any(entry.iced for thread in threads for entry in thread.news)


def _waits_for_room(thread: Thread, now: datetime) -> bool:
    """Whether a thread has something to say that calls for the next letter that has room."""
    if thread.over:
        return thread.topic is not Topic.DAMP or closes_alone(thread.before, now)
    calling = [entry for entry in thread.news if not can_wait(entry, now)]
    return bool(calling) and not once_a_day(thread.before, calling, now)


def _due_to_owner(yard: Yard, threads: list[Thread], pace: Pace, now: datetime) -> list[Thread]:
    """Threads that call for a letter to an owner now, whom the yard does not ask to act tonight."""
    if not yard.owners.may_write_at(now.astimezone(yard.zone), threads[0].person.quiet):
        return []
    room = pace.tonight < A_NIGHT
    return [
        thread
        for thread in threads
        if (thread.over and room)
        or (
            thread.news
            and (room or _pressing_news(thread, pace))
            and not pace.gathers(thread.before, thread.news)
        )
    ]
