"""Stands before all routes: who asks, who is let through, and what every answer forbids."""

import hmac
import secrets
from collections.abc import Callable, Coroutine, Sequence
from http import HTTPStatus
from typing import Annotated, Any, Protocol

from fastapi import Depends, HTTPException, Request, Response
from fastapi.routing import APIRoute
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from fastapi.security.utils import get_authorization_scheme_param
from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor.web.access.route_rights import ROUTE_RIGHTS, RouteRight
from monitor.web.access.visitor import Visitor, open_visitor
from monitor.web.problems import problem_response
from monitor.yard.space import Yard

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


class Access(Protocol):
    """Knows who asks."""

    async def find_visitor(self, asking: HTTPConnection) -> Visitor:
        """Who asks, by what they show; a stranger where they show nothing that holds."""
        ...


class OpenAccess:
    """Asks nobody who they are: for the demo, on the machine itself."""

    def __init__(self, yard: Yard) -> None:
        # Of this process: a form that another site made does not know it.
        self._visitor = open_visitor(yard, secrets.token_urlsafe(32))

    async def find_visitor(self, asking: HTTPConnection) -> Visitor:  # noqa: ARG002 - asks nobody
        """Anybody."""
        return self._visitor


class AccessGuard:
    """Lets a request through to its route, with who asks, or refuses it before its body is read.

    A path without a row in the table is not there, whatever route may stand behind it.
    """

    def __init__(
        self, app: ASGIApp, access: Access, rows: Sequence[RouteRight] = ROUTE_RIGHTS
    ) -> None:
        self._app, self._access, self._rows = app, access, tuple(rows)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        path = scope["path"]
        here = [row for row in self._rows if row.matches_path(path)]
        row = next((one for one in here if scope["method"] in one.methods), None)
        if row is None:
            allowed = sorted({method for one in here for method in one.methods})
            refusal = (
                problem_response(path, 405, "Method Not Allowed", {"Allow": ", ".join(allowed)})
                if here
                else problem_response(path, 404, "Not Found")
            )
            await refusal(scope, receive, send)
            return
        visitor = await self._access.find_visitor(HTTPConnection(scope))
        parts = row.matches_path(path)
        craft = parts.groupdict().get("craft") if parts else None
        if row.needs is not None and not (
            visitor.may(row.needs) and (craft is None or visitor.may_see_craft(craft))
        ):
            refusal = problem_response(path, 403, "you may not do this here")
            await refusal(scope, receive, send)
            return
        scope["visitor"] = visitor
        await self._app(scope, receive, send)


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
