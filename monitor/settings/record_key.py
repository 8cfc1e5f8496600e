"""The key that a yard signs its records with: a file beside the yard's own, made once.

Beside it stands the word of each earlier key for the one that followed. Who loses the key cannot
carry it on: what was signed stays checkable, and the next key begins anew (docs/record-file.md).
"""

import json
import logging
import os
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.craft.sealing import YardKey
from monitor.craft.signed_statements import next_key, succession_of, words_leading_to
from monitor.craft.signing_key import SigningKey, fingerprint_of
from monitor.errors import BadValueError, ConfigurationError, Fault

KEY_FILE = "record-key.pem"
HISTORY_FILE = "record-key-history.json"
PDF_KEY_FILE = "record-pdf-key.pem"  # signs the pages (monitor/settings/pdf_key.py)
_FOR_OTHERS = 0o077

log = logging.getLogger(__name__)


def load_record_key(folder: Path) -> SigningKey:
    """Read the yard's key.

    Parameters
    ----------
    folder : Path
        The yard's own, in which its file is.

    Raises
    ------
    ConfigurationError
        If there is none, if others may read it, or if it is no key.
    """
    file = folder / KEY_FILE
    pem = read_key_file(
        file,
        "Put it back from where it is kept; if it is lost for good, or there never was one,"
        " `laidup key --make` makes another.",
        in_doubt="; if somebody may have taken it, also `laidup key --rotate`",
    )
    try:
        return SigningKey.from_pem(pem)
    except BadValueError as error:
        raise key_fault(
            file, error.problem, "Put the file back from where the yard keeps its copy."
        ) from error


def read_key_file(file: Path, where_gone: str, in_doubt: str = "") -> bytes:
    """What a file with a secret key holds.

    Parameters
    ----------
    file : Path
    where_gone : str
        Remedy where there is none.
    in_doubt : str, optional
        What else to do where others may read it.

    Raises
    ------
    ConfigurationError
        If there is none, if it cannot be read, or if others may read it.
    """
    try:
        mode, content = file.stat().st_mode, file.read_bytes()
    except FileNotFoundError as error:
        raise key_fault(
            file, "the yard has no key for its records yet, or it is gone", where_gone
        ) from error
    except OSError as error:
        raise key_fault(
            file, f"it cannot be read: {error.strerror}", "Let this user read it."
        ) from error
    if mode & _FOR_OTHERS:
        raise key_fault(
            file,
            f"others may read or write it (mode {mode & 0o777:03o}), and could sign as the yard",
            f"chmod 600 {file}{in_doubt}.",
        )
    return content


def make_record_key(folder: Path) -> SigningKey:
    """Make the yard's first key, or the one after a loss.

    Raises
    ------
    ConfigurationError
        If there is one already, or it cannot be written.
    """
    file = folder / KEY_FILE
    if file.exists():
        raise key_fault(file, "the yard has a key already", "Use it, or `laidup key --rotate`.")
    key = SigningKey.make_new()
    write_key_file(file, key.pem)
    return key


def load_or_make_record_key(folder: Path, has_signed: Callable[[], bool]) -> SigningKey:
    """The yard's key, made now if it has none and never had one.

    Parameters
    ----------
    folder : Path
    has_signed : callable
        Tells whether letters have left that carry a head of the record: they were signed with a
        key. Asked only where there is no key.

    Raises
    ------
    ConfigurationError
        As `load_record_key`: also where an earlier key has left its history, the PDF key that is
        made beside it, or letters, so that a loss is told and no key takes its place unseen.
    """
    if is_first_key(folder, has_signed):
        key = make_record_key(folder)
        log.warning(
            "The yard had no key for its records; %s is made, with the fingerprint %s. Where there"
            " was one, put its copy back instead.",
            folder / KEY_FILE,
            fingerprint_of(key.public),
        )
        return key
    return load_record_key(folder)


def is_first_key(folder: Path, has_signed: Callable[[], bool]) -> bool:
    """Whether a yard has no key and nothing shows that it ever had one."""
    left = (KEY_FILE, HISTORY_FILE, PDF_KEY_FILE)
    return not any((folder / name).exists() for name in left) and not has_signed()


def rotate_record_key(folder: Path, yard: str, now: datetime) -> SigningKey:
    """Make a new key that the old one vouches for; the old one is kept nowhere.

    A kill between the two files leaves the old key in use and a word for one that nobody has: it
    leads nowhere and hurts nothing.

    Parameters
    ----------
    folder : Path
    yard : str
        The yard's id.
    now : datetime

    Raises
    ------
    ConfigurationError
        As `load_record_key`, or if it cannot be written.
    """
    old, new = load_record_key(folder), SigningKey.make_new()
    history = [*read_successions(folder, yard), succession_of(old, new, yard, now)]
    write_key_file(folder / HISTORY_FILE, json.dumps(history, indent=1).encode())
    write_key_file(folder / KEY_FILE, new.pem)
    return new


def read_successions(folder: Path, yard: str) -> list[dict[str, Any]]:
    """The word of each earlier key for the next, the oldest first.

    Raises
    ------
    ConfigurationError
        If the file is there and holds anything else.
    """
    file = folder / HISTORY_FILE
    try:
        said = json.loads(file.read_text())
    except FileNotFoundError:
        return []
    except (OSError, ValueError) as error:
        raise key_fault(
            file, f"it cannot be read: {error}", "Put it back from where the yard keeps its copy."
        ) from error
    if not isinstance(said, list) or any(next_key(one, yard) is None for one in said):
        raise key_fault(
            file,
            f"it does not hold the word of this yard's ({yard}) earlier keys",
            "Put it back from where the yard keeps its copy.",
        )
    return said


def load_yard_key(
    folder: Path, yard: str, *, makes_key: bool, has_signed: Callable[[], bool]
) -> YardKey:
    """What the yard seals its records with; a key is made if it never had one.

    Parameters
    ----------
    folder : Path
    yard : str
        The yard's id.
    makes_key : bool
        False where nobody would read that one was made: a key that is gone is an error then.
    has_signed : callable
        As of `load_or_make_record_key`.

    Raises
    ------
    ConfigurationError
        As `load_or_make_record_key`, or `load_record_key`, and `read_successions`.
    """
    key = load_or_make_record_key(folder, has_signed) if makes_key else load_record_key(folder)
    return _with_words(key, folder, yard)


def _with_words(key: SigningKey, folder: Path, yard: str) -> YardKey:
    words = read_successions(folder, yard)
    return YardKey(key=key, successions=words_leading_to(key.public, words, yard))


class KeyInUse:
    """The key of a running process: a rotated one is taken without a restart."""

    def __init__(self, folder: Path, yard: str) -> None:
        self._folder, self._yard = folder, yard
        self._lock = threading.Lock()
        self._seen: list[tuple[int, ...]] = []
        self._key: YardKey | None = None

    def read_now(self) -> YardKey | None:
        """The key as its files stand now; None where they cannot be used, which is logged once."""
        with self._lock:
            seen = [_state_of(self._folder / name) for name in (KEY_FILE, HISTORY_FILE)]
            if seen != self._seen:
                self._seen = seen
                self._key = self._load()
            return self._key

    def _load(self) -> YardKey | None:
        try:
            return _with_words(load_record_key(self._folder), self._folder, self._yard)
        except ConfigurationError as error:
            if any(self._seen):  # a yard that never had one is told by `laidup check`
                log.error("Heads and season records cannot be signed: %s", error)
            return None


def _state_of(file: Path) -> tuple[int, ...]:
    """What differs once another file stands there, or its mode was changed; empty: none does."""
    try:
        found = file.stat()
    except OSError:
        return ()
    return found.st_ino, found.st_mtime_ns, found.st_ctime_ns, found.st_size, found.st_mode


def write_key_file(file: Path, content: bytes) -> None:
    """Put a file in place as a whole, for this user alone.

    Raises
    ------
    ConfigurationError
        If it cannot be written.
    """
    new = file.with_suffix(".new")
    try:
        new.unlink(missing_ok=True)
        with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as opened:
            opened.write(content)
            opened.flush()
            os.fsync(opened.fileno())
        new.replace(file)
    except OSError as error:
        raise key_fault(
            file, f"it cannot be written: {error.strerror}", "Let this user write in that folder."
        ) from error


def key_fault(file: Path, problem: str, remedy: str) -> ConfigurationError:
    """The error that tells what is wrong with a file of a key, and what to do."""
    return ConfigurationError([Fault(file=str(file), key="", problem=problem, remedy=remedy)])
