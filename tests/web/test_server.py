import socket
import threading
import urllib.request

import pytest
from fastapi import FastAPI

from monitor.errors import WebError
from monitor.web import server as serving
from monitor.web.server import PageServer


def app():
    made = FastAPI()

    @made.get("/")
    def hello():
        return "here"

    return made


def test_any_free_port_is_taken_and_told():
    server = PageServer(app())
    address = server.start()
    try:
        assert address == server.address
        assert address.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(address) as answer:
            assert answer.read() == b'"here"'
    finally:
        server.stop()


def test_a_stopped_server_leaves_no_thread_and_gives_its_port_back():
    before = set(threading.enumerate())
    server = PageServer(app())
    port = int(server.start().rstrip("/").rpartition(":")[2])
    server.stop()
    assert {t for t in set(threading.enumerate()) - before if t.name == "web"} == set()
    with socket.create_server(("127.0.0.1", port)):
        pass


def test_a_taken_port_is_an_error_at_the_start_with_the_way_out():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(WebError, match=rf"port {port}.*set another"):
            PageServer(app(), port=port).start()


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "yard.example", ""])
def test_beyond_this_machine_nothing_is_served_and_the_way_is_named(host):
    with pytest.raises(WebError, match=r"owner's craft.*127\.0\.0\.1.*proxy"):
        PageServer(app(), host).start()


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.9", "::1", "localhost"])
def test_this_machine_itself_is_served(host):
    server = PageServer(app(), host)
    try:
        with urllib.request.urlopen(server.start()) as answer:
            assert answer.status == 200
    finally:
        server.stop()


def test_stopping_what_never_started_is_no_error():
    PageServer(app()).stop()


def let_go(caller):
    try:
        return caller.recv(1) == b""
    except ConnectionResetError:
        return True


@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\nHost:"])
def test_a_caller_that_asks_nothing_is_let_go(monkeypatch, said):
    monkeypatch.setattr(serving, "_ASK_WITHIN_S", 0.3)
    server = PageServer(app())
    port = int(server.start().rstrip("/").rpartition(":")[2])
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=10) as caller:
            caller.sendall(said)
            assert let_go(caller)
    finally:
        server.stop()


def test_callers_by_the_hundred_leave_room_for_everything_else(monkeypatch):
    monkeypatch.setattr(serving, "_CONNECTIONS", 5)
    server = PageServer(app())
    address = server.start()
    port = int(address.rstrip("/").rpartition(":")[2])
    callers = [socket.create_connection(("127.0.0.1", port), timeout=10) for _ in range(20)]
    try:
        assert all(let_go(caller) for caller in callers[5:])
        for caller in callers:
            caller.close()
        with urllib.request.urlopen(address) as answer:
            assert answer.read() == b'"here"'
    finally:
        server.stop()
