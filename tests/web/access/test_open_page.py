"""A page that asks nobody: to whom it answers all the same, and by which names."""

import pytest
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.web.access.guard import OpenAccess
from monitor.web.app import create_app
from tests.reports import kettlemoss


@pytest.fixture
def open_page(store):
    yard = kettlemoss.yard()
    access = OpenAccess(yard, hosts={"watch.yard.example"})
    app = create_app(
        store, yard, ReadingsClock(kettlemoss.KETTLEMOSS_NOW), kettlemoss.craft, access=access
    )
    return TestClient(app, base_url="http://127.0.0.1:8017")


@pytest.mark.parametrize(
    "name",
    ["127.0.0.1", "127.0.0.1:8017", "localhost:8017", "[::1]:8017", "watch.yard.example",
     "Watch.Yard.Example:443"],
)  # fmt: skip
def test_it_answers_to_its_own_names(open_page, name):
    assert open_page.get("/", headers={"Host": name}).status_code == 200


@pytest.mark.parametrize(
    "name",
    ["rebound.example", "rebound.example:8017", "127.0.0.1.rebound.example", "192.0.2.7",
     "localhost.rebound.example", "watch.yard.example.rebound.example"],
)  # fmt: skip
@pytest.mark.parametrize(
    ("method", "path"), [("GET", "/"), ("GET", "/api/assess"), ("POST", "/alarms/1/acts")]
)
def test_a_site_whose_name_leads_here_reads_and_does_nothing(open_page, method, path, name):
    # The browser takes it for that site's own page: same origin, so no other check holds.
    sent = {"Host": name, "Sec-Fetch-Site": "same-origin"}
    answer = open_page.request(method, path, headers=sent)
    assert answer.status_code == 421
    assert "[web] address" in answer.text
    for space in kettlemoss.yard().spaces:
        assert space.name not in answer.text


def test_health_tells_such_a_site_the_status_alone(open_page):
    said = open_page.get("/health", headers={"Host": "rebound.example"})
    assert set(said.json()) == {"status"}
