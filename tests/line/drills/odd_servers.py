"""Mail and web servers over plain sockets, which are slow, stubborn or endless as a drill says."""

import socket
import socketserver
import ssl
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import Message
from typing import BinaryIO, Self


@dataclass(frozen=True, slots=True, kw_only=True)
class MailCopy:
    """One mail whose last dot came in, whether or not its sender waited for our answer."""

    at_s: float  # by the machine's monotonic clock
    recipient: str
    content: bytes

    @property
    def subject(self) -> str:
        """Subject line."""
        return str(self._read()["Subject"])

    @property
    def message_id(self) -> str:
        """By which a mail program knows the second copy of a mail."""
        return str(self._read()["Message-ID"])

    def _read(self) -> Message:
        return message_from_bytes(self.content, policy=policy.default)


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    allow_reuse_address = True


class OddServer:
    """A threaded TCP server on a port of its own, which hands each connection to ``talk``."""

    def __init__(self, port: int = 0, encrypt: ssl.SSLContext | None = None) -> None:
        odd, self.stopping = self, threading.Event()

        class Talk(socketserver.StreamRequestHandler):
            def handle(self) -> None:
                try:
                    odd.talk(self.request, self.rfile)
                except OSError:
                    return  # whoever called has hung up

        self._server = _Server(("127.0.0.1", port), Talk)
        if encrypt is not None:
            self._server.socket = encrypt.wrap_socket(self._server.socket, server_side=True)
        self.port: int = self._server.server_address[1]
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()

    def talk(self, line: socket.socket, lines: BinaryIO) -> None:
        """Serve one connection."""
        raise NotImplementedError

    def drip(self, line: socket.socket, every_s: float) -> None:
        """Send one byte after another, never an end, until the caller hangs up."""
        while not self.stopping.wait(every_s):
            line.sendall(b"x")

    def close(self) -> None:
        """Listen no more."""
        self.stopping.set()
        self._server.shutdown()
        self._server.server_close()

    def __enter__(self) -> Self:
        """Itself: it listens already."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close."""
        self.close()


class OddMailServer(OddServer):
    """Speaks SMTP (RFC 5321) with the manners that a drill gives it."""

    def __init__(
        self,
        port: int = 0,
        *,
        after_dot_s: float = 0.0,
        drip_greeting_s: float = 0.0,
        reads_content: bool = True,
        answer_recipient: Callable[[str, int], str] = lambda _address, _nth: "250 2.1.5 fine",
    ) -> None:
        self.after_dot_s = after_dot_s  # between the last dot and our word
        self.drip_greeting_s = drip_greeting_s  # between two bytes of an endless greeting
        self.reads_content = reads_content
        self.copies: list[MailCopy] = []
        self.asked: dict[str, int] = {}  # how often each recipient was named
        self._answer_recipient = answer_recipient
        super().__init__(port)

    def talk(self, line: socket.socket, lines: BinaryIO) -> None:
        """Serve one connection."""
        if self.drip_greeting_s:
            line.sendall(b"220-")
            self.drip(line, self.drip_greeting_s)
            return
        line.sendall(b"220 odd ready\r\n")
        recipient = ""
        for command in lines:
            verb = command[:4].decode(errors="replace").strip().lower()
            if verb == "quit":
                line.sendall(b"221 bye\r\n")
                return
            answer = "250 fine"
            if verb == "rcpt":
                recipient = command.decode().partition("<")[2].partition(">")[0]
                nth = self.asked[recipient] = self.asked.get(recipient, 0) + 1
                answer = self._answer_recipient(recipient, nth)
            elif verb == "data":
                line.sendall(b"354 go on\r\n")
                if not self.reads_content:
                    self.stopping.wait()
                    return
                content = []
                while (text := lines.readline()) not in {b".\r\n", b""}:
                    content.append(text)
                self.copies.append(
                    MailCopy(at_s=time.monotonic(), recipient=recipient, content=b"".join(content))
                )
                self.stopping.wait(self.after_dot_s)
                answer = "250 2.0.0 kept"
            line.sendall(f"{answer}\r\n".encode())


class DrippingWebServer(OddServer):
    """Answers every request with headers that come byte by byte and never end."""

    def __init__(
        self,
        *,
        every_s: float,
        head: bytes = b"HTTP/1.1 200 OK\r\nx-slow: ",
        encrypt: ssl.SSLContext | None = None,
    ) -> None:
        self.requests: list[float] = []
        self._every_s = every_s
        self._head = head  # comes whole, before the bytes that drip
        super().__init__(encrypt=encrypt)

    def talk(self, line: socket.socket, lines: BinaryIO) -> None:
        """Read the head of a request, then drip."""
        while lines.readline() not in {b"\r\n", b""}:
            pass
        self.requests.append(time.monotonic())
        line.sendall(self._head)
        self.drip(line, self._every_s)


class TakingWebServer(OddServer):
    """Answers every request with 204, and keeps when it came and its body."""

    def __init__(self) -> None:
        self.requests: list[tuple[float, bytes]] = []
        super().__init__()

    def talk(self, line: socket.socket, lines: BinaryIO) -> None:
        """Read one request and answer it."""
        length = 0
        while (head := lines.readline()) not in {b"\r\n", b""}:
            if head.lower().startswith(b"content-length:"):
                length = int(head.partition(b":")[2])
        self.requests.append((time.monotonic(), lines.read(length)))
        line.sendall(b"HTTP/1.1 204 No Content\r\nconnection: close\r\n\r\n")
