"""An MQTT 3.1.1 publisher over a bare socket, so that no library of laidup's is on both ends."""

import socket
from types import TracebackType
from typing import Self

_CONNECT, _PUBLISH, _PUBACK, _DISCONNECT = 0x10, 0x32, 0x40, 0xE0


class RawPublisher:
    """Publishes with QoS 1 and waits for each acknowledgement, or for none."""

    def __init__(self, port: int, client_id: str) -> None:
        self._wire = socket.create_connection(("127.0.0.1", port), timeout=60)
        self._next_id = 0
        self._unanswered = 0
        # Protocol name and level, clean session, keep alive of 600 s.
        self._send(_CONNECT, _text("MQTT") + b"\x04\x02" + (600).to_bytes(2) + _text(client_id))
        answer = self._read(4)
        assert answer[0] == 0x20, f"no CONNACK: {answer!r}"
        assert answer[3] == 0, f"the broker refuses: {answer!r}"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        _type: type[BaseException] | None,
        _value: BaseException | None,
        _: TracebackType | None,
    ) -> None:
        self._send(_DISCONNECT, b"")
        self._wire.close()

    def publish(self, topic: str, payload: bytes, *, retained: bool = False) -> None:
        """Publish one message and wait until the broker has it."""
        self.hand_over(topic, payload, retained=retained)
        self.wait()

    def hand_over(self, topic: str, payload: bytes, *, retained: bool = False) -> None:
        """Send one message without waiting for its acknowledgement."""
        self._next_id = self._next_id % 65535 + 1
        self._unanswered += 1
        self._send(_PUBLISH | retained, _text(topic) + self._next_id.to_bytes(2) + payload)

    def wait(self) -> None:
        """Wait for every acknowledgement that is still due."""
        while self._unanswered:
            answer = self._read(4)
            assert answer[0] == _PUBACK, f"no PUBACK: {answer!r}"
            self._unanswered -= 1

    def _send(self, head: int, body: bytes) -> None:
        length, left = bytearray(), len(body)
        while True:
            left, low = divmod(left, 128)
            length.append(low | (128 if left else 0))
            if not left:
                break
        self._wire.sendall(bytes([head]) + length + body)

    def _read(self, count: int) -> bytes:
        read = b""
        while len(read) < count:
            piece = self._wire.recv(count - len(read))
            assert piece, "the broker closed the connection"
            read += piece
        return read


def _text(text: str) -> bytes:
    return len(text.encode()).to_bytes(2) + text.encode()
