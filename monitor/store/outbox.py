"""Messages on their way: born in the transaction of what they tell, claimed, tried, receipted."""

import re
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    case,
    delete,
    func,
    insert,
    or_,
    select,
    true,
    update,
)

from monitor.clock import from_ms, to_ms
from monitor.store.chain import Chain
from monitor.store.claims import NOBODY, Claimant, may_be_tried
from monitor.store.outbox_reports import OutboxReports
from monitor.store.record_heads import RecordHeads
from monitor.store.statements import in_batches
from monitor.store.tables import delivery_attempts, outbox, outbox_attachments
from monitor.store.told_alarms import ToldAlarms
from monitor.yard.message import (
    Message,
    MessageKind,
    Receipt,
)


class Waiting(NamedTuple):
    """A message that is claimed for one attempt, and how many were made before."""

    message: Message
    tries: int


# A link to set a password is no use once its mail has gone, but to who reads a copy of the store.
_WITHOUT_SECRET = {
    column: case((outbox.c.kind == str(MessageKind.SIGN_IN), ""), else_=column)
    for column in (outbox.c.text, outbox.c.html)
}


def _in_turn(staff: Collection[str]) -> tuple[ColumnElement[Any], ...]:
    """Reports come last, staff come first, and of the rest what was due first."""
    to_others = (outbox.c.person.not_in(sorted(staff)),) if staff else ()
    return (
        outbox.c.kind == str(MessageKind.REPORT),
        *to_others,
        outbox.c.due_ms,
        outbox.c.created_ms,
        outbox.c.key,
    )


class Outbox(OutboxReports):
    """The messages of one yard."""

    def __init__(self, connection: Connection, yard_id: int, heads: RecordHeads) -> None:
        super().__init__(connection, yard_id)
        self._heads = heads

    def was_written(self, kind: MessageKind) -> bool:
        """Whether a message of a kind is on record, sent or not."""
        found = select(outbox.c.key).where(
            outbox.c.yard_id == self._yard_id, outbox.c.kind == str(kind)
        )
        return self._connection.scalar(found.limit(1)) is not None

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

    def has_message_of(self, key: str) -> bool:
        """Whether any message was put in whose key begins so, whatever became of it."""
        of_key = (outbox.c.yard_id == self._yard_id, outbox.c.key.startswith(key, autoescape=True))
        found = self._connection.scalar(select(outbox.c.key).where(*of_key).limit(1))
        return found is not None

    def times_of_messages(self, key: str) -> list[datetime]:
        """When each message was written whose key begins so, whatever became of it, in order."""
        of_key = (outbox.c.yard_id == self._yard_id, outbox.c.key.startswith(key, autoescape=True))
        found = select(outbox.c.created_ms).where(*of_key).order_by(outbox.c.created_ms)
        return [from_ms(each) for each in self._connection.scalars(found)]

    def claim_due(
        self,
        now: datetime,
        lease: timedelta,
        limit: int = 20,
        channels: Collection[str] | None = None,
        claimant: Claimant = NOBODY,
        staff: Collection[str] = (),
    ) -> list[Waiting]:
        """Take due messages for one attempt each; only those of ``channels``, if given.

        Those to ``staff`` come first, for they act, and a slow server may take an hour for all
        others. Reports come last: by the hundred they must not hold up an alarm. A claim runs out
        after ``lease``, or when its claimant is known to be gone, so that a worker that died holds
        nothing for ever; whoever takes such a message over counts the dead worker's try.
        """
        rows = self._connection.execute(
            select(outbox)
            .where(
                outbox.c.yard_id == self._yard_id,
                may_be_tried(now, claimant),
                true() if channels is None else outbox.c.channel.in_(channels),
            )
            .order_by(*_in_turn(staff))
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
        self,
        now: datetime,
        channel: str,
        claimant: Claimant,
        limit: int | None = None,
        staff: Collection[str] = (),
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
                .order_by(*_in_turn(staff))
                .limit(limit)
            )
        )

    def waiting_message(self, key: str) -> Waiting | None:
        """One message that has not ended, unclaimed; None if there is none of that key."""
        rows = self._connection.execute(
            select(outbox).where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.key == key,
                outbox.c.outcome.is_(None),
            )
        ).all()
        return self._waiting(rows)[0] if rows else None

    def open_claimants(self) -> list[str]:
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

    def settle_attempt(
        self, key: str, at: datetime, receipt: Receipt, due: datetime | None
    ) -> None:
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
            .values(_WITHOUT_SECRET if final else {})
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

    def hasten_waiting(self, channel: str, now: datetime) -> None:
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

    def forget_content(self, before: datetime) -> None:
        """Empty messages written before a time that are done with: text, address, attachments.

        That they were written, to whom, when, with which head of the record and how each attempt
        went stays; so does the key, by which none is ever written twice.
        """
        self._empty(outbox.c.created_ms < to_ms(before))

    def forget_content_of(self, person: str) -> int:
        """Empty one person's messages that are done with, as `forget_content`; how many it were.

        What the far side said of them goes too: a mail server's refusal names the address.
        """
        his = (outbox.c.yard_id == self._yard_id, outbox.c.outcome.is_not(None))
        self._connection.execute(
            update(delivery_attempts)
            .where(
                delivery_attempts.c.yard_id == self._yard_id,
                delivery_attempts.c.key.in_(
                    select(outbox.c.key).where(*his, outbox.c.person == person)
                ),
            )
            .values(detail="")
        )
        return self._empty(outbox.c.person == person)

    def forget_content_naming(self, name: str) -> int:
        """Empty messages to anybody that are done with and name somebody; how many it were.

        Parameters
        ----------
        name : str
            As letters say it; found as whole words, wherever a line ends and in whatever case.
        """
        words = r"\s+".join(re.escape(word) for word in name.split())
        if not words:
            return 0
        named = re.compile(rf"(?<!\w){words}(?!\w)", re.IGNORECASE)
        rows = self._connection.execute(
            select(outbox.c.key, outbox.c.subject, outbox.c.text).where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.outcome.is_not(None),
                outbox.c.text != "",
            )
        )
        keys = [row.key for row in rows if named.search(f"{row.subject}\n{row.text}")]
        return sum(self._empty(outbox.c.key.in_(some)) for some in in_batches(keys))

    def _empty(self, which: ColumnElement[bool]) -> int:
        done = (outbox.c.yard_id == self._yard_id, outbox.c.outcome.is_not(None), which)
        self._connection.execute(
            delete(outbox_attachments).where(
                outbox_attachments.c.yard_id == self._yard_id,
                outbox_attachments.c.key.in_(select(outbox.c.key).where(*done)),
            )
        )
        emptied = self._connection.execute(
            update(outbox)
            .where(*done, or_(outbox.c.text != "", outbox.c.address != ""))
            .values(text="", html="", subject="", address="")
        )
        return emptied.rowcount

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
                    "language": message.language,
                    "role": message.role or None,
                }
                for message in messages
            ],
        )
        ToldAlarms(self._connection, self._yard_id).add(messages)
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
