"""How far a long command has come, on a terminal; a log or a pipe gets nothing of it."""

import sys
from collections.abc import Callable

_EACH = 100  # a line of every row would cost more than the row


class Progress:
    """One line on stderr that is written over, as ``1,200 rows read``; wiped when it is done."""

    def __init__(self) -> None:
        self._shown = 0

    def __enter__(self) -> "Progress":
        return self

    def __exit__(self, *_: object) -> None:
        self.wipe_line()

    def tell_counts(self, what: str) -> Callable[[int], None]:
        """Give what is to be called with each count of ``what``."""

        def tell(count: int) -> None:
            if count % _EACH == 0:
                self._show(f"{count:,} {what}")

        return tell

    def say_stage(self, words: str) -> None:
        """Say what is being done, where nothing is counted."""
        self._show(words)

    def wipe_line(self) -> None:
        """Leave an empty line for what is said next."""
        if self._shown and sys.stderr.isatty():
            print("\r" + " " * self._shown + "\r", end="", file=sys.stderr, flush=True)
        self._shown = 0

    def _show(self, words: str) -> None:
        if not sys.stderr.isatty():
            return
        print(f"\r{words.ljust(self._shown)}", end="", file=sys.stderr, flush=True)
        self._shown = max(self._shown, len(words))
