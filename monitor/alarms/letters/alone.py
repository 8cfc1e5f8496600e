"""Nobody alone is sent out onto ice at night: what to leave, and whom to call instead."""

from collections.abc import Iterable
from datetime import datetime

from monitor.alarms.entry import Entry
from monitor.alarms.letters.entry_reading import craft_name, has_ice
from monitor.phrases.names import plain, space_name
from monitor.wording import Wording, listed_first
from monitor.yard.space import OUTDOORS, STAFF, Person, Yard

_NAMED = 3


def alone_sentence(reader: Person, entries: Iterable[Entry], yard: Yard, words: Wording) -> str:
    """What one person on duty leaves alone outdoors at night, and who comes along.

    Parameters
    ----------
    reader : Person
        Who gets the letter.
    entries : iterable of Entry
    yard : Yard
        Its file says how many work at which hour.
    words : Wording

    Returns
    -------
    str
        Empty where more than one person works, where it is done before the night, and where
        nothing of it stands outdoors.
    """
    since = _alone_since(yard, words)
    if since is None:
        return ""
    outdoors = {space.id for space in yard.spaces if space.kind in OUTDOORS}
    left = [
        entry
        for entry in entries
        if entry.alarm.space in outdoors
        and not has_ice(entry)
        and not _is_done_by(entry, since, words.now)
    ]
    names = dict.fromkeys(
        craft_name(entry) if entry.alarm.craft else space_name(yard, entry.alarm.space)
        for entry in left
    )
    if not names:
        return ""
    begins = "" if since <= words.now else f" from {words.clock(since)}"
    return (
        f"One person alone{begins}: do not go out onto ice by yourself at night."
        f" {_whom_to_call(reader, yard, words)} or leave {listed_first(list(names), _NAMED)}"
        " until daylight."
    )


def _alone_since(yard: Yard, words: Wording) -> datetime | None:
    """When the first hours of this night begin in which one person works; None: in none of it."""
    ahead = yard.duty.crew_ahead(words.now.astimezone(yard.zone))
    return next((one.since for one in ahead if one.is_night and one.hands == 1), None)


def _is_done_by(entry: Entry, since: datetime, now: datetime) -> bool:
    turn = None if entry.assessment is None else entry.assessment.turn
    if turn is None:
        return False
    return turn.done_in_h * 3600.0 <= (since - now).total_seconds()


def _whom_to_call(reader: Person, yard: Yard, words: Wording) -> str:
    """Whoever is called next and does not work now; else the yard's own telephone."""
    by_id = {person.id: person for person in yard.people}
    called = [by_id[each] for each in yard.duty.next_called if each in by_id]
    staff = [person for person in yard.people if person.roles & STAFF]
    at_work = {reader.id, *yard.duty.on_duty(words.now.astimezone(yard.zone))}
    for person in (*called, *staff):
        if person.id not in at_work:
            number = f" ({person.phone})" if person.phone else ""
            return f"Call {plain(person.name)}{number} to come along,"
    return f"Call {yard.telephone} for somebody," if yard.telephone else "Call somebody to come,"
