"""Texts to phones by a provider's HTTP interface: number and text, posted to one address.

A general notification library was tried for this. Its answer to a notice is true or false alone, so
that a number which does not exist cannot be told from a provider that is busy: the one would be
tried for days, or the other given up. It has no end for an answer that comes byte by byte either.
One post tells both apart by the status (RFC 9110), and needs no further package.
"""

import json
from dataclasses import dataclass, field
from typing import Literal
from urllib.parse import urlencode
from uuid import NAMESPACE_URL, uuid5

from monitor.bounded_http import bounded_answer
from monitor.delivery.channels.channel import ChannelKind, DeliveryChannel
from monitor.errors import BadValueError, DeliveryError
from monitor.yard.message import DeliveryOutcome, Message, Receipt

# The request itself is at fault, and no later try of the same can succeed (RFC 9110, sections
# 15.5.1, 15.5.11 and 15.5.21). What a person or time can mend (a password, an address, too many
# texts) is put off.
_REFUSED = frozenset({400, 410, 422})


@dataclass(frozen=True, slots=True, kw_only=True)
class TextPostSettings:
    """Where to post, and what a provider calls number and text."""

    url: str
    secret: str = field(default="", repr=False)  # sent as a bearer token (RFC 6750)
    number_key: str = "to"
    text_key: str = "text"
    body: Literal["json", "form"] = "json"
    within_s: float = field(default=30.0, metadata={"internal": True})  # for the whole post

    def __post_init__(self) -> None:
        if self.secret and not (self.secret.isascii() and self.secret.isprintable()):
            raise BadValueError("the secret has signs that no header carries", "take another")


class TextPostChannel:
    """A provider that takes one text a post."""

    def __init__(self, settings: TextPostSettings, _mail: DeliveryChannel | None = None) -> None:
        self._settings = settings

    def send(self, message: Message) -> Receipt:
        """Post one text. Any answer from 200 to 299 confirms it; redirects are not followed."""
        from monitor.delivery.leaving_forms import text_of

        said, chosen = self._settings, "application/json"
        content = {said.number_key: message.address, said.text_key: text_of(message)}
        body = json.dumps(content).encode()
        if said.body == "form":
            chosen, body = "application/x-www-form-urlencoded", urlencode(content).encode()
        headers = {
            "content-type": chosen,
            "user-agent": "laidup",
            # The same at every try: a provider that keeps it sends a repeat once.
            "idempotency-key": str(uuid5(NAMESPACE_URL, message.key)),
        }
        if said.secret:
            headers["authorization"] = f"Bearer {said.secret}"
        try:
            with bounded_answer(
                "POST", said.url, said.within_s, headers=headers, data=body
            ) as answer:
                return _receipt_for(answer.status_code, answer.reason)
        except OSError as error:
            reason = f"{type(error).__name__}: {error}"
            return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail=" ".join(reason.split())[:300])


def _receipt_for(status: int, reason: str) -> Receipt:
    detail = f"{status} {reason or ''}".strip()
    if 200 <= status < 300:
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail=detail)
    if status in _REFUSED:
        return Receipt(outcome=DeliveryOutcome.REFUSED, detail=detail)
    if 300 <= status < 400:
        detail += ": redirects are not followed; set the final address"
    return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail=detail)


def _try_out(settings: TextPostSettings, _mail: DeliveryChannel | None, _yard: str) -> str:
    """Ask whether anybody answers there; nothing is posted, so nobody's phone rings."""
    try:
        with bounded_answer("HEAD", settings.url, settings.within_s, headers={}) as answer:
            return f"{settings.url} answers ({answer.status_code}); nothing was posted."
    except OSError as error:
        raise DeliveryError(
            "text-post",
            f"{settings.url}: {type(error).__name__}; check url, and whether this machine reaches"
            " it",
            permanent=False,
        ) from error


TEXT_POST = ChannelKind(
    name="text-post", settings=TextPostSettings, make=TextPostChannel, try_out=_try_out
)
