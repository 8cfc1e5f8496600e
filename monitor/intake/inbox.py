"""What the broker has handed over and the store does not have yet; never more than a set number."""

import threading
from collections import deque
from typing import NamedTuple


class Message(NamedTuple):
    """One MQTT message as it came."""

    topic: str
    payload: bytes
    arrived_ms: int
    live: bool  # sent just now: neither retained, nor repeated, nor waiting while we were away
    connection: int  # counts connections: an acknowledgement is valid only in its own
    packet_id: int
    qos: int


class Inbox:
    """Messages on their way from the network thread to the writer."""

    def __init__(self, capacity: int) -> None:
        self._capacity = capacity
        self._messages: deque[Message] = deque()
        self._arrived = threading.Event()
        self._half = threading.Event()

    def __len__(self) -> int:
        return len(self._messages)

    @property
    def full(self) -> bool:
        """True: read no more from the network until the writer has caught up."""
        return len(self._messages) >= self._capacity

    def put(self, message: Message) -> None:
        """Add one; `announce` wakes the writer, once for many."""
        self._messages.append(message)

    def announce(self) -> None:
        """Wake the writer if something is there."""
        if self._messages and not self._arrived.is_set():
            self._arrived.set()
        if len(self._messages) * 2 >= self._capacity:
            self._half.set()

    def wake(self) -> None:
        """Wake the writer even if nothing is there, so that it sees it should stop."""
        self._arrived.set()
        self._half.set()

    def wait(self, timeout_s: float) -> None:
        """Wait until something is there, or the time is over."""
        self._arrived.wait(timeout_s)

    def gather(self, linger_s: float) -> None:
        """Let more come, until half of what may wait is there or the time is over."""
        if len(self._messages) * 2 < self._capacity:
            self._half.wait(linger_s)

    def take(self) -> list[Message]:
        """Take everything that is there now, in order of arrival."""
        self._arrived.clear()
        self._half.clear()
        return [self._messages.popleft() for _ in range(len(self._messages))]
