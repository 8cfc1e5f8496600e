"""The winter's time: one file says it, the conductor writes it, and the daemon goes by it."""

import mmap
import threading
from datetime import UTC, datetime
from enum import IntEnum
from pathlib import Path
from typing import Self

from monitor.clock import CorrectedClock


class Word(IntEnum):
    """Where each whole number stands in the file that conductor and daemon share."""

    NOW_MS = 0  # the story's true time
    MOVED_MS = 1  # by how much somebody has set the machine's clock apart from it
    JUDGED_MS = 2  # when the last whole round began, by the daemon's clock
    CONNECTED = 3
    PAGE = 4  # port of the daemon's page
    JOBS_MS = 5  # the story's time at which the jobs of the house were last done
    HELD = 6  # no round may begin: the story leaps, and its readings are on their way
    ROUND = 7  # one is under way


class SharedStory:
    """The numbers that conductor and daemon share; each has one writer."""

    def __init__(self, file: Path) -> None:
        """Open the file, and make it where it is not there."""
        if not file.exists():
            file.write_bytes(bytes(8 * len(Word)))
        with file.open("r+b") as opened:
            self._words = memoryview(mmap.mmap(opened.fileno(), 8 * len(Word))).cast("q")

    def __getitem__(self, word: Word) -> int:
        return self._words[word]

    def __setitem__(self, word: Word, value: int) -> None:
        self._words[word] = value

    @property
    def now(self) -> datetime:
        """The story's true time."""
        return datetime.fromtimestamp(self[Word.NOW_MS] / 1000, UTC)


class _Machine:
    """A machine whose two clocks stand still until somebody looks at the story again."""

    def __init__(self, shared: SharedStory) -> None:
        self._shared = shared
        self.look()

    def look(self) -> Self:
        """Take up what the file says now."""
        self._now_ms, self._moved_ms = self._shared[Word.NOW_MS], self._shared[Word.MOVED_MS]
        return self

    def now(self) -> datetime:
        """What its wall clock shows."""
        return datetime.fromtimestamp((self._now_ms + self._moved_ms) / 1000, UTC)

    def elapsed_s(self) -> float:
        """Seconds that nobody sets."""
        return self._now_ms / 1000


class StoryClock(CorrectedClock):
    """The daemon's clock in a winter that leaps by an hour at a time.

    A real machine's two clocks run on together. A leap between two looks at them would be taken
    for somebody's setting of one, so both are looked at as one.
    """

    def __init__(self, shared: SharedStory) -> None:
        self._reading = threading.RLock()
        self._leaping = _Machine(shared)
        super().__init__(self._leaping)

    def now_and_shifts(self) -> tuple[datetime, int]:
        """Tell the time, and how many shifts there have been until then."""
        with self._reading:
            self._leaping.look()
            return super().now_and_shifts()

    def machine_now(self) -> datetime:
        """Tell the machine's time as it is."""
        with self._reading:
            self._leaping.look()
            return super().machine_now()

    def elapsed_s(self) -> float:
        """Seconds that only run on."""
        with self._reading:
            self._leaping.look()
            return super().elapsed_s()
