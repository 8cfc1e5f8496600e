"""What became of craft that letters told of: which are safe, since when and by whose work."""

from collections.abc import Iterable

from monitor.alarms.entry import Entry
from monitor.phrases.names import plain
from monitor.yard.alarm import AlarmState
from monitor.yard.watch import Conversation, MadeSafe

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
            found[craft] = _made_safe(entry)
    return tuple(sorted(found.values(), key=lambda one: (one.at, one.craft)))


def _made_safe(entry: Entry) -> MadeSafe:
    """By the last work on record since its alarm was raised; else by its move, or the weather."""
    alarm, craft = entry.alarm, entry.craft
    name = plain(alarm.craft if craft is None else craft.name)
    ended = alarm.cleared_at or alarm.changed_at
    start = None if craft is None else craft.plan_start
    work = [] if start is None else [e for e in start.entries if alarm.raised_at <= e.at <= ended]
    if work:
        last = max(work, key=lambda one: one.at)
        return MadeSafe(craft=alarm.craft, name=name, at=last.at, by=last.by)
    moved = None if craft is None else craft.since
    if moved is not None and alarm.raised_at <= moved <= ended:
        return MadeSafe(craft=alarm.craft, name=name, at=moved)
    return MadeSafe(craft=alarm.craft, name=name, at=ended)
