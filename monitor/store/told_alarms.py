"""Which alarms the messages of one yard told of, to whom, and what became of each message."""

from collections.abc import Collection, Iterable, Iterator
from datetime import datetime
from itertools import groupby
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, exists, func, insert, select

from monitor.clock import from_ms, to_ms
from monitor.craft.canonical import utc_text
from monitor.store.statements import in_batches
from monitor.store.tables import alarms, delivery_attempts, outbox, outbox_alarms
from monitor.yard.day_leaves import TOLD, DayGroup
from monitor.yard.message import GIVEN_UP, DeliveryOutcome, Message, MessageKind
from monitor.yard.space import STAFF

# Kinds that only a round of alarms writes: each carries a role from the release on that keeps it.
_WARNINGS = (MessageKind.ALARM, MessageKind.UPDATE, MessageKind.ALL_CLEAR)
_STAFF = sorted(str(one) for one in STAFF)


class Telling(NamedTuple):
    """That one of the yard's people was told of one alarm, and what became of the message."""

    at: datetime  # it was written
    person: str
    role: str  # as whom: operator or mechanic
    channel: str
    kind: MessageKind
    outcome: DeliveryOutcome | None  # None: it waits
    is_given_up: bool  # refused by laidup itself, after the last try
    taken_at: datetime | None  # the channel confirmed it
    tries: int


class ToldAlarms:
    """What messages told of alarms, on one connection."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def add(self, messages: Iterable[Message]) -> None:
        """Keep which alarms new messages tell of, in the transaction that the messages go into."""
        rows = [
            {"yard_id": self._yard_id, "alarm_id": alarm, "key": message.key}
            for message in messages
            for alarm in dict.fromkeys(message.alarms)
        ]
        for some in in_batches(rows, 500):
            self._connection.execute(insert(outbox_alarms), list(some))

    def tellings_of_each(self, alarm_ids: Collection[str]) -> dict[str, list[Telling]]:
        """Each message to the yard's people that told of these alarms, by alarm, in time order."""
        attempts = delivery_attempts
        of_message = and_(attempts.c.yard_id == outbox.c.yard_id, attempts.c.key == outbox.c.key)
        taken = select(func.min(attempts.c.at_ms)).where(
            of_message, attempts.c.outcome == DeliveryOutcome.TAKEN
        )
        given_up = exists().where(of_message, attempts.c.detail.startswith(GIVEN_UP))
        found: dict[str, list[Telling]] = {one: [] for one in alarm_ids}
        for some in in_batches(sorted(found)):
            rows = self._connection.execute(
                select(
                    outbox_alarms.c.alarm_id, outbox.c.created_ms, outbox.c.person, outbox.c.role,
                    outbox.c.channel, outbox.c.kind, outbox.c.outcome, outbox.c.tries,
                    taken.scalar_subquery().label("taken_ms"), given_up.label("is_given_up"),
                )
                .join(outbox, _of_message())
                .where(
                    outbox_alarms.c.yard_id == self._yard_id,
                    outbox_alarms.c.alarm_id.in_(some),
                    outbox.c.role.in_(_STAFF),
                )
                .order_by(outbox.c.created_ms, outbox.c.person, outbox.c.channel, outbox.c.key)
            )  # fmt: skip
            for row in rows:
                telling = Telling(
                    at=from_ms(row.created_ms),
                    person=row.person,
                    role=row.role,
                    channel=row.channel,
                    kind=MessageKind(row.kind),
                    outcome=None if row.outcome is None else DeliveryOutcome(row.outcome),
                    is_given_up=bool(row.is_given_up) and row.outcome == DeliveryOutcome.REFUSED,
                    taken_at=None if row.taken_ms is None else from_ms(row.taken_ms),
                    tries=row.tries,
                )
                found[row.alarm_id].append(telling)
        return found

    def last_unnamed(self, since: datetime, until: datetime) -> datetime | None:
        """When the last warning was written of which nobody knows which alarms it told of.

        Such are the letters of a release that did not keep it. None where each is known, of those
        written with ``since <= at < until``.
        """
        found = self._connection.scalar(
            select(func.max(outbox.c.created_ms)).where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.created_ms >= to_ms(since),
                outbox.c.created_ms < to_ms(until),
                outbox.c.role.is_(None),
                outbox.c.kind.in_([str(one) for one in _WARNINGS]),
            )
        )
        return None if found is None else from_ms(found)

    def day_groups(self, since_ms: int, until_ms: int) -> Iterator[DayGroup]:
        """Who of the yard's people was told of which alarm in a time, by space and craft."""
        rows = self._connection.execute(
            select(
                *(alarms.c.space, alarms.c.craft, outbox_alarms.c.alarm_id, outbox.c.created_ms),
                *(outbox.c.person, outbox.c.role, outbox.c.channel, outbox.c.kind),
            )
            .join(outbox, _of_message())
            .join(
                alarms,
                and_(
                    alarms.c.yard_id == outbox_alarms.c.yard_id,
                    alarms.c.alarm_id == outbox_alarms.c.alarm_id,
                ),
            )
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.created_ms >= since_ms,
                outbox.c.created_ms < until_ms,
                outbox.c.role.in_(_STAFF),
            )
        )
        # Sorted here, for each database sorts text in its own way.
        in_order = sorted(map(tuple, rows))
        for (space, craft), of_one in groupby(in_order, lambda row: row[:2]):
            leaves = [
                [alarm_id, utc_text(from_ms(at_ms)), *said]
                for _, _, alarm_id, at_ms, *said in of_one
            ]
            yield DayGroup.over_leaves((TOLD, space, craft), leaves)


def _of_message() -> ColumnElement[bool]:
    return and_(outbox.c.yard_id == outbox_alarms.c.yard_id, outbox.c.key == outbox_alarms.c.key)
