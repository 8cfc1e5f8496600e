"""A calendar entry (RFC 5545) for the first dated act of a message, which rings before it."""

from datetime import UTC, datetime, timedelta

from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.alarms.letters.entry_reading import work_order
from monitor.phrases.names import plain, space_name
from monitor.yard.message import Attachment, MessageKind
from monitor.yard.space import Yard

# Of an act whose job has no minutes of its own (common practice, no source).
_WORK = timedelta(hours=1)
_RINGS_BEFORE = timedelta(minutes=15)  # the latest start: time to put on boots and find the tools


def calendar_of(letter: Letter, yard: Yard, title: str) -> Attachment | None:
    """The work up to the first deadline, for the reader's calendar, with a ring before its start.

    It begins when the job must begin at the latest: a ring shortly before the deadline itself
    would leave no time to act. Later messages of the thread change the same entry, and the all
    clear takes it back.

    Parameters
    ----------
    letter : Letter
    yard : Yard
    title : str
        What the entry is called.

    Returns
    -------
    Attachment or None
        None for owners, whom the yard does not ask to act, and where nothing has a deadline
        that can still be met.
    """
    if letter.standpoint is Standpoint.OWNER:
        return None
    now = letter.conversation.sent[-1]
    if letter.kind is MessageKind.ALL_CLEAR:
        # Which hour it was does not matter to who takes an entry back; it must have one.
        return _attachment(letter, yard, title, now, cancelled=True) if _was_dated(letter) else None
    ahead = [
        entry
        for entry in sorted(letter.entries, key=work_order)
        if not entry.iced and entry.alarm.deadline is not None and entry.alarm.deadline > now
    ]
    if not ahead or ahead[0].alarm.deadline is None:
        return None
    place = space_name(yard, ahead[0].alarm.space)
    return _attachment(
        letter, yard, title, ahead[0].alarm.deadline, work=_time_of(ahead[0]), place=place
    )


def _time_of(entry: Entry) -> timedelta:
    """How long its job takes one person."""
    turn = None if entry.assessment is None else entry.assessment.turn
    return timedelta(minutes=turn.minutes) if turn is not None and turn.minutes > 0 else _WORK


def _was_dated(letter: Letter) -> bool:
    return any(entry.alarm.deadline is not None for entry in letter.entries)


def _attachment(
    letter: Letter,
    yard: Yard,
    title: str,
    deadline: datetime,
    *,
    work: timedelta = _WORK,
    place: str = "",
    cancelled: bool = False,
) -> Attachment:
    # Imported here: 10 MB that a yard without frost need not hold.
    from icalendar import Alarm, Calendar, Event

    event = Event()
    event.add("uid", f"{letter.conversation.thread}@{yard.id}.laidup")
    event.add("sequence", letter.number - 1)
    event.add("dtstamp", letter.conversation.sent[-1].astimezone(UTC))
    event.add("dtstart", (deadline - work).astimezone(UTC))
    event.add("dtend", deadline.astimezone(UTC))
    event.add("summary", title)
    event.add("status", "CANCELLED" if cancelled else "CONFIRMED")
    if place:
        event.add("location", f"{place}, {plain(yard.name)}")
    if not cancelled:
        ring = Alarm()
        ring.add("action", "DISPLAY")
        ring.add("description", title)  # DISPLAY must have one (RFC 5545, section 3.6.6)
        ring.add("trigger", -_RINGS_BEFORE)  # counted from DTSTART
        event.add_component(ring)
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", "-//laidup//alarms//EN")
    calendar.add("method", "CANCEL" if cancelled else "PUBLISH")
    calendar.add_component(event)
    return Attachment(
        filename="act-before.ics", media_type="text/calendar", content=calendar.to_ical()
    )
