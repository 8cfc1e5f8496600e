"""What the alarm room remembers between rounds: waiting causes, threads, links already used."""

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from pydantic import BaseModel, ConfigDict
from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    bindparam,
    delete,
    insert,
    or_,
    select,
    update,
)

from monitor.clock import from_ms, to_ms
from monitor.store.statements import put_in_place
from monitor.store.tables import alarm_watches, answer_links, conversations
from monitor.yard.watch import Conversation, Watch, WatchKey


class Watches:
    """The waiting causes of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def all_watches(self) -> dict[WatchKey, Watch]:
        """Every watch by its key."""
        bodies = self._connection.scalars(
            select(alarm_watches.c.body).where(alarm_watches.c.yard_id == self._yard_id)
        )
        watches = (_WatchBody.model_validate_json(body).watch for body in bodies)
        return {watch.key: watch for watch in watches}

    def get(self, key: WatchKey) -> Watch | None:
        """One watch by its key."""
        row = self._key(key)
        body = self._connection.scalar(
            select(alarm_watches.c.body).where(*(alarm_watches.c[k] == v for k, v in row.items()))
        )
        return None if body is None else _WatchBody.model_validate_json(body).watch

    def put(self, changed: Iterable[Watch]) -> None:
        """Enter watches, each in place of what stood under its key."""
        rows = [
            {
                **self._key(watch.key),
                "body": _WatchBody(watch=watch).model_dump_json(exclude_defaults=True),
            }
            for watch in changed
        ]
        if rows:
            self._connection.execute(put_in_place(alarm_watches), rows)

    def drop_watches(self, keys: Iterable[WatchKey]) -> None:
        """Forget watches that have nothing left to remember."""
        # Bound names must differ from the columns' own.
        rows = [{f"the_{k}": v for k, v in self._key(key).items()} for key in keys]
        if rows:
            names = ("yard_id", "cause", "craft", "space", "part")
            same = (alarm_watches.c[name] == bindparam(f"the_{name}") for name in names)
            self._connection.execute(delete(alarm_watches).where(*same), rows)

    def _key(self, key: WatchKey) -> dict[str, object]:
        return {
            "yard_id": self._yard_id,
            "cause": key.cause,
            "craft": key.craft,
            "space": key.space,
            "part": key.part,
        }


class Conversations:
    """The threads of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def open_threads(self, closed_since: datetime | None = None) -> list[Conversation]:
        """Threads that are not closed, or only since a time, in order of their names."""
        wanted: list[ColumnElement[bool]] = [conversations.c.closed_ms.is_(None)]
        if closed_since is not None:
            wanted.append(conversations.c.closed_ms >= to_ms(closed_since))
        bodies = self._connection.scalars(
            select(conversations.c.body)
            .where(conversations.c.yard_id == self._yard_id, or_(*wanted))
            .order_by(conversations.c.thread)
        )
        return [_ConversationBody.model_validate_json(body).conversation for body in bodies]

    def get(self, thread: str) -> Conversation | None:
        """One thread, open or closed."""
        body = self._connection.scalar(
            select(conversations.c.body).where(
                conversations.c.yard_id == self._yard_id, conversations.c.thread == thread
            )
        )
        return None if body is None else _ConversationBody.model_validate_json(body).conversation

    def put(self, changed: Iterable[Conversation]) -> None:
        """Enter threads, each in place of what stood under its name."""
        rows = [self._row(conversation) for conversation in changed]
        if rows:
            self._connection.execute(put_in_place(conversations), rows)

    def _row(self, conversation: Conversation) -> dict[str, object]:
        closed = conversation.closed_at
        return {
            "yard_id": self._yard_id,
            "thread": conversation.thread,
            "person": conversation.person,
            "topic": conversation.topic,
            "closed_ms": None if closed is None else to_ms(closed),
            "body": _ConversationBody(conversation=conversation).model_dump_json(),
        }


class AnswerLink(NamedTuple):
    """A link by which one person may answer the alarms that one letter told of, once."""

    digest: str  # of the secret; the secret itself is never stored
    person: str
    thread: str
    expires_at: datetime
    used_at: datetime | None
    alarms: tuple[str, ...] = ()  # ids; none: whatever the thread has told of


class AnswerLinks:
    """The answer links of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def add(self, links: Iterable[AnswerLink]) -> None:
        """Keep new links."""
        rows = [
            {
                "yard_id": self._yard_id,
                "digest": link.digest,
                "person": link.person,
                "thread": link.thread,
                "expires_ms": to_ms(link.expires_at),
                "used_ms": None,
                "alarms": "\n".join(link.alarms),
            }
            for link in links
        ]
        if rows:
            self._connection.execute(insert(answer_links), rows)

    def get(self, digest: str) -> AnswerLink | None:
        """One link, used or not."""
        row = self._connection.execute(
            select(answer_links).where(
                answer_links.c.yard_id == self._yard_id, answer_links.c.digest == digest
            )
        ).one_or_none()
        return None if row is None else _link(row)

    def use_link(self, digest: str, at: datetime) -> bool:
        """Use a link up; False if somebody was there before."""
        done = self._connection.execute(
            update(answer_links)
            .where(
                answer_links.c.yard_id == self._yard_id,
                answer_links.c.digest == digest,
                answer_links.c.used_ms.is_(None),
            )
            .values(used_ms=to_ms(at))
        )
        return bool(done.rowcount)

    def people_with_links(self) -> set[str]:
        """Ids of all who have a link that was not used."""
        asked = select(answer_links.c.person).where(
            answer_links.c.yard_id == self._yard_id, answer_links.c.used_ms.is_(None)
        )
        return set(self._connection.scalars(asked.distinct()))

    def forget_person(self, person: str) -> int:
        """Forget every link of one person; how many there were."""
        gone = self._connection.execute(
            delete(answer_links).where(
                answer_links.c.yard_id == self._yard_id, answer_links.c.person == person
            )
        )
        return gone.rowcount

    def prune_expired(self, before: datetime) -> None:
        """Forget links that ran out before a time."""
        self._connection.execute(
            delete(answer_links).where(
                answer_links.c.yard_id == self._yard_id,
                answer_links.c.expires_ms < to_ms(before),
            )
        )


def _link(row: Row[tuple[object, ...]]) -> AnswerLink:
    return AnswerLink(
        digest=row.digest,
        person=row.person,
        thread=row.thread,
        expires_at=from_ms(row.expires_ms),
        used_at=None if row.used_ms is None else from_ms(row.used_ms),
        alarms=tuple((row.alarms or "").split()),
    )


class _WatchBody(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")
    watch: Watch


class _ConversationBody(BaseModel):
    conversation: Conversation
