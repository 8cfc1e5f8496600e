"""Hands mails to an SMTP server (RFC 5321), in the clear, over STARTTLS or over TLS."""

import smtplib
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache

from monitor.deadline import Deadline
from monitor.delivery.channels.mail_refusals import (
    asks_to_wait,
    is_final_for_recipient,
    is_too_large,
)
from monitor.delivery.channels.mail_session import Session
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.delivery.leaving_forms import address_of, as_mail
from monitor.errors import DeliveryError
from monitor.yard.message import DeliveryOutcome, Message, Receipt


class MailChannel:
    """An SMTP server."""

    def __init__(self, settings: MailSettings) -> None:
        self._settings = settings

    def send(self, message: Message) -> Receipt:
        """Hand one mail over. TAKEN only after the server has said that the mail is its own."""
        try:
            mail = as_mail(message, self._settings.sender, self._settings.reply_to)
            recipient = address_of(message.address).addr_spec
            with _open_session(self._settings) as server:
                answer = _hand_over(server, self._sender_address, recipient, mail.as_bytes())
        except DeliveryError as error:
            outcome = DeliveryOutcome.REFUSED if error.permanent else DeliveryOutcome.PUT_OFF
            return Receipt(outcome=outcome, detail=error.reason, asks_to_wait=error.asks_to_wait)
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail=answer)

    @property
    def _sender_address(self) -> str:
        return address_of(self._settings.sender).addr_spec


def check_mail(settings: MailSettings) -> str:
    """Connect, sign in, leave, and say what was found.

    Raises
    ------
    DeliveryError
        With the reason and what to look at, if mails would not get through.
    """
    address_of(settings.sender)
    with _open_session(settings) as server:
        found = [f"{settings.host}:{settings.port} answers"]
        tls = server.sock.version() if isinstance(server.sock, ssl.SSLSocket) else None
        found.append(f"encrypted ({tls})" if tls else "not encrypted")
        found.append(f"signed in as {settings.username}" if settings.username else "no sign-in")
        size = server.esmtp_features.get("size", "")
        if size.isdecimal() and len(size) < 20 and int(size):
            found.append(f"takes mails up to {int(size) / 1e6:.0f} MB")
    return ", ".join(found)


@contextmanager
def _open_session(settings: MailSettings) -> Iterator[Session]:
    """A signed-in connection; whatever goes wrong comes out as DeliveryError."""
    where = f"{settings.host}:{settings.port}"
    with Deadline(settings.limits.connect_s, "the connection") as deadline:
        try:
            with _signed_in(settings, deadline) as server:
                yield server
        except (OSError, smtplib.SMTPException) as error:
            if deadline.passed:
                raise _put_off(f"{where}: {deadline}") from error
            raise _put_off(f"{where} {_describe_trouble(error)}") from error


@contextmanager
def _signed_in(settings: MailSettings, deadline: Deadline) -> Iterator[Session]:
    trust = None if settings.security == "none" else _tls_context(settings.ca_file)
    server = Session(
        settings.host,
        settings.port,
        settings.limits,
        deadline,
        trust if settings.security == "tls" else None,
    )
    try:
        deadline.allow_seconds(settings.limits.hello_s, "the answer to EHLO")
        server.ehlo_or_helo_if_needed()
        if settings.security == "starttls" and trust is not None:
            server.start_tls(trust)
        if settings.username is not None:
            deadline.allow_seconds(settings.limits.sign_in_s, "the sign-in")
            server.login(settings.username, settings.password or "")
        yield server
    except (OSError, smtplib.SMTPException):
        server.close()  # there is nobody left to take leave of
        raise
    finally:
        if server.sock is not None:
            _say_goodbye(server)


def _describe_trouble(error: Exception) -> str:
    """What went wrong on the way to a mail server, and what to look at."""
    match error:
        case smtplib.SMTPAuthenticationError():
            answer = _answer_text(error.smtp_code, error.smtp_error)
            return f"refused the sign-in: {answer}; check the password"
        case smtplib.SMTPNotSupportedError():
            return f"cannot do it: {error}; check security and username"
        case smtplib.SMTPResponseException():
            return f"answered {_answer_text(error.smtp_code, error.smtp_error)}"
        case ssl.SSLCertVerificationError():
            return (
                f"has a certificate that is not trusted: {error.verify_message}; name its"
                " certificate authority, or the host that the certificate names"
            )
        case ssl.SSLError():
            reason = error.reason or error
            return f"makes no encrypted connection: {reason}; check security and port"
        case TimeoutError():
            return "does not answer; check host and port"
        case smtplib.SMTPServerDisconnected():
            return f"dropped the line: {error}"
        case _:
            return f"cannot be reached: {_error_text(error)}; check host and port"


@cache
def _tls_context(ca_file: str | None) -> ssl.SSLContext:
    """Whom to trust. Reading the machine's certificates takes as long as sending ten mails."""
    return ssl.create_default_context(cafile=ca_file)


def _hand_over(server: Session, sender: str, recipient: str, content: bytes) -> str:
    """The envelope and the mail, step by step, to keep the server's last word as the receipt."""
    limits, deadline = server.limits, server.deadline
    size = [f"size={len(content)}"] if server.has_extn("size") else []
    deadline.allow_seconds(limits.sender_s, "the answer to MAIL")
    code, answer = server.mail(sender, size)
    if code != 250:
        # The sender, or the size: a person can mend the one, nobody the other.
        raise _refusal_error(code, answer, permanent=is_too_large(code, answer))
    deadline.allow_seconds(limits.recipient_s, "the answer to RCPT")
    code, answer = server.rcpt(recipient)
    if code not in {250, 251}:
        raise _refusal_error(code, answer, permanent=is_final_for_recipient(code, answer))
    deadline.allow_seconds(limits.data_s, "the answer to DATA")
    code, answer = server.data(content)
    if code != 250:
        raise _refusal_error(code, answer, permanent=is_too_large(code, answer))
    return _answer_text(code, answer)


def _say_goodbye(server: Session) -> None:
    """Say goodbye. Nothing that happens now can undo what the server has confirmed."""
    server.deadline.allow_seconds(server.limits.goodbye_s, "the answer to QUIT")
    with suppress(OSError, smtplib.SMTPException):
        server.quit()
    server.close()


def _refusal_error(code: int, answer: bytes, *, permanent: bool) -> DeliveryError:
    return DeliveryError(
        "mail",
        _answer_text(code, answer),
        permanent=permanent,
        asks_to_wait=asks_to_wait(code, answer),
    )


def _put_off(reason: str) -> DeliveryError:
    return DeliveryError("mail", reason, permanent=False)


def _answer_text(code: int, answer: bytes | str) -> str:
    text = answer.decode(errors="replace") if isinstance(answer, bytes) else answer
    return " ".join(f"{code} {text}".split())[:300]


def _error_text(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error) or type(error).__name__
