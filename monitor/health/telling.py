"""How the running daemon tells its account to other processes: at a Unix socket beside the store.

Nothing is written for it, so it works on a full disk and with a locked store; and where nobody
answers, no daemon runs.
"""

import contextlib
import logging
import os
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from monitor.store.store_file import file_of
from monitor.yard.health import HealthAccount

log = logging.getLogger("laidup")

_ACCOUNT = TypeAdapter(HealthAccount)
_WITHIN_S = 3.0  # the account is in memory: who takes longer is stuck
_TURN_S = 0.5
_WHO_MAY_ASK = 0o660


def account_socket(store_url: str, yard_file: Path) -> Path:
    """Where the daemon of a store tells its account: beside its file, else beside the yard's."""
    file = file_of(store_url)
    if file is None:
        return yard_file.resolve().with_suffix(".watch")
    return file.resolve().with_name(f"{file.name}-watch")


def ask_daemon(path: Path) -> HealthAccount | None:
    """The account of the daemon that listens there; None where none runs.

    Raises
    ------
    TimeoutError
        If one runs and does not answer.
    """
    try:
        with _unix_socket() as line, _short_name(path) as name:
            line.connect(name)
            return _ACCOUNT.validate_json(b"".join(iter(lambda: line.recv(65536), b"")))
    except TimeoutError:
        raise
    except (OSError, ValidationError):
        return None


class AccountSocket:
    """Tells the account to whoever asks, from a thread that nothing else waits for."""

    def __init__(self, path: Path, account: Callable[[], HealthAccount]) -> None:
        """Remember where to listen and what to tell."""
        self._path = path
        self._account = account
        self._line: socket.socket | None = None
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._answer, name="account", daemon=True)

    def start(self) -> None:
        """Listen; where that cannot be, only `laidup status` and `laidup check` know less."""
        line = _unix_socket()
        try:
            if _answers(self._path):
                raise FileExistsError("another laidup runs on the same store")
            self._path.unlink(missing_ok=True)  # of one that was killed
            with _short_name(self._path) as name:
                line.bind(name)
            self._path.chmod(_WHO_MAY_ASK)
            line.listen(4)
        except OSError as error:
            line.close()
            log.error("`laidup status` cannot ask this process how it is (%s): %s.", self._path,
                      error)  # fmt: skip
            return
        line.settimeout(_TURN_S)
        self._line = line
        self._thread.start()

    def stop(self) -> None:
        """Listen no more: whoever asks now is told that no daemon runs."""
        self._stopping.set()
        if self._line is None:
            return
        self._thread.join(_WITHIN_S + _TURN_S)
        self._line.close()
        self._line = None
        with contextlib.suppress(OSError):
            self._path.unlink()

    def _answer(self) -> None:
        line = self._line
        while line is not None and not self._stopping.is_set():
            try:
                caller, _ = line.accept()
                with caller:
                    caller.settimeout(_WITHIN_S)
                    caller.sendall(_ACCOUNT.dump_json(self._account()))
            except TimeoutError:
                continue
            except Exception:
                log.exception("Somebody who asked how the watch stands got no answer.")
                self._stopping.wait(_TURN_S)


def _unix_socket() -> socket.socket:
    line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM | socket.SOCK_CLOEXEC)
    line.settimeout(_WITHIN_S)
    return line


def _answers(path: Path) -> bool:
    with _unix_socket() as line, contextlib.suppress(OSError), _short_name(path) as name:
        line.connect(name)
        return True
    return False


@contextmanager
def _short_name(path: Path) -> Iterator[str]:
    """A name for a socket's path that fits into the 108 bytes of unix(7), however long it is."""
    folder = os.open(path.parent, os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{folder}/{path.name}"
    finally:
        os.close(folder)
