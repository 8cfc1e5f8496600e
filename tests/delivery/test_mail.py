"""Mail over real sockets: what arrives, and what an unwilling server makes of a receipt."""

import ssl
import subprocess

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from monitor.delivery.channels.mail import MailChannel, check_mail
from monitor.errors import DeliveryError
from monitor.yard.message import DeliveryOutcome, MessageKind
from tests.delivery.scene import PICTURE, TABLE, BreakingServer, mail_settings, message
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
        receipt = MailChannel(mail_settings(server.port, timeout_s=0.3)).send(message())
    finally:
        server.stop()
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert receipt.detail


@pytest.mark.parametrize("step", ["accepted", "quit"])
@pytest.mark.parametrize("how", ["hang", "drop"])
def test_nothing_after_the_servers_word_undoes_it(step, how):
    server = BreakingServer(step, how)
    try:
        receipt = MailChannel(mail_settings(server.port, timeout_s=0.5)).send(message())
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
        ("550 no such user", DeliveryOutcome.REFUSED),
        ("553 5.1.3 bad syntax", DeliveryOutcome.REFUSED),
        ("450 4.2.0 greylisted", DeliveryOutcome.PUT_OFF),
        ("452 4.2.2 mailbox full", DeliveryOutcome.PUT_OFF),
        ("550 5.7.1 relaying denied", DeliveryOutcome.PUT_OFF),
        ("550 relay not permitted", DeliveryOutcome.PUT_OFF),
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
