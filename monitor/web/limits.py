"""What one caller may ask of the page: bodies small and soon sent, few answers worked out at once.

The page stands last: watch, intake and post share the machine with it, and a crowd of readers is
turned away before it costs them anything.
"""

import asyncio
import time
from dataclasses import dataclass
from weakref import WeakValueDictionary

from fastapi import HTTPException  # a request reader lets no other through
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor.web.http_layers import HttpLayer
from monitor.web.problems import problem_response

BODY_BYTES = 64 * 1024  # an entry with every field full is a tenth of it
PHOTO_BODY_BYTES = 16 * 1024 * 1024  # a form with photos as a camera has them
_BODY_WITHIN_S = 20.0  # a phone on a bad link needs some
_PHOTO_BODY_WITHIN_S = 120.0
_ANSWER_WITHIN_S = 60.0  # from its first place to its last byte
_PHOTO_ANSWER_WITHIN_S = 240.0
_AGAIN_AFTER_S = 10
_SIGN_IN = ("/sign-in", "/password/", "/account/password")


_NO_MORE: Message = {"type": "http.request", "body": b"", "more_body": False}


class LimitedBodies(HttpLayer):
    """Refuses a body that is too large or too slow, before more of it than allowed is held."""

    async def answer_http(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and its body only within bounds."""
        end_s: float | None = None
        held, complete = 0, False
        most, within_s = BODY_BYTES, _BODY_WITHIN_S
        if may_bring_photos(scope):
            most, within_s = PHOTO_BODY_BYTES, _PHOTO_BODY_WITHIN_S
        # Its answer is on the way already and cannot be taken back for a body that nobody wants.
        wants_none = scope["method"] in {"GET", "HEAD"}

        async def receive_bounded() -> Message:
            nonlocal end_s, held, complete
            if complete:
                return await receive()
            if _length_said(scope) > most and not wants_none:
                raise _too_large(most)
            end_s = end_s or time.monotonic() + within_s
            try:
                async with asyncio.timeout(end_s - time.monotonic()):
                    message = await receive()
            except TimeoutError as error:
                if wants_none:
                    complete = True
                    return _NO_MORE
                raise HTTPException(
                    408, f"the body did not come within {within_s:.0f} s; send it again"
                ) from error
            held += len(message.get("body", b""))
            if held > most and wants_none:
                complete = True
                return _NO_MORE
            if held > most:
                raise _too_large(most)
            complete = not message.get("more_body", False)
            return message

        await self.app(scope, receive_bounded, send)


def _length_said(scope: Scope) -> int:
    """Length of the body as its header says; 0 where it says none."""
    said = dict(scope["headers"]).get(b"content-length", b"")
    return int(said[:20]) if said.isdigit() else 0


def may_bring_photos(scope: Scope) -> bool:
    """Whether a request is a form of the bench that may bring photos along."""
    kind = dict(scope["headers"]).get(b"content-type", b"").partition(b";")[0].strip().lower()
    path: str = scope["path"]
    at_bench = path.startswith("/craft/") and path.endswith("/bench")
    return at_bench and scope["method"] == "POST" and kind == b"multipart/form-data"


def _too_large(most: int) -> HTTPException:
    if most >= 1024 * 1024:
        told = (
            f"the photos are too large together: at most {most // 1024**2} MB; send fewer at once"
        )
    else:
        told = f"a body may have {most // 1024} KiB; send less, in parts"
    return HTTPException(413, told)


@dataclass(slots=True, weakref_slot=True)
class _Places:
    """How many answers of a kind are worked out at once, and how many may wait for a place."""

    free: asyncio.Semaphore
    may_wait: int
    wait_s: float
    waiting: int = 0

    async def take_place(self) -> bool:
        """Take a place; False where too many wait, or none got free in time."""
        if self.free.locked() and self.waiting >= self.may_wait:
            return False
        self.waiting += 1
        try:
            async with asyncio.timeout(self.wait_s):
                await self.free.acquire()
        except TimeoutError:
            return False
        finally:
            self.waiting -= 1
        return True


async def _turn_away(scope: Scope, receive: Receive, send: Send) -> None:
    refusal = problem_response(
        scope["path"],
        503,
        "too many ask at once; come again in a few seconds",
        {"Retry-After": str(_AGAIN_AFTER_S)},
    )
    await refusal(scope, receive, send)


class LimitedCrowd(HttpLayer):
    """Works out few answers at once and turns the rest away with 503 and a time to come again.

    What acts (an answer to a message, an entry) has places of its own, which no reader of the page
    takes. ``/health`` is answered first: it is told from memory, and needs none.
    """

    def __init__(self, app: ASGIApp, readers: int = 4, acts: int = 4) -> None:
        super().__init__(app)
        self._readers = _Places(asyncio.Semaphore(readers), may_wait=40, wait_s=5.0)
        self._acts = _Places(asyncio.Semaphore(acts), may_wait=40, wait_s=15.0)
        # Photos come slowly over a bad link; meanwhile nobody's answer to a warning waits for them.
        self._photos = _Places(asyncio.Semaphore(2), may_wait=12, wait_s=30.0)
        # One sender's photos go one after the other, or three that stall hold up everybody's.
        self._senders: WeakValueDictionary[tuple[str, bytes], _Places] = WeakValueDictionary()
        # Whoever hammers at the door takes no place of those that answer a warning.
        self._sign_ins = _Places(asyncio.Semaphore(4), may_wait=12, wait_s=15.0)

    async def answer_http(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer where there is a place."""
        at_once = ("/static/", "/favicon", "/health")
        if scope["path"].startswith(at_once):
            await self.app(scope, receive, send)
            return
        places = self._places_for(scope)
        if places is not self._photos:
            await self._answer_in(places, scope, receive, send)
            return
        turn = self._turn_of(scope)
        if not await turn.take_place():
            await _turn_away(scope, receive, send)
            return
        try:
            await self._answer_in(places, scope, receive, send)
        finally:
            turn.free.release()

    def _turn_of(self, scope: Scope) -> _Places:
        """The one place of a sender: by address and what its browser shows of a session."""
        host = (scope.get("client") or ("",))[0]
        sender = (str(host), dict(scope["headers"]).get(b"cookie", b""))
        turn = self._senders.get(sender)
        if turn is None:
            self._senders[sender] = turn = _Places(
                asyncio.Semaphore(1), self._photos.may_wait, self._photos.wait_s
            )
        return turn

    async def _answer_in(self, places: _Places, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer in one of these places, or turn away where none gets free."""
        if not await places.take_place():
            await _turn_away(scope, receive, send)
            return
        try:
            # A caller that takes its answer byte by byte gives its place back all the same.
            photos = places is self._photos
            async with asyncio.timeout(_PHOTO_ANSWER_WITHIN_S if photos else _ANSWER_WITHIN_S):
                await self.app(scope, receive, send)
        finally:
            places.free.release()

    def _places_for(self, scope: Scope) -> _Places:
        if scope["path"].startswith(_SIGN_IN):
            return self._sign_ins
        if may_bring_photos(scope):
            return self._photos
        acts = scope["method"] == "POST" or scope["path"].startswith("/answer/")
        return self._acts if acts else self._readers
