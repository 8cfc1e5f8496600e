import socket
import threading
import urllib.request

import pytest
from fastapi import FastAPI

from monitor.errors import WebError
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


def test_stopping_what_never_started_is_no_error():
    PageServer(app()).stop()
