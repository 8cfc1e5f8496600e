"""An act that is sent twice is done once: its answer is kept with it, by the caller's own key."""

from collections.abc import Callable
from datetime import datetime
from hashlib import blake2b
from http import HTTPStatus
from typing import Annotated

from fastapi import Header, Response

from monitor.store.kept_answers import KEPT_FOR, KeptReply
from monitor.store.transaction import Transaction
from monitor.web.access.visitor import Visitor
from monitor.web.problems import unusable_parameter

_HEADER = "Idempotency-Key"

IdempotencyKey = Annotated[
    str | None,
    Header(
        alias=_HEADER,
        pattern=r"^[!-~]{1,128}$",
        description="yours, new for each act: the same key and body within two days is done once"
        " and answered alike",
    ),
]


def do_once(
    tx: Transaction,
    visitor: Visitor,
    key: str | None,
    request: str,
    now: datetime,
    act: Callable[[], Response],
) -> Response:
    """Do an act, or answer as it was answered before.

    Parameters
    ----------
    tx : Transaction
        Of the act: it and its answer are kept together or not at all.
    visitor : Visitor
        Whose key it is.
    key : str or None
        None: each time is a new act.
    request : str
        All that the act depends on.
    now : datetime
    act : callable
        Does it within the transaction, and answers. What it raises is not kept.

    Raises
    ------
    RequestValidationError
        If the key came before with another request.
    """
    if key is None:
        return act()
    caller = f"{visitor.kind} {visitor.person.id if visitor.person else visitor.name}"
    digest = blake2b(request.encode("utf-8", "surrogatepass"), digest_size=16).hexdigest()
    tx.kept_answers.prune_replies(now - KEPT_FOR)
    kept = tx.kept_answers.find_reply(caller, key)
    if kept is not None:
        if kept.request != digest:
            raise unusable_parameter(
                f"header.{_HEADER}",
                key,
                "it came before with another request",
                "send each new act with a new key; nothing was written",
            )
        return _json_answer(kept.body, kept.status)
    answer = act()
    if answer.status_code < HTTPStatus.BAD_REQUEST:
        tx.kept_answers.keep_reply(
            KeptReply(
                caller=caller,
                key=key,
                request=digest,
                status=answer.status_code,
                body=bytes(answer.body).decode(),
                at=now,
            )
        )
    return answer


def _json_answer(body: str, status: int) -> Response:
    return Response(body, status_code=status, media_type="application/json")
