"""An end to what goes on over a socket, however busily the far side sends one byte after another.

A socket's own time-out begins anew with every byte: it never ends a talk with one who drips.
"""

import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from types import TracebackType
from typing import Self

_CUT_EVERY_S = 1.0  # again, as long as nobody has come back: the talk may have a new socket


class Deadline:
    """Shuts a socket down when the time that was allowed last has passed.

    Whoever reads or writes there is woken by that, with an end of file or an error; ``passed`` then
    tells why.
    """

    def __init__(self, seconds: float, what: str) -> None:
        """Allow the first so many seconds; they count from entering the block."""
        self._changed = threading.Condition()
        self._socket_of: Callable[[], socket.socket | None] = lambda: None
        self._over = False
        self._end_s = 0.0
        self.passed = False
        self.seconds = seconds
        self.what = what

    def __enter__(self) -> Self:
        """Begin to count."""
        self._end_s = time.monotonic() + self.seconds
        threading.Thread(target=self._count_down, name="deadline", daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Count no more."""
        with self._changed:
            self._over = True
            self._changed.notify()

    def watch_socket(self, socket_of: Callable[[], socket.socket | None]) -> None:
        """Say how to find the socket; it may change, as when encryption begins."""
        self._socket_of = socket_of

    def allow_seconds(self, seconds: float, what: str) -> None:
        """Allow so many seconds from now on [s], for something that has a name."""
        with self._changed:
            self.seconds, self.what = seconds, what
            self._end_s = time.monotonic() + seconds
            self._changed.notify()

    def __str__(self) -> str:
        """What did not end, and within what time."""
        return f"no end of {self.what} within {self.seconds:g} s"

    def _count_down(self) -> None:
        with self._changed:
            while not self._over:
                left_s = self._end_s - time.monotonic()
                if left_s > 0:
                    self._changed.wait(left_s)
                    continue
                self.passed = True
                self._cut_socket()
                self._changed.wait(_CUT_EVERY_S)

    def _cut_socket(self) -> None:
        found = self._socket_of()
        if found is not None:
            with suppress(OSError):
                # Not the encrypted socket's own method: that drops what its reader still uses.
                socket.socket.shutdown(found, socket.SHUT_RDWR)
