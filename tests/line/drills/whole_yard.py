"""A small yard for drills: broker, mail server and the daemon, each a process or a server apart."""

import contextlib
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psutil

from tests.line.drills.warnings import Word
from tests.real.broker import Broker
from tests.real.mail_server import MailServer
from tests.real.need import need, wait_until

SENSORS = tuple(f"urn:dev:ops:mill-{place}" for place in ("north", "south", "door", "loft"))
# New readings are in one table and older ones in another: what stood in both would count twice.
ALL_READINGS = "(SELECT * FROM readings UNION ALL SELECT * FROM landed_readings)"
_ROOT = Path(__file__).parents[3]
_AFTERNOON = 15  # the yard's hour, whatever the machine's clock says: a letter may leave


class WholeYard:
    """Starts all parts in an empty folder; `words` is what has reached people since `strike`."""

    def __init__(
        self,
        folder: Path,
        broker_conf: str = "",
        command: Sequence[str] = ("-m", "monitor", "run", "--config"),
        now: datetime | None = None,
    ) -> None:
        self.folder = folder
        self.now = now or datetime.now(UTC)
        (folder / "broker").mkdir()
        listener = "listener {port} 127.0.0.1\nallow_anonymous true\n"
        self.broker = Broker(folder / "broker", listener + broker_conf, log_type="error")
        self.mail = MailServer()
        self.log = folder / "daemon.log"
        self.file = self._write()
        self._command = [sys.executable, *command, str(self.file)]
        self._process: subprocess.Popen[bytes] | None = None
        self._largest = 0
        self._began = time.monotonic()
        self._heard: dict[int, float] = {}

    def _write(self) -> Path:
        east = (_AFTERNOON - self.now.hour + 12) % 24 - 12
        sensors = "".join(f'[[sensors]]\nname = "{name}"\nspace = "shed"\n' for name in SENSORS)
        file = self.folder / "yard.toml"
        file.write_text(
            f"""
[yard]
id = "mill"
name = "Mill Yard"
timezone = "Etc/GMT{-east:+d}"
latitude = 45.0
longitude = {15.0 * east}
craft_files = ["craft.toml"]
[broker]
port = {self.broker.port}
topics = ["mill/#"]
[mail]
host = "127.0.0.1"
port = {self.mail.port}
security = "none"
sender = "watch@mill.example"
[web]
port = 0
access = "open"
[[spaces]]
id = "shed"
name = "Long Shed"
kind = "cold"
berths = ["1"]
{sensors}
[[people]]
id = "ines"
name = "Ines Aldaz"
mail = "ines@mill.example"
roles = ["operator"]
""",
            encoding="utf-8",
        )
        arrived = (self.now - timedelta(days=9)).isoformat()
        (self.folder / "craft.toml").write_text(
            f'[[craft]]\nid = "teal"\nname = "Teal"\nprofile = "outboard"\narrived = {arrived}\n'
            '[[craft.stays]]\nplace = "shed/1"\n',
            encoding="utf-8",
        )
        return file

    @contextlib.contextmanager
    def running(self) -> Iterator["WholeYard"]:
        """All parts started, the daemon connected; in the end all are stopped."""
        self.broker.start()
        self.mail.start()
        try:
            self.start_daemon()
            yield self
        finally:
            self.end_daemon()
            self.mail.stop()
            self.broker.kill()

    def start_daemon(self) -> None:
        """Start the daemon and wait until it hears the broker."""
        before = self.said("Connected to the broker")
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(self._command, stderr=log, cwd=_ROOT)
        threading.Thread(target=self._measure, args=(self._process.pid,), daemon=True).start()
        wait_until(
            lambda: self.said("Connected to the broker") > before,
            40,
            f"the daemon to connect; it said {self.log.read_text()[-2000:]}",
        )

    def end_daemon(self, how: signal.Signals = signal.SIGTERM) -> None:
        """End the daemon."""
        if self._process is not None:
            self._process.send_signal(how)
            try:
                self._process.wait(30)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait(10)
            self._process = None

    def said(self, words: str) -> int:
        """How often the daemon's log says so."""
        return self.log.read_text(errors="replace").count(words) if self.log.exists() else 0

    def page(self, path: str) -> str:
        """Address of a page of the daemon."""
        said = self.log.read_text(errors="replace").rsplit("The page is at ", 1)[1]
        return f"{said.split()[0].rstrip('/')}/{path}"

    def _measure(self, pid: int) -> None:
        """Note the process's largest resident memory for as long as it lives."""
        with contextlib.suppress(psutil.Error):
            process = psutil.Process(pid)
            while process.is_running():
                self._largest = max(self._largest, process.memory_info().rss)
                time.sleep(0.05)

    @property
    def memory_mb(self) -> float:
        """Largest resident memory of the daemon so far."""
        return self._largest / 1e6

    @property
    def processor_s(self) -> float:
        """Processor time that the daemon has taken so far."""
        assert self._process is not None
        times = psutil.Process(self._process.pid).cpu_times()
        return float(times.user + times.system)

    def strike(self) -> None:
        """The fault begins now: words are counted from here."""
        self._began = time.monotonic()

    @property
    def since_s(self) -> float:
        """Seconds since the fault began."""
        return time.monotonic() - self._began

    def mails(self, words: str) -> list[Word]:
        """Mails whose subject or text has these words, with the time at which each was seen."""
        found = []
        for place, mail in enumerate(self.mail.messages):
            if words in mail.subject or words in " ".join(mail.text().split()):
                after_s = self._heard.setdefault(place, self.since_s)
                found.append(Word(to=mail.recipients[0], what=mail.subject, after_s=after_s))
        return found

    def publish_lines(self, topic: str, lines: Sequence[str]) -> subprocess.Popen[bytes]:
        """Have mosquitto_pub send each line as a message with QoS 1, in the background."""
        file = self.folder / f"lines-{len(list(self.folder.glob('lines-*')))}"
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        with file.open("rb") as source:
            return subprocess.Popen(
                [need("mosquitto_pub", "mosquitto-clients"), "-p", str(self.broker.port), "-q", "1",
                 "-t", topic, "-l"], stdin=source,
            )  # fmt: skip

    def publish(self, topic: str, *payloads: str) -> None:
        """Have mosquitto_pub send messages, and wait until the broker has them."""
        sender = self.publish_lines(topic, payloads)
        assert sender.wait(60) == 0

    def stored(self) -> list[tuple[str, str, int, int, int]]:
        """Sensor, channel, time [ms], value in steps and flag of each stored reading."""
        with contextlib.closing(sqlite3.connect(self.folder / "laidup.db", timeout=30)) as other:
            return other.execute(
                "SELECT sensor, channel, at_ms, value, flag"
                f" FROM {ALL_READINGS} JOIN series USING (yard_id, series_id) ORDER BY at_ms"
            ).fetchall()

    def counter(self) -> float | None:
        """What the daemon keeps of the broker's count of drops; None where it has heard none."""
        with contextlib.closing(sqlite3.connect(self.folder / "laidup.db", timeout=30)) as other:
            found = other.execute(
                "SELECT amount FROM intake_faults WHERE kind = ?", ["broker's counter"]
            ).fetchone()
            return None if found is None else float(found[0])

    def set_clock(self, off_by_s: float) -> None:
        """Set the clock of a daemon that runs as `shifted_daemon`: so far from the true time."""
        file = self.folder / "clock-off-by"
        new = file.with_suffix(".new")
        new.write_text(str(off_by_s), encoding="utf-8")
        new.replace(file)

    def blamed(self) -> int:
        """How many sensors' clocks the daemon takes to be wrong."""
        with contextlib.closing(sqlite3.connect(self.folder / "laidup.db", timeout=30)) as other:
            return int(other.execute("SELECT COUNT(*) FROM sensor_clocks").fetchone()[0])

    def aside(self) -> int:
        """Bytes kept aside, with topics and reasons."""
        with contextlib.closing(sqlite3.connect(self.folder / "laidup.db", timeout=30)) as other:
            found = other.execute(
                "SELECT COALESCE(SUM(LENGTH(topic) + LENGTH(reason) + LENGTH(payload)), 0)"
                " FROM aside"
            ).fetchone()[0]
            return int(found)


def reading(sensor: str, at_s: float | None, celsius: float) -> str:
    """A pack of one temperature; without a time of its own where ``at_s`` is None."""
    time_of_its_own = "" if at_s is None else f',"t":{at_s}'
    return f'[{{"n":"{sensor}:temperature","u":"Cel","v":{celsius}{time_of_its_own}}}]'
