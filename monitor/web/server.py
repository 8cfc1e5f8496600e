"""Serves the web from a thread of the daemon, and stops when the daemon says so."""

import asyncio
import logging
import socket
import threading
from collections.abc import Sequence

import uvicorn
from fastapi import FastAPI
from starlette.types import Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

from monitor.errors import WebError
from monitor.web.access.callers import BEYOND, is_loopback

_log = logging.getLogger(__name__)

LOCAL = "127.0.0.1"
_LAST_WORDS_S = 3  # how long a running request may hold up the stop
_ASK_WITHIN_S = 20.0  # a phone on a bad link needs some; what asks nothing gets no longer
# The daemon's files and its ways to broker and mail server come out of the same purse: 1024 of
# them, usually.
_CONNECTIONS = 200
_BACKLOG = 64
_HEADER_BYTES = 16 * 1024  # request line and all headers together


class _BoundedProtocol(H11Protocol):
    """HTTP/1.1 with an end to how many callers there are, and how long one may keep silent."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        # asyncio does so itself only for sockets that it has made: else the last bytes of an answer
        # wait for the reader's acknowledgement of those before, 40 ms.
        transport.get_extra_info("socket").setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if len(self.connections) > _CONNECTIONS:
            transport.abort()
            return
        self.loop.call_later(_ASK_WITHIN_S, self._close_if_silent)

    def _close_if_silent(self) -> None:
        if self.transport.is_closing():
            return
        if self.cycle is None or self.cycle.response_complete:
            self.transport.abort()
        else:
            self.loop.call_later(_ASK_WITHIN_S, self._close_if_silent)


class PageServer:
    """One web server in its own thread.

    Signals stay with the daemon: uvicorn installs its handlers only in a main thread.
    """

    def __init__(
        self,
        app: FastAPI,
        host: str = LOCAL,
        port: int = 0,
        *,
        asks_who: bool = False,
        proxies: Sequence[str] = (),
    ) -> None:
        """Remember what to serve and where.

        Parameters
        ----------
        app : FastAPI
        host, port : str and int
            Where to listen; port 0 takes any free one.
        asks_who : bool
            The app lets in only who signs in or has a key or link: it may be served anywhere.
        proxies : sequence of str
            Addresses and networks of proxies whose word counts on whence a caller comes, and
            whether by TLS (``X-Forwarded-For``, ``X-Forwarded-Proto``). Nobody else's does.
        """
        self._host, self._port, self._asks_who = host, port, asks_who
        self.address = ""  # known once it listens
        self._app = app
        self._server = uvicorn.Server(
            uvicorn.Config(
                self._answer,
                interface="asgi3",
                http=_BoundedProtocol,
                backlog=_BACKLOG,
                log_config=None,
                log_level=logging.WARNING,
                access_log=False,
                h11_max_incomplete_event_size=_HEADER_BYTES,
                server_header=False,
                proxy_headers=bool(proxies),
                forwarded_allow_ips=list(proxies),
                timeout_graceful_shutdown=_LAST_WORDS_S,
            )
        )
        self._socket: socket.socket | None = None
        self._thread: threading.Thread | None = None

    def serve_app(self, app: FastAPI) -> None:
        """Have the next requests answered by another app; those under way keep theirs."""
        self._app = app

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self._app(scope, receive, send)

    def start(self) -> str:
        """Listen, and tell the address.

        Raises
        ------
        WebError
            If the address cannot be listened on.
        """
        if not self._asks_who and not is_loopback(self._host):
            raise WebError(f"the page is not served on {self._host}: {BEYOND}")
        try:
            # Bound here and not in the thread, so that a taken port is an error of the start.
            self._socket = socket.create_server(
                (self._host, self._port),
                family=socket.AF_INET6 if ":" in self._host else socket.AF_INET,
            )
        except OSError as error:
            raise WebError(
                f"the page cannot be served on {self._host} port {self._port}:"
                f" {error.strerror or error}; free the port or set another"
            ) from error
        port = self._socket.getsockname()[1]
        self._thread = threading.Thread(target=self._serve_pages, name="web", daemon=True)
        self._thread.start()
        host = f"[{self._host}]" if ":" in self._host else self._host
        self.address = f"http://{host}:{port}/"
        return self.address

    @property
    def is_serving(self) -> bool:
        """Whether its thread lives."""
        return self._thread is not None and self._thread.is_alive()

    def stop(self) -> None:
        """Finish running requests, for a few seconds at most, and give the port back."""
        self._server.should_exit = True
        if self._thread is not None:
            self._thread.join(_LAST_WORDS_S + 2)
            self._thread = None
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _serve_pages(self) -> None:
        assert self._socket is not None  # noqa: S101 - start() has set it
        try:
            self._server.run(sockets=[self._socket])
        except Exception:  # noqa: BLE001 - the top of a thread
            _log.exception("The page is no longer served.")
