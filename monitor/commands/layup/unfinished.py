"""An entry that was being answered at the bench, kept beside the yard's file until it is written.

A killed program, a closed window or a dead terminal costs no answer: the next ``layup add`` offers
what was answered. What is being written carries its id, so that it is not offered once it is on
record.
"""

import fcntl
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

_MOST_AT_ONCE = 9  # benches of one user that answer at the same time
_PRIVATE = 0o600
_MOST_BYTES = 64 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfinished:
    """Answers on one craft, in the order in which they were given."""

    craft: str
    kept_at: str  # ISO 8601
    answers: tuple[tuple[str, Any], ...]  # column, and what was answered; None: left open
    entry: str = ""  # id of the entry that was about to be written


@dataclass(slots=True)
class SavedAnswers:
    """Where the answers of this bench are kept; without a file none are."""

    found: Unfinished | None = None  # of a bench that ended before it was done
    _file: int | None = field(default=None, repr=False)
    _now: Unfinished | None = None  # what is in the file

    @property
    def holds_answers(self) -> bool:
        """Whether the next bench has something to offer."""
        return self._file is not None and self._now is not None

    def name_entry(self, entry: str) -> None:
        """Note the id of the entry that the kept answers are about to become."""
        if self._now is not None:
            self.keep_answers(replace(self._now, entry=entry))

    def keep_answers(self, one: Unfinished) -> None:
        """Keep these answers in place of those before; where there is no room, none."""
        if self._file is None:
            return
        content = {
            "craft": one.craft,
            "kept_at": one.kept_at,
            "answers": [list(pair) for pair in one.answers],
            "entry": one.entry,
        }
        self._now = None
        with suppress(OSError):
            # What stood behind a shorter text is cut off after it: whoever reads takes the first.
            text = json.dumps(content, ensure_ascii=False).encode() + b"\n"
            os.pwrite(self._file, text, 0)
            os.ftruncate(self._file, len(text))
            self._now = one

    def forget_answers(self) -> None:
        """The answers are written, or nobody wants them."""
        self.found = self._now = None
        if self._file is not None:
            with suppress(OSError):
                os.ftruncate(self._file, 0)


@contextmanager
def saved_answers(yard_file: Path) -> Iterator[SavedAnswers]:
    """Keep answers beside the yard's file for as long as the block lasts.

    Each bench has a file of its own, held by a lock that ends with its process; the first that no
    process holds is taken, with what a bench before left in it. Where none can be made (a folder
    that this user may not write into), nothing is kept.
    """
    for number in range(1, _MOST_AT_ONCE + 1):
        path = yard_file.with_name(f"{yard_file.stem}.unfinished-{os.getuid()}-{number}")
        try:
            file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, _PRIVATE)
        except OSError:
            break
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if os.fstat(file).st_nlink == 0:
                continue  # another bench has just ended, and taken it away
            left = _read(file)
            kept = SavedAnswers(left, file, left)
            try:
                yield kept
            finally:
                if os.fstat(file).st_size == 0:
                    with suppress(OSError):
                        path.unlink()
            return
        except BlockingIOError:
            continue
        finally:
            os.close(file)
    yield SavedAnswers()


def _read(file: int) -> Unfinished | None:
    """What a bench before left; None where that is nothing that can be read."""
    try:
        text = os.pread(file, _MOST_BYTES, 0).decode()
        content, _ = json.JSONDecoder().raw_decode(text)
        return _from_json(content)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None


def _from_json(content: Mapping[str, Any]) -> Unfinished:
    pairs: Sequence[Any] = content["answers"]
    return Unfinished(
        craft=str(content["craft"]),
        kept_at=str(content["kept_at"]),
        answers=tuple((str(column), answer) for column, answer in pairs),
        entry=str(content["entry"]),
    )
