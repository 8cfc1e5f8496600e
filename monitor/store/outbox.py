"""Messages on their way: born in the transaction of what they tell, claimed, tried, receipted."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy import Connection, Row, case, func, insert, select, true, update

from monitor.clock import from_ms, to_ms
from monitor.store.batches import in_batches
from monitor.store.chain import Chain
from monitor.store.claims import NOBODY, Claimant, may_be_tried
from monitor.store.record_heads import RecordHeads
from monitor.store.tables import delivery_attempts, outbox, outbox_attachments
from monitor.yard.message import (
    Attachment,
    DeliveryOutcome,
    Message,
    MessageKind,
    Receipt,
)

# Reports come last, and what was due first comes first.
_IN_TURN = (
    outbox.c.kind == str(MessageKind.REPORT),
    outbox.c.due_ms,
    outbox.c.created_ms,
    outbox.c.key,
)


class Waiting(NamedTuple):
    """A message that is claimed for one attempt, and how many were made before."""

    message: Message
    tries: int


class Trouble(NamedTuple):
    """Messages that do not get through on one channel."""

    channel: str
    person: str  # empty: it is the channel's fault, whoever it is for
    messages: int
    since: datetime
    detail: str  # the last answer
    takes_others: bool = False  # they wait, but later ones to other people were taken


class Left(NamedTuple):
    """A head of the lay-up record that left with a message."""

    head: str
    at: datetime
    person: str
    channel: str


class Written(NamedTuple):
    """That a message was written, without its content."""

    at: datetime
    person: str
    channel: str
    kind: MessageKind


class Attempt(NamedTuple):
    """One attempt to hand a message over."""

    at: datetime
    outcome: DeliveryOutcome
    detail: str


class Outbox:
    """The messages of one yard."""

    def __init__(self, connection: Connection, yard_id: int, heads: RecordHeads) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._heads = heads

    def add(self, messages: Iterable[Message]) -> int:
        """Put messages in; one whose key is there already adds nothing. Tells how many were new.

        Each takes the head of the lay-up record along, so that who gets it can tell later whether
        the record was changed or cut behind that.
        """
        new: dict[str, Message] = {}
        for message in messages:
            new.setdefault(message.key, message)
        for some in in_batches(list(new)):
            known = self._connection.scalars(
                select(outbox.c.key).where(
                    outbox.c.yard_id == self._yard_id, outbox.c.key.in_(some)
                )
            )
            for key in known:
                del new[key]
        if new:
            self._insert(list(new.values()))
        return len(new)

    def claim(
        self,
        now: datetime,
        lease: timedelta,
        limit: int = 20,
        channels: Collection[str] | None = None,
        claimant: Claimant = NOBODY,
    ) -> list[Waiting]:
        """Take due messages for one attempt each; only those of ``channels``, if given.

        Reports come last: by the hundred they must not hold up an alarm. A claim runs out after
        ``lease``, or when its claimant is known to be gone, so that a worker that died holds
        nothing for ever; whoever takes such a message over counts the dead worker's try.
        """
        rows = self._connection.execute(
            select(outbox)
            .where(
                outbox.c.yard_id == self._yard_id,
                may_be_tried(now, claimant),
                true() if channels is None else outbox.c.channel.in_(channels),
            )
            .order_by(*_IN_TURN)
            .limit(limit)
        ).all()
        if not rows:
            return []
        self._connection.execute(
            update(outbox)
            .where(outbox.c.yard_id == self._yard_id, outbox.c.key.in_([row.key for row in rows]))
            .values(
                claimed_until_ms=to_ms(now + lease),
                claimed_by=claimant.name,
                tries=outbox.c.tries + case((outbox.c.claimed_until_ms > 0, 1), else_=0),
            )
        )
        return self._waiting(rows)

    def due_keys(
        self, now: datetime, channel: str, claimant: Claimant, limit: int | None = None
    ) -> list[str]:
        """Keys that ``claim`` would take on one channel, in its order; nothing is claimed."""
        return list(
            self._connection.scalars(
                select(outbox.c.key)
                .where(
                    outbox.c.yard_id == self._yard_id,
                    outbox.c.channel == channel,
                    may_be_tried(now, claimant),
                )
                .order_by(*_IN_TURN)
                .limit(limit)
            )
        )

    def waiting(self, key: str) -> Waiting | None:
        """One message that has not ended, unclaimed; None if there is none of that key."""
        rows = self._connection.execute(
            select(outbox).where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.key == key,
                outbox.c.outcome.is_(None),
            )
        ).all()
        return self._waiting(rows)[0] if rows else None

    def claimants(self) -> list[str]:
        """Who has claimed messages that have not ended."""
        found = self._connection.scalars(
            select(outbox.c.claimed_by)
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.outcome.is_(None),
                outbox.c.claimed_until_ms > 0,
                outbox.c.claimed_by.is_not(None),
            )
            .distinct()
        )
        return sorted(name for name in found if name)

    def settle(self, key: str, at: datetime, receipt: Receipt, due: datetime | None) -> None:
        """Record one attempt: its receipt, and when to try again (``due``) or never (None).

        A message that has ended stays so: another worker may have been told that it was taken.
        """
        final = due is None
        self._connection.execute(
            update(outbox)
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.key == key,
                outbox.c.outcome.is_(None),
            )
            .values(
                tries=outbox.c.tries + 1,
                outcome=str(receipt.outcome) if final else None,
                claimed_until_ms=0,
                **({} if due is None else {"due_ms": to_ms(due)}),
            )
        )
        last = self._connection.scalar(
            select(func.max(delivery_attempts.c.n)).where(
                delivery_attempts.c.yard_id == self._yard_id, delivery_attempts.c.key == key
            )
        )
        self._connection.execute(
            insert(delivery_attempts).values(
                yard_id=self._yard_id,
                key=key,
                n=1 if last is None else last + 1,
                at_ms=to_ms(at),
                outcome=str(receipt.outcome),
                detail=receipt.detail,
            )
        )

    def hasten(self, channel: str, now: datetime) -> None:
        """Make what waits for its next try on a channel due at once: the channel works again."""
        self._connection.execute(
            update(outbox)
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.channel == channel,
                outbox.c.outcome.is_(None),
                outbox.c.tries > 0,
                outbox.c.due_ms > to_ms(now),
            )
            .values(due_ms=to_ms(now))
        )

    def newest(self, limit: int = 50) -> list[tuple[Message, DeliveryOutcome | None]]:
        """Latest messages with how they ended; None while one waits."""
        rows = self._connection.execute(
            select(outbox)
            .where(outbox.c.yard_id == self._yard_id)
            .order_by(outbox.c.created_ms.desc(), outbox.c.key)
            .limit(limit)
        ).all()
        return [
            (message, None if row.outcome is None else DeliveryOutcome(row.outcome))
            for message, row in zip(self._messages(rows), rows, strict=True)
        ]

    def attempts(self, key: str) -> list[Attempt]:
        """Every attempt on one message, in order."""
        rows = self._connection.execute(
            select(delivery_attempts)
            .where(delivery_attempts.c.yard_id == self._yard_id, delivery_attempts.c.key == key)
            .order_by(delivery_attempts.c.n)
        )
        return [
            Attempt(from_ms(row.at_ms), DeliveryOutcome(row.outcome), row.detail) for row in rows
        ]

    def written(self, since: datetime, until: datetime) -> list[Written]:
        """Messages written with ``since <= at < until``, in time order."""
        rows = self._connection.execute(
            select(outbox.c.created_ms, outbox.c.person, outbox.c.channel, outbox.c.kind)
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.created_ms >= to_ms(since),
                outbox.c.created_ms < to_ms(until),
            )
            .order_by(outbox.c.created_ms, outbox.c.key)
        )
        return [
            Written(from_ms(row.created_ms), row.person, row.channel, MessageKind(row.kind))
            for row in rows
        ]

    def trouble(self, waiting_since: datetime, refused_since: datetime) -> list[Trouble]:
        """Channels whose messages wait since before a time though tried, and refused addresses."""
        last = (
            select(delivery_attempts.c.detail)
            .where(
                delivery_attempts.c.yard_id == outbox.c.yard_id,
                delivery_attempts.c.key == outbox.c.key,
            )
            .order_by(delivery_attempts.c.n.desc())
            .limit(1)
            .scalar_subquery()
        )
        told = select(
            outbox.c.channel, outbox.c.person, outbox.c.outcome, outbox.c.created_ms, last
        ).where(outbox.c.yard_id == self._yard_id)
        # One select for each outcome, so that each goes by its own index. The sum keeps SQLite from
        # taking the one on the time for the first, which leads through the whole season.
        waiting = told.where(
            outbox.c.outcome.is_(None),
            outbox.c.tries > 0,
            outbox.c.created_ms + 0 <= to_ms(waiting_since),
        )
        refused = told.where(
            outbox.c.outcome == DeliveryOutcome.REFUSED,
            outbox.c.created_ms >= to_ms(refused_since),
        )
        rows = sorted(
            (row for each in (waiting, refused) for row in self._connection.execute(each)),
            key=lambda row: int(row.created_ms),
        )
        taken = self._newest_taken([row.created_ms for row in rows if row.outcome is None])
        found: dict[tuple[str, str], Trouble] = {}
        for channel, person, outcome, created_ms, detail in rows:
            key = (channel, "" if outcome is None else person)
            before = found.get(key)
            count = 1 if before is None else before.messages + 1
            since = from_ms(created_ms) if before is None else before.since
            takes_others = outcome is None and any(
                where == channel and who != person and newest_ms >= created_ms
                for where, who, newest_ms in taken
            )
            takes_others &= before is None or before.takes_others
            found[key] = Trouble(*key, count, since, detail or "", takes_others)
        return [found[key] for key in sorted(found)]

    def _newest_taken(self, waiting_ms: Sequence[int]) -> list[tuple[str, str, int]]:
        """Channel, person and time of the newest taken messages since the first that waits."""
        if not waiting_ms:
            return []
        rows = self._connection.execute(
            select(outbox.c.channel, outbox.c.person, func.max(outbox.c.created_ms))
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.outcome == DeliveryOutcome.TAKEN,
                outbox.c.created_ms >= min(waiting_ms),
            )
            .group_by(outbox.c.channel, outbox.c.person)
        )
        return [(channel, person, int(newest_ms)) for channel, person, newest_ms in rows]

    def counts(self) -> dict[str, int]:
        """How many messages wait, were taken, were refused."""
        rows = self._connection.execute(
            select(outbox.c.outcome, func.count())
            .where(outbox.c.yard_id == self._yard_id)
            .group_by(outbox.c.outcome)
        )
        return {outcome or "waiting": int(count) for outcome, count in rows}

    def due_channels(self, now: datetime, claimant: Claimant = NOBODY) -> list[str]:
        """Channels that have something due and unclaimed."""
        found = self._connection.scalars(
            select(outbox.c.channel)
            .where(
                outbox.c.yard_id == self._yard_id,
                may_be_tried(now, claimant),
            )
            .distinct()
        )
        return sorted(found)

    def next_due(self) -> datetime | None:
        """When the next waiting message is due; None if none waits."""
        found = self._connection.scalar(
            select(func.min(outbox.c.due_ms)).where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.outcome.is_(None),
            )
        )
        return None if found is None else from_ms(found)

    def heads(self) -> list[tuple[str, datetime]]:
        """Every head of the lay-up record that a message carries, and when it first did."""
        first = func.min(outbox.c.created_ms)
        rows = self._connection.execute(
            select(outbox.c.record_head, first)
            .where(outbox.c.yard_id == self._yard_id, outbox.c.record_head.is_not(None))
            .group_by(outbox.c.record_head)
            .order_by(first)
        )
        return [(head, from_ms(created_ms)) for head, created_ms in rows]

    def newest_head(self) -> Left | None:
        """The newest head that a channel has confirmed to have taken; None if none left yet."""
        row = self._connection.execute(
            select(outbox.c.record_head, outbox.c.created_ms, outbox.c.person, outbox.c.channel)
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.record_head.is_not(None),
                outbox.c.outcome == DeliveryOutcome.TAKEN,
            )
            .order_by(outbox.c.created_ms.desc(), outbox.c.key)
            .limit(1)
        ).first()
        return None if row is None else Left(row[0], from_ms(row[1]), row[2], row[3])

    def _insert(self, messages: Sequence[Message]) -> None:
        head = self._heads.head(Chain(self._connection, self._yard_id))
        self._connection.execute(
            insert(outbox),
            [
                {
                    "yard_id": self._yard_id,
                    "key": message.key,
                    "person": message.person,
                    "channel": message.channel,
                    "address": message.address,
                    "kind": str(message.kind),
                    "subject": message.subject,
                    "text": message.text,
                    "html": message.html,
                    "thread": message.thread,
                    "created_ms": to_ms(message.created_at),
                    "outcome": None,
                    "tries": 0,
                    "due_ms": to_ms(message.created_at),
                    "claimed_until_ms": 0,
                    "claimed_by": None,
                    "record_head": None if head is None else str(head),
                }
                for message in messages
            ],
        )
        attached = [
            {
                "yard_id": self._yard_id,
                "key": message.key,
                "n": n,
                "filename": attachment.filename,
                "media_type": attachment.media_type,
                "content_id": attachment.content_id,
                "content": attachment.content,
            }
            for message in messages
            for n, attachment in enumerate(message.attachments)
        ]
        if attached:
            self._connection.execute(insert(outbox_attachments), attached)

    def _waiting(self, rows: Sequence[Row[tuple[object, ...]]]) -> list[Waiting]:
        messages = self._messages(rows)
        return [Waiting(message, row.tries) for message, row in zip(messages, rows, strict=True)]

    def _messages(self, rows: Sequence[Row[tuple[object, ...]]]) -> list[Message]:
        attached: dict[str, list[Attachment]] = {}
        for some in in_batches([row.key for row in rows]):
            parts = self._connection.execute(
                select(outbox_attachments)
                .where(
                    outbox_attachments.c.yard_id == self._yard_id,
                    outbox_attachments.c.key.in_(some),
                )
                .order_by(outbox_attachments.c.key, outbox_attachments.c.n)
            )
            for part in parts:
                attached.setdefault(part.key, []).append(
                    Attachment(
                        filename=part.filename,
                        media_type=part.media_type,
                        content=part.content,
                        content_id=part.content_id,
                    )
                )
        return [
            Message(
                key=row.key,
                person=row.person,
                channel=row.channel,
                address=row.address,
                kind=MessageKind(row.kind),
                subject=row.subject,
                text=row.text,
                html=row.html,
                thread=row.thread,
                created_at=from_ms(row.created_ms),
                record_head=row.record_head or "",
                attachments=tuple(attached.get(row.key, ())),
            )
            for row in rows
        ]
