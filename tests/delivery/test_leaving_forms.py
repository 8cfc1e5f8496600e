"""Texts to phones: what fits 160 signs, by a mail gateway and by a provider's HTTP interface."""

import json
import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import parse_qs

import pytest
from hypothesis import given
from hypothesis import strategies as st
from werkzeug import Request, Response

from monitor.delivery.channels import CHANNEL_KINDS, channels
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.delivery.channels.text_mail import TextMailSettings
from monitor.delivery.channels.text_post import TextPostChannel, TextPostSettings
from monitor.delivery.leaving_forms import text_of
from monitor.errors import BadValueError
from monitor.yard.message import DeliveryOutcome
from tests.delivery.scene import message
from tests.line.drills.odd_servers import DrippingWebServer

NUMBER = "+1 715-555-0142"
MONITOR = Path(__file__).parents[2] / "monitor"
# 3GPP TS 23.038, section 6.2.1, from memory: Latin letters without marks, digits and these, which
# no table of the code under test is asked for.
SURELY_BASIC = re.compile(r"[A-Za-z0-9 @£$¥!\"#%&'()*+,./:;<=>?_¡¿§-]*")


def text(**changes):
    return message(**{"channel": "text-post", "address": NUMBER, **changes})


@given(st.text(), st.text(max_size=400))
def test_a_text_is_one_line_of_160_signs_whatever_is_said(subject, said):
    made = text_of(text(subject=subject, text=said))
    assert len(made) <= 160
    assert "\n" not in made
    assert not re.search(r"[−°–—…’\N{NO-BREAK SPACE}]", made)


@pytest.mark.parametrize(
    ("said", "made"),
    [
        ("Drain Plover,\n  Long Shed 2, by 20:20.\n", "Drain Plover, Long Shed 2, by 20:20."),
        ("Tonight −5\N{NO-BREAK SPACE}°C", "Tonight -5 C"),
        ("Ångström’s Ürsa – Łódź", "Ångström's Ürsa - ?ódz"),
    ],
)
def test_signs_that_would_cost_more_than_one_text_are_written_plainly(said, made):
    if made.isascii():
        assert SURELY_BASIC.fullmatch(made)
    assert text_of(text(text=said)) == made.replace("ó", "o")


def test_what_is_too_long_is_told_by_its_subject():
    assert text_of(text(subject="Drain Plover by 20:20", text="word " * 100)) == (
        "Drain Plover by 20:20"
    )


# Provider's interface.


def posts(httpserver, status=202, **settings):
    """A channel to a real server that answers so, and what it was asked."""
    seen: list[Request] = []

    def take(request: Request) -> Response:
        request.get_data(cache=True)
        seen.append(request)
        return Response(status=status)

    httpserver.expect_request("/send", method="POST").respond_with_handler(take)
    made = TextPostSettings(url=httpserver.url_for("/send"), within_s=5.0, **settings)
    return TextPostChannel(made), seen


def test_number_and_text_are_posted_and_a_repeat_is_known(httpserver):
    channel, seen = posts(httpserver, secret="s3cret-of-the-yard")
    for _ in range(2):
        assert channel.send(text(text="Drain Plover.")).outcome is DeliveryOutcome.TAKEN
    first, second = seen
    assert json.loads(first.get_data()) == {"to": NUMBER, "text": "Drain Plover."}
    assert first.headers["authorization"] == "Bearer s3cret-of-the-yard"
    assert first.headers["idempotency-key"] == second.headers["idempotency-key"]
    channel.send(replace(text(), key="another"))
    assert seen[2].headers["idempotency-key"] != first.headers["idempotency-key"]


def test_a_provider_may_want_a_form_and_other_names(httpserver):
    channel, seen = posts(httpserver, body="form", number_key="phone", text_key="msg")
    channel.send(text(text="Drain Plover & Heron."))
    assert parse_qs(seen[0].get_data(as_text=True)) == {
        "phone": [NUMBER],
        "msg": ["Drain Plover & Heron."],
    }


@pytest.mark.parametrize(
    ("status", "outcome"),
    [
        (200, DeliveryOutcome.TAKEN),
        (202, DeliveryOutcome.TAKEN),
        (301, DeliveryOutcome.PUT_OFF),
        (400, DeliveryOutcome.REFUSED),  # no such number
        (401, DeliveryOutcome.PUT_OFF),  # a person can mend the password
        (404, DeliveryOutcome.PUT_OFF),
        (422, DeliveryOutcome.REFUSED),
        (429, DeliveryOutcome.PUT_OFF),
        (503, DeliveryOutcome.PUT_OFF),
    ],
)
def test_a_refusal_is_told_from_a_delay(httpserver, status, outcome):
    channel, _ = posts(httpserver, status)
    assert channel.send(text()).outcome is outcome


def test_a_provider_that_is_not_there_or_drips_puts_a_text_off():
    gone = TextPostChannel(TextPostSettings(url="http://127.0.0.1:9/send", within_s=5.0))
    assert gone.send(text()).outcome is DeliveryOutcome.PUT_OFF
    with DrippingWebServer(every_s=0.2) as server:
        slow = TextPostChannel(
            TextPostSettings(url=f"http://127.0.0.1:{server.port}/", within_s=1.0)
        )
        assert slow.send(text()).outcome is DeliveryOutcome.PUT_OFF


# Mail gateway.


def by_gateway(mail_server):
    mail = MailSettings(
        host=mail_server.host,
        port=mail_server.port,
        security="none",
        sender="watch@yard.example",
    )
    others = {"text-mail": TextMailSettings(address="{number}@text.example")}
    return channels(mail, None, others)["text-mail"]


def test_a_gateway_gets_a_mail_to_the_number_with_nothing_beside_the_text(mail_server):
    sent = text(channel="text-mail", text="Drain Plover, Long Shed 2, by 20:20.", html="<p>x</p>",
                record_head="")  # fmt: skip
    assert by_gateway(mail_server).send(sent).outcome is DeliveryOutcome.TAKEN
    (mail,) = mail_server.wait_for(1)
    assert mail.recipients == ["17155550142@text.example"]
    assert mail.subject == ""
    assert mail.text().strip() == "Drain Plover, Long Shed 2, by 20:20."
    assert mail.message.get_body(("html",)) is None


def test_a_gateway_that_refuses_a_number_is_told_from_one_that_is_busy(mail_server):
    channel = by_gateway(mail_server)
    mail_server.refusal = "451 busy"
    assert channel.send(text(channel="text-mail")).outcome is DeliveryOutcome.PUT_OFF
    assert channel.send(text(address="none")).outcome is DeliveryOutcome.REFUSED
    mail_server.refusal = None
    assert channel.send(text(channel="text-mail")).outcome is DeliveryOutcome.TAKEN


@pytest.mark.parametrize("address", ["number@text.example", "{number}", "{number}{number}@x.y"])
def test_a_gateways_address_names_the_number_once(address):
    with pytest.raises(BadValueError, match="no gateway"):
        TextMailSettings(address=address)


def test_a_channel_is_a_small_thing():
    # Its module and one line of the table: nothing else in the program knows its name.
    for kind in CHANNEL_KINDS:
        if kind.name == "webhook":
            continue  # the word stands in helps and remedies, too
        words = (f'"{kind.name}"', kind.name.replace("-", "_"), kind.settings.__name__)
        knows = {
            str(path.relative_to(MONITOR))
            for path in MONITOR.rglob("*.py")
            if any(word in path.read_text(encoding="utf-8") for word in words)
        }
        module = kind.name.replace("-", "_")
        assert knows == {
            "delivery/channels/__init__.py",
            f"delivery/channels/{module}.py",
        }, kind.name
