"""Answers kept until what they tell of has changed: a page is made once for all who read it.

An open page asks every second or two whether it is still true. That is answered from memory, by
an ETag (RFC 9110, section 8.8.3), and the store is asked a few times a second at most, however
many ask.
"""

import asyncio
import gzip
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING, Generic, TypeVar, cast

from fastapi import Request, Response
from starlette.concurrency import run_in_threadpool

from monitor.clock import Clock
from monitor.store.store import Store
from monitor.web.entity_tags import digest_of_answer, names_tag
from monitor.yard.space import Yard

if TYPE_CHECKING:
    from monitor.store.yard_marks import YardMarks

ASK_EVERY_S = 0.25  # whether another process has changed anything
SEASON_LASTS_MIN = 10
_GZIP_LEVEL = 5  # a tenth longer than at 9, in a third of the time
_SMALLEST = 1000  # bytes that are worth compressing
_Result = TypeVar("_Result")


class YardChanges:
    """Tells by a mark whether anything that people read of the yard may have changed."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store, self._clock = store, clock
        self._asking = asyncio.Lock()
        self._mark: Hashable = None
        self._commits = -1
        self._asked_s = -1.0

    async def read_mark(self) -> Hashable:
        """The mark now; the minute is part of it, for an hour that passes changes what is said."""
        if not self._is_fresh():
            async with self._asking:
                if not self._is_fresh():
                    await self._ask_store()
        return self._mark, int(self._clock.now().timestamp() // 60)

    def _is_fresh(self) -> bool:
        recent = 0.0 <= time.monotonic() - self._asked_s < ASK_EVERY_S
        return recent and self._store.commits == self._commits

    async def _ask_store(self) -> None:
        # Counted before it asks: what is committed meanwhile is asked for again.
        commits = self._store.commits
        self._mark = await run_in_threadpool(self._store.change_mark)
        self._commits, self._asked_s = commits, time.monotonic()


class SeasonChanges(YardChanges):
    """Tells whether figures of a whole season may have changed: a round alone hardly moves them.

    Alarms with their acts, the lay-up record and the spaces and sensors of the yard count at once;
    what was read and said since counts within `SEASON_LASTS_MIN`.
    """

    def __init__(self, store: Store, clock: Clock, yard: Yard) -> None:
        super().__init__(store, clock)
        self._yard = yard

    async def read_mark(self) -> Hashable:
        """The mark now; not moved by a round that changed no alarm."""
        whole = cast("tuple[tuple[int, YardMarks, Hashable], int]", await super().read_mark())
        (_, marks, breaks), minute = whole
        yard = (self._yard.spaces, self._yard.sensors, self._yard.design_low_c)
        return (marks.alarm_changes, marks.links, breaks), minute // SEASON_LASTS_MIN, yard


class KeptResults(Generic[_Result]):
    """What was worked out of the yard, by what was asked, until the yard's mark is another."""

    def __init__(self, changes: YardChanges, at_most: int = 64) -> None:
        self._changes, self._at_most = changes, at_most
        self._kept: OrderedDict[Hashable, tuple[Hashable, _Result]] = OrderedDict()
        self._making: dict[Hashable, asyncio.Lock] = {}

    async def read_result(self, asked: Hashable, make: Callable[[], _Result]) -> _Result:
        """The result under the yard's present mark; once worked out, however many wait for it.

        Parameters
        ----------
        asked : hashable
            All that the result depends on beside the yard.
        make : callable
            Works it out, in a thread. What it raises is raised here, and nothing is kept.
        """
        mark = await self._changes.read_mark()
        kept = self._kept.get(asked)
        if kept is None or kept[0] != mark:
            kept = await self._make_once(asked, mark, make)
        return kept[1]

    async def _make_once(
        self, asked: Hashable, mark: Hashable, make: Callable[[], _Result]
    ) -> tuple[Hashable, _Result]:
        lock = self._making.setdefault(asked, asyncio.Lock())
        async with lock:
            kept = self._kept.get(asked)
            if kept is None or kept[0] != mark:
                kept = (mark, await run_in_threadpool(make))
                self._kept[asked] = kept
            self._kept.move_to_end(asked)
            while len(self._kept) > self._at_most:
                gone, _ = self._kept.popitem(last=False)
                self._making.pop(gone, None)
        return kept


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """One answer as it goes out, plain and compressed."""

    digest: str
    body: bytes
    packed: bytes


class KeptPages:
    """Answers by what was asked and by whom, made anew once the yard's mark is another."""

    def __init__(self, changes: YardChanges, media_type: str, at_most: int = 64) -> None:
        self._answers: KeptResults[KeptAnswer] = KeptResults(changes, at_most)
        self._media_type = media_type

    async def answer_request(
        self, request: Request, view: Hashable, make: Callable[[], bytes]
    ) -> Response:
        """Answer from memory, or with what is made now; 304 to whoever has it already.

        Parameters
        ----------
        request : Request
        view : hashable
            All that the answer depends on beside the yard: who reads it, and how it was asked for.
        make : callable
            Makes the body, in a thread.
        """
        kept = await self._answers.read_result(view, lambda: _pack_answer(make))
        return self._response(request, kept)

    def _response(self, request: Request, kept: KeptAnswer) -> Response:
        packed = kept.packed and "gzip" in request.headers.get("Accept-Encoding", "")
        # Strong: plain and compressed, each has its own.
        etag = f'"{kept.digest}-gzip"' if packed else f'"{kept.digest}"'
        headers = {"ETag": etag, "Vary": "Accept-Encoding"}
        if names_tag(request.headers.get("If-None-Match", ""), etag):
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
        body = kept.body
        if packed:
            headers["Content-Encoding"] = "gzip"
            body = kept.packed
        return Response(body, headers=headers, media_type=self._media_type)


def _pack_answer(make: Callable[[], bytes]) -> KeptAnswer:
    body = make()
    packed = gzip.compress(body, _GZIP_LEVEL, mtime=0) if len(body) >= _SMALLEST else b""
    return KeptAnswer(digest_of_answer(body), body, packed)
