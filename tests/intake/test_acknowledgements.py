"""An acknowledgement is sent on the connection that brought its message, or not at all.

Packet ids begin anew with a connection, where the broker has lost the session (MQTT 5.0, sections
4.4 and 2.2.1): an old acknowledgement would there confirm a message that nobody has stored.
"""

import socket
import time
from typing import Self

import pytest

from monitor.intake.broker import BrokerSettings
from monitor.intake.connection import Connection
from monitor.intake.inbox import ArrivedMessage, Inbox
from tests.real.need import wait_until

CONNECT, PUBACK, SUBSCRIBE, PINGREQ, DISCONNECT = 1, 4, 8, 12, 14
PACKET_ID = 7


class ScriptedBroker:
    """Speaks just enough MQTT to one client, packet by packet, as the test says."""

    def __init__(self, version: str) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(20)
        self._no_properties = b"\x00" if version == "5" else b""
        self._line: socket.socket | None = None
        self._read = b""
        self.settings = BrokerSettings(
            port=self._listener.getsockname()[1], topics=("mill/#",), version=version
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.hang_up()
        self._listener.close()

    def take_caller(self, *, answers: bool = True) -> None:
        """Wait for the client and read its CONNECT."""
        self._line, _ = self._listener.accept()
        self._line.settimeout(20)
        self._read = b""
        assert self._next_packet()[0] == CONNECT
        if answers:
            self.answer_connect()

    def answer_connect(self) -> None:
        """Say that no session was kept, and grant both subscriptions."""
        self._send(0x20, b"\x00\x00" + self._no_properties)
        for _ in range(2):
            kind, body = self._next_packet()
            assert kind == SUBSCRIBE
            self._send(0x90, body[:2] + self._no_properties + b"\x01")

    def publish(self, payload: bytes) -> None:
        """Hand a message over with QoS 1, always under the same packet id."""
        topic = b"\x00\x0amill/north" + PACKET_ID.to_bytes(2) + self._no_properties
        self._send(0x32, topic + payload)

    def acknowledged_until_goodbye(self) -> list[int]:
        """Packet ids that the client acknowledges before it says goodbye."""
        found = []
        while (packet := self._next_packet())[0] != DISCONNECT:
            if packet[0] == PUBACK:
                found.append(int.from_bytes(packet[1][:2]))
            else:
                assert packet[0] == PINGREQ, packet
                self._send(0xD0, b"")
        return found

    def hang_up(self) -> None:
        """End the connection as a broker does that dies."""
        if self._line is not None:
            self._line.close()
            self._line = None

    def _send(self, head: int, body: bytes) -> None:
        assert self._line is not None
        self._line.sendall(bytes([head, len(body)]) + body)

    def _next_packet(self) -> tuple[int, bytes]:
        head, length = self._take(2)
        assert length < 128
        return head >> 4, self._take(length)

    def _take(self, count: int) -> bytes:
        assert self._line is not None
        while len(self._read) < count:
            piece = self._line.recv(4096)
            assert piece, "the client hung up"
            self._read += piece
        taken, self._read = self._read[:count], self._read[count:]
        return taken


@pytest.fixture(params=["5", "3.1.1"])
def broker(request):
    with ScriptedBroker(request.param) as broker:
        yield broker


@pytest.fixture
def inbox():
    return Inbox(100)


@pytest.fixture
def connection(broker, inbox):
    connection = Connection(broker.settings, inbox, lambda: (time.time_ns() // 1_000_000, 0))
    connection.start()
    yield connection
    connection.stop(10)


def next_message(inbox: Inbox, payload: bytes) -> ArrivedMessage:
    wait_until(lambda: len(inbox) == 1, 20, f"the message {payload!r}")
    (message,) = inbox.take_all()
    assert (message.payload, message.packet_id) == (payload, PACKET_ID)
    return message


def test_a_stored_message_is_acknowledged_once(broker, inbox, connection):
    broker.take_caller()
    broker.publish(b"first")
    connection.acknowledge([next_message(inbox, b"first")])
    connection.stop(10)
    assert broker.acknowledged_until_goodbye() == [PACKET_ID]


def test_what_was_stored_late_confirms_nothing_of_the_next_connection(broker, inbox, connection):
    broker.take_caller()
    broker.publish(b"first")
    first = next_message(inbox, b"first")
    broker.hang_up()
    broker.take_caller()
    broker.publish(b"second")
    next_message(inbox, b"second")
    connection.acknowledge([first])
    connection.stop(10)
    assert broker.acknowledged_until_goodbye() == []


def test_what_was_stored_between_two_connections_confirms_nothing(broker, inbox, connection):
    broker.take_caller()
    broker.publish(b"first")
    first = next_message(inbox, b"first")
    broker.hang_up()
    wait_until(lambda: not connection.connected, 20, "the end to be seen")
    connection.acknowledge([first])
    broker.take_caller(answers=False)
    connection.acknowledge([first])
    broker.answer_connect()
    broker.publish(b"second")
    second = next_message(inbox, b"second")
    connection.acknowledge([first, second, first])
    connection.stop(10)
    assert broker.acknowledged_until_goodbye() == [PACKET_ID]
