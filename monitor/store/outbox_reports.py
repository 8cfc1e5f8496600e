"""What became of messages: how they ended, what waits, and which ways do not get through."""

import contextlib
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Row, and_, func, or_, select, true

from monitor.clock import from_ms, to_ms
from monitor.craft.merkle import RecordHead
from monitor.errors import QuantityError
from monitor.store.claims import FARTHEST_CLAIM
from monitor.store.statements import in_batches
from monitor.store.tables import delivery_attempts, outbox, outbox_attachments
from monitor.yard.message import Attachment, DeliveryOutcome, Message, MessageKind


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


class WrittenMessage(NamedTuple):
    """That a message was written, without its content."""

    at: datetime
    person: str
    channel: str
    kind: MessageKind


class MessageFate(NamedTuple):
    """What became of one message, without its content."""

    at: datetime
    person: str
    channel: str
    kind: MessageKind
    subject: str
    outcome: DeliveryOutcome | None  # None: it waits
    taken_at: datetime | None  # when the channel confirmed it
    tries: int


class Attempt(NamedTuple):
    """One attempt to hand a message over."""

    at: datetime
    outcome: DeliveryOutcome
    detail: str


class OutboxReports:
    """What may be asked about the messages of one yard; nothing is changed."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def newest_messages(self, limit: int = 50) -> list[tuple[Message, DeliveryOutcome | None]]:
        """Latest messages with how they ended; None while one waits."""
        return self._newest(true(), limit)

    def _newest(
        self, which: ColumnElement[bool], limit: int
    ) -> list[tuple[Message, DeliveryOutcome | None]]:
        rows = self._connection.execute(
            select(outbox)
            .where(outbox.c.yard_id == self._yard_id, which)
            .order_by(outbox.c.created_ms.desc(), outbox.c.key)
            .limit(limit)
        ).all()
        return [
            (message, None if row.outcome is None else DeliveryOutcome(row.outcome))
            for message, row in zip(self._messages(rows), rows, strict=True)
        ]

    def messages_to(
        self, person: str, limit: int, kinds: Collection[MessageKind] = tuple(MessageKind)
    ) -> list[tuple[Message, DeliveryOutcome | None]]:
        """Latest messages of some kinds to one person, the newest first; see `newest_messages`."""
        of_kind = outbox.c.kind.in_([str(one) for one in kinds])
        return self._newest(and_(outbox.c.person == person, of_kind), limit)

    def attempts_on(self, key: str) -> list[Attempt]:
        """Every attempt on one message, in order."""
        rows = self._connection.execute(
            select(delivery_attempts)
            .where(delivery_attempts.c.yard_id == self._yard_id, delivery_attempts.c.key == key)
            .order_by(delivery_attempts.c.n)
        )
        return [
            Attempt(from_ms(row.at_ms), DeliveryOutcome(row.outcome), row.detail) for row in rows
        ]

    def written_between(self, since: datetime, until: datetime) -> list[WrittenMessage]:
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
            WrittenMessage(from_ms(row.created_ms), row.person, row.channel, MessageKind(row.kind))
            for row in rows
        ]

    def fates_to_each(
        self, people: Collection[str], since: datetime, until: datetime
    ) -> dict[str, list[MessageFate]]:
        """What became of each message to these people with ``since <= at < until``, in order."""
        found: dict[str, list[MessageFate]] = {one: [] for one in people}
        for some in in_batches(sorted(found)):
            for fate in self._fates(outbox.c.person.in_(some), since, until):
                found[fate.person].append(fate)
        return found

    def fates_naming(
        self, name: str, threads: Collection[str], since: datetime, until: datetime
    ) -> list[MessageFate]:
        """What became of each message that names somebody or something, in order of time.

        Parameters
        ----------
        name : str
            As it stands in their text.
        threads : collection of str
            Of these a message counts too whose text is not kept any more.
        since, until : datetime
            Written with ``since <= at < until``.
        """
        found = self._fates(outbox.c.text.contains(name, autoescape=True), since, until)
        for some in in_batches(sorted(threads)):
            emptied = and_(outbox.c.thread.in_(some), outbox.c.text == "")
            found += self._fates(emptied, since, until)
        return sorted(found, key=lambda one: (one.at, one.person, one.channel))

    def _fates(
        self, which: ColumnElement[bool], since: datetime, until: datetime
    ) -> list[MessageFate]:
        taken = (
            select(func.min(delivery_attempts.c.at_ms))
            .where(
                delivery_attempts.c.yard_id == outbox.c.yard_id,
                delivery_attempts.c.key == outbox.c.key,
                delivery_attempts.c.outcome == DeliveryOutcome.TAKEN,
            )
            .scalar_subquery()
        )
        told = outbox.c
        rows = self._connection.execute(
            select(
                told.created_ms, told.person, told.channel, told.kind, told.subject,
                told.outcome, taken.label("taken_ms"), told.tries,
            )
            .where(
                told.yard_id == self._yard_id,
                which,
                told.created_ms >= to_ms(since),
                told.created_ms < to_ms(until),
            )
            .order_by(told.person, told.created_ms, told.key)
        )  # fmt: skip
        return [
            MessageFate(
                from_ms(row.created_ms),
                row.person,
                row.channel,
                MessageKind(row.kind),
                row.subject,
                None if row.outcome is None else DeliveryOutcome(row.outcome),
                None if row.taken_ms is None else from_ms(row.taken_ms),
                row.tries,
            )
            for row in rows
        ]

    def channel_trouble(self, waiting_since: datetime, refused_since: datetime) -> list[Trouble]:
        """Channels whose messages wait since before a time though tried, and refused addresses.

        A message from an impossible future, written while the clock ran ahead, counts as waiting
        since that time.
        """
        rows = self._stuck_rows(waiting_since, refused_since)
        taken = self._newest_taken([row.created_ms for row in rows if row.outcome is None])
        found: dict[tuple[str, str], Trouble] = {}
        for channel, person, outcome, created_ms, detail in rows:
            key = (channel, "" if outcome is None else person)
            before = found.get(key)
            count = 1 if before is None else before.messages + 1
            since = from_ms(created_ms) if before is None else before.since
            since = since if outcome else min(since, waiting_since)
            takes_others = outcome is None and any(
                where == channel and who != person and newest_ms >= created_ms
                for where, who, newest_ms in taken
            )
            takes_others &= before is None or before.takes_others
            found[key] = Trouble(*key, count, since, detail or "", takes_others)
        return [found[key] for key in sorted(found)]

    def _stuck_rows(
        self, waiting_since: datetime, refused_since: datetime
    ) -> list[Row[Any, Any, Any, Any, Any]]:
        """Channel, person, outcome, time and last answer of messages that did not leave."""
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
            or_(
                outbox.c.created_ms + 0 <= to_ms(waiting_since),
                # WrittenMessage while the clock ran ahead: nobody knows since when it waits.
                outbox.c.created_ms + 0 > to_ms(waiting_since + FARTHEST_CLAIM),
            ),
        )
        refused = told.where(
            outbox.c.outcome == DeliveryOutcome.REFUSED,
            outbox.c.created_ms >= to_ms(refused_since),
        )
        return sorted(
            (row for each in (waiting, refused) for row in self._connection.execute(each)),
            key=lambda row: int(row.created_ms),
        )

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

    def count_by_outcome(self) -> dict[str, int]:
        """How many messages wait, were taken, were refused."""
        rows = self._connection.execute(
            select(outbox.c.outcome, func.count())
            .where(outbox.c.yard_id == self._yard_id)
            .group_by(outbox.c.outcome)
        )
        return {outcome or "waiting": int(count) for outcome, count in rows}

    def next_due(self) -> datetime | None:
        """When the next waiting message is due; None if none waits."""
        found = self._connection.scalar(
            select(func.min(outbox.c.due_ms)).where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.outcome.is_(None),
            )
        )
        return None if found is None else from_ms(found)

    def heads_sent(self) -> list[tuple[str, datetime]]:
        """Every head of the lay-up record that a message carries, and when it first did."""
        first = func.min(outbox.c.created_ms)
        rows = self._connection.execute(
            select(outbox.c.record_head, first)
            .where(outbox.c.yard_id == self._yard_id, outbox.c.record_head.is_not(None))
            .group_by(outbox.c.record_head)
            .order_by(first)
        )
        return [(str(head), _written_at(created_ms)) for head, created_ms in rows]

    def heads_by_person(self) -> list[tuple[str, RecordHead]]:
        """Every head that a message to a person carries; what is no head is left out."""
        rows = self._connection.execute(
            select(outbox.c.person, outbox.c.record_head)
            .where(outbox.c.yard_id == self._yard_id, outbox.c.record_head.is_not(None))
            .distinct()
        )
        found: list[tuple[str, RecordHead]] = []
        for person, text in rows:
            with contextlib.suppress(QuantityError):  # the check of the yard's record tells
                found.append((person, RecordHead.parse(str(text))))
        return found

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
        return None if row is None else Left(str(row[0]), _written_at(row[1]), row[2], row[3])

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
                language=row.language or "en",
                role=row.role or "",
                attachments=tuple(attached.get(row.key, ())),
            )
            for row in rows
        ]


def _written_at(created_ms: int) -> datetime:
    """When a message was written; 1970 where somebody wrote a time over it that is none."""
    try:
        return from_ms(created_ms)
    except (ValueError, TypeError, OverflowError):
        return from_ms(0)
