"""What ended the danger of a craft: somebody's work on record, its move, or the weather."""

from dataclasses import dataclass
from datetime import datetime

from monitor.craft.stored import StoredCraft
from monitor.yard.alarm import Alarm


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeSafe:
    """A craft that people were told of and that is in no danger any more."""

    craft: str
    name: str  # as people called it then
    at: datetime
    by: str = ""  # whose work it was, an id or a name; empty: nobody's, the weather turned


def what_made_safe(alarm: Alarm, craft: StoredCraft | None) -> MadeSafe:
    """Who made the craft of an alarm safe that is over, and when.

    Parameters
    ----------
    alarm : Alarm
    craft : StoredCraft or None
        As it stands now; None where it has left the yard's care.

    Returns
    -------
    MadeSafe
        By the last work since the alarm was raised; else by the move; else by the weather, when
        the alarm cleared.
    """
    name = alarm.craft if craft is None else craft.name
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
