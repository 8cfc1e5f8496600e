"""A socket that reads and writes many MQTT packets in one system call."""

import contextlib
import socket

_CHUNK = 64 * 1024


class BufferedSocket:
    """Stands before a socket: reads ahead, and holds what is written until it is flushed.

    paho reads a packet in at least three calls and writes each acknowledgement in one. Thousands
    of messages a second spend most of their time there; here they share one call each way.
    """

    def __init__(self, wire: socket.socket) -> None:
        self._wire = wire
        self._ahead = b""
        self._at = 0
        self._held = bytearray()

    def recv(self, buffer_size: int) -> bytes:
        """Read at most so many bytes; b"" at the end of the stream."""
        start = self._at
        if start == len(self._ahead):
            self._ahead = self._wire.recv(_CHUNK)
            start = 0
        piece = self._ahead[start : start + buffer_size]
        self._at = start + len(piece)
        return piece

    def pending(self) -> int:
        """How many bytes can be read without asking the network."""
        ahead = len(self._ahead) - self._at
        inner = getattr(self._wire, "pending", None)  # a TLS socket reads ahead on its own
        return ahead + (inner() if inner else 0)

    def send(self, buffer: bytes) -> int:
        """Hold the bytes until they are flushed."""
        self._held += buffer
        return len(buffer)

    def flush(self) -> bool:
        """Send what is held; False if the network took only a part of it.

        Raises
        ------
        OSError
            If the connection is gone.
        """
        while self._held:
            try:
                sent = self._wire.send(self._held)
            except (BlockingIOError, InterruptedError):
                return False
            except OSError as error:
                if _would_block(error):
                    return False
                raise
            del self._held[:sent]
        return True

    def close(self) -> None:
        """Send what is held, as far as the network takes it, and close."""
        with contextlib.suppress(OSError, ValueError):
            self.flush()
        self._wire.close()

    def fileno(self) -> int:
        """File descriptor, for selecting."""
        return self._wire.fileno()

    def setblocking(self, flag: bool) -> None:
        """Pass on."""
        self._wire.setblocking(flag)

    def setsockopt(self, level: int, name: int, value: int) -> None:
        """Pass on."""
        self._wire.setsockopt(level, name, value)


def _would_block(error: OSError) -> bool:
    # TLS says so with errors of its own; importing ssl only for their names costs memory.
    return type(error).__name__ in {"SSLWantReadError", "SSLWantWriteError"}
