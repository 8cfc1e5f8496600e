"""The table of rights: every route has its row, and what has none is not there."""

import re
from itertools import product

import pytest
from fastapi import APIRouter
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.errors import WebError
from monitor.phrases.complaints import ID
from monitor.web.access.route_rights import ROUTE_RIGHTS, missing_rights, routes_of
from monitor.web.app import create_app
from tests.reports import kettlemoss
from tests.web.access.scene import SignInScene

NOW = kettlemoss.KETTLEMOSS_NOW


def test_every_route_and_method_has_its_row_and_every_row_its_route(store):
    served = set(routes_of(SignInScene(store).app))
    named = {(method, row.path) for row in ROUTE_RIGHTS for method in row.methods}
    assert served == named


def test_an_app_with_a_route_without_a_row_does_not_start(store):
    extra = APIRouter(prefix="/api/secret")
    extra.add_api_route("/{craft}", lambda craft: craft, methods=["PUT"])
    with pytest.raises(WebError, match=r"PUT /api/secret/\{craft\}"):
        create_app(store, kettlemoss.yard(), ReadingsClock(NOW), list, layup=extra)
    assert missing_rights(extra) == ["PUT /api/secret/{craft}"]


def test_no_path_is_of_two_rows():
    # Filled in with a word that every parameter takes: two rows that match it would differ in
    # what they ask for, and the guard and the router might each take another.
    for one, other in product(ROUTE_RIGHTS, repeat=2):
        both = set(one.methods) & set(other.methods)
        if one is not other and both:
            path = one.path.replace("{path:path}", "x").replace("{", "").replace("}", "")
            found = other.matches_path(path)
            # What no craft can be called, such as the name of a script, is never taken for one.
            craft = found.groupdict().get("craft", "x") if found else ""
            assert not re.match(ID, craft), f"{both} {path} is also {other.path}"


@pytest.mark.parametrize(
    "path",
    [
        "/docs",
        "/redoc",
        "/.//",
        "/api//assess",
        "/api/assess/",
        "/Api/assess",
        "/%2e%2e/api/assess",
    ],
)
def test_a_path_without_a_row_is_not_there(store, path):
    assert TestClient(SignInScene(store).app).get(path).status_code == 404


def test_a_method_without_a_row_is_refused_with_those_that_are(store):
    answer = TestClient(SignInScene(store).app).options("/api/craft/k2/layup")
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET, POST")
