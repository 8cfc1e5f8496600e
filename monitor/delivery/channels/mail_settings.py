"""How to reach the mail server, and how long each phase of a talk with it may take.

Apart from the channel, so that what only reads the settings imports no SMTP and writes no mails.
"""

from dataclasses import dataclass, field, fields
from typing import Literal

Security = Literal["none", "starttls", "tls"]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class MailSettings:
    """How to reach the mail server.

    ``security`` is ``"none"`` in the clear, ``"starttls"`` where the talk begins in the clear and
    goes over to encryption (RFC 3207), ``"tls"`` where encryption comes first (RFC 8314). A server
    in the yard's own net often has a certificate that no public authority signed: ``ca_file``
    names the one to trust.
    """

    host: str
    port: int
    security: Security
    sender: str  # ``Kettlemoss Yard <alarms@yard.example>``
    reply_to: str = ""  # address that answers go to; empty: the sender's
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    limits: PhaseLimits = RFC_5321
    ca_file: str | None = None  # certificates to trust instead of the machine's
