"""Passwords: which will do, how they are kept (argon2id, RFC 9106), how one is compared."""

import contextlib
import os
import secrets
import sys
import threading
import unicodedata
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from enum import StrEnum
from functools import cached_property
from threading import BoundedSemaphore
from typing import TypeVar

from argon2 import PasswordHasher, profiles
from argon2.exceptions import InvalidHashError, VerificationError

from monitor.errors import BadValueError, WebError

# NIST SP 800-63B-4, 3.1.1.2: 15 where nothing else is asked for, at least 64 allowed, any sign
# taken, no rule of which signs, and the same text however a keyboard writes it (NFKC).
LEAST_LENGTH = 15
MOST_LENGTH = 200
_LEAST_DISTINCT = 5
COSTS = profiles.RFC_9106_LOW_MEMORY  # RFC 9106, 4: its second recommendation
# Each takes 64 MiB and four threads: a small machine watches a yard besides.
_AT_ONCE = 1
_WAIT_S = 10.0
_Worked = TypeVar("_Worked")
_LOW_PRIORITY = 10  # of its threads: rounds, intake and post have the processors first


class PasswordFlaw(StrEnum):
    """Why a text will not do for a password."""

    SHORT = "short"
    LONG = "long"
    GUESSED = "guessed"


class UnfitPasswordError(BadValueError):
    """A text that will not do for a password."""

    def __init__(self, flaw: PasswordFlaw, length: int, problem: str, remedy: str) -> None:
        super().__init__(problem, remedy)
        self.flaw, self.length = flaw, length


def fit_password(written: str, names: tuple[str, ...] = ()) -> str:
    """A password as it is hashed, if it will do.

    Parameters
    ----------
    written : str
    names : tuple of str
        Of person and yard: guessed first, so a password is not made of them alone.

    Raises
    ------
    UnfitPasswordError
        If it will not do: why, and what would.
    """
    password = unicodedata.normalize("NFKC", written)
    remedy = "take four words or more that do not belong together"
    length = len(password)
    if length < LEAST_LENGTH:
        problem = f"it has {length} signs, of at least {LEAST_LENGTH}"
        raise UnfitPasswordError(PasswordFlaw.SHORT, length, problem, remedy)
    if length > MOST_LENGTH:
        problem = f"it has more than {MOST_LENGTH} signs"
        raise UnfitPasswordError(PasswordFlaw.LONG, length, problem, "take a shorter one")
    left = password.casefold()
    for name in sorted((word for one in names for word in one.casefold().split()), key=len):
        left = left.replace(name, "")
    if len(set(left)) < _LEAST_DISTINCT:
        problem = "it is one of the first that somebody would guess"
        raise UnfitPasswordError(PasswordFlaw.GUESSED, length, problem, remedy)
    return password


class Passwords:
    """Hashes and compares, one at a time and behind all that warns."""

    def __init__(self) -> None:
        self._hasher = PasswordHasher.from_parameters(COSTS)
        self._places = BoundedSemaphore(_AT_ONCE)
        self._hands = ThreadPoolExecutor(_AT_ONCE, "passwords", initializer=_stand_back)

    def hash_password(self, password: str) -> str:
        """The text that is kept of a password, with its own salt."""
        return self._in_turn(lambda: self._hasher.hash(password))

    def is_password(self, kept: str | None, written: str) -> bool:
        """Whether what somebody wrote is the password of which this is kept.

        Of somebody who has none, or is nobody, as much is worked out: the time tells nothing.
        """
        try:
            against = kept or self._of_nobody
            password = unicodedata.normalize("NFKC", written[:MOST_LENGTH])
            return self._in_turn(lambda: self._hasher.verify(against, password)) and bool(kept)
        except (VerificationError, InvalidHashError, UnicodeError):
            return False

    @cached_property
    def _of_nobody(self) -> str:
        return self._hasher.hash(secrets.token_urlsafe(32))

    def prepare_for_nobody(self) -> None:
        """Work out beforehand what a stranger's password is compared with: once, at the start."""
        _ = self._of_nobody

    def _in_turn(self, work: Callable[[], _Worked]) -> _Worked:
        """Have something worked out in one of the few places for it."""
        if not self._places.acquire(timeout=_WAIT_S):
            raise PasswordsBusyError("too many sign in at once; come again in a few seconds")
        try:
            return self._hands.submit(work).result()
        finally:
            self._places.release()


def _stand_back() -> None:
    """Have this thread, and those that it starts, take their turn behind all others.

    A priority of a single thread is known to Linux alone; elsewhere it stays as it is.
    """
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), _LOW_PRIORITY)


class PasswordsBusyError(WebError):
    """Too many passwords are compared at once."""
