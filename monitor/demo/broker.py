"""An MQTT broker inside this process, for the demo and fast tests. Never for production.

It speaks MQTT 3.1.1 only and keeps nothing over a restart; a yard runs a real broker.
"""

import asyncio
import logging
import socket
import threading

from amqtt.broker import Broker

_START_WITHIN_S = 15.0


class EmbeddedBroker:
    """A broker on a free port of 127.0.0.1, in a thread with an event loop of its own."""

    def __init__(self, port: int = 0) -> None:
        """Choose the port; 0 takes any free one."""
        self.host = "127.0.0.1"
        self.port = port or _free_port()
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._failure: Exception | None = None
        self._broker: Broker | None = None
        self._thread = threading.Thread(target=self._serve_clients, name="broker", daemon=True)

    def start(self) -> None:
        """Start and wait until clients are taken.

        Raises
        ------
        OSError
            If the port cannot be had.
        """
        # A client that drops in the middle of the handshake is no news for a yard operator.
        logging.getLogger("amqtt").setLevel(logging.CRITICAL)
        logging.getLogger("transitions").setLevel(logging.CRITICAL)
        self._thread.start()
        if not self._ready.wait(_START_WITHIN_S):
            raise OSError(f"the embedded broker did not start on port {self.port}")
        if self._failure is not None:
            raise OSError(f"the embedded broker did not start: {self._failure}")

    def stop(self) -> None:
        """Stop serving and give the port back."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=_START_WITHIN_S)

    def _serve_clients(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._open_port())
        except Exception as error:  # noqa: BLE001  handed to the thread that waits for the start
            self._failure = error
            self._ready.set()
            return
        self._ready.set()
        self._loop.run_forever()
        if self._broker is not None:
            self._loop.run_until_complete(self._broker.shutdown())
        for task in asyncio.all_tasks(self._loop):
            task.cancel()
        self._loop.run_until_complete(asyncio.sleep(0))
        self._loop.close()

    async def _open_port(self) -> None:
        self._broker = Broker(
            {
                "listeners": {
                    "default": {"type": "tcp", "bind": f"{self.host}:{self.port}"},
                },
                "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {}},
            }
        )
        await self._broker.start()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
