"""Who among the yard's own people is told of an alarm, and who is called when nobody answers."""

from datetime import datetime, timedelta

from monitor.alarms.definitions import Definition
from monitor.yard.alarm import Alarm, AlarmState
from monitor.yard.space import Person, Role, Yard

ANSWER_WITHIN = timedelta(minutes=15)
# A person who was told and did not answer is reminded, so long after the last message.
REMIND_AFTER = (timedelta(minutes=30), timedelta(hours=2))

_STAFF = frozenset({Role.OPERATOR, Role.MECHANIC})


def staff_told(yard: Yard, definition: Definition, alarm: Alarm, now: datetime) -> list[Person]:
    """The yard's people to whom an alarm goes now, those told first at the head.

    Those who have the role and look after the space; where nobody does, whoever has the role,
    and then the operators. With a calendar of duty, those of them on duty; each quarter of an
    hour in which nobody acknowledges what must never be missed, one more: first in the yard's
    own order, then whoever works there.
    """
    chain = called(yard, definition, alarm.space, now)
    first = len(first_told(yard, definition, alarm.space, now))
    return chain[: first + steps(yard, definition, alarm, now)]


def first_told(yard: Yard, definition: Definition, space: str, now: datetime) -> list[Person]:
    """Whom an alarm goes to at once."""
    roles = definition.tells & _STAFF
    with_role = [person for person in yard.people if person.roles & roles]
    operators = [person for person in yard.people if Role.OPERATOR in person.roles]
    staff = [person for person in with_role if looks_after(person, space, yard)]
    staff = staff or [person for person in operators if looks_after(person, space, yard)]
    staff = staff or with_role or operators
    on_duty = yard.duty.on_duty(now.astimezone(yard.zone))
    here = [person for person in staff if person.id in on_duty]
    return here or staff


def looks_after(person: Person, space: str, yard: Yard) -> bool:
    """Whether a space is one of those that a person looks after; the yard itself is everyone's."""
    return not person.spaces or space in person.spaces or space == yard.id


def called(yard: Yard, definition: Definition, space: str, now: datetime) -> list[Person]:
    """Everybody an alarm may reach, in the order in which they are called."""
    by_id = {person.id: person for person in yard.people}
    in_order = [
        *first_told(yard, definition, space, now),
        *(by_id[each] for each in yard.duty.next_called if each in by_id),
        *(person for person in yard.people if Role.OPERATOR in person.roles),
        *(person for person in yard.people if Role.MECHANIC in person.roles),
    ]
    return list({person.id: person for person in in_order}.values())


def steps(yard: Yard, definition: Definition, alarm: Alarm, now: datetime) -> int:
    """How many more people are called by now, because nobody has acknowledged."""
    if not (yard.duty.kept and definition.never_missed):
        return 0
    if alarm.state is not AlarmState.UNACKNOWLEDGED:
        return 0
    return max(0, (now - alarm.changed_at) // ANSWER_WITHIN)
