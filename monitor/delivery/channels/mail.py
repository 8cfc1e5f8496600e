"""Hands mails to an SMTP server (RFC 5321), in the clear, over STARTTLS or over TLS."""

import smtplib
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import cache
from typing import Literal

from monitor.delivery.mime import address_of, as_mail
from monitor.errors import DeliveryError
from monitor.yard.message import DeliveryOutcome, Message, Receipt

Security = Literal["none", "starttls", "tls"]

_GOODBYE_S = 2.0  # how long a server may take over QUIT, once the mail is its own


@dataclass(frozen=True, slots=True, kw_only=True)
class MailSettings:
    """How to reach the mail server."""

    host: str
    port: int
    security: Security
    sender: str  # ``Kettlemoss Yard <alarms@yard.example>``
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    timeout_s: float = 30.0  # for each answer of the server
    ca_file: str | None = None  # certificates to trust instead of the machine's


class MailChannel:
    """An SMTP server."""

    def __init__(self, settings: MailSettings) -> None:
        self._settings = settings

    def send(self, message: Message) -> Receipt:
        """Hand one mail over. TAKEN only after the server has said that the mail is its own."""
        try:
            mail = as_mail(message, self._settings.sender)
            recipient = address_of(message.address).addr_spec
            with _session(self._settings) as server:
                answer = _hand_over(server, self._sender, recipient, mail.as_bytes())
        except DeliveryError as error:
            outcome = DeliveryOutcome.REFUSED if error.permanent else DeliveryOutcome.PUT_OFF
            return Receipt(outcome=outcome, detail=error.reason)
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail=answer)

    @property
    def _sender(self) -> str:
        return address_of(self._settings.sender).addr_spec


def check_mail(settings: MailSettings) -> str:
    """Connect, sign in, leave, and say what was found.

    Raises
    ------
    DeliveryError
        With the reason and what to look at, if mails would not get through.
    """
    address_of(settings.sender)
    with _session(settings) as server:
        found = [f"{settings.host}:{settings.port} answers"]
        tls = server.sock.version() if isinstance(server.sock, ssl.SSLSocket) else None
        found.append(f"encrypted ({tls})" if tls else "not encrypted")
        found.append(f"signed in as {settings.username}" if settings.username else "no sign-in")
        size = server.esmtp_features.get("size", "")
        if size.isdigit() and int(size):
            found.append(f"takes mails up to {int(size) / 1e6:.0f} MB")
    return ", ".join(found)


@contextmanager
def _session(settings: MailSettings) -> Iterator[smtplib.SMTP]:
    """A signed-in connection; whatever goes wrong comes out as DeliveryError."""
    where = f"{settings.host}:{settings.port}"
    server: smtplib.SMTP | None = None
    try:
        if settings.security == "tls":
            server = smtplib.SMTP_SSL(
                settings.host,
                settings.port,
                timeout=settings.timeout_s,
                context=_trust(settings.ca_file),
            )
        else:
            server = smtplib.SMTP(settings.host, settings.port, timeout=settings.timeout_s)
        server.ehlo_or_helo_if_needed()
        if settings.security == "starttls":
            server.starttls(context=_trust(settings.ca_file))
            server.ehlo()
        if settings.username is not None:
            server.login(settings.username, settings.password or "")
        yield server
    except smtplib.SMTPAuthenticationError as error:
        answer = _words(error.smtp_code, error.smtp_error)
        raise _put_off(f"{where} refused the sign-in: {answer}; check the password") from error
    except smtplib.SMTPNotSupportedError as error:
        raise _put_off(f"{where}: {error}; check security and username") from error
    except smtplib.SMTPResponseException as error:
        raise _put_off(f"{where}: {_words(error.smtp_code, error.smtp_error)}") from error
    except ssl.SSLCertVerificationError as error:
        raise _put_off(
            f"{where}: its certificate is not trusted: {error.verify_message}; name its"
            " certificate authority, or the host that the certificate names"
        ) from error
    except ssl.SSLError as error:
        raise _put_off(
            f"{where}: no encrypted connection: {error.reason or error}; check security and port"
        ) from error
    except TimeoutError as error:
        raise _put_off(f"{where}: no answer within {settings.timeout_s:g} s") from error
    except smtplib.SMTPServerDisconnected as error:
        # smtplib tells a time-out and a dropped line by the text alone.
        if "timed out" in str(error):
            raise _put_off(f"{where}: no answer within {settings.timeout_s:g} s") from error
        raise _put_off(f"{where} dropped the line: {error}") from error
    except (OSError, smtplib.SMTPException) as error:
        raise _put_off(f"{where}: {_said(error)}; check host and port") from error
    finally:
        if server is not None:
            _leave(server)


@cache
def _trust(ca_file: str | None) -> ssl.SSLContext:
    """Whom to trust. Reading the machine's certificates takes as long as sending ten mails."""
    return ssl.create_default_context(cafile=ca_file)


def _hand_over(server: smtplib.SMTP, sender: str, recipient: str, content: bytes) -> str:
    """The envelope and the mail, step by step, to keep the server's last word as the receipt."""
    size = [f"size={len(content)}"] if server.has_extn("size") else []
    code, answer = server.mail(sender, size)
    if code != 250:
        # The sender, or the size: a person can mend the one, nobody the other.
        raise _refusal(code, answer, permanent=code == 552)
    code, answer = server.rcpt(recipient)
    if code not in {250, 251}:
        raise _refusal(code, answer, permanent=_no_such_mailbox(code, answer))
    code, answer = server.data(content)
    if code != 250:
        raise _refusal(code, answer, permanent=code == 552)
    return _words(code, answer)


def _no_such_mailbox(code: int, answer: bytes) -> bool:
    """Whether the address itself is wrong; all else may be mended at the yard or the server.

    RFC 3463: 5.1.x is the address, 5.2.1 a mailbox that takes no more mail for good. Without
    such a code, 550, 551 and 553 mean the mailbox (RFC 5321), unless relaying was refused.
    """
    enhanced = answer.split(b" ", 1)[0].decode(errors="replace")
    if enhanced.count(".") == 2:
        return enhanced.startswith("5.1.") or enhanced == "5.2.1"
    return code in {550, 551, 553} and b"relay" not in answer.lower()


def _leave(server: smtplib.SMTP) -> None:
    """Say goodbye. Nothing that happens now can undo what the server has confirmed."""
    with suppress(OSError, smtplib.SMTPException):
        if server.sock is not None:
            server.sock.settimeout(_GOODBYE_S)
            server.quit()
    server.close()


def _refusal(code: int, answer: bytes, *, permanent: bool) -> DeliveryError:
    return DeliveryError("mail", _words(code, answer), permanent=permanent)


def _put_off(reason: str) -> DeliveryError:
    return DeliveryError("mail", reason, permanent=False)


def _words(code: int, answer: bytes | str) -> str:
    text = answer.decode(errors="replace") if isinstance(answer, bytes) else answer
    return " ".join(f"{code} {text}".split())[:300]


def _said(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error) or type(error).__name__
