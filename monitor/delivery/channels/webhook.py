"""Posts messages as signed JSON to a fixed address (Standard Webhooks 1.0.0)."""

import base64
import binascii
import hashlib
import hmac
import json
from dataclasses import dataclass, field
from datetime import UTC, datetime
from uuid import NAMESPACE_URL, uuid5

from monitor.bounded_http import bounded_answer
from monitor.delivery.channels.channel import ChannelKind, DeliveryChannel
from monitor.errors import BadValueError, DeliveryError
from monitor.yard.message import DeliveryOutcome, Message, MessageKind, Receipt

_PREFIX = "whsec_"
_LARGEST = 20_000  # bytes of a body that every receiver must take (Standard Webhooks)
_GONE = 410  # the receiver says: never again


@dataclass(frozen=True, slots=True, kw_only=True)
class WebhookSettings:
    """Where to post and how to sign."""

    url: str
    secret: str = field(repr=False)  # ``whsec_`` and base64 of 24 to 64 bytes
    # For the whole post (Standard Webhooks: 15 to 30 s).
    within_s: float = field(default=30.0, metadata={"internal": True})

    def __post_init__(self) -> None:
        try:
            signing_key(self.secret)
        except DeliveryError as error:
            remedy = "make one: whsec_ and the base64 of 32 random bytes"
            raise BadValueError(error.reason, remedy) from error


class WebhookChannel:
    """One receiver of signed posts. A message's own address plays no part."""

    def __init__(self, settings: WebhookSettings, _mail: DeliveryChannel | None = None) -> None:
        """Make the channel.

        Raises
        ------
        DeliveryError
            If the secret or the address cannot be used.
        """
        self._settings = settings
        self._key = signing_key(settings.secret)
        if not settings.url.startswith(("https://", "http://")):
            raise DeliveryError("webhook", f"{settings.url!r} is no http address", permanent=True)

    def send(self, message: Message) -> Receipt:
        """Post one message. Any answer from 200 to 299 confirms it; redirects are not followed."""
        body = body_of(message)
        message_id = str(uuid5(NAMESPACE_URL, message.key))  # the same at every try
        sent_at = int(datetime.now(UTC).timestamp())
        headers = {
            "content-type": "application/json",
            "user-agent": "laidup",
            "webhook-id": message_id,
            "webhook-timestamp": str(sent_at),
            "webhook-signature": webhook_signature(self._key, message_id, sent_at, body),
        }
        try:
            with bounded_answer(
                "POST", self._settings.url, self._settings.within_s, headers=headers, data=body
            ) as answer:
                return _receipt_for(answer.status_code, answer.reason)
        except OSError as error:
            reason = f"{type(error).__name__}: {error}"
            return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail=" ".join(reason.split())[:300])


def check_webhook(settings: WebhookSettings, _mail: DeliveryChannel | None, yard: str) -> str:
    """Post one signed message that says it is a test, and tell what the receiver answered.

    Raises
    ------
    DeliveryError
        With the answer and what to look at, if messages would not get through.
    """
    now = datetime.now(UTC)
    test = Message(
        key=f"test/webhook/{now:%Y%m%dT%H%M%S.%f}",
        person="",
        channel="webhook",
        address="",
        kind=MessageKind.TEST,
        subject=f"Test: {yard} tries its webhook",
        text="laidup check posted this. Nothing is wrong, and there is nothing to do.\n",
        created_at=now,
    )
    receipt = WebhookChannel(settings).send(test)
    if receipt.outcome is not DeliveryOutcome.TAKEN:
        raise DeliveryError(
            "webhook",
            f"{settings.url}: {receipt.detail}; check url and secret here, and whether the"
            " receiver runs and checks signatures with the same secret",
            permanent=False,
        )
    return f"{settings.url} took a signed test message, marked as one ({receipt.detail})"


def signing_key(secret: str) -> bytes:
    """The key inside a ``whsec_…`` secret.

    Raises
    ------
    DeliveryError
        If it is no base64, or not 24 to 64 bytes long.
    """
    try:
        key = base64.b64decode(secret.removeprefix(_PREFIX), validate=True)
    except (binascii.Error, ValueError) as error:
        raise DeliveryError("webhook", "the secret is no base64", permanent=True) from error
    if not 24 <= len(key) <= 64:
        raise DeliveryError(
            "webhook", f"the secret has {len(key)} bytes; it takes 24 to 64", permanent=True
        )
    return key


def webhook_signature(key: bytes, message_id: str, sent_at: int, body: bytes) -> str:
    """Sign ``id.timestamp.body`` (Standard Webhooks 1.0.0, symmetric signatures)."""
    signed = b".".join((message_id.encode(), str(sent_at).encode(), body))
    digest = hmac.new(key, signed, hashlib.sha256).digest()
    return f"v1,{base64.b64encode(digest).decode()}"


def body_of(message: Message) -> bytes:
    """A message as JSON; a text too long for any receiver is cut, and says so."""
    data: dict[str, object] = {
        "thread": message.thread,
        "kind": str(message.kind),
        "person": message.person,
        "subject": message.subject,
        "text": message.text,
        "text_is_whole": True,
    }
    if message.record_head:
        data["record_head"] = message.record_head
    if message.signed_head:
        data["signed_head"] = json.loads(message.signed_head)
    body = _json_body(message, data)
    if len(body) > _LARGEST:
        room = _LARGEST - len(_json_body(message, {**data, "text": ""}))
        kept = message.text
        while len(json.dumps(kept).encode()) > room:
            kept = kept[: len(kept) * 9 // 10]
        body = _json_body(message, {**data, "text": kept, "text_is_whole": False})
    return body


def _json_body(message: Message, data: dict[str, object]) -> bytes:
    at = message.created_at.astimezone(UTC)
    event = {
        "type": f"message.{str(message.kind).replace(' ', '_')}",
        "timestamp": at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "data": data,
    }
    return json.dumps(event, separators=(",", ":")).encode()


def _receipt_for(status: int, reason: str) -> Receipt:
    detail = f"{status} {reason or ''}".strip()
    if 200 <= status < 300:
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail=detail)
    if status == _GONE:
        return Receipt(outcome=DeliveryOutcome.REFUSED, detail=detail)
    if 300 <= status < 400:
        detail += ": redirects are not followed; set the final address"
    return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail=detail)


WEBHOOK = ChannelKind(
    name="webhook", settings=WebhookSettings, make=WebhookChannel, try_out=check_webhook
)
