"""What lets somebody in who does not sign in: keys of programs, links of owners and others."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.engine import Row

from monitor.clock import from_ms, to_ms
from monitor.store.tables import page_grants

CLOCK_STEP = timedelta(minutes=5)  # by which a clock may be put right without locking people out


class GrantKind(StrEnum):
    """What was given out."""

    KEY = "key"
    OWNER = "owner"
    THIRD_PARTY = "third party"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grant:
    """One key or link, as the store keeps it: without what opens it."""

    id: str  # by which it is named in lists and withdrawn; it opens nothing
    digest: str
    kind: GrantKind
    role: str = ""  # of a key
    name: str = ""  # of a key, or of whom a third party's link is for
    person: str = ""  # an owner's id
    craft: str = ""  # that a third party may see
    made_by: str
    made_at: datetime
    expires_at: datetime | None = None
    withdrawn_at: datetime | None = None  # that of its expiry: it was seen to have run out
    seen_at: datetime | None = None

    @property
    def has_run_out(self) -> bool:
        """Whether it ended by itself, and not because somebody took it back."""
        return self.withdrawn_at is not None and self.withdrawn_at == self.expires_at

    def is_over_at(self, now: datetime) -> bool:
        """Whether its time has run out at a time."""
        return self.expires_at is not None and now >= self.expires_at

    def is_good_at(self, now: datetime) -> bool:
        """Whether it opens anything at a time; not before it was made: then a clock is wrong."""
        return (
            self.withdrawn_at is None
            and self.made_at <= now + CLOCK_STEP
            and not self.is_over_at(now)
        )


class PageGrants:
    """The keys and links of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def add(self, grant: Grant) -> None:
        """Keep a new one."""
        self._connection.execute(
            insert(page_grants).values(
                yard_id=self._yard_id,
                grant_id=grant.id,
                digest=grant.digest,
                kind=str(grant.kind),
                role=grant.role,
                name=grant.name,
                person=grant.person,
                craft_id=grant.craft,
                made_by=grant.made_by,
                made_ms=to_ms(grant.made_at),
                expires_ms=None if grant.expires_at is None else to_ms(grant.expires_at),
            )
        )

    def grant_by_digest(self, digest: str) -> Grant | None:
        """The one that a secret with this digest is of, good or not."""
        row = self._connection.execute(
            select(page_grants).where(
                page_grants.c.yard_id == self._yard_id, page_grants.c.digest == digest
            )
        ).one_or_none()
        return None if row is None else _grant(row)

    def all_grants(self) -> list[Grant]:
        """All that were ever given out and are not forgotten, the latest first."""
        rows = self._connection.execute(
            select(page_grants)
            .where(page_grants.c.yard_id == self._yard_id)
            .order_by(page_grants.c.made_ms.desc(), page_grants.c.grant_id)
        )
        return [_grant(row) for row in rows]

    def withdraw_grant(self, grant_id: str, at: datetime) -> bool:
        """Take one back; False where there is none such, or it was taken back before."""
        done = self._connection.execute(
            update(page_grants)
            .where(
                page_grants.c.yard_id == self._yard_id,
                page_grants.c.grant_id == grant_id,
                page_grants.c.withdrawn_ms.is_(None),
            )
            .values(withdrawn_ms=to_ms(at))
        )
        return bool(done.rowcount)

    def end_expired(self, by: datetime) -> None:
        """Mark what has run out by a time as ended, so that no clock set back revives it."""
        self._connection.execute(
            update(page_grants)
            .where(
                page_grants.c.yard_id == self._yard_id,
                page_grants.c.expires_ms <= to_ms(by),
                page_grants.c.withdrawn_ms.is_(None),
            )
            .values(withdrawn_ms=page_grants.c.expires_ms)
        )

    def prune_ended(self, before: datetime) -> None:
        """Forget what was taken back, or ran out, before a time."""
        self._connection.execute(
            delete(page_grants).where(
                page_grants.c.yard_id == self._yard_id,
                page_grants.c.withdrawn_ms < to_ms(before),
            )
        )

    def mark_seen(self, grant_id: str, at: datetime) -> None:
        """Keep when one was last used."""
        self._connection.execute(
            update(page_grants)
            .where(page_grants.c.yard_id == self._yard_id, page_grants.c.grant_id == grant_id)
            .values(seen_ms=to_ms(at))
        )

    def forget_person(self, person: str) -> None:
        """Forget every link of an owner."""
        self._connection.execute(
            delete(page_grants).where(
                page_grants.c.yard_id == self._yard_id, page_grants.c.person == person
            )
        )


def _grant(row: Row[Any]) -> Grant:
    return Grant(
        id=row.grant_id,
        digest=row.digest,
        kind=GrantKind(row.kind),
        role=row.role,
        name=row.name,
        person=row.person,
        craft=row.craft_id,
        made_by=row.made_by,
        made_at=from_ms(row.made_ms),
        expires_at=None if row.expires_ms is None else from_ms(row.expires_ms),
        withdrawn_at=None if row.withdrawn_ms is None else from_ms(row.withdrawn_ms),
        seen_at=None if row.seen_ms is None else from_ms(row.seen_ms),
    )
