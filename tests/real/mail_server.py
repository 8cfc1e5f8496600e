"""A real SMTP server that keeps what it is sent and can be told to refuse."""

from collections.abc import Iterator
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests.real.need import free_port, wait_until


@dataclass(frozen=True)
class ReceivedMail:
    """One mail as it came: the envelope's addresses, and the message."""

    sender: str
    recipients: list[str]
    message: EmailMessage

    @property
    def subject(self) -> str:
        """Subject line."""
        return str(self.message["Subject"])

    def text(self, subtype: str = "plain") -> str:
        """Content of the plain part, or of the html part."""
        part = self.message.get_body((subtype,))
        assert part is not None, f"{self.subject!r} has no {subtype} part"
        return str(part.get_content())


class MailServer:
    """An SMTP server on 127.0.0.1; `messages` holds what it has accepted, oldest first.

    Set `refusal` to an SMTP answer ("451 busy", "550 no such user") and it refuses every mail
    with that; `refused` counts how often. Set it to None and it accepts again.
    """

    host = "127.0.0.1"

    def __init__(self) -> None:
        self.port = free_port()
        self.messages: list[ReceivedMail] = []
        self.refusal: str | None = None
        self.refused = 0
        self._controller: Controller | None = None

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802
        """Keep the mail or refuse it (the name is aiosmtpd's)."""
        if self.refusal is not None:
            self.refused += 1
            return self.refusal
        message = message_from_bytes(envelope.original_content or b"", policy=policy.default)
        assert isinstance(message, EmailMessage)
        mail = ReceivedMail(str(envelope.mail_from), list(envelope.rcpt_tos), message)
        self.messages.append(mail)
        return "250 2.0.0 kept"

    def start(self) -> None:
        """Listen, on the same port after a stop; what came before is kept."""
        self._controller = Controller(self, hostname=self.host, port=self.port)
        self._controller.start()

    def stop(self) -> None:
        """Stop listening: connections are refused."""
        if self._controller is not None:
            self._controller.stop()
            self._controller = None

    def wait_for(self, count: int, timeout: float = 15.0) -> list[ReceivedMail]:
        """All mails, as soon as there are at least `count`."""
        wait_until(
            lambda: len(self.messages) >= count,
            timeout,
            f"{count} mails; there came {[mail.subject for mail in self.messages]}",
        )
        return self.messages


@pytest.fixture
def mail_server() -> Iterator[MailServer]:
    """A started mail server of this test alone."""
    server = MailServer()
    server.start()
    yield server
    server.stop()
