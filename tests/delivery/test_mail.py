"""Mail over real sockets: what arrives, and what an unwilling server makes of a receipt."""

import ssl
import subprocess
from dataclasses import replace

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from monitor.delivery.channel_post import LEASE
from monitor.delivery.channels.channel import HAND_OVER_WITHIN_S
from monitor.delivery.channels.mail import MailChannel, check_mail
from monitor.delivery.channels.mail_settings import RFC_5321, MailSettings
from monitor.delivery.couriers import HANGS_AFTER_S
from monitor.errors import DeliveryError
from monitor.yard.message import DeliveryOutcome, MessageKind
from tests.delivery.scene import (
    PICTURE,
    TABLE,
    BreakingServer,
    mail_settings,
    message,
    same_limits,
)
from tests.line.drills.odd_servers import OddMailServer
from tests.real.need import free_port


def test_a_mail_arrives_with_both_texts_its_picture_and_its_table(mail_server):
    html = '<p>Osprey first, at −12 °C.</p><img src="cid:week">'
    sent = message(
        text="Osprey first, at −12 °C.\n.\nend\n", html=html, attachments=(PICTURE, TABLE)
    )
    receipt = MailChannel(mail_settings(mail_server.port)).send(sent)
    assert receipt.outcome is DeliveryOutcome.TAKEN
    assert receipt.detail == "250 2.0.0 kept"
    (mail,) = mail_server.messages
    assert mail.sender == "alarms@yard.example"
    assert mail.recipients == ["maren@yard.example"]
    assert mail.text().splitlines() == ["Osprey first, at −12 °C.", ".", "end"]
    assert mail.text("html").strip() == html
    parts = {part.get_content_type(): part for part in mail.message.walk()}
    assert parts["image/png"]["Content-ID"] == "<week>"
    assert parts["image/png"].get_content() == PICTURE.content
    assert parts["image/png"].get_content_disposition() == "inline"
    assert parts["text/csv"].get_filename() == "frost.csv"
    assert parts["text/csv"].get_content_disposition() == "attachment"


def test_mails_of_one_thread_refer_to_its_first(mail_server):
    channel = MailChannel(mail_settings(mail_server.port))
    for number, kind in enumerate((MessageKind.ALARM, MessageKind.UPDATE, MessageKind.ALL_CLEAR)):
        channel.send(message(f"frost/1/maren/{number + 1}", kind=kind))
    first, update, clear = (mail.message for mail in mail_server.messages)
    assert first["In-Reply-To"] is None
    for reply in (update, clear):
        assert reply["In-Reply-To"] == first["Message-ID"]
        assert reply["References"] == first["Message-ID"]
    assert len({mail["Message-ID"] for mail in (first, update, clear)}) == 3


def test_the_same_message_sent_twice_is_the_same_mail(mail_server):
    channel = MailChannel(mail_settings(mail_server.port))
    channel.send(message())
    channel.send(message())
    one, two = mail_server.messages
    assert one.message["Message-ID"] == two.message["Message-ID"]


@pytest.mark.parametrize(
    "subject",
    ["Frost\r\nBcc: x@elsewhere.example", "Frost\nX: y", "Frost\x0bX: y", "Frost\u2028X: y"],
)
def test_a_subject_cannot_add_a_header(mail_server, subject):
    receipt = MailChannel(mail_settings(mail_server.port)).send(message(subject=subject))
    assert receipt.outcome is DeliveryOutcome.TAKEN
    mail = mail_server.messages[0]
    assert mail.recipients == ["maren@yard.example"]
    assert {"Bcc", "X"}.isdisjoint(mail.message.keys())


@pytest.mark.parametrize(
    "address",
    [
        "maren@yard.example\r\nBcc: x@elsewhere.example",
        "maren@yard.example, x@elsewhere.example",
        "maren@yard.example>\r\nRCPT TO:<x@elsewhere.example",
        "maren",
        "",
        "@yard.example",
        "maren@",
        "maren@yard.example\x00",
    ],
)
def test_what_is_no_single_address_is_refused_and_nothing_is_sent(mail_server, address):
    receipt = MailChannel(mail_settings(mail_server.port)).send(message(address=address))
    assert receipt.outcome is DeliveryOutcome.REFUSED
    assert "no mail address" in receipt.detail
    assert not mail_server.messages


@pytest.mark.parametrize("step", ["connect", "ehlo", "mail", "rcpt", "data", "body"])
@pytest.mark.parametrize("how", ["hang", "drop"])
def test_a_server_that_breaks_off_before_its_word_puts_the_mail_off(step, how):
    server = BreakingServer(step, how)
    try:
        receipt = MailChannel(mail_settings(server.port, within_s=0.3)).send(message())
    finally:
        server.stop()
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert receipt.detail


# RFC 5321, sections 4.5.3.2.1 to 4.5.3.2.6: the least a client should wait for each, in minutes.
RFC_MINUTES = {
    "greeting_s": 5, "sender_s": 5, "recipient_s": 5, "data_s": 2, "block_s": 3, "final_dot_s": 10,
}  # fmt: skip


@pytest.mark.parametrize("phase", RFC_MINUTES)
def test_each_phase_is_given_the_time_that_the_standard_asks_for(phase):
    shipped = MailSettings(host="mail.example", port=25, security="none", sender="a@b.example")
    assert getattr(shipped.limits, phase) >= 60 * RFC_MINUTES[phase]


def test_a_claim_outlasts_the_longest_mail_and_a_thread_is_not_missed_before():
    # What is claimed for a shorter time is sent twice; a thread that is missed, for ever.
    assert RFC_5321.whole_s <= HAND_OVER_WITHIN_S < LEASE.total_seconds() <= HANGS_AFTER_S


def test_a_server_that_is_slow_after_the_last_dot_has_the_mail_once():
    with OddMailServer(after_dot_s=2.5) as server:
        limits = replace(same_limits(2.0), final_dot_s=10.0)
        receipt = MailChannel(mail_settings(server.port, limits=limits)).send(message())
    assert receipt.outcome is DeliveryOutcome.TAKEN
    assert len(server.copies) == 1


def test_a_greeting_byte_by_byte_ends_with_its_phase():
    with OddMailServer(drip_greeting_s=0.05) as server:
        limits = replace(same_limits(5.0), greeting_s=0.4)
        receipt = MailChannel(mail_settings(server.port, limits=limits)).send(message())
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert "no end of the greeting within 0.4 s" in receipt.detail


def test_a_server_that_reads_nothing_of_a_large_mail_ends_with_a_block():
    large = replace(TABLE, content=b"craft\r\n" * 2_000_000)
    with OddMailServer(reads_content=False) as server:
        limits = replace(same_limits(5.0), block_s=0.4)
        receipt = MailChannel(mail_settings(server.port, limits=limits)).send(
            message(attachments=(large,))
        )
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert "no end of a block of the mail within 0.4 s" in receipt.detail


@pytest.mark.parametrize("step", ["accepted", "quit"])
@pytest.mark.parametrize("how", ["hang", "drop"])
def test_nothing_after_the_servers_word_undoes_it(step, how):
    server = BreakingServer(step, how)
    try:
        receipt = MailChannel(mail_settings(server.port, within_s=4.0)).send(message())
    finally:
        server.stop()
    assert receipt.outcome is DeliveryOutcome.TAKEN
    assert receipt.detail == "250 kept as 4711"
    assert len(server.kept) == 1


class Refusing:
    """Answers RCPT with what it is told to."""

    def __init__(self, answer: str) -> None:
        self.answer = answer

    async def handle_RCPT(self, _server, _session, _envelope, _address, _options):  # noqa: N802
        return self.answer


@pytest.mark.parametrize(
    ("answer", "outcome"),
    [
        ("550 5.1.1 no such user", DeliveryOutcome.REFUSED),
        ("550 5.1.1 <x>: Recipient address rejected: User unknown", DeliveryOutcome.REFUSED),
        ("550 no such user", DeliveryOutcome.REFUSED),
        ("551 unknown recipient", DeliveryOutcome.REFUSED),
        ("553 5.1.3 bad syntax", DeliveryOutcome.REFUSED),
        ("556 5.1.10 its domain takes no mail", DeliveryOutcome.REFUSED),
        ("550 5.0.0 user is unknown", DeliveryOutcome.REFUSED),
        ("450 4.2.0 greylisted", DeliveryOutcome.PUT_OFF),
        ("450 4.1.1 no such user, perhaps", DeliveryOutcome.PUT_OFF),
        ("452 4.2.2 mailbox full", DeliveryOutcome.PUT_OFF),
        ("550 5.2.1 mailbox disabled", DeliveryOutcome.PUT_OFF),
        ("552 5.2.2 mailbox full", DeliveryOutcome.PUT_OFF),
        ("550 5.7.1 relaying denied", DeliveryOutcome.PUT_OFF),
        ("550 relay not permitted", DeliveryOutcome.PUT_OFF),
        ("550 refused by local policy", DeliveryOutcome.PUT_OFF),
        ("550 5.1.1 refused: greylisted, come back", DeliveryOutcome.PUT_OFF),
        ("550 5.1.8 sender's domain does not exist", DeliveryOutcome.PUT_OFF),
        ("550 requested action not taken: mailbox unavailable", DeliveryOutcome.PUT_OFF),
        ("550 too many mails, rate limited", DeliveryOutcome.PUT_OFF),
        ("550 5.7.26 no such user, or spam", DeliveryOutcome.PUT_OFF),
        ("554 5.7.0 blocked", DeliveryOutcome.PUT_OFF),
        ("421 4.3.2 shutting down", DeliveryOutcome.PUT_OFF),
    ],
)
def test_only_a_wrong_address_is_given_up_at_once(answer, outcome):
    # RFC 3463 enhanced codes, RFC 5321 replies: a refusal that somebody can mend is no end.
    controller = Controller(Refusing(answer), hostname="127.0.0.1", port=free_port())
    controller.start()
    try:
        receipt = MailChannel(mail_settings(controller.port)).send(message())
    finally:
        controller.stop()
    assert receipt.outcome is outcome
    assert answer in receipt.detail


def test_nobody_listening_is_said_with_the_place_to_look_at():
    receipt = MailChannel(mail_settings(free_port())).send(message())
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert "check host and port" in receipt.detail


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    """A certificate for 127.0.0.1 that signs itself."""
    folder = tmp_path_factory.mktemp("tls")
    key, cert = folder / "key.pem", folder / "cert.pem"
    subprocess.run(
        [
            *("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1"),
            *("-keyout", str(key), "-out", str(cert)),
        ],
        check=True,
        capture_output=True,
    )
    return key, cert


class Keeping:
    def __init__(self) -> None:
        self.kept: list[bytes] = []

    async def handle_DATA(self, _server, _session, envelope):  # noqa: N802
        self.kept.append(envelope.content)
        return "250 2.0.0 kept"


@pytest.fixture(params=["starttls", "tls"])
def secure_server(request, certificate):
    """A server that wants TLS and a password."""
    key, cert = certificate
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)

    def authenticate(_server, _session, _envelope, _mechanism, data):
        good = isinstance(data, LoginPassword) and data.password == b"winter"
        return AuthResult(success=good, handled=False)

    how = {"ssl_context": context} if request.param == "tls" else {"tls_context": context}
    extra = {"auth_require_tls": False} if request.param == "tls" else {"require_starttls": True}
    handler = Keeping()
    controller = Controller(
        handler,
        hostname="127.0.0.1",
        port=free_port(),
        authenticator=authenticate,
        auth_required=True,
        **how,
        **extra,
    )
    controller.start()
    yield request.param, controller.port, str(cert), handler
    controller.stop()


def test_a_mail_goes_over_tls_with_a_password(secure_server):
    security, port, cert, handler = secure_server
    settings = mail_settings(
        port, security=security, username="alarms", password="winter", ca_file=cert
    )
    assert MailChannel(settings).send(message()).outcome is DeliveryOutcome.TAKEN
    assert len(handler.kept) == 1
    found = check_mail(settings)
    assert "encrypted (TLSv1" in found
    assert "signed in as alarms" in found


def test_a_server_with_a_certificate_that_nobody_vouches_for_gets_neither_password_nor_mail(
    secure_server,
):
    security, port, _, handler = secure_server
    settings = mail_settings(port, security=security, username="alarms", password="winter")
    receipt = MailChannel(settings).send(message())
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert "certificate" in receipt.detail
    assert not handler.kept


def test_a_wrong_password_is_said_and_the_mail_waits(secure_server):
    security, port, cert, handler = secure_server
    settings = mail_settings(
        port, security=security, username="alarms", password="summer", ca_file=cert
    )
    receipt = MailChannel(settings).send(message())
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert "refused the sign-in" in receipt.detail
    assert "summer" not in receipt.detail + repr(settings)
    assert not handler.kept


def test_check_says_that_a_server_is_not_encrypted(mail_server):
    found = check_mail(mail_settings(mail_server.port))
    assert f"127.0.0.1:{mail_server.port} answers" in found
    assert "not encrypted" in found


def test_check_names_what_is_wrong():
    with pytest.raises(DeliveryError, match="check host and port"):
        check_mail(mail_settings(free_port()))
