"""Serves the web from a thread of the daemon, and stops when the daemon says so."""

import logging
import socket
import threading

import uvicorn
from fastapi import FastAPI

from monitor.errors import WebError

_log = logging.getLogger(__name__)

LOCAL = "127.0.0.1"  # without a login, nobody but this machine
_LAST_WORDS_S = 3  # how long a running request may hold up the stop


class PageServer:
    """One web server in its own thread.

    Signals stay with the daemon: uvicorn installs its handlers only in a main thread.
    """

    def __init__(self, app: FastAPI, host: str = LOCAL, port: int = 0) -> None:
        """Remember what to serve and where; port 0 takes any free one."""
        self._host, self._port = host, port
        self.address = ""  # known once it listens
        self._server = uvicorn.Server(
            uvicorn.Config(
                app,
                log_config=None,
                log_level=logging.WARNING,
                access_log=False,
                server_header=False,
                timeout_graceful_shutdown=_LAST_WORDS_S,
            )
        )
        self._socket: socket.socket | None = None
        self._thread: threading.Thread | None = None

    def start(self) -> str:
        """Listen, and tell the address.

        Raises
        ------
        WebError
            If the address cannot be listened on.
        """
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
        self._thread = threading.Thread(target=self._serve, name="web", daemon=True)
        self._thread.start()
        host = f"[{self._host}]" if ":" in self._host else self._host
        self.address = f"http://{host}:{port}/"
        return self.address

    def stop(self) -> None:
        """Finish running requests, for a few seconds at most, and give the port back."""
        self._server.should_exit = True
        if self._thread is not None:
            self._thread.join(_LAST_WORDS_S + 2)
            self._thread = None
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _serve(self) -> None:
        assert self._socket is not None  # noqa: S101 - start() has set it
        try:
            self._server.run(sockets=[self._socket])
        except Exception:  # noqa: BLE001 - the top of a thread
            _log.exception("The page is no longer served.")
