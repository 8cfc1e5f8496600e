"""A whole laidup under a fault: mosquitto, a mail server, and the daemon as a process of its own.

Readings come by ``mosquitto_pub`` and mails go to ``aiosmtpd``: neither is a library of laidup's.
"""

import contextlib
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from tests.line.drills.warnings import Warned, Word
from tests.line.test_main_line import cold_nights, publish, write_yard
from tests.real.broker import Broker
from tests.real.mail_server import MailServer, ReceivedMail
from tests.real.need import free_port, need

PARTS = "mosquitto_pub; aiosmtpd"
FROST_MAIL = "tonight"  # how cold it gets ends the subject of what tells of frost
_START_S = 90.0
# Root may write what is not writable; without this capability it stands like any other user.
LIKE_ANY_USER = ("--bounding-set=-dac_override", "--inh-caps=-dac_override")


@dataclass
class Watched:
    """One yard with everything around it; the fault is struck by the drill."""

    folder: Path
    port: int  # of the page
    broker: Broker
    mail: MailServer
    config: Path
    process: subprocess.Popen[bytes] | None = None
    struck_s: float = field(default_factory=time.monotonic)
    memory_mb: float = 0.0

    @property
    def database(self) -> Path:
        """The store's file, where the yard's file does not say another."""
        return self.config.parent / "laidup.db"

    @property
    def log(self) -> str:
        """What the daemon has logged, over every start."""
        file = self.folder / "daemon.log"
        return file.read_text(encoding="utf-8", errors="replace") if file.exists() else ""

    def command(self, *arguments: str, timeout: float = 60.0) -> tuple[int, str]:
        """Run one laidup command: its exit status and all it says."""
        done = subprocess.run(
            [sys.executable, "-m", "monitor", *arguments, "--config", str(self.config)],
            capture_output=True, text=True, timeout=timeout, check=False,
        )  # fmt: skip
        return done.returncode, done.stdout + done.stderr

    def start(self, *arguments: str, within: Sequence[str] = ()) -> bool:
        """Start the daemon; True once it hears the broker, False if it ended instead.

        ``within``: a program, with its arguments, that starts it.
        """
        connected = self.log.count("Connected")
        with (self.folder / "daemon.log").open("ab") as out:
            self.process = subprocess.Popen(
                [*within, sys.executable, "-m", "monitor", "run", "--config", str(self.config),
                 *arguments],
                stdout=out, stderr=out,
            )  # fmt: skip
        return (
            self.until(
                lambda: self.log.count("Connected") > connected or self.process_ended, _START_S
            )
            and not self.process_ended
        )

    def start_like_any_user(self) -> bool:
        """Start it so that a file's mode counts for it, though this user may be root."""
        within = [need("setpriv", "util-linux"), *LIKE_ANY_USER] if os.geteuid() == 0 else []
        return self.start(within=within)

    @property
    def process_ended(self) -> bool:
        """Whether the daemon is no more."""
        return self.process is None or self.process.poll() is not None

    def strike(self) -> None:
        """The fault begins now: words are timed from here."""
        self.struck_s = time.monotonic()

    def send_cold_nights(self) -> None:
        """Three days of readings that make frost for the craft Plover, from another's publisher."""
        records = cold_nights()
        for begin in range(1, len(records), 100):
            pack = [records[0], *records[begin : begin + 100]]
            publish(self.broker.port, "5", json.dumps(pack))

    def until(self, condition: Callable[[], bool], timeout: float) -> bool:
        """Wait for a condition; whether it came. Follows the daemon's memory meanwhile."""
        end = time.monotonic() + timeout
        while not condition():
            self.weigh()
            if time.monotonic() > end:
                return False
            time.sleep(0.05)
        self.weigh()
        return True

    def mailed(self, word: str, timeout: float) -> list[Word]:
        """The first mail that holds these words, as it reached the operator; else nothing."""
        return self._first_mail(
            lambda one: word in one.subject or word in " ".join(one.text().split()), timeout
        )

    def mailed_of_frost(self, timeout: float) -> list[Word]:
        """The first mail whose subject tells of frost; else nothing. Others say tonight, too."""
        return self._first_mail(lambda one: FROST_MAIL in one.subject, timeout)

    def _first_mail(self, fits: Callable[[ReceivedMail], bool], timeout: float) -> list[Word]:
        def found() -> list[str]:
            return [one.subject for one in list(self.mail.messages) if fits(one)]

        if not self.until(lambda: bool(found()), timeout):
            return []
        return [self.word("operator", found()[0])]

    def word(self, to: str, what: str) -> Word:
        """Something that reached somebody just now."""
        return Word(to=to, what=what, after_s=time.monotonic() - self.struck_s)

    def asked(self, path: str, timeout: float = 10.0) -> tuple[int, str]:
        """What the page answers: status and text; status 0 where nobody answers."""
        try:
            with urllib.request.urlopen(
                f"http://127.0.0.1:{self.port}{path}", timeout=timeout
            ) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()
        except OSError:
            return 0, ""

    def make_key(self) -> str:
        """A key that enters work, for a daemon that runs and whose page asks who is there."""
        command = [sys.executable, "-m", "monitor", "access", "key", "drill", "--role", "mechanic"]
        made = subprocess.run(
            [*command, "--config", str(self.config)], capture_output=True, text=True, check=True
        )
        return next(line for line in made.stdout.splitlines() if line.startswith("laidup-key-"))

    def weigh(self) -> None:
        """Note the largest resident memory that the daemon has had."""
        if self.process is None:
            return
        with contextlib.suppress(OSError, StopIteration):
            status = Path(f"/proc/{self.process.pid}/status").read_text()
            peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
            self.memory_mb = max(self.memory_mb, int(peak.split()[1]) / 1024)

    def came(self, *, held: bool, words: Sequence[Word] = (), note: str = "") -> Warned:
        """What came of the drill."""
        self.weigh()
        memory = self.memory_mb or None
        return Warned(held=held, words=tuple(words), memory_mb=memory, note=note)

    def end(self) -> None:
        """Stop the daemon."""
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(30)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait(10)
            self.process = None


@contextlib.contextmanager
def watched_yard(folder: Path, extra: str = "", disk: Path | None = None) -> Iterator[Watched]:
    """A yard with broker and mail server; the daemon is not started yet.

    Parameters
    ----------
    folder : Path
        An empty one.
    extra : str
        More lines for ``[web]``.
    disk : Path, optional
        Where the store stands; without it beside the yard's file.
    """
    (folder / "broker").mkdir()
    broker, mail, port = Broker(folder / "broker"), MailServer(), free_port()
    broker.start()
    mail.start()
    yard = folder / "yard"
    yard.mkdir()
    config = write_yard(yard, datetime.now(UTC), broker, mail, "5")
    if "access" not in extra:
        extra = f'access = "open"\n{extra}'  # what drills look at is the watch
    asked = '[web]\nport = 0\naccess = "open"\n'
    text = config.read_text().replace(asked, f"[web]\nport = {port}\n{extra}\n")
    if disk is not None:
        text += f'\n[store]\nurl = "sqlite:///{disk}/laidup.db"\n'
    config.write_text(text)
    scene = Watched(folder, port, broker, mail, config)
    try:
        yield scene
    finally:
        scene.end()
        mail.stop()
        broker.kill()


@contextlib.contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[Path]:
    """A disk of its own that can be filled; whoever is not root needs sudo for it."""
    disk = folder / "disk"
    disk.mkdir()
    as_root = _as_root()
    size = f"size={megabytes}m"
    subprocess.run(
        [*as_root, need("mount", "mount"), "-t", "tmpfs", "-o", size, "tmpfs", str(disk)],
        check=True,
    )
    try:
        yield disk
    finally:
        subprocess.run([*as_root, need("umount", "mount"), "--lazy", str(disk)], check=False)


@contextlib.contextmanager
def not_writable(*files: Path) -> Iterator[None]:
    """Files that nobody may write, root and whoever has them open included (`man chattr`)."""
    change = [*_as_root(), need("chattr", "e2fsprogs")]
    subprocess.run([*change, "+i", *files], check=True)
    try:
        yield
    finally:
        subprocess.run([*change, "-i", *files], check=True)


def _as_root() -> list[str]:
    return [] if os.geteuid() == 0 else [need("sudo", "sudo"), "--non-interactive"]


def fill(disk: Path, but_bytes: int = 0) -> Path:
    """Fill a disk, but for some bytes; the file that does."""
    ballast = disk / "ballast"
    with ballast.open("ab", buffering=0) as file, contextlib.suppress(OSError):
        while shutil.disk_usage(disk).free > but_bytes:
            file.write(bytes(4096))
    return ballast


@contextlib.contextmanager
def filled_again_and_again(disk: Path) -> Iterator[None]:
    """Something writes on and on, and takes every byte that gets free; in the end it is removed."""
    over, ballast = threading.Event(), disk / "ballast"

    def write() -> None:
        with ballast.open("ab", buffering=0) as file:
            while not over.is_set():
                try:
                    file.write(bytes(65536))
                except OSError:
                    over.wait(0.001)

    writer = threading.Thread(target=write)
    writer.start()
    while shutil.disk_usage(disk).free:
        time.sleep(0.01)
    try:
        yield
    finally:
        over.set()
        writer.join()
        ballast.unlink()


def flip_page(file: Path, table: str) -> None:
    """Overwrite the root page of a table, as a failing disk may."""
    with contextlib.closing(sqlite3.connect(file)) as other:
        (page_size,) = other.execute("PRAGMA page_size").fetchone()
        (page,) = other.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)
        ).fetchone()
    with file.open("r+b") as raw:
        raw.seek((page - 1) * page_size)
        raw.write(bytes(255 - one for one in range(256)) * (page_size // 256))
