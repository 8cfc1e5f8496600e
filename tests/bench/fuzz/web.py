"""The doors of the web, tried with requests as bytes: no client tidies them up first."""

import asyncio
import json
import tempfile
from pathlib import Path
from typing import Any, Self

from monitor.clock import ReadingsClock
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.web.api.layup import layup_router
from monitor.web.app import create_app
from monitor.wording import Wording
from tests.craft.scene import SHELTERS, ZONE, library, twelve
from tests.web.api.test_layup import DRAIN, NOW, POUR, RUN
from tests.web.test_answer import Night

_AGAIN_AFTER = 1_000  # requests; what was entered by chance must not grow without end


class _Door:
    """Puts requests to an app; a payload is a request's head, an empty line and a body."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="fuzz-")
        self._made, self._asked = 0, 0
        self._loop = asyncio.new_event_loop()
        self._app = self._fresh_app()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._loop.close()
        self._folder.cleanup()

    def _new_folder(self) -> Path:
        self._made += 1
        folder = Path(self._folder.name) / str(self._made)
        folder.mkdir()
        return folder

    def _fresh_app(self) -> Any:
        raise NotImplementedError

    def __call__(self, payload: bytes) -> str:
        self._asked += 1
        if self._asked % _AGAIN_AFTER == 0:
            self._app = self._fresh_app()
        head, _, body = payload.replace(b"\r\n", b"\n").partition(b"\n\n")
        first, *lines = head.split(b"\n")
        method, _, target = first.partition(b" ")
        path, _, query = target.partition(b"?")
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1",
            "method": method.decode("latin-1").upper()[:20] or "GET", "scheme": "http",
            "path": path.decode("utf-8", "replace"), "raw_path": path, "query_string": query,
            "root_path": "", "client": ("127.0.0.1", 50000), "server": ("127.0.0.1", 80),
            "headers": [
                (name.strip().lower(), value.strip())
                for name, _, value in (line.partition(b":") for line in lines)
                if name.strip()
            ],
        }  # fmt: skip
        status = self._loop.run_until_complete(_answer(self._app, scope, body))
        if status >= 500 and not (status == 503 and path == b"/health"):  # its word for "unwell"
            raise AssertionError(f"it answers {status}")
        return f"status {status}" if status >= 400 else ""


async def _answer(app: Any, scope: dict[str, Any], body: bytes) -> int:
    sent: list[int] = []
    given = iter([{"type": "http.request", "body": body, "more_body": False}])

    async def receive() -> dict[str, Any]:
        message = next(given, None)
        if message is None:
            await asyncio.Event().wait()  # the caller stays until it has its answer
            raise AssertionError
        return message

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            sent.append(message["status"])

    await app(scope, receive, send)
    if not sent:
        raise AssertionError("it answers nothing")
    return sent[0]


class AnswerDoor(_Door):
    """The link in a letter, and the pages beside it."""

    _PATH = "/answer/GuessedSecretGuessedSecretGuessedSecret1234"

    def _fresh_app(self) -> Any:
        return Night(self._new_folder()).app

    @classmethod
    def seeds(cls) -> list[bytes]:
        """Requests that a browser, a scanner and a monitor send."""
        head = "Host: 127.0.0.1\nContent-Type: application/x-www-form-urlencoded\n"
        asked = [("GET", cls._PATH), ("POST", cls._PATH), ("HEAD", cls._PATH), ("GET", "/")]
        asked += [("GET", "/health"), ("GET", "/static/laidup.css"), ("GET", "/api/tonight?at=1")]
        asked += [("GET", "/api/alarms/3f0c81d2/cap"), ("GET", "/openapi.json")]
        return [f"{method} {path}\n{head}\nwhy=going".encode() for method, path in asked]


class RecordDoor(_Door):
    """The JSON API of the lay-up record."""

    def _fresh_app(self) -> Any:
        url = f"sqlite:///{self._new_folder()}/laidup.db"
        migrate(url)
        store = Store(url, "kettlemoss")
        with store.transaction() as tx:
            take_in(tx.layup, twelve().values(), library(), NOW)
        router = layup_router(store, library(), SHELTERS, ReadingsClock(NOW), Wording(zone=ZONE))
        return create_app(store, _yard(), ReadingsClock(NOW), list, layup=router)

    @classmethod
    def seeds(cls) -> list[bytes]:
        """Work entered, read back and planned."""
        head = "Host: 127.0.0.1\nContent-Type: application/json\n"
        found = [
            f"POST /api/craft/k2/layup\n{head}\n{json.dumps(work)}".encode()
            for work in (DRAIN, RUN, POUR)
        ]
        asked = ("layup", "protection", "plan", "plan?design_low=-20")
        found += [f"GET /api/craft/k1/{what}\n{head}\n".encode() for what in asked]
        return found


def _yard() -> Any:
    from tests.reports import kettlemoss

    return kettlemoss.yard()
