"""Who is told of an alarm, who is called when nobody answers, and who is reminded."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from monitor.alarms.definitions import Definition
from monitor.alarms.entry import Entry, Standpoint
from monitor.yard.alarm import Alarm, AlarmState, Topic
from monitor.yard.duty import ANSWER_WITHIN
from monitor.yard.space import STAFF, Person, Role, Yard
from monitor.yard.watch import Conversation

# A person who was told and did not answer is reminded, so long after the last message.
_REMIND_AFTER = (timedelta(minutes=30), timedelta(hours=2))


class Roster:
    """Whom each cause in each space concerns at one moment; each is worked out once."""

    def __init__(self, yard: Yard, now: datetime) -> None:
        self._yard = yard
        self._now = now
        self._by_id = {person.id: person for person in yard.people}
        self._operators = [each for each in yard.people if Role.OPERATOR in each.roles]
        self._mechanics = [each for each in yard.people if Role.MECHANIC in each.roles]
        self._on_duty = yard.duty.on_duty(now.astimezone(yard.zone))
        self._first: dict[tuple[str, str], list[Person]] = {}
        self._called: dict[tuple[str, str], list[Person]] = {}

    def person(self, person_id: str) -> Person | None:
        """One of the yard's people; None for who has left its list."""
        return self._by_id.get(person_id)

    def current_recipients(self, definition: Definition, alarm: Alarm) -> list[Person]:
        """The yard's people to whom an alarm goes now, those notified first at the head.

        Those who have the role and look after the space; where nobody does, whoever has the role,
        and then the operators. With a calendar of duty, those of them on duty; each quarter of an
        hour in which nobody acknowledges what must never be missed, one more: first in the
        yard's own order, then whoever works there.
        """
        first = len(self.first(definition, alarm.space))
        more = steps(self._yard, definition, alarm, self._now)
        return self.called(definition, alarm.space)[: first + more]

    def first(self, definition: Definition, space: str) -> list[Person]:
        """Whom an alarm goes to at once."""
        key = (definition.cause, space)
        if key not in self._first:
            self._first[key] = self._first_of(definition, space)
        return self._first[key]

    def called(self, definition: Definition, space: str) -> list[Person]:
        """Everybody an alarm may reach, in the order in which they are called."""
        key = (definition.cause, space)
        if key not in self._called:
            in_order = [
                *self.first(definition, space),
                *(self._by_id[each] for each in self._yard.duty.next_called if each in self._by_id),
                *self._operators,
                *self._mechanics,
            ]
            self._called[key] = list({person.id: person for person in in_order}.values())
        return self._called[key]

    def _first_of(self, definition: Definition, space: str) -> list[Person]:
        yard, roles = self._yard, definition.tells & STAFF
        with_role = [person for person in yard.people if person.roles & roles]
        staff = [person for person in with_role if is_in_charge_of(person, space, yard)]
        staff = staff or [each for each in self._operators if is_in_charge_of(each, space, yard)]
        staff = staff or with_role or self._operators
        here = [person for person in staff if person.id in self._on_duty]
        return here or staff


def audience(
    yard: Yard, entry: Entry, threads: Mapping[tuple[str, Topic], Conversation], roster: Roster
) -> dict[str, Standpoint]:
    """Who hears of an alarm, and as what.

    Staff by role, space, duty and escalation, and whoever of them has been told of it already, or
    of the topic in a space of theirs.
    An owner hears of own craft only, and only of what the definition says an owner can use.
    """
    definition, space = entry.definition, entry.alarm.space
    staff = {person.id for person in roster.current_recipients(definition, entry.alarm)}
    staff |= {
        person.id
        for person in roster.called(definition, space)
        if (thread := threads.get((person.id, definition.topic))) is not None
        # Whoever was told as a mechanic, of a torn cover, is not drawn into the operators' frost;
        # but who was told to lay a craft up again must hear that it froze, and is not to start.
        and (
            thread.called_after
            or not person.roles.isdisjoint(definition.tells)
            or (entry.iced and thread.tells_of(entry.about))
        )
        and (is_in_charge_of(person, space, yard) or thread.tells_of(entry.about))
    }
    told = dict.fromkeys(staff, Standpoint.STAFF)
    if Role.OWNER in definition.tells and entry.craft is not None and entry.craft.owner:
        told.setdefault(entry.craft.owner, Standpoint.OWNER)
    return told


def is_in_charge_of(person: Person, space: str, yard: Yard) -> bool:
    """Whether a space is one of those that a person looks after; the yard itself is everyone's."""
    return not person.spaces or space in person.spaces or space == yard.id


def steps(yard: Yard, definition: Definition, alarm: Alarm, now: datetime) -> int:
    """How many more people are called by now, because nobody has acknowledged."""
    if not (yard.duty.has_calendar and definition.never_missed):
        return 0
    if alarm.state is not AlarmState.UNACKNOWLEDGED:
        return 0
    if alarm.changed_at - now > ANSWER_WITHIN:
        # By a clock that has been put back since: how long nobody has answered is not known.
        return len(yard.people)
    return max(0, (now - alarm.changed_at) // ANSWER_WITHIN)


def called_after(
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


def to_remind(
    yard: Yard,
    conversation: Conversation,
    standpoint: Standpoint,
    entries: Iterable[Entry],
    now: datetime,
) -> bool:
    """Whether a person who was told, and did not answer, is told once more."""
    if not yard.duty.has_calendar or standpoint is Standpoint.OWNER or not conversation.sent:
        return False
    if conversation.reminded >= len(_REMIND_AFTER):
        return False
    unanswered = any(
        entry.definition.never_missed
        and entry.alarm.state is AlarmState.UNACKNOWLEDGED
        and not entry.passed
        for entry in entries
    )
    # A letter from the future was written by a clock that has been put back: it holds up none.
    sent = [at for at in conversation.sent if at - now <= ANSWER_WITHIN]
    due = not sent or now - sent[-1] >= _REMIND_AFTER[conversation.reminded]
    return unanswered and due
