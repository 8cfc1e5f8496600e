"""Answers to acts that came with a key of their own, kept so that a repeat is answered alike."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, insert, select

from monitor.clock import from_ms, to_ms
from monitor.store.tables import kept_answers

KEPT_FOR = timedelta(days=2)  # longer than any program tries again


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReply:
    """What one act was answered, and to which request."""

    caller: str  # whose keys these are: two callers may use the same one
    key: str
    request: str  # digest of it
    status: int
    body: str
    at: datetime


class KeptAnswers:
    """The kept answers of one yard. They are written in the transaction of the act itself."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def find_reply(self, caller: str, key: str) -> KeptReply | None:
        """What a caller's key was answered before; None where it is new, or long ago."""
        row = self._connection.execute(
            select(kept_answers).where(
                kept_answers.c.yard_id == self._yard_id,
                kept_answers.c.caller == caller,
                kept_answers.c.key == key,
            )
        ).one_or_none()
        if row is None:
            return None
        return KeptReply(
            caller=row.caller,
            key=row.key,
            request=row.request,
            status=row.status,
            body=row.body,
            at=from_ms(row.at_ms),
        )

    def keep_reply(self, reply: KeptReply) -> None:
        """Keep one."""
        self._connection.execute(
            insert(kept_answers).values(
                yard_id=self._yard_id,
                caller=reply.caller,
                key=reply.key,
                request=reply.request,
                status=reply.status,
                body=reply.body,
                at_ms=to_ms(reply.at),
            )
        )

    def prune_replies(self, before: datetime) -> None:
        """Forget what was answered before a time."""
        self._connection.execute(
            delete(kept_answers).where(
                kept_answers.c.yard_id == self._yard_id, kept_answers.c.at_ms < to_ms(before)
            )
        )
