"""No secret of an address or a header comes into laidup's own log, whatever goes wrong."""

import logging

import pytest

from monitor.errors import StoreError
from monitor.web.access.people_access import PeopleAccess
from tests.web.access.scene import KEY, SignInScene

SECRET = "Q" * 43


@pytest.mark.parametrize("first", ["owner", "password", "answer"])
def test_a_store_that_gives_nothing_is_told_of_without_the_link(store, caplog, monkeypatch, first):
    scene = SignInScene(store)

    def broken(*_, **__):
        raise StoreError("disk gone")

    with caplog.at_level(logging.DEBUG):
        monkeypatch.setattr(type(store), "snapshot", broken)
        answer = scene.browser().get(f"/{first}/{SECRET}", headers={"Cookie": f"x={SECRET}"})
    assert answer.status_code == 503
    ours = [one.getMessage() for one in caplog.records if one.name != "httpx"]  # the test's own
    assert any(f"/{first}/..." in said for said in ours)
    assert not any(SECRET in said for said in ours)
    assert SECRET not in answer.text


def test_while_the_store_gives_nothing_nobody_is_let_in_and_health_still_answers(
    store, monkeypatch
):
    scene = SignInScene(store)

    def broken(*_, **__):
        raise StoreError("disk gone")

    monkeypatch.setattr(PeopleAccess, "_find_in_store", broken)
    shown = {"Authorization": f"Bearer {KEY}"}
    assert scene.browser().get("/api/assess", headers=shown).status_code == 503
    said = scene.browser().get("/health", headers=shown)
    assert set(said.json()) == {"status"}
