"""Nobody alone is sent out onto ice at night, nor under a roof without somebody who knows.

Outdoors one slip on ice, in the dark and unseen, costs more than any craft: what stands there is
left until two can go. Under a roof there is no ice underfoot, and an undone craft may be saved by
twenty minutes with a spanner; but the cold, fumes of a heater and a fall are the same for whoever
is not missed. So the work is not forbidden there, and somebody has to know of it (a call before
and after is what guides to lone work ask for: common practice, HSE INDG73, from memory).
"""

from collections.abc import Iterable
from datetime import datetime

from monitor.alarms.entry import Entry
from monitor.alarms.letters.entry_reading import craft_name, has_ice
from monitor.phrases.names import plain, space_name
from monitor.wording import Wording, listed_first
from monitor.yard.space import OUTDOORS, STAFF, Person, Yard

_NAMED = 3


def alone_sentence(reader: Person, entries: Iterable[Entry], yard: Yard, words: Wording) -> str:
    """What one person on duty leaves alone at night, and who comes along or is told.

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
        Empty where more than one person works, and where it is done before the night.
    """
    since = _alone_since(yard, words)
    if since is None:
        return ""
    outdoors = {space.id for space in yard.spaces if space.kind in OUTDOORS}
    left = [e for e in entries if not has_ice(e) and not _is_done_by(e, since, words.now)]
    names = dict.fromkeys(
        craft_name(entry) if entry.alarm.craft else space_name(yard, entry.alarm.space)
        for entry in left
        if entry.alarm.space in outdoors
    )
    inside = dict.fromkeys(
        space_name(yard, entry.alarm.space) for entry in left if entry.alarm.space not in outdoors
    )
    said = []
    if names:
        said.append(
            f"do not go out onto ice by yourself at night. {_whom_to_call(reader, yard, words)} or"
            f" leave {listed_first(list(names), _NAMED)} until daylight."
        )
    if inside:
        said.append(
            f"{'Before' if said else 'before'} you go into {listed_first(list(inside), _NAMED)},"
            f" tell {_whom_to_tell(reader, yard, words)}, and again when you are out."
        )
    begins = "" if since <= words.now else f" from {words.clock(since)}"
    return f"One person alone{begins}: {' '.join(said)}" if said else ""


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
    other = _who_is_free(reader, yard, words)
    if other:
        return f"Call {other} to come along,"
    return f"Call {yard.telephone} for somebody," if yard.telephone else "Call somebody to come,"


def _whom_to_tell(reader: Person, yard: Yard, words: Wording) -> str:
    other = _who_is_free(reader, yard, words)
    return other or (f"somebody at {yard.telephone}" if yard.telephone else "somebody")


def _who_is_free(reader: Person, yard: Yard, words: Wording) -> str:
    """Name and number of whoever is called next and does not work now; empty for nobody."""
    by_id = {person.id: person for person in yard.people}
    called = [by_id[each] for each in yard.duty.next_called if each in by_id]
    staff = [person for person in yard.people if person.roles & STAFF]
    at_work = {reader.id, *yard.duty.on_duty(words.now.astimezone(yard.zone))}
    free = next((each for each in (*called, *staff) if each.id not in at_work), None)
    if free is None:
        return ""
    return f"{plain(free.name)} ({free.phone})" if free.phone else plain(free.name)
