"""Says which messages one worker may try now, while clocks are set and workers die."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, and_, func, or_, select

from monitor.clock import to_ms
from monitor.store.tables import delivery_attempts, outbox

# No wait between two tries and no claim reaches so far (tests/delivery/test_post.py): a later time
# was written by a clock that ran ahead, and counts as over. A claim may be another machine's, whose
# clock may differ, and to break it doubles a message; so it gets more room.
FARTHEST_TRY = timedelta(hours=1)
FARTHEST_CLAIM = timedelta(hours=3)
_TAKE_OVER_MS = 60_000  # times the square of the hand-overs that ended with their process


@dataclass(frozen=True, slots=True, kw_only=True)
class Claimant:
    """Who claims messages, and what it knows better than the wall clock.

    Attributes
    ----------
    name : str
        Unique to one worker of one process. A claim of its own binds it no more: it asks only
        when it has nothing in hand.
    gone : frozenset of str
        Claimants that are known to be dead.
    waited : frozenset of str
        Keys of messages whose wait is over by a clock that nobody sets.
    """

    name: str = ""
    gone: frozenset[str] = frozenset()
    waited: frozenset[str] = frozenset()


NOBODY = Claimant()


def _may_be_taken_over(now: datetime) -> ColumnElement[bool]:
    """At once the first time, then later and later.

    Else a process that dies of each hand-over, and is started again after it, sends one mail every
    few seconds. A try that nobody could report on left no row among the attempts.
    """
    reported = (
        select(func.count())
        .select_from(delivery_attempts)
        .where(
            delivery_attempts.c.yard_id == outbox.c.yard_id,
            delivery_attempts.c.key == outbox.c.key,
        )
        .scalar_subquery()
    )
    unreported = outbox.c.tries - reported
    return outbox.c.due_ms + _TAKE_OVER_MS * unreported * unreported <= to_ms(now)


def may_be_tried(now: datetime, claimant: Claimant) -> ColumnElement[bool]:
    """Condition on the outbox: waiting, due, and in nobody's hand."""
    now_ms = to_ms(now)
    due = [outbox.c.due_ms <= now_ms, outbox.c.due_ms > to_ms(now + FARTHEST_TRY)]
    if claimant.waited:
        due.append(outbox.c.key.in_(sorted(claimant.waited)))
    free = [
        outbox.c.claimed_until_ms <= now_ms,
        outbox.c.claimed_until_ms > to_ms(now + FARTHEST_CLAIM),
    ]
    if claimant.name:
        free.append(outbox.c.claimed_by == claimant.name)
    if claimant.gone:
        free.append(and_(outbox.c.claimed_by.in_(sorted(claimant.gone)), _may_be_taken_over(now)))
    return and_(outbox.c.outcome.is_(None), or_(*due), or_(*free))
