"""Who may use the JSON API that writes: whoever shows the yard's token (RFC 6750)."""

import hmac
from collections.abc import Callable
from typing import Annotated

from fastapi import Depends, HTTPException
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

_bearer = HTTPBearer(auto_error=False, description="the token of [web] in the yard's file")


def bearer_of(token: str) -> Callable[..., None]:
    """Make the guard that lets only requests with this token through.

    A browser never sends it by itself, so a foreign page cannot write in a person's name.
    """
    expected = token.encode()

    def guard(shown: Annotated[HTTPAuthorizationCredentials | None, Depends(_bearer)]) -> None:
        given = shown.credentials.encode() if shown else b""
        if not hmac.compare_digest(given, expected):
            raise HTTPException(
                401,
                "show the yard's token: Authorization: Bearer ...",
                headers={"WWW-Authenticate": "Bearer"},
            )

    return guard
