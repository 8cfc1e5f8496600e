"""Signed posts to a real HTTP server that answers, refuses, redirects and hangs."""

import json
import ssl
import subprocess
import time
from pathlib import Path

import pytest
from werkzeug import Request, Response

from monitor.delivery.channels.webhook import (
    WebhookChannel,
    WebhookSettings,
    body_of,
    signing_key,
    webhook_signature,
)
from monitor.errors import BadValueError
from monitor.yard.message import DeliveryOutcome
from tests.delivery.scene import message
from tests.line.drills.odd_servers import DrippingWebServer

# First case: the Standard Webhooks repository's own key, id and body; the second is ours, signed
# with the reference library standardwebhooks 1.1.0.
VECTORS = json.loads((Path(__file__).parent / "webhook_signatures.json").read_text())["cases"]
SECRET = VECTORS[0]["secret"]


@pytest.mark.parametrize("case", VECTORS)
def test_signatures_are_those_of_the_standard(case):
    made = webhook_signature(
        signing_key(case["secret"]), case["id"], case["timestamp"], case["body"].encode()
    )
    assert made in case["signature"].split(" ")


def channel(httpserver, path="/hook", within_s=5.0):
    return WebhookChannel(
        WebhookSettings(url=httpserver.url_for(path), secret=SECRET, within_s=within_s)
    )


def test_a_receiver_can_check_who_sent_it_and_knows_a_repeat(httpserver):
    seen: list[Request] = []

    def take(request: Request) -> Response:
        seen.append(request)
        request.get_data(cache=True)
        return Response(status=204)

    httpserver.expect_request("/hook", method="POST").respond_with_handler(take)
    hook = channel(httpserver)
    assert hook.send(message()).outcome is DeliveryOutcome.TAKEN
    assert hook.send(message()).outcome is DeliveryOutcome.TAKEN
    first, second = seen
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    sent_at = int(first.headers["webhook-timestamp"])
    assert abs(sent_at - time.time()) < 30
    expected = webhook_signature(
        signing_key(SECRET), first.headers["webhook-id"], sent_at, first.get_data()
    )
    assert first.headers["webhook-signature"] == expected
    body = json.loads(first.get_data())
    assert body["type"] == "message.alarm"
    assert body["timestamp"] == "2026-11-14T22:00:00Z"
    assert body["data"]["subject"].startswith("Frost: Osprey")


@pytest.mark.parametrize(
    ("status", "outcome"),
    [
        (200, DeliveryOutcome.TAKEN),
        (500, DeliveryOutcome.PUT_OFF),
        (429, DeliveryOutcome.PUT_OFF),
        (404, DeliveryOutcome.PUT_OFF),
        (410, DeliveryOutcome.REFUSED),
    ],
)
def test_what_an_answer_means(httpserver, status, outcome):
    httpserver.expect_request("/hook").respond_with_data("", status=status)
    receipt = channel(httpserver).send(message())
    assert receipt.outcome is outcome
    assert str(status) in receipt.detail


def test_a_redirect_is_not_followed(httpserver):
    httpserver.expect_request("/hook").respond_with_data(
        "", status=307, headers={"location": httpserver.url_for("/elsewhere")}
    )
    httpserver.expect_request("/elsewhere").respond_with_data("")
    receipt = channel(httpserver).send(message())
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert "not followed" in receipt.detail
    assert [request.path for request, _ in httpserver.log] == ["/hook"]


def test_a_receiver_that_hangs_is_left_after_the_time_out(httpserver):
    def hang(_: Request) -> Response:
        time.sleep(1.0)
        return Response(status=200)

    httpserver.expect_request("/hook").respond_with_handler(hang)
    receipt = channel(httpserver, within_s=0.2).send(message())
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    assert receipt.detail.startswith(("Timeout", "ReadTimeout"))


def test_an_endless_answer_is_not_read(httpserver):
    def endless():
        for _ in range(200):
            time.sleep(0.05)
            yield b"x" * 1000

    httpserver.expect_request("/hook").respond_with_handler(lambda _: Response(endless()))
    started = time.monotonic()
    assert channel(httpserver).send(message()).outcome is DeliveryOutcome.TAKEN
    assert time.monotonic() - started < 5


@pytest.mark.parametrize("head", [b"", b"HTTP/1.1 200 OK\r\nx-slow: "])
@pytest.mark.parametrize("encrypted", [False, True])
def test_an_answer_byte_by_byte_ends_and_is_no_receipt(trusted, head, encrypted):
    """Each byte comes well before any time-out between two bytes."""
    with DrippingWebServer(
        every_s=0.05, head=head, encrypt=trusted if encrypted else None
    ) as server:
        url = f"http{'s' if encrypted else ''}://127.0.0.1:{server.port}/"
        hook = WebhookChannel(WebhookSettings(url=url, secret=SECRET, within_s=0.6))
        started = time.monotonic()
        receipt = hook.send(message())
        assert time.monotonic() - started < 10
    assert len(server.requests) == 1
    assert receipt.outcome is DeliveryOutcome.PUT_OFF


@pytest.fixture
def trusted(tmp_path, monkeypatch):
    """A server's side of encryption, with a certificate that this test's requests trust."""
    key, cert = tmp_path / "key.pem", tmp_path / "cert.pem"
    subprocess.run(
        [
            *("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1"),
            *("-keyout", str(key), "-out", str(cert)),
        ],
        check=True,
        capture_output=True,
    )
    monkeypatch.setenv("REQUESTS_CA_BUNDLE", str(cert))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)
    return context


def test_a_long_text_is_cut_below_what_every_receiver_takes_and_says_so():
    body = body_of(message(text="Osprey first, at −12 °C.\n" * 5000))
    assert len(body) <= 20_000
    assert json.loads(body)["data"]["text_is_whole"] is False
    assert json.loads(body_of(message()))["data"]["text_is_whole"] is True


def test_a_post_carries_the_head_of_the_record_where_there_is_one():
    head = "214-" + "0" * 64
    assert json.loads(body_of(message(record_head=head)))["data"]["record_head"] == head
    assert "record_head" not in json.loads(body_of(message()))["data"]


@pytest.mark.parametrize("secret", ["", "whsec_short", "whsec_!!!!", "whsec_" + "QUFB" * 40])
def test_a_secret_that_protects_nothing_is_refused(secret):
    with pytest.raises(BadValueError, match="the secret"):
        WebhookSettings(url="https://yard.example/hook", secret=secret)


def test_the_secret_is_not_shown():
    assert SECRET not in repr(WebhookSettings(url="https://yard.example/hook", secret=SECRET))
