"""What answers of the API have in common: tags, refusals, and who gets which."""

import pytest

from monitor.store.sign_ins import KeptPassword
from monitor.web.access.sessions import begin_session
from tests.reports import kettlemoss

SENSOR = "urn:dev:ops:kettlemoss-long-shed"
READINGS = f"/api/readings?sensor={SENSOR}&channel=temperature"
PLAIN = {"Accept-Encoding": "identity"}


@pytest.mark.parametrize(
    "path",
    ["/api/assess", "/api/series", READINGS, "/api/alarms", "/api/craft", "/api/craft/k2/layup"],
)
@pytest.mark.parametrize("encoding", ["identity", "gzip"])
def test_who_has_an_answer_already_is_told_so_until_it_changes(api, path, encoding):
    asks = {"Accept-Encoding": encoding}
    first = api.get(path, headers=asks)
    tag = first.headers["etag"]
    assert not tag.startswith("W/")
    assert tag == api.get(path, headers=asks).headers["etag"]
    for header in (tag, f'"other", {tag}', f"W/{tag}", "*"):
        again = api.get(path, headers=asks | {"If-None-Match": header})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["etag"] == tag
    other = api.get(path, headers=asks | {"If-None-Match": '"other"'})
    assert (other.status_code, other.content) == (200, first.content)


def test_two_forms_of_one_answer_have_two_strong_tags(api):
    packed = api.get(READINGS, headers={"Accept-Encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"
    plain = api.get(READINGS, headers=PLAIN)
    assert packed.json() == plain.json()
    assert packed.headers["etag"] != plain.headers["etag"]
    assert "accept-encoding" in plain.headers["vary"].lower()


def test_another_answer_has_another_tag(api):
    before = api.get("/api/alarms?state=all").headers["etag"]
    with api.store.transaction() as tx:
        first = kettlemoss.alarms()[0]
        tx.alarms.put([type(first)(**{**_fields(first), "id": "one-more"})])
    assert api.get("/api/alarms?state=all").headers["etag"] != before


def _fields(alarm):
    return {name: getattr(alarm, name) for name in alarm.__dataclass_fields__}


@pytest.mark.parametrize(
    ("path", "key", "value", "words"),
    [
        (f"{READINGS}&limit=0", "query.limit", "0", "Write 1 or more"),
        (f"{READINGS}&limit=5001", "query.limit", "5001", "Write 5000 or less"),
        (f"{READINGS}&cursor=x", "query.cursor", "x", ""),
        (f"{READINGS}&since=2026-11-02", "query.since", "2026-11-02", ""),
        (f"{READINGS}&since=2026-11-02T10:00:00", "query.since", "2026-11-02T10:00:00", "-05:00"),
        (
            f"{READINGS}&since=2999-01-01T00:00:00Z", "query.since", "2999-01-01T00:00:00Z",
            "year",
        ),
        (
            f"{READINGS}&since=2026-11-14T00:00:00Z&until=2026-11-13T00:00:00Z", "query.since",
            "2026-11-14T00:00:00Z", "an earlier since",
        ),
        (
            f"/api/rollups?sensor={SENSOR}&channel=humidity&since=2024-11-14T00:00:00Z"
            "&until=2026-11-13T00:00:00Z", "query.since", "2024-11-14T00:00:00Z", "400 days",
        ),
        ("/api/readings?sensor=a%20b&channel=temperature", "query.sensor", "a b", "128 at most"),
        (f"/api/readings?sensor={SENSOR}&channel=humidty", "query.channel", "humidty", "humidity"),
        ("/api/alarms/a_b", "path.alarm", "a_b", ""),
        ("/api/alarms?state=shut", "query.state", "shut", "'open' or 'all'"),
        ("/api/craft/K2/assess", "path.craft", "K2", "small letters"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_with_parameter_value_and_remedy(
    api, path, key, value, words
):
    # RFC 9457, section 3.
    answer = api.get(path)
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert (answer.status_code, told["status"], told["type"]) == (422, 422, "about:blank")
    [fault] = told["faults"]
    assert (fault["key"], fault["value"]) == (key, value)
    assert fault["problem"]
    assert words in fault["remedy"]


def test_no_description_has_the_framework_s_own_shape_of_a_refusal(api):
    told = api.web.get("/openapi.json").json()
    assert "HTTPValidationError" not in told["components"]["schemas"]
    for path, operations in told["paths"].items():
        for operation in operations.values():
            for status, answer in operation["responses"].items():
                if status >= "400" and path != "/health":
                    assert set(answer["content"]) == {"application/problem+json"}, path


@pytest.mark.parametrize(
    "path",
    ["/api/readings?sensor=nobody&channel=voltage", "/api/alarms/none", "/api/craft/none/alarms"],
)
def test_what_is_not_there_is_404(api, path):
    assert api.get(path).status_code == 404


def test_an_owner_who_is_signed_in_gets_the_own_craft_and_nothing_of_the_yard(api):
    craft = api.craft.read_now()
    owner = next(one.owner for one in craft if one.owner)
    mine = {one.id for one in craft if one.owner == owner}
    assert 0 < len(mine) < len(craft)
    with api.store.transaction() as tx:
        tx.sign_ins.put_password(owner, KeptPassword("kept", api.clock.now()))
        session = begin_session(tx, owner, api.clock.now(), "test")
    web = api.web
    web.cookies.set("laidup", session)
    listed = web.get("/api/craft").json()["craft"]
    assert {one["craft"] for one in listed} == mine
    for path in (READINGS, "/api/series", "/api/rollups", "/api/alarms", "/api/assess"):
        assert web.get(path).status_code in {403, 401}, path
    other = next(one.id for one in craft if one.id not in mine)
    assert web.get(f"/api/craft/{min(mine)}/alarms").status_code == 200
    for path in ("alarms", "assess", "layup"):
        assert web.get(f"/api/craft/{other}/{path}").status_code == 404


def test_one_craft_alone_is_told_as_within_the_whole_yard(api):
    alone = api.get("/api/craft/k2/assess").json()
    whole = {one["craft"]: one for one in api.get("/api/assess").json()["craft"]}
    assert len(alone["circuits"]) > 1
    assert alone == whole["k2"]


def test_an_alarm_is_told_with_every_change_of_it(api):
    event = kettlemoss.alarm_events()[0]
    told = api.get(f"/api/alarms/{event.alarm}").json()
    assert told["id"] == event.alarm
    changes = [one for one in kettlemoss.alarm_events() if one.alarm == event.alarm]
    assert [one["after"] for one in told["changes"]] == [str(one.after) for one in changes]
    assert told["changes"][0]["by"] == event.by
    assert told["changes"][0]["at"].endswith("Z")
