"""Who may write through the JSON API (RFC 6750), and what every answer forbids the browser."""

import hmac
from collections.abc import Callable, Coroutine
from http import HTTPStatus
from typing import Annotated, Any

from fastapi import Depends, HTTPException, Request, Response
from fastapi.routing import APIRoute
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from fastapi.security.utils import get_authorization_scheme_param
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_ALWAYS = {
    "Content-Security-Policy": (
        "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self';"
        " object-src 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


_bearer = HTTPBearer(auto_error=False, description="the token of [web] in the yard's file")


def bearer_of(token: str) -> Callable[..., None]:
    """Make the guard that lets only requests with this token through.

    A browser never sends it by itself, so a foreign page cannot write in a person's name.
    """

    def check_token(
        shown: Annotated[HTTPAuthorizationCredentials | None, Depends(_bearer)],
    ) -> None:
        _check_equal(shown.credentials if shown else "", token)

    return check_token


def guarded_route(token: str) -> type[APIRoute]:
    """Make a kind of route that asks for the token before it reads a byte of the body."""

    class GuardedRoute(APIRoute):
        """A route whose guard, unlike a dependency, comes before the body."""

        def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
            """The handler behind the guard."""
            handle = super().get_route_handler()

            async def handle_guarded(request: Request) -> Response:
                scheme, shown = get_authorization_scheme_param(request.headers.get("Authorization"))
                _check_equal(shown if scheme.lower() == "bearer" else "", token)
                return await handle(request)

            return handle_guarded

    return GuardedRoute


def _check_equal(shown: str, token: str) -> None:
    if not hmac.compare_digest(shown.encode("utf-8", "replace"), token.encode()):
        raise HTTPException(
            401,
            "show the yard's token: Authorization: Bearer ...",
            headers={"WWW-Authenticate": "Bearer"},
        )


class CarefulHeaders:
    """Adds them to every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer as the app does, with these headers."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(_ALWAYS)
                if scope["scheme"] == "https":
                    headers["Strict-Transport-Security"] = "max-age=31536000"
                still = scope["path"].startswith(("/static/", "/favicon"))
                kept = still and message["status"] < HTTPStatus.BAD_REQUEST
                headers["Cache-Control"] = "max-age=3600" if kept else "no-store"
            await send(message)

        await self._app(scope, receive, send_with_headers)
