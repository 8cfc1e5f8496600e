"""What could not be used, kept with its reason: bounded, counted, and there to be replayed."""

import hashlib
from collections.abc import Iterable, Sequence
from datetime import datetime
from enum import StrEnum
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, bindparam, delete, func, insert, select, tuple_, update

from monitor.clock import from_ms, to_ms
from monitor.store.statements import in_batches
from monitor.store.tables import aside


class AsideKind(StrEnum):
    """Why a message that was kept aside can never be taken in; the words are keys in the store."""

    CONTRARY = "contrary"  # for its time the store holds another value, which stays
    CUT_SHORT = "cut-short"  # only its beginning was kept
    TOO_LATE = "too-late"  # raw readings of its month are in the archive


class AsideRow(NamedTuple):
    """One distinct unusable message, and how often it came."""

    digest: str
    topic: str
    reason: str
    payload: bytes
    first_at: datetime
    last_at: datetime
    times: int


class KeptAside(NamedTuple):
    """One unusable message on its way there."""

    topic: str
    reason: str
    payload: bytes
    at: datetime
    kind: AsideKind | None = None  # None: it may be taken in once more is known


# 1 for the newest message of its topic, 2 for the one before it.
_PLACE_IN_TOPIC = func.row_number().over(
    partition_by=aside.c.topic, order_by=(aside.c.last_ms.desc(), aside.c.digest)
)


class Aside:
    """The unusable messages of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def keep_all(self, messages: Iterable[KeptAside]) -> int:
        """Keep messages in order; one that is kept already is counted once more.

        Returns
        -------
        int
            Bytes that the new ones take: topics, reasons and payloads.
        """
        came: dict[str, list[KeptAside]] = {}
        for message in messages:
            came.setdefault(_digest(message), []).append(message)
        known = self._known(list(came))
        repeats = [
            {"its": digest, "more": len(same), "at": to_ms(same[-1].at)}
            for digest, same in came.items()
            if digest in known
        ]
        if repeats:
            self._connection.execute(
                update(aside)
                .where(aside.c.yard_id == self._yard_id, aside.c.digest == bindparam("its"))
                .values(count=aside.c.count + bindparam("more"), last_ms=bindparam("at")),
                repeats,
            )
        new = {digest: same for digest, same in came.items() if digest not in known}
        if new:
            self._connection.execute(
                insert(aside),
                [
                    {
                        "yard_id": self._yard_id,
                        "digest": digest,
                        "topic": same[0].topic,
                        "reason": same[0].reason,
                        "payload": same[0].payload,
                        "first_ms": to_ms(same[0].at),
                        "last_ms": to_ms(same[-1].at),
                        "count": len(same),
                        "kind": same[0].kind,
                    }
                    for digest, same in new.items()
                ],
            )
        return sum(
            len(same[0].topic) + len(same[0].reason) + len(same[0].payload) for same in new.values()
        )

    def _known(self, digests: Sequence[str]) -> set[str]:
        """Those of the digests that are kept already."""
        known: set[str] = set()
        for some in in_batches(digests):
            known.update(
                self._connection.scalars(
                    select(aside.c.digest).where(
                        aside.c.yard_id == self._yard_id, aside.c.digest.in_(some)
                    )
                )
            )
        return known

    def newest_by_topic(self, limit: int = 100) -> list[AsideRow]:
        """The newest of every topic, then each one's second, and so on: the latest first.

        So a loud sender, or one that sends its backlog, hides no other.
        """
        chosen = (
            select(aside.c.digest)
            .where(aside.c.yard_id == self._yard_id)
            .order_by(_PLACE_IN_TOPIC, aside.c.last_ms.desc())
            .limit(limit)
        )
        rows = self._connection.execute(
            select(aside)
            .where(aside.c.yard_id == self._yard_id, aside.c.digest.in_(chosen))
            .order_by(aside.c.last_ms.desc(), aside.c.digest)
        )
        return [_row(row) for row in rows]

    def oldest_of_use(self, limit: int, after: AsideRow | None = None) -> list[AsideRow]:
        """Messages that may be taken in yet, the oldest first; ``after`` continues an answer."""
        asked = select(aside).where(aside.c.yard_id == self._yard_id, aside.c.kind.is_(None))
        if after is not None:
            key = tuple_(aside.c.last_ms, aside.c.digest)
            asked = asked.where(key > (to_ms(after.last_at), after.digest))
        rows = self._connection.execute(
            asked.order_by(aside.c.last_ms, aside.c.digest).limit(limit)
        )
        return [_row(row) for row in rows]

    def count_messages(self) -> int:
        """How many messages were kept aside, repeats counted."""
        found = self._connection.scalar(
            select(func.coalesce(func.sum(aside.c.count), 0)).where(
                aside.c.yard_id == self._yard_id
            )
        )
        return int(found or 0)

    def trim_to(self, max_bytes: int, oldest: datetime) -> int:
        """Forget what is too old, then the oldest of each topic in turn until the rest fits.

        Topic, reason and payload count.

        Returns
        -------
        int
            How many messages were forgotten.
        """
        gone = self._connection.execute(
            delete(aside).where(aside.c.yard_id == self._yard_id, aside.c.last_ms < to_ms(oldest))
        ).rowcount
        rows = self._connection.execute(
            select(
                aside.c.digest,
                func.length(aside.c.topic)
                + func.length(aside.c.reason)
                + func.length(aside.c.payload),
            )
            .where(aside.c.yard_id == self._yard_id)
            # The newest of every topic come first, so that a loud one cannot push out the others.
            .order_by(_PLACE_IN_TOPIC, aside.c.last_ms.desc())
        )
        held, excess = 0, []
        for digest, size in rows:
            held += size
            if held > max_bytes:
                excess.append(digest)
        for some in in_batches(excess):
            self.drop_messages(some)
        return gone + len(excess)

    def drop_messages(self, digests: Sequence[str]) -> None:
        """Forget messages, because they were replayed or the bound is reached."""
        self._connection.execute(
            delete(aside).where(aside.c.yard_id == self._yard_id, aside.c.digest.in_(digests))
        )


def _digest(message: KeptAside) -> str:
    parts = (message.topic.encode(), message.reason.encode(), message.payload)
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def _row(row: Row[Any]) -> AsideRow:
    return AsideRow(
        row.digest,
        row.topic,
        row.reason,
        row.payload,
        from_ms(row.first_ms),
        from_ms(row.last_ms),
        row._mapping["count"],  # a tuple has a count of its own
    )
