"""What an owner is told when: not before the yard's own people, nor before they could answer.

An owner cannot act tonight, so news waits for the yard's answer, or for so long without one as the
yard's file says; ice waits for nothing but the day. Nothing keeps it longer: a yard that never
answers, and a clock that was set back, delay no word for good.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta

from monitor.alarms.entry import Entry
from monitor.alarms.telling.pace import DAY, WARNED
from monitor.alarms.telling.threads import Thread
from monitor.yard.alarm import AlarmState, Topic
from monitor.yard.space import Yard


class YardKnows:
    """What each of the yard's own people has been told, the worst of it, and since when."""

    def __init__(self) -> None:
        self._ranks: dict[tuple[Topic, str], dict[str, int]] = {}
        self._letters: dict[tuple[Topic, str], list[datetime]] = {}

    def add(self, thread: Thread) -> None:
        """Take in what one of them has been told by now."""
        sent = (thread.kept or thread.before).sent
        for danger, told in thread.told.items():
            key = (thread.topic, danger)
            self._ranks.setdefault(key, {})[thread.person.id] = told.rank
            self._letters.setdefault(key, []).extend(sent)

    def knows_of(self, entry: Entry, people: set[str]) -> bool:
        """Whether one of these knows of this, where the yard has anybody to tell.

        Frost in a space whose lost heat somebody knows of is known; so is ice in what somebody was
        warned of, for the warning says that it counts as frozen from its hour on.
        """
        rank = min(entry.rank, WARNED) if entry.iced else entry.rank
        ranks = self._ranks.get((entry.definition.topic, entry.danger), {})
        if not people or any(ranks.get(each, 0) >= rank for each in people):
            return True
        return not entry.iced and (Topic.HEAT, entry.alarm.space) in self._ranks

    def notified_at(self, entry: Entry) -> datetime | None:
        """When the first of them was told of this; None: longer ago than letters are kept."""
        keys = ((entry.definition.topic, entry.danger), (Topic.HEAT, entry.alarm.space))
        letters = (at for key in keys for at in self._letters.get(key, ()))
        return min((at for at in letters if at >= entry.alarm.raised_at), default=None)


def hold_back_from_owner(
    thread: Thread,
    known: YardKnows,
    first_to_know: Mapping[str, set[str]],
    yard: Yard,
    now: datetime,
) -> None:
    """Take out of an owner's thread what is news and not yet to be told.

    Parameters
    ----------
    thread : Thread
        The owner's, with its news found.
    known : YardKnows
        What the yard's own people were told up to now.
    first_to_know : mapping of set of str by alarm id
        Of which people one has to know before an owner hears.
    yard : Yard
    now : datetime
    """
    ready = [
        entry
        for entry in thread.news
        if known.knows_of(entry, first_to_know[entry.alarm.id])
        and _has_waited(entry, known.notified_at(entry), yard.owners.without_answer, now)
    ]
    held = {entry.alarm.id for entry in thread.news} - {entry.alarm.id for entry in ready}
    thread.news = ready
    thread.active = [entry for entry in thread.active if entry.alarm.id not in held]
    told = [at for entry in ready or thread.active if (at := known.notified_at(entry)) is not None]
    thread.yard_told_at = max(told, default=None)  # by then of all that is news


def _has_waited(
    entry: Entry, notified_at: datetime | None, without_answer: timedelta, now: datetime
) -> bool:
    """Whether there is ice in it, the yard has answered, or could have for long enough."""
    if entry.iced or entry.alarm.state is not AlarmState.UNACKNOWLEDGED:
        return True
    # Letters are remembered for a day, so one that repeats must not begin the wait anew.
    if now - entry.alarm.raised_at >= without_answer + DAY:
        return True
    # What was told in the future was told by a clock that has been set back: it holds up nothing.
    return not timedelta(0) <= now - (notified_at or entry.alarm.raised_at) < without_answer
