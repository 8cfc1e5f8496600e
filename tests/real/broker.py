"""A real broker with the yard's own keeping.conf, which a test may stop, kill and start again."""

import os
import signal
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.real.need import free_port, need, wait_until

KEEPING = Path(__file__).parents[2] / "deploy" / "mosquitto" / "keeping.conf"


class Broker:
    """One mosquitto on 127.0.0.1 whose port and kept messages outlive its process."""

    host = "127.0.0.1"

    def __init__(
        self, folder: Path, configuration: str | None = None, log_type: str = "all"
    ) -> None:
        """Write the configuration; `configuration` may use {port} and replaces listener lines."""
        self.folder = folder
        self.port = free_port()
        self._log = folder / "broker.log"
        self._program = need("mosquitto", "mosquitto")
        self._process: subprocess.Popen[bytes] | None = None
        listener = configuration or "listener {port} 127.0.0.1\nallow_anonymous true\n"
        lines = [
            KEEPING.read_text(encoding="utf-8"),
            listener.replace("{port}", str(self.port)),
            f"persistence_location {folder}/",
            "log_dest stdout",
            f"log_type {log_type}",
        ]
        if os.geteuid() == 0:
            # Else it would change to a user that may not write into the test's folder.
            lines.append("user root")
        self._conf = folder / "mosquitto.conf"
        self._conf.write_text("\n".join(lines) + "\n", encoding="utf-8")

    @property
    def log(self) -> str:
        """All that the broker has logged, over every start."""
        return self._log.read_text(errors="replace") if self._log.exists() else ""

    def _listens(self) -> bool:
        if self._process is None or self._process.poll() is not None:
            pytest.fail(f"mosquitto ended at start:\n{self.log[-2000:]}")
        try:
            socket.create_connection((self.host, self.port), timeout=1).close()
        except OSError:
            return False
        return True

    def start(self) -> None:
        """Start on the same port, with what an earlier process kept."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [self._program, "-c", str(self._conf)], stdout=log, stderr=subprocess.STDOUT
            )
        wait_until(self._listens, 10, "mosquitto to listen")

    def stop(self) -> None:
        """End it as an operator does, with TERM: it saves all it holds."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it as a power cut does, with KILL: it saves nothing more."""
        self._end(signal.SIGKILL)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            try:
                self._process.wait(timeout=5)
            except subprocess.TimeoutExpired:
                # It loses a TERM that comes between its first listening and its main loop.
                self._process.send_signal(how)
                self._process.wait(timeout=40)
            self._process = None


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    """A started broker of this test alone, anonymous, MQTT 3.1.1 and 5."""
    folder = tmp_path / "broker"
    folder.mkdir()
    real = Broker(folder)
    real.start()
    yield real
    real.kill()
