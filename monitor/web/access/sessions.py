"""Sessions: a random id in a cookie, its digest in the store, an end when idle and at last."""

import hashlib
import hmac
import re
import secrets
from datetime import datetime, timedelta

from fastapi import Response

from monitor.store.page_grants import CLOCK_STEP
from monitor.store.sign_ins import PageSession
from monitor.store.store import Transaction

# NIST SP 800-63B-4, 2.1.3: a session of this kind is begun anew after 30 days at most.
ENDS_AFTER = timedelta(days=30)
ENDS_IDLE_AFTER = timedelta(days=7)
SEEN_EVERY = timedelta(minutes=10)  # not a write to the disk for each look
RENEWAL_HEADER = "Laidup-Renewal"  # what an open page sends with what nobody asked it for
_SHAPE = re.compile(r"[A-Za-z0-9_-]{43}")


def new_secret() -> str:
    """A secret of 256 random bits, as it stands in a cookie or a link."""
    return secrets.token_urlsafe(32)


def is_secret(shown: str) -> bool:
    """Whether a text has the shape of a secret that laidup makes."""
    return _SHAPE.fullmatch(shown) is not None


def digest_of_secret(secret: str) -> str:
    """What the store keeps of a secret."""
    return hashlib.sha256(secret.encode("ascii")).hexdigest()


def form_token_of(secret: str) -> str:
    """The token in forms of whoever has this secret: it tells nothing of the secret itself."""
    return hmac.new(secret.encode("ascii"), b"laidup form", hashlib.sha256).hexdigest()


def begin_session(tx: Transaction, person: str, now: datetime, address: str) -> str:
    """Begin a session, and forget those that have ended; the new id, which is kept nowhere."""
    tx.sign_ins.prune_sessions(now - ENDS_AFTER, now - ENDS_IDLE_AFTER)
    secret = new_secret()
    tx.sign_ins.add_session(
        PageSession(
            digest=digest_of_secret(secret),
            person=person,
            made_at=now,
            seen_at=now,
            address=address,
        )
    )
    return secret


def is_live(session: PageSession, now: datetime) -> bool:
    """Whether a session goes on; one from the future does not, for then a clock is wrong."""
    return session.made_at - CLOCK_STEP <= now and not has_ended(session, now)


def has_ended(session: PageSession, now: datetime) -> bool:
    """Whether a session is over, idle or at last."""
    return now >= min(session.made_at + ENDS_AFTER, session.seen_at + ENDS_IDLE_AFTER)


def cookie_name(*, secure: bool) -> str:
    """Name of the cookie; behind TLS one that no other host or path can set (RFC 6265bis)."""
    return "__Host-laidup" if secure else "laidup"


def give_cookie(response: Response, secret: str, *, secure: bool) -> None:
    """Have the browser keep a session's id, where no script reads it."""
    response.set_cookie(
        cookie_name(secure=secure),
        secret,
        max_age=int(ENDS_AFTER.total_seconds()),
        path="/",
        secure=secure,
        httponly=True,
        samesite="lax",
    )


def take_cookie(response: Response, *, secure: bool) -> None:
    """Have the browser forget a session's id."""
    response.delete_cookie(
        cookie_name(secure=secure), path="/", secure=secure, httponly=True, samesite="lax"
    )
