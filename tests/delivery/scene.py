"""Messages, a real store in a file, and a raw SMTP server that breaks off where it is told to."""

import dataclasses
import socket
import threading
from datetime import UTC, datetime
from pathlib import Path

from monitor.clock import ReadingsClock
from monitor.delivery.channels.mail_settings import MailSettings, PhaseLimits
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.message import Attachment, DeliveryOutcome, Message, MessageKind, Receipt
from tests.real.stores import scene_url

AT = datetime(2026, 11, 14, 22, 0, tzinfo=UTC)


def message(key: str = "frost/1/maren/1", **changes: object) -> Message:
    """A message as the alarm room writes them."""
    fields: dict[str, object] = {
        "key": key,
        "person": "maren",
        "channel": "mail",
        "address": "maren@yard.example",
        "kind": MessageKind.ALARM,
        "subject": "Frost: Osprey and 7 more, first ice 18:15",
        "text": "Osprey first.\n",
        "html": "<p>Osprey first.</p>",
        "created_at": AT,
        "thread": key.rsplit("/", 1)[0],
    }
    return Message(**{**fields, **changes})  # type: ignore[arg-type]


PICTURE = Attachment(
    filename="week.png", media_type="image/png", content=b"\x89PNG\r\n", content_id="week"
)
TABLE = Attachment(filename="frost.csv", media_type="text/csv", content=b"craft\r\nOsprey\r\n")


class Box:
    """A store with an outbox, and a clock that the test moves."""

    def __init__(self, folder: Path, url: str = "") -> None:
        self.url = url or scene_url(folder)
        migrate(self.url)
        self.store = Store(self.url, "kettlemoss")
        self.clock = ReadingsClock(AT)

    def add(self, *messages: Message) -> None:
        """Put messages in."""
        with self.store.transaction() as tx:
            tx.outbox.add(messages)

    def counts(self) -> dict[str, int]:
        """How many wait, were taken, were refused."""
        with self.store.snapshot() as tx:
            return tx.outbox.count_by_outcome()


class Recorder:
    """A channel that answers what it is told to and keeps what it was sent."""

    def __init__(self, *answers: DeliveryOutcome) -> None:
        self.answers = list(answers)
        self.sent: list[str] = []

    def send(self, message: Message) -> Receipt:
        """Answer the next answer; TAKEN when there are no more."""
        self.sent.append(message.key)
        outcome = self.answers.pop(0) if self.answers else DeliveryOutcome.TAKEN
        return Receipt(outcome=outcome, detail="recorder")


def same_limits(seconds: float) -> PhaseLimits:
    """Every phase of a mail may take so long."""
    return PhaseLimits(**{one.name: seconds for one in dataclasses.fields(PhaseLimits)})


def mail_settings(port: int, within_s: float = 10.0, **changes: object) -> MailSettings:
    """Settings for a server of the test's own, each phase of which may take so long."""
    fields: dict[str, object] = {
        "host": "127.0.0.1",
        "port": port,
        "security": "none",
        "sender": "Kettlemoss Yard <alarms@yard.example>",
        "limits": same_limits(within_s),
    }
    return MailSettings(**{**fields, **changes})  # type: ignore[arg-type]


class BreakingServer:
    """Speaks SMTP over a real socket up to a chosen step, and there hangs or drops the line.

    Steps: ``connect``, ``ehlo``, ``mail``, ``rcpt``, ``data``, ``body`` (in the middle of the
    mail), ``accepted`` (after it has said 250), ``quit``. ``kept`` counts the mails it took.
    """

    def __init__(self, step: str, how: str) -> None:
        self.step, self.how = step, how
        self.kept: list[bytes] = []
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop listening and let go of who hangs."""
        self._stopping.set()
        self._server.shutdown(socket.SHUT_RDWR)  # wakes the thread that waits for a caller
        self._server.close()
        self._thread.join(timeout=5)

    def _serve(self) -> None:
        while not self._stopping.is_set():
            try:
                line, _ = self._server.accept()
            except OSError:
                return
            with line:
                self._talk(line)

    def _breaks(self, step: str) -> bool:
        if step != self.step:
            return False
        if self.how == "hang":
            self._stopping.wait(4.0)
        return True

    def _talk(self, line: socket.socket) -> None:
        if self._breaks("connect"):
            return
        line.sendall(b"220 ready\r\n")
        with line.makefile("rb") as lines:
            for command in lines:
                verb = command[:4].decode().strip().lower()
                if verb in {"ehlo", "mail", "rcpt", "data", "quit"} and self._breaks(verb):
                    return
                if verb == "data":
                    line.sendall(b"354 go on\r\n")
                    if not self._body(line, lines):
                        return
                elif verb == "quit":
                    line.sendall(b"221 bye\r\n")
                    return
                else:
                    line.sendall(b"250 fine\r\n")

    def _body(self, line: socket.socket, lines: object) -> bool:
        content = []
        for text in lines:  # type: ignore[attr-defined]
            content.append(text)
            if self.step == "body" and self._breaks("body"):
                return False
            if text == b".\r\n":
                break
        self.kept.append(b"".join(content))
        line.sendall(b"250 kept as 4711\r\n")
        return not self._breaks("accepted")
