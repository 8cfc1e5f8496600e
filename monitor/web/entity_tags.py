"""A strong ETag on each answer of the API; to whoever holds that answer already, 304 and no body.

RFC 9110, sections 8.8.3 and 13.1.2. Stands inside what compresses, and so knows two forms of one
answer: each has a tag of its own.
"""

import re
from hashlib import blake2b
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor.web.http_layers import HttpLayer

_TAG = re.compile(r'"[\x21\x23-\x7e\x80-\xff]*"')


class EntityTags(HttpLayer):
    """Tags what GET under ``/api/`` answers with 200."""

    def __init__(self, app: ASGIApp, compressed_from_bytes: int) -> None:
        super().__init__(app)
        self._compressed_from_bytes = compressed_from_bytes

    async def answer_http(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer as the app does, with a tag; or say that nothing is new."""
        if scope["method"] != "GET" or not scope["path"].startswith("/api/"):
            await self.app(scope, receive, send)
            return
        asked = Headers(scope=scope)
        start: Message = {}
        parts: list[bytes] = []

        async def send_tagged(message: Message) -> None:
            nonlocal start
            if message["type"] == "http.response.start":
                start = message
            tagged = start["status"] != HTTPStatus.OK or "etag" in Headers(scope=start)
            if tagged:
                await send(message)
            if tagged or message is start:
                return
            parts.append(message.get("body", b""))
            if message.get("more_body", False):
                return
            body = b"".join(parts)
            headers = MutableHeaders(scope=start)
            tag = self._tag_of(body, asked.get("Accept-Encoding", ""))
            headers["ETag"] = tag
            headers.add_vary_header("Accept-Encoding")
            if names_tag(asked.get("If-None-Match", ""), tag):
                for name in ("Content-Length", "Content-Type"):
                    del headers[name]
                start["status"], body = HTTPStatus.NOT_MODIFIED.value, b""
            await send(start)
            await send({"type": "http.response.body", "body": body})

        await self.app(scope, receive, send_tagged)

    def _tag_of(self, body: bytes, encodings: str) -> str:
        packed = "gzip" in encodings and len(body) >= self._compressed_from_bytes
        return f'"{digest_of_answer(body)}{"-gzip" if packed else ""}"'


def digest_of_answer(body: bytes) -> str:
    """What a tag is made of: the same for the same bytes, and for no others."""
    return blake2b(body, digest_size=12).hexdigest()


def names_tag(header: str, tag: str) -> bool:
    """Whether ``If-None-Match`` names a tag, or any; by weak comparison, as it asks for."""
    return header.strip() == "*" or tag in _TAG.findall(header)
