"""Gives out keys of programs and links of owners and third parties, and takes them back."""

import secrets
from datetime import datetime, timedelta

from monitor.errors import ActError
from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.store.page_grants import Grant, GrantKind
from monitor.store.store import Transaction
from monitor.web.access.roles import AccessRole
from monitor.web.access.sessions import digest_of_secret, new_secret

KEY_PREFIX = "laidup-key-"  # by which a scanner of files finds one that was left lying
KEY_ROLES = (AccessRole.READER, AccessRole.MECHANIC, AccessRole.OPERATOR)
OWNER_DAYS = 240  # a winter, from the haul-out to the launch
THIRD_PARTY_DAYS = 14
MOST_DAYS = 400
_PLAIN = "abcdefghjkmnpqrstuvwxyz23456789"  # no two signs that look alike


def make_key(
    tx: Transaction, name: str, role: AccessRole, now: datetime, by: str, address: str = ""
) -> tuple[str, Grant]:
    """A new key of a program: what opens, to be shown once, and what is kept of it."""
    if role not in KEY_ROLES:
        raise ActError(f"a key cannot be {role}: one of {', '.join(KEY_ROLES)}")
    if any(one.name == name and one.withdrawn_at is None for one in _keys(tx)):
        raise ActError(f"there is a key {name!r}; withdraw it first, or give another name")
    secret = new_secret()
    grant = Grant(
        id=_new_id("key"),
        digest=digest_of_secret(secret),
        kind=GrantKind.KEY,
        role=str(role),
        name=name,
        made_by=by,
        made_at=now,
    )
    tx.page_grants.add(grant)
    _keep_deed(tx, now, by, DeedKind.MADE_KEY, f"{grant.id} {name}, {role}", address)
    return f"{KEY_PREFIX}{secret}", grant


def make_owner_link(
    tx: Transaction, owner: str, days: int, now: datetime, by: str, address: str = ""
) -> tuple[str, Grant]:
    """A new link of one owner to all craft that are theirs: its secret, and what is kept."""
    return _make_link(
        tx, GrantKind.OWNER, days, now, by, address, person=owner, about=f"owner {owner}"
    )


def make_craft_link(
    tx: Transaction, craft: str, name: str, days: int, now: datetime, by: str, address: str = ""
) -> tuple[str, Grant]:
    """A new link to look at one craft, for somebody else such as an insurer."""
    return _make_link(
        tx, GrantKind.THIRD_PARTY, days, now, by, address,
        craft=craft, name=name, about=f"{craft} for {name}",
    )  # fmt: skip


def withdraw_grant(
    tx: Transaction, grant_id: str, now: datetime, by: str, address: str = ""
) -> None:
    """Take a key or a link back: it opens nothing from now on.

    Raises
    ------
    ActError
        If there is none such, or it was taken back before.
    """
    if not tx.page_grants.withdraw_grant(grant_id, now):
        raise ActError(f"there is no key or link {grant_id!r} that could be withdrawn")
    _keep_deed(tx, now, by, DeedKind.WITHDREW, grant_id, address)


def _make_link(
    tx: Transaction,
    kind: GrantKind,
    days: int,
    now: datetime,
    by: str,
    address: str,
    *,
    about: str,
    person: str = "",
    craft: str = "",
    name: str = "",
) -> tuple[str, Grant]:
    if not 1 <= days <= MOST_DAYS:
        raise ActError(f"a link is good for 1 to {MOST_DAYS} days, not {days}")
    secret = new_secret()
    grant = Grant(
        id=_new_id("link"),
        digest=digest_of_secret(secret),
        kind=kind,
        person=person,
        craft=craft,
        name=name,
        made_by=by,
        made_at=now,
        expires_at=now + timedelta(days=days),
    )
    tx.page_grants.add(grant)
    _keep_deed(tx, now, by, DeedKind.MADE_LINK, f"{grant.id} {about}, {days} days", address)
    return secret, grant


def _keys(tx: Transaction) -> list[Grant]:
    return [one for one in tx.page_grants.all_grants() if one.kind is GrantKind.KEY]


def _keep_deed(
    tx: Transaction, now: datetime, by: str, kind: DeedKind, about: str, address: str
) -> None:
    tx.page_deeds.add(PageDeed(at=now, who=by, kind=kind, about=about, address=address))


def _new_id(kind: str) -> str:
    return f"{kind}-{''.join(secrets.choice(_PLAIN) for _ in range(8))}"
