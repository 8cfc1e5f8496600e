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
    with pytest.raises(WebError, match=r"owner's craft.*127\.0\.0\.1.*people"):
        PageServer(app(), host).start()


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.9", "::1", "localhost"])
def test_this_machine_itself_is_served(host):
    server = PageServer(app(), host)
    try:
        with urllib.request.urlopen(server.start()) as answer:
            assert answer.status == 200
    finally:
        server.stop()


def test_where_people_sign_in_it_is_served_beyond_this_machine():
    server = PageServer(app(), "0.0.0.0", asks_who=True)
    try:
        port = server.start().rstrip("/").rpartition(":")[2]
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
            assert answer.status == 200
    finally:
        server.stop()


def told_of_itself(proxies):
    """What an app hears of a caller who says that it is a proxy."""
    heard = {}

    async def listen(scope, _, send):
        heard.update(client=scope["client"][0], scheme=scope["scheme"])
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    server = PageServer(listen, proxies=proxies)
    try:
        claims = {"X-Forwarded-For": "198.51.100.7, 203.0.113.9", "X-Forwarded-Proto": "https"}
        with urllib.request.urlopen(urllib.request.Request(server.start(), headers=claims)):
            return heard
    finally:
        server.stop()


def test_only_a_named_proxy_is_believed_on_whence_a_caller_comes():
    assert told_of_itself([]) == {"client": "127.0.0.1", "scheme": "http"}
    assert told_of_itself(["192.0.2.1"]) == {"client": "127.0.0.1", "scheme": "http"}
    # The last address is the one that the proxy itself saw; what stands before it anybody wrote.
    assert told_of_itself(["127.0.0.1"]) == {"client": "203.0.113.9", "scheme": "https"}


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
