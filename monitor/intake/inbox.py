"""Messages that the broker has handed over and the store does not have yet: bounded; a backlog."""

import threading
import time
from collections import deque
from collections.abc import Iterator, Sequence
from typing import NamedTuple

BEGINNING = 1024  # bytes kept of a message that is not kept whole
_OVERHEAD = 200  # bytes of memory that a message takes beside its payload


class ArrivedMessage(NamedTuple):
    """One MQTT message as it came."""

    topic: str
    payload: bytes
    arrived_ms: int
    live: bool  # sent just now: neither retained, nor repeated, nor waiting while we were away
    connection: int  # counts connections: an acknowledgement is valid only in its own
    packet_id: int
    qos: int
    shifts: int = 0  # of our clock, until it was stamped with its arrival
    cut_from: int = 0  # bytes that it had, where only its beginning was taken off the network


class Inbox:
    """Messages on their way from the network thread to the writer."""

    def __init__(self, capacity: int, most_bytes: int = 8 * 1024 * 1024) -> None:
        """Hold at most ``capacity`` messages, and at most ``most_bytes`` and one message more."""
        self._capacity = capacity
        self._most_bytes = most_bytes
        self._put_bytes = self._taken_bytes = 0  # each written by one thread alone
        self._messages: deque[ArrivedMessage] = deque()
        self._arrived = threading.Event()
        self._half = threading.Event()

    def __len__(self) -> int:
        return len(self._messages)

    @property
    def is_full(self) -> bool:
        """True: read no more from the network until the writer has caught up."""
        return len(self._messages) >= self._capacity or self._waiting_bytes >= self._most_bytes

    @property
    def _waiting_bytes(self) -> int:
        return self._put_bytes - self._taken_bytes

    @property
    def _half_full(self) -> bool:
        return (
            len(self._messages) * 2 >= self._capacity or self._waiting_bytes * 2 >= self._most_bytes
        )

    def put_message(self, message: ArrivedMessage) -> None:
        """Add one; `wake_if_any` wakes the writer, once for many."""
        self._messages.append(message)
        self._put_bytes += _message_size(message)

    def wake_if_any(self) -> None:
        """Wake the writer if something is there."""
        if self._messages and not self._arrived.is_set():
            self._arrived.set()
        if self._half_full:
            self._half.set()

    def wake_writer(self) -> None:
        """Wake the writer even if nothing is there, so that it sees it should stop."""
        self._arrived.set()
        self._half.set()

    def wait_for_message(self, timeout_s: float) -> None:
        """Wait until something is there, or the time is over."""
        self._arrived.wait(timeout_s)

    def wait_for_more(self, linger_s: float) -> None:
        """Let more come, until half of what may wait is there or the time is over."""
        if not self._half_full:
            self._half.wait(linger_s)

    def take_all(self) -> list[ArrivedMessage]:
        """Take everything that is there now, in order of arrival."""
        self._arrived.clear()
        self._half.clear()
        taken = [self._messages.popleft() for _ in range(len(self._messages))]
        self._taken_bytes += sum(map(_message_size, taken))
        return taken


def _message_size(message: ArrivedMessage) -> int:
    """Bytes that count against the bound: what a message weighs that says nothing, too."""
    return len(message.payload) + len(message.topic) + _OVERHEAD


def in_turns(messages: Sequence[ArrivedMessage], most_bytes: int) -> Iterator[list[ArrivedMessage]]:
    """Part messages into portions in which each topic has its turn, in its own order.

    So what one sender floods the broker with holds up the others by one portion at most.
    """
    if sum(map(_message_size, messages)) <= most_bytes:
        yield list(messages)
        return
    waiting: dict[str, deque[ArrivedMessage]] = {}
    for message in messages:
        waiting.setdefault(message.topic, deque()).append(message)
    portion: list[ArrivedMessage] = []
    size = 0
    while waiting:
        for topic, of_topic in list(waiting.items()):
            portion.append(of_topic.popleft())
            size += _message_size(portion[-1])
            if not of_topic:
                del waiting[topic]
            if size >= most_bytes:
                yield portion
                portion, size = [], 0
    if portion:
        yield portion


_GAP_S = 1.0
SPAN_S = 5.0
_LONG_S = SPAN_S + 2.0
_TRICKLE_PER_S = 50.0  # messages: no backlog comes as slowly, no yard's sensors send as fast


class Backlog:
    """What waited in the broker comes first after a reconnect, as fast as it is taken.

    So a gap ends it, and so does a span in which little came: a busy yard leaves no gap.
    """

    def __init__(self) -> None:
        self.waits = False
        self._began_s = self._last_s = self._span_began_s = 0.0
        self._count = 0  # messages since the span began

    def begin_connection(self, *, kept: bool) -> None:
        """A connection begins; ``kept``: the broker kept what came meanwhile."""
        self.waits = kept
        self._began_s = self._last_s = self._span_began_s = time.monotonic()
        self._count = 0

    @property
    def lasts_long(self) -> bool:
        """Whether it goes on after the span in which any reconnect is seen through."""
        return self.waits and time.monotonic() - self._began_s > _LONG_S

    def count_message(self) -> None:
        """A message came."""
        self._count += 1

    def note_all_read(self) -> None:
        """Everything that could be read at once has been."""
        self._last_s = time.monotonic()

    def check_caught_up(self) -> None:
        """See whether it is through; called now and then, between reads."""
        if not self.waits:
            return
        now_s = time.monotonic()
        span_s = now_s - self._span_began_s
        if now_s - self._last_s > _GAP_S:
            self.waits = False
        elif span_s >= SPAN_S:
            self.waits = self._count > _TRICKLE_PER_S * span_s
            self._span_began_s, self._count = now_s, 0
