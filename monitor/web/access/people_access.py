"""Who asks, where people sign in: by a session's cookie, by a key, or by the link in the path."""

import time
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial

from fastapi.security.utils import get_authorization_scheme_param
from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection

from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.errors import StoreError
from monitor.store.page_grants import Grant, GrantKind
from monitor.store.store import Store, Transaction
from monitor.web.access.end_access import end_expired_access
from monitor.web.access.keys_and_links import KEY_PREFIX
from monitor.web.access.roles import AccessRole, access_role_of
from monitor.web.access.sessions import (
    RENEWAL_HEADER,
    SEEN_EVERY,
    cookie_name,
    digest_of_secret,
    form_token_of,
    has_ended,
    is_live,
    is_secret,
)
from monitor.web.access.visitor import STRANGER, Visitor, VisitorKind
from monitor.yard.space import Person, Role, Yard

_REST_S = 60.0  # after a write that the store did not take
_WAITS_FOR_LOCK_S = 0.2  # a reader is not held up for long by what only says when they were here


class PeopleAccess:
    """Knows the yard's people by their sessions, programs by keys, owners and others by links."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        clock: Clock,
        craft: Callable[[], Sequence[StoredCraft]],
        *,
        https_outside: bool = False,
    ) -> None:
        """Make it.

        Parameters
        ----------
        store, yard, clock
            Sessions, keys and links; people; and the time that ends them.
        craft : callable
            Tells the craft in the yard's care now, for their owners.
        https_outside : bool
            Readers reach the page by https, whatever a proxy says on the way here.
        """
        self._store, self._yard, self._clock, self._craft = store, yard, clock, craft
        self._marks = store.beside(1, busy_s=_WAITS_FOR_LOCK_S)
        self._https_outside = https_outside
        self._no_write_before_s = 0.0

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the people that the yard has now."""
        self._yard = yard

    def is_secure(self, asking: HTTPConnection) -> bool:
        """Whether what this caller gets back travels inside TLS up to them."""
        return self._https_outside or asking.scope["scheme"] == "https"

    async def find_visitor(self, asking: HTTPConnection, link: str | None) -> Visitor:
        """Who asks: by the link in the path alone where the route has one; else key, or session."""
        if link is not None:
            return await self._find_in_store(self._by_link, link)
        if (key := _key_shown(asking)) is not None:
            # A wrong key is nobody: it does not count as the session that comes with it.
            return await self._find_in_store(self._by_key, key)
        shown = asking.cookies.get(cookie_name(secure=self.is_secure(asking)), "")
        # A page that renews itself does so whether or not anybody is there.
        by_a_person = RENEWAL_HEADER not in asking.headers
        return await self._find_in_store(partial(self._by_session, goes_on=by_a_person), shown)

    async def _find_in_store(self, find: Callable[[str], Visitor], secret: str) -> Visitor:
        return await run_in_threadpool(find, secret) if is_secret(secret) else STRANGER

    def _by_session(self, secret: str, *, goes_on: bool) -> Visitor:
        now, digest = self._clock.now(), digest_of_secret(secret)
        with self._store.snapshot() as tx:
            session = tx.sign_ins.find_session(digest)
        if session is None or not is_live(session, now):
            if session is not None and has_ended(session, now):
                self.end_expired()
            return STRANGER
        person = next((one for one in self._yard.people if one.id == session.person), None)
        if person is None:  # has left the yard's file
            return STRANGER
        if goes_on and now - session.seen_at >= SEEN_EVERY:
            self._keep(lambda tx: tx.sign_ins.mark_seen(digest, now))
        role = access_role_of(person.roles)
        return Visitor(
            kind=VisitorKind.PERSON,
            role=role,
            person=person,
            craft=self._craft_of(person) if role is AccessRole.OWNER else None,
            name=person.name,
            form_token=form_token_of(secret),
        )

    def _by_key(self, secret: str) -> Visitor:
        grant = self._good_grant(secret, self._clock.now())
        if grant is None or grant.kind is not GrantKind.KEY:
            return STRANGER
        return Visitor(
            kind=VisitorKind.KEY, role=AccessRole(grant.role), craft=None, name=grant.name
        )

    def _by_link(self, secret: str) -> Visitor:
        grant = self._good_grant(secret, self._clock.now())
        if grant is None or grant.kind is GrantKind.KEY:
            return STRANGER
        if grant.kind is GrantKind.THIRD_PARTY:
            return Visitor(
                kind=VisitorKind.THIRD_PARTY,
                role=AccessRole.THIRD_PARTY,
                craft=frozenset({grant.craft}),
                name=grant.name,
                form_token=form_token_of(secret),
            )
        owner = next((one for one in self._yard.people if one.id == grant.person), None)
        if owner is None or Role.OWNER not in owner.roles:
            return STRANGER
        return Visitor(
            kind=VisitorKind.OWNER,
            role=AccessRole.OWNER,
            person=owner,
            craft=self._craft_of(owner),
            name=owner.name,
            form_token=form_token_of(secret),
        )

    def _good_grant(self, secret: str, now: datetime) -> Grant | None:
        with self._store.snapshot() as tx:
            grant = tx.page_grants.grant_by_digest(digest_of_secret(secret))
        if grant is None or not grant.is_good_at(now):
            if grant is not None and grant.withdrawn_at is None and grant.is_over_at(now):
                self.end_expired()
            return None
        if grant.seen_at is None or now - grant.seen_at >= SEEN_EVERY:
            self._keep(lambda tx: tx.page_grants.mark_seen(grant.id, now))
        return grant

    def craft_seen_by(self, visitor: Visitor) -> list[StoredCraft]:
        """The craft in the yard's care now that a visitor may see, and no other."""
        return [one for one in self._craft() if visitor.may_see_craft(one.id)]

    def _craft_of(self, owner: Person) -> frozenset[str]:
        return frozenset(one.id for one in self._craft() if one.owner == owner.id)

    def end_expired(self) -> None:
        """End for good what has run out by now: a clock that is set back revives none of it."""
        now = self._clock.now()
        self._keep(lambda tx: end_expired_access(tx, now))

    def _keep(self, write: Callable[[Transaction], None]) -> None:
        """Write down what was seen; a store that takes nothing holds up no reader."""
        if time.monotonic() < self._no_write_before_s:
            return
        try:
            with self._marks.transaction(can_wait=True) as tx:
                write(tx)
        except StoreError:
            self._no_write_before_s = time.monotonic() + _REST_S


def _key_shown(asking: HTTPConnection) -> str | None:
    """What is shown as a key of laidup's; None where no header shows one.

    A proxy may send words of its own there, as the Basic password of its own door or another
    issuer's token: these are not for laidup, and hide nobody's session.
    """
    for header in asking.headers.getlist("Authorization"):
        scheme, shown = get_authorization_scheme_param(header)
        if scheme.lower() == "bearer" and shown.startswith(KEY_PREFIX):
            return shown.removeprefix(KEY_PREFIX)
    return None
