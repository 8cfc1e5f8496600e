"""A talk with a mail server whose every phase has an end, as RFC 5321 asks of a client."""

import smtplib
import socket
import ssl
import time

from monitor.deadline import Deadline
from monitor.delivery.channels.mail_settings import PhaseLimits

_BLOCK = 1 << 18  # bytes handed to the system at once


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
