"""What became of craft that letters told of: which are safe, since when and by whose work."""

from collections.abc import Iterable

from monitor.alarms.entry import Entry
from monitor.yard.alarm import AlarmState
from monitor.yard.watch import Conversation, MadeSafe, what_made_safe

_CLOSED = frozenset({AlarmState.NORMAL, AlarmState.RETURNED})


def craft_made_safe(before: Conversation, entries: Iterable[Entry]) -> tuple[MadeSafe, ...]:
    """Craft of which a thread has told and of which no danger is left, since its last letter.

    Parameters
    ----------
    before : Conversation
        The thread as the last round left it.
    entries : iterable of Entry
        All of its topic that are open, and those that this round brought back to normal.
    """
    entries = list(entries)
    still_open = {each.alarm.craft for each in entries if each.alarm.state not in _CLOSED}
    found = {one.craft: one for one in before.safe if one.craft not in still_open}
    for entry in entries:
        craft = entry.alarm.craft
        told = entry.danger in before.told
        if craft and told and craft not in still_open and craft not in found:
            found[craft] = what_made_safe(entry.alarm, entry.craft)
    return tuple(sorted(found.values(), key=lambda one: (one.at, one.craft)))
