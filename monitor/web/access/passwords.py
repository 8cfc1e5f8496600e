"""Passwords: which will do, how they are kept (argon2id, RFC 9106), how one is compared."""

import secrets
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from threading import BoundedSemaphore

from argon2 import PasswordHasher, profiles
from argon2.exceptions import InvalidHashError, VerificationError

from monitor.errors import BadValueError, WebError

# NIST SP 800-63B-4, 3.1.1.2: 15 where nothing else is asked for, at least 64 allowed, any sign
# taken, no rule of which signs, and the same text however a keyboard writes it (NFKC).
LEAST_LENGTH = 15
MOST_LENGTH = 200
_LEAST_DISTINCT = 5
COSTS = profiles.RFC_9106_LOW_MEMORY  # RFC 9106, 4: its second recommendation
_AT_ONCE = 2  # each takes 64 MiB: a small machine watches a yard besides
_WAIT_S = 10.0


def fit_password(written: str, names: tuple[str, ...] = ()) -> str:
    """A password as it is hashed, if it will do.

    Parameters
    ----------
    written : str
    names : tuple of str
        Of person and yard: guessed first, so a password is not made of them alone.

    Raises
    ------
    BadValueError
        If it will not do: why, and what would.
    """
    password = unicodedata.normalize("NFKC", written)
    remedy = "take four words or more that do not belong together"
    if len(password) < LEAST_LENGTH:
        raise BadValueError(f"it has {len(password)} signs, of at least {LEAST_LENGTH}", remedy)
    if len(password) > MOST_LENGTH:
        raise BadValueError(f"it has more than {MOST_LENGTH} signs", "take a shorter one")
    left = password.casefold()
    for name in sorted((word for one in names for word in one.casefold().split()), key=len):
        left = left.replace(name, "")
    if len(set(left)) < _LEAST_DISTINCT:
        raise BadValueError("it is one of the first that somebody would guess", remedy)
    return password


class Passwords:
    """Hashes and compares, few at once."""

    def __init__(self) -> None:
        self._hasher = PasswordHasher.from_parameters(COSTS)
        self._places = BoundedSemaphore(_AT_ONCE)

    def hash_password(self, password: str) -> str:
        """The text that is kept of a password, with its own salt."""
        with self._place():
            return self._hasher.hash(password)

    def is_password(self, kept: str | None, written: str) -> bool:
        """Whether what somebody wrote is the password of which this is kept.

        Of somebody who has none, or is nobody, as much is worked out: the time tells nothing.
        """
        try:
            with self._place():
                return self._hasher.verify(
                    kept or self._of_nobody, unicodedata.normalize("NFKC", written[:MOST_LENGTH])
                ) and bool(kept)
        except (VerificationError, InvalidHashError, UnicodeError):
            return False

    @cached_property
    def _of_nobody(self) -> str:
        return self._hasher.hash(secrets.token_urlsafe(32))

    def prepare_for_nobody(self) -> None:
        """Work out beforehand what a stranger's password is compared with: once, at the start."""
        _ = self._of_nobody

    @contextmanager
    def _place(self) -> Iterator[None]:
        """One of the few places in which a password is worked out."""
        if not self._places.acquire(timeout=_WAIT_S):
            raise PasswordsBusyError("too many sign in at once; come again in a few seconds")
        try:
            yield
        finally:
            self._places.release()


class PasswordsBusyError(WebError):
    """Too many passwords are compared at once."""
