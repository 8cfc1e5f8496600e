"""What one caller may ask: small bodies, soon sent, behind the token, and not every place."""

import asyncio
import json
import socket
import threading
import time
import urllib.error
import urllib.request
from datetime import UTC

import pytest
from fastapi import HTTPException, Request
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.clock import ReadingsClock
from monitor.store.taking_in import take_in
from monitor.web import limits
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.visitor import form_of, multipart_form_of
from monitor.web.api.layup import layup_router
from monitor.web.app import create_app
from monitor.web.server import PageServer
from monitor.wording import Wording
from tests.craft.scene import EVE, SHELTERS, ZONE, library, twelve
from tests.reports import kettlemoss as yard_of
from tests.tried import tried
from tests.web.access.scene import KEY, give_key
from tests.web.api.test_layup import DRAIN, NOW

WITH_KEY = {"Authorization": f"Bearer {KEY}", "Content-Type": "application/json"}
LAYUP = "/api/craft/k2/layup"


@pytest.fixture
def app(empty_store):
    with empty_store.transaction() as tx:
        take_in(tx.layup, twelve().values(), library(), NOW)
    router = layup_router(
        empty_store,
        library(),
        SHELTERS,
        ReadingsClock(EVE.astimezone(UTC)),
        Wording(zone=ZONE),
    )
    clock = ReadingsClock(yard_of.KETTLEMOSS_NOW)
    access = PeopleAccess(empty_store, yard_of.yard(), clock, list)
    give_key(empty_store)
    return create_app(empty_store, yard_of.yard(), clock, list, layup=router, access=access)


@pytest.fixture
def api(app):
    return TestClient(app)


@pytest.fixture
def port(app):
    server = PageServer(app)
    yield int(server.start().rstrip("/").rpartition(":")[2])
    server.stop()


def raw(port, head, *parts):
    """What comes back on a connection of one's own, and how long it took [s]."""
    began = time.monotonic()
    with socket.create_connection(("127.0.0.1", port), timeout=20) as caller:
        caller.sendall(head.encode())
        for part in parts:
            caller.sendall(part)
        answer = b""
        while b"}" not in answer:  # all are JSON objects
            answer += caller.recv(4096)
        return answer.decode(), time.monotonic() - began


def test_without_the_token_no_byte_of_the_body_is_waited_for(port):
    head = f"POST {LAYUP} HTTP/1.1\r\nHost: x\r\nContent-Length: 60000\r\n\r\n"
    answer, took_s = raw(port, head)
    assert answer.startswith("HTTP/1.1 401")
    assert "Bearer" in answer
    assert took_s < 10


@pytest.mark.parametrize("length", ["Content-Length: 70000", "Transfer-Encoding: chunked"])
def test_a_large_body_is_refused_whether_it_says_its_length_or_not(port, length):
    head = f"POST {LAYUP} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {KEY}\r\n{length}\r\n\r\n"
    chunk = b"2000\r\n" + bytes(0x2000) + b"\r\n"
    parts = [chunk] * 9 if "chunked" in length else []
    answer, _ = raw(port, head, *parts)
    assert answer.startswith("HTTP/1.1 413")
    assert "64 KiB" in answer


def test_a_body_that_drips_is_refused_in_time(port, monkeypatch):
    monkeypatch.setattr(limits, "_BODY_WITHIN_S", 0.5)
    head = (
        f"POST {LAYUP} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {KEY}\r\n"
        "Content-Length: 100\r\n\r\n"
    )
    answer, _ = raw(port, head, b"{")
    assert answer.startswith("HTTP/1.1 408")


def test_photos_of_one_sender_that_stall_hold_up_nobody_elses():
    async def three_stall_and_another_comes():
        stalled, answered = asyncio.Event(), []

        async def answer(scope, *_):
            if scope["client"][0] == "192.0.2.1":
                await stalled.wait()
            answered.append(scope["client"][0])

        crowd = limits.LimitedCrowd(answer)
        head = [(b"content-type", b"multipart/form-data; boundary=x")]

        def upload_from(host):
            scope = {"type": "http", "method": "POST", "path": "/craft/k1/bench",
                     "headers": head, "client": (host, 1)}  # fmt: skip
            return asyncio.create_task(crowd(scope, None, None))

        of_one = [upload_from("192.0.2.1") for _ in range(3)]
        await asyncio.sleep(0)
        await asyncio.wait_for(upload_from("192.0.2.2"), 5)
        assert answered == ["192.0.2.2"]
        stalled.set()
        await asyncio.gather(*of_one)
        assert len(answered) == 4

    asyncio.run(three_stall_and_another_comes())


def test_headers_without_end_are_refused(port):
    with socket.create_connection(("127.0.0.1", port), timeout=20) as caller:
        caller.sendall(b"GET / HTTP/1.1\r\nX-Long: " + b"x" * 40_000)
        assert caller.recv(4096).startswith(b"HTTP/1.1 4")


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ({"quantity_l": float("nan")}, "quantity_l"),
        ({"at": "0001-01-01T00:00:00+14:00"}, "at"),
        ({"at": "9999-12-31T23:59:59-14:00"}, "at"),
        ({"evidence": {"zeroed_on": "0001-01-01"}}, "evidence.zeroed_on"),
        ({"by": "Tom \ud800"}, "by"),
        ({"\ud800": 1}, ""),
        ({"photos": 3}, "photos"),
        ({"circuits": ["c"] * 101}, "circuits"),
        ({"note": "x" * 2001}, "note"),
    ],
)
def test_what_no_entry_can_hold_is_refused_with_its_field_and_a_remedy(api, said, key):
    body = json.dumps({**DRAIN, **said})
    answer = api.post(LAYUP, content=body, headers=WITH_KEY)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    [fault] = answer.json()["faults"]
    assert fault["key"] == key
    assert fault["problem"]
    assert fault["remedy"]


@pytest.mark.parametrize("body", [b"[" * 30_000, b"\xff\xfe", b"", b"1" * 5000, b'"\\ud800"'])
def test_what_is_no_json_object_is_refused(api, body):
    answer = api.post(LAYUP, content=body, headers=WITH_KEY)
    assert 400 <= answer.status_code < 500
    answer.json()


@pytest.mark.parametrize("name", ["K%00", "%ED%A0%80", "a" * 64, "..%2F"])
def test_a_name_that_no_craft_can_have_is_refused_before_the_store_is_asked(api, name):
    assert 400 <= api.get(f"/api/craft/{name}/layup", headers=WITH_KEY).status_code < 500
    assert 400 <= api.get(f"/api/alarms/{name}/cap").status_code < 500


_ANY = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(st.characters())
    | st.datetimes().map(lambda at: at.isoformat() + "Z"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)
_FIELDS = [
    "at", "by", "act", "circuits", "product", "quantity_l", "residual_l", "space", "rested_v",
    "evidence", "findings", "settles", "note", "replaces", "id", "cover", "posture",
]  # fmt: skip


@settings(
    max_examples=tried(40),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(field=st.sampled_from(_FIELDS), value=_ANY)
def test_whatever_a_field_holds_the_answer_is_no_failure_of_ours(api, field, value):
    body = json.dumps({**DRAIN, field: value})
    answer = api.post(LAYUP, content=body, headers=WITH_KEY)
    assert answer.status_code < 500
    answer.json()


@pytest.fixture
def crowded(empty_store):
    """A page of which somebody holds every place that readers have."""
    go_on = threading.Event()

    def slow_craft() -> list:
        go_on.wait(20)
        return []

    clock = ReadingsClock(yard_of.KETTLEMOSS_NOW)
    server = PageServer(create_app(empty_store, yard_of.yard(), clock, slow_craft))
    yield server.start(), go_on
    go_on.set()
    server.stop()


def test_a_crowd_is_turned_away_and_what_acts_or_tells_of_health_is_not(crowded):
    address, go_on = crowded
    came: list[int] = []
    again: list[str] = []

    def ask() -> None:
        try:
            with urllib.request.urlopen(address, timeout=30) as answer:
                came.append(answer.status)
        except urllib.error.HTTPError as error:
            came.append(error.code)
            again.append(error.headers["Retry-After"])

    crowd = [threading.Thread(target=ask) for _ in range(60)]
    for one in crowd:
        one.start()
    request = urllib.request.Request(f"{address}health")
    with pytest.raises(urllib.error.HTTPError) as health:  # 503, for no reading is in its store
        urllib.request.urlopen(request, timeout=4)
    assert "checks" in json.loads(health.value.read())
    go_on.set()
    for one in crowd:
        one.join()
    assert came.count(200) >= 4
    assert came.count(503) >= 10
    assert len(came) == 60
    assert all(int(seconds) > 0 for seconds in again)


@pytest.mark.parametrize(
    ("read", "kind"),
    [
        (form_of, b"application/x-www-form-urlencoded"),
        (multipart_form_of, b"multipart/form-data; boundary=x"),
    ],
)
def test_a_link_that_is_lost_in_mid_form_is_no_failure_of_ours(read, kind):
    parts = iter(
        (
            {"type": "http.request", "body": b"--x\r\n", "more_body": True},
            {"type": "http.disconnect"},
        )
    )

    async def receive():
        return next(parts)

    scope = {"type": "http", "method": "POST", "headers": [(b"content-type", kind)]}
    with pytest.raises(HTTPException) as refused:
        asyncio.run(read(Request(scope, receive)))
    assert refused.value.status_code == 400
    assert "send it again" in refused.value.detail
