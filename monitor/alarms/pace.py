"""When a thread speaks again: what counts as news, and how long news may wait."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from monitor.alarms.entry import ICED, Entry
from monitor.yard.watch import Conversation, Told

# The wait before a thread says more, by how much it has said within a day: what comes in the
# afternoon is one more message at dusk, and not three.
_WAITS = (timedelta(0), timedelta(hours=3), timedelta(hours=3), timedelta(hours=6))
# What can still be saved and was not told of before waits the least, if its deadline is this near:
# to treat or move one craft takes an hour or two (common practice, no source).
_PRESSING = timedelta(hours=5)
_PRESSING_WAIT = timedelta(minutes=30)
_ICED_WAIT = timedelta(hours=6)  # ice that is there can only be left alone until it has thawed
_EARLIER = timedelta(hours=2)  # a deadline that moved up by this much is news
_SOON = timedelta(hours=4)  # if it is this near
DAY = timedelta(hours=24)


def told_too(before: Told | None, entry: Entry) -> Told:
    """What has been told of one craft, space or sensor, the worst of it."""
    deadline = entry.alarm.deadline
    if before is None:
        return Told(rank=entry.rank, deadline=deadline)
    known = [at for at in (before.deadline, deadline) if at is not None]
    return Told(rank=max(before.rank, entry.rank), deadline=min(known) if known else None)


def is_news(entry: Entry, told: Mapping[str, Told], now: datetime) -> bool:
    """Staff hear what is new or worse, and of a deadline that has moved up and is near."""
    before = told.get(entry.about)
    if before is None or entry.rank > before.rank:
        return True
    deadline = entry.alarm.deadline
    return (
        before.rank < ICED
        and deadline is not None
        and before.deadline is not None
        and before.deadline - deadline >= _EARLIER
        and deadline - now <= _SOON
    )


def is_news_to_owner(entry: Entry, told: Mapping[str, Told], _now: datetime) -> bool:
    """An owner hears that the craft is not safe, and that there is ice in it; no more."""
    before = told.get(entry.about)
    return entry.rank > 1 and (before is None or entry.rank > before.rank)


def earliest(
    conversation: Conversation,
    news: Iterable[Entry],
    told: Mapping[str, Told],
    now: datetime,
) -> datetime:
    """When the thread may speak again."""
    recent = [at for at in conversation.sent if now - at < DAY]
    if not recent:
        return now
    news = list(news)
    wait = _WAITS[min(len(recent), len(_WAITS) - 1)]
    if news and all(entry.rank >= ICED for entry in news):
        wait = _ICED_WAIT
    for entry in news:
        before, deadline = told.get(entry.about), entry.alarm.deadline
        acts_anew = entry.rank < ICED and (before is None or before.rank < entry.rank)
        if acts_anew and deadline is not None and deadline - now <= _PRESSING:
            wait = _PRESSING_WAIT
    return recent[-1] + wait
