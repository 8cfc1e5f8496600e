"""A talk with a mail server whose every phase has an end, as RFC 5321 asks of a client."""

import smtplib
import socket
import ssl
import time
from dataclasses import dataclass, fields

from monitor.deadline import Deadline

_BLOCK = 1 << 18  # bytes handed to the system at once


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseLimits:
    """How long each phase may take before the mail is put off [s].

    The least that RFC 5321, section 4.5.3.2, lets a client wait, where it names the phase; it
    warns of a short wait after the last dot above all, since then the server has the mail and
    gets it again. Each is an end over the whole phase, not from one byte to the next.
    """

    connect_s: float = 30.0  # each address of the host, and its TLS handshake; not in the RFC
    greeting_s: float = 300.0  # 4.5.3.2.1: initial 220 message
    hello_s: float = 300.0  # not in the RFC; as for MAIL
    encryption_s: float = 300.0  # STARTTLS, handshake and a second EHLO; not in the RFC
    sign_in_s: float = 300.0  # not in the RFC
    sender_s: float = 300.0  # 4.5.3.2.2: MAIL command
    recipient_s: float = 300.0  # 4.5.3.2.3: RCPT command
    data_s: float = 120.0  # 4.5.3.2.4: DATA initiation
    block_s: float = 180.0  # 4.5.3.2.5: each block of the content
    blocks_s: float = 720.0  # all blocks of the content; not in the RFC
    final_dot_s: float = 600.0  # 4.5.3.2.6: DATA termination
    goodbye_s: float = 2.0  # QUIT; the mail is the server's own by then

    @property
    def whole_s(self) -> float:
        """The longest that one hand-over may take, where each phase takes all its time."""
        # Each block counts among the blocks.
        return sum(float(getattr(self, one.name)) for one in fields(self)) - self.block_s


RFC_5321 = PhaseLimits()


class Session(smtplib.SMTP):
    """An SMTP connection, perhaps encrypted from the start, under a deadline."""

    def __init__(
        self,
        host: str,
        port: int,
        limits: PhaseLimits,
        deadline: Deadline,
        trust: ssl.SSLContext | None,
    ) -> None:
        """Connect and hear the greeting; ``trust`` is set where encryption comes first.

        Raises
        ------
        OSError, smtplib.SMTPException
            If nobody answers, in time or at all.
        """
        self.limits = limits
        self.deadline = deadline
        self._trust = trust
        deadline.watch_socket(lambda: self.sock)
        super().__init__(host, port, timeout=limits.connect_s)

    def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
        """Connect; from then on the deadline ends each phase, and no time-out from byte to byte."""
        self.deadline.allow_seconds(self.limits.connect_s, "the connection")
        line = socket.create_connection((host, port), timeout, self.source_address)
        if self._trust is not None:
            line = self._trust.wrap_socket(line, server_hostname=host)
        line.settimeout(self.limits.whole_s)
        self.deadline.allow_seconds(self.limits.greeting_s, "the greeting")
        return line

    def send(self, s: bytes | str) -> None:  # type: ignore[override]
        """Send a command, or block by block the content, after which the last dot counts."""
        if not isinstance(s, bytes):  # smtplib hands commands over as text
            super().send(s)
            return
        left_s = self.limits.blocks_s
        for start in range(0, len(s), _BLOCK):
            self.deadline.allow_seconds(min(self.limits.block_s, left_s), "a block of the mail")
            began_s = time.monotonic()
            super().send(s[start : start + _BLOCK])
            left_s = max(left_s - (time.monotonic() - began_s), 0.0)
        self.deadline.allow_seconds(self.limits.final_dot_s, "the answer to the last dot")

    def start_tls(self, trust: ssl.SSLContext) -> None:
        """Go over to encryption. No deadline reaches a handshake: its socket has a time of its own.

        Raises
        ------
        OSError, smtplib.SMTPException
            If the server cannot, or not in time.
        """
        self.deadline.allow_seconds(self.limits.encryption_s, "the start of encryption")
        self._set_timeout(self.limits.encryption_s)
        self.starttls(context=trust)
        self._set_timeout(self.limits.whole_s)
        self.ehlo()

    def _set_timeout(self, seconds: float) -> None:
        if self.sock is not None:
            self.sock.settimeout(seconds)
