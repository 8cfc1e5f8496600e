"""Passwords of the yard's people, the links by which they set them, and their sessions."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Connection, delete, insert, or_, select, update
from sqlalchemy.engine import Row

from monitor.clock import from_ms, to_ms
from monitor.store.tables import page_invitations, page_passwords, page_sessions


@dataclass(frozen=True, slots=True, kw_only=True)
class Invitation:
    """A link by which one person sets a password, once, as the store keeps it."""

    digest: str
    person: str
    made_at: datetime
    expires_at: datetime
    used_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PageSession:
    """One browser in which somebody is signed in, as the store keeps it."""

    digest: str
    person: str
    made_at: datetime
    seen_at: datetime
    address: str  # whence it was begun


class KeptPassword(NamedTuple):
    """What is kept of a password, and since when it is the person's."""

    hash: str
    set_at: datetime


class SignIns:
    """Who of one yard can sign in, and is signed in."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def password_of(self, person: str) -> KeptPassword | None:
        """What is kept of a person's password; None where they have set none."""
        row = self._connection.execute(
            select(page_passwords).where(
                page_passwords.c.yard_id == self._yard_id, page_passwords.c.person == person
            )
        ).one_or_none()
        return None if row is None else KeptPassword(row.hash, from_ms(row.set_ms))

    def put_password(self, person: str, kept: KeptPassword) -> None:
        """Keep a person's new password in place of any other."""
        self._connection.execute(
            delete(page_passwords).where(
                page_passwords.c.yard_id == self._yard_id, page_passwords.c.person == person
            )
        )
        self._connection.execute(
            insert(page_passwords).values(
                yard_id=self._yard_id, person=person, hash=kept.hash, set_ms=to_ms(kept.set_at)
            )
        )

    def people_with_password(self) -> dict[str, datetime]:
        """When each person who has a password set it, by id."""
        rows = self._connection.execute(
            select(page_passwords.c.person, page_passwords.c.set_ms).where(
                page_passwords.c.yard_id == self._yard_id
            )
        )
        return {row.person: from_ms(row.set_ms) for row in rows}

    def add_invitation(self, invitation: Invitation) -> None:
        """Keep a new link to set a password, and forget all that have run out."""
        self.prune_invitations(invitation.made_at)
        self._connection.execute(
            insert(page_invitations).values(
                yard_id=self._yard_id,
                digest=invitation.digest,
                person=invitation.person,
                made_ms=to_ms(invitation.made_at),
                expires_ms=to_ms(invitation.expires_at),
            )
        )

    def find_invitation(self, digest: str) -> Invitation | None:
        """One link to set a password, used or not."""
        row = self._connection.execute(
            select(page_invitations).where(
                page_invitations.c.yard_id == self._yard_id, page_invitations.c.digest == digest
            )
        ).one_or_none()
        if row is None:
            return None
        return Invitation(
            digest=row.digest,
            person=row.person,
            made_at=from_ms(row.made_ms),
            expires_at=from_ms(row.expires_ms),
            used_at=None if row.used_ms is None else from_ms(row.used_ms),
        )

    def prune_invitations(self, expired_by: datetime) -> None:
        """Forget links, used or not, that have run out by a time."""
        self._connection.execute(
            delete(page_invitations).where(
                page_invitations.c.yard_id == self._yard_id,
                page_invitations.c.expires_ms <= to_ms(expired_by),
            )
        )

    def end_invitations_of(self, person: str) -> None:
        """Have every link to set a person's password that is still open do nothing any more."""
        self._connection.execute(
            delete(page_invitations).where(
                page_invitations.c.yard_id == self._yard_id,
                page_invitations.c.person == person,
                page_invitations.c.used_ms.is_(None),
            )
        )

    def use_invitation(self, digest: str, at: datetime) -> bool:
        """Use a link up; False if somebody was there before."""
        done = self._connection.execute(
            update(page_invitations)
            .where(
                page_invitations.c.yard_id == self._yard_id,
                page_invitations.c.digest == digest,
                page_invitations.c.used_ms.is_(None),
            )
            .values(used_ms=to_ms(at))
        )
        return bool(done.rowcount)

    def add_session(self, session: PageSession) -> None:
        """Keep a new session."""
        self._connection.execute(
            insert(page_sessions).values(
                yard_id=self._yard_id,
                digest=session.digest,
                person=session.person,
                made_ms=to_ms(session.made_at),
                seen_ms=to_ms(session.seen_at),
                address=session.address,
            )
        )

    def find_session(self, digest: str) -> PageSession | None:
        """One session, whether or not it should have ended by now."""
        row = self._connection.execute(
            select(page_sessions).where(
                page_sessions.c.yard_id == self._yard_id, page_sessions.c.digest == digest
            )
        ).one_or_none()
        return None if row is None else _session(row)

    def sessions_of(self, person: str) -> list[PageSession]:
        """All sessions of a person, the latest first."""
        rows = self._connection.execute(
            select(page_sessions)
            .where(page_sessions.c.yard_id == self._yard_id, page_sessions.c.person == person)
            .order_by(page_sessions.c.seen_ms.desc(), page_sessions.c.digest)
        )
        return [_session(row) for row in rows]

    def mark_seen(self, digest: str, at: datetime) -> None:
        """Keep when a session was last used."""
        self._connection.execute(
            update(page_sessions)
            .where(page_sessions.c.yard_id == self._yard_id, page_sessions.c.digest == digest)
            .values(seen_ms=to_ms(at))
        )

    def end_session(self, digest: str) -> None:
        """End one session."""
        self._connection.execute(
            delete(page_sessions).where(
                page_sessions.c.yard_id == self._yard_id, page_sessions.c.digest == digest
            )
        )

    def end_sessions_of(self, person: str) -> int:
        """End every session of a person; how many there were."""
        gone = self._connection.execute(
            delete(page_sessions).where(
                page_sessions.c.yard_id == self._yard_id, page_sessions.c.person == person
            )
        )
        return gone.rowcount

    def prune_sessions(self, made_by: datetime, seen_by: datetime) -> None:
        """Forget sessions that were begun, or last used, by a time."""
        self._connection.execute(
            delete(page_sessions).where(
                page_sessions.c.yard_id == self._yard_id,
                or_(
                    page_sessions.c.made_ms <= to_ms(made_by),
                    page_sessions.c.seen_ms <= to_ms(seen_by),
                ),
            )
        )

    def known_people(self) -> set[str]:
        """Ids of all who have a password, a link to set one, or a session."""
        found: set[str] = set()
        for table in (page_passwords, page_invitations, page_sessions):
            asked = select(table.c.person).where(table.c.yard_id == self._yard_id).distinct()
            found.update(self._connection.scalars(asked))
        return found

    def forget_person(self, person: str) -> None:
        """Forget password, links and sessions of a person: they can sign in no more."""
        for table in (page_passwords, page_invitations, page_sessions):
            self._connection.execute(
                delete(table).where(table.c.yard_id == self._yard_id, table.c.person == person)
            )


def _session(row: Row[Any]) -> PageSession:
    return PageSession(
        digest=row.digest,
        person=row.person,
        made_at=from_ms(row.made_ms),
        seen_at=from_ms(row.seen_ms),
        address=row.address,
    )
