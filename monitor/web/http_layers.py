"""Layers around the app, plain ASGI: they come before all that reads a request.

Each passes on what is no HTTP request, such as the start and the end of the server.
"""

from http import HTTPStatus

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_POLICY = "Content-Security-Policy"
_ALWAYS = {
    # Nothing from elsewhere, and nobody puts our pages into theirs (two headers: older browsers).
    _POLICY: (
        "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self';"
        " object-src 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",  # the secret of a link stands in its address
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class HttpLayer:
    """One layer: what it does with a request stands in `answer_http`.

    Of those that an app is given, the last is asked first.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app  # the layer within, which answers what this one lets through

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request; pass all else on as it comes."""
        handle = self.answer_http if scope["type"] == "http" else self.app
        await handle(scope, receive, send)

    async def answer_http(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one HTTP request, or have the app do so."""
        raise NotImplementedError


class CarefulHeaders(HttpLayer):
    """Adds to every answer what browsers must not do with it, and whether it may be kept.

    To pages also which style sheets they may hold inside.
    """

    def __init__(self, app: ASGIApp, style_sources: str) -> None:
        super().__init__(app)
        self._page_policy = f"{_ALWAYS[_POLICY]}; style-src 'self' {style_sources}"

    async def answer_http(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer as the app does, with these headers."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(_ALWAYS)
                if headers.get("Content-Type", "").startswith("text/html"):
                    headers[_POLICY] = self._page_policy
                if scope["scheme"] == "https":
                    headers["Strict-Transport-Security"] = "max-age=31536000"
                still = scope["path"].startswith(("/static/", "/favicon"))
                kept = still and message["status"] < HTTPStatus.BAD_REQUEST
                headers["Cache-Control"] = "max-age=3600" if kept else "no-store"
            await send(message)

        await self.app(scope, receive, send_with_headers)
