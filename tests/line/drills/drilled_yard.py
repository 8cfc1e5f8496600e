"""One yard whose mail server, clock and time limits a drill sets, and what came of the drill."""

import contextlib
import json
import os
import resource
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

from tests.line.drills.warnings import Word
from tests.line.test_main_line import cold_nights, publish, write_yard
from tests.real.broker import Broker
from tests.real.need import wait_until

ROOT = Path(__file__).parents[3]
SECRET = "whsec_" + "bGFpZHVwIGRyaWxscyBpdHMgb3duIHdlYmhvb2sgc2VjcmV0"


class _Server:
    """Where the yard's file sends its mails."""

    host = "127.0.0.1"

    def __init__(self, port: int) -> None:
        self.port = port


class DrilledYard:
    """Mill Yard: two craft in a shed, three cold nights, one operator."""

    def __init__(
        self, folder: Path, mail_port: int, *, more: str = "", by: str = "", scale: float = 1.0
    ) -> None:
        """Write the yard's file.

        Parameters
        ----------
        folder : Path
        mail_port : int
        more : str
            Further blocks of the yard's file.
        by : str
            The operator's channels, where not mail alone: ``"mail", "webhook"``.
        scale : float
            What the time limits of delivery are multiplied with.
        """
        self.broker = Broker(folder)
        self.folder = folder
        self._scale = scale
        self._file = write_yard(folder, datetime.now(UTC), self.broker, _Server(mail_port), "5")
        channels = f"channels = [{by}]\n" if by else ""
        self._file.write_text(self._file.read_text() + channels + more)
        self.service_socket = ""  # where a service manager listens, if one does
        self._log = folder / "log"
        self._process: subprocess.Popen[bytes] | None = None
        self.began_s = time.monotonic()

    def __enter__(self) -> Self:
        """Start broker and daemon."""
        self.broker.start()
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        """End both."""
        self.end()
        self.broker.kill()

    @property
    def log(self) -> str:
        """All that the daemon has logged."""
        return self._log.read_text(errors="replace") if self._log.exists() else ""

    def start(self) -> None:
        """Start the daemon and wait until it is connected."""
        connected = self.log.count("Connected")
        with self._log.open("ab") as log:
            command = [sys.executable, "-m", "tests.line.drills.drilled_daemon"]
            self._process = subprocess.Popen(
                [*command, str(self._file), str(self._scale)],
                cwd=ROOT,
                stderr=log,
                env={**os.environ, "NOTIFY_SOCKET": self.service_socket},
            )
        wait_until(lambda: self.log.count("Connected") > connected, 30, "the daemon to connect")

    def end(self, how: signal.Signals = signal.SIGKILL) -> None:
        """Kill the daemon, or ask it to stop."""
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(30)
            self._process = None

    def pid(self) -> int:
        """The daemon's process."""
        assert self._process is not None
        return self._process.pid

    def move_clock(self, seconds: float) -> None:
        """Set the daemon's clock so far from the machine's."""
        new = self.folder / "clock.new"
        new.write_text(str(seconds))
        new.replace(self.folder / "clock")

    def turn_cold(self) -> None:
        """Publish three cold nights; the fault's time counts from here."""
        self.began_s = time.monotonic()
        records = cold_nights()
        for start in range(1, len(records), 100):
            publish(self.broker.port, "5", json.dumps([records[0], *records[start : start + 100]]))

    def strike(self) -> None:
        """From here on the fault's time counts."""
        self.began_s = time.monotonic()

    def word(self, to: str, what: str, at_s: float) -> Word:
        """A message that reached somebody at a time of the machine's monotonic clock."""
        return Word(to=to, what=what, after_s=at_s - self.began_s)

    def rehearse(self) -> bool:
        """Have `laidup rehearse` write a test message to the operator."""
        command = [sys.executable, "-m", "monitor", "rehearse", "ines", "--wait", "0"]
        done = subprocess.run(
            [*command, "--config", str(self._file)], cwd=ROOT, capture_output=True, check=False
        )
        return b"still in the outbox" in done.stdout or b"taken" in done.stdout

    @contextlib.contextmanager
    def full_disk(self) -> Iterator[None]:
        """Let the daemon's files grow no more: what it writes into its store fails."""
        wal = self.folder / "laidup.db-wal"
        size = max(file.stat().st_size for file in (self.folder / "laidup.db", wal))
        before = resource.prlimit(self.pid(), resource.RLIMIT_FSIZE)
        resource.prlimit(self.pid(), resource.RLIMIT_FSIZE, (size // 2, before[1]))
        try:
            yield
        finally:
            resource.prlimit(self.pid(), resource.RLIMIT_FSIZE, before)

    def memory_mb(self) -> float:
        """The daemon's largest resident memory so far."""
        status = Path(f"/proc/{self.pid()}/status").read_text()
        (peak,) = [line for line in status.splitlines() if line.startswith("VmHWM:")]
        return int(peak.split()[1]) / 1024

    def outbox(self, channel: str = "mail") -> list[tuple[str | None, int]]:
        """Outcome and tries of each message on a channel, in the order they were written."""
        with contextlib.closing(sqlite3.connect(self.folder / "laidup.db", timeout=30)) as other:
            return other.execute(
                "SELECT outcome, tries FROM outbox WHERE channel = ? ORDER BY created_ms, key",
                (channel,),
            ).fetchall()

    def tries(self) -> int:
        """Tries of all mails together."""
        return sum(tries for _, tries in self.outbox())


def came_within(condition: Callable[[], bool], timeout: float) -> bool:
    """Whether a condition came true within so many seconds; a drill tells, and fails by itself."""
    end = time.monotonic() + timeout
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


def holds_for(condition: Callable[[], bool], seconds: float) -> bool:
    """Whether a condition stays true for so many seconds."""
    return not came_within(lambda: not condition(), seconds)
