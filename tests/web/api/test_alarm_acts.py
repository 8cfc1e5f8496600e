"""Acts on alarms through the API: who did it, once however often it is sent, or why not."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest

from monitor.yard.alarm import AlarmState
from tests.reports import kettlemoss
from tests.web.access.scene import give_key

ASKING = next(
    one.id for one in kettlemoss.alarms() if one.state is AlarmState.UNACKNOWLEDGED and one.craft
)
PATH = f"/api/alarms/{ASKING}/acts"
TAKE_ON = {"act": "acknowledge", "by": "ines", "why": "on my way"}


def act(api, body, key=None, headers=None):
    sent = (headers or api.mechanic) | ({"Idempotency-Key": key} if key else {})
    return api.web.post(PATH, json=body, headers=sent)


def changes(api):
    with api.store.snapshot() as tx:
        return tx.alarms.history_of(ASKING)


def test_who_takes_an_alarm_on_stands_in_its_changes(api):
    told = act(api, TAKE_ON)
    assert told.status_code == 200
    assert told.json()["state"] == "acknowledged"
    assert told.json() == api.get(f"/api/alarms/{ASKING}").json()
    last = changes(api)[-1]
    assert (last.by, last.after) == ("ines", AlarmState.ACKNOWLEDGED)


def test_an_alarm_goes_to_the_shelf_and_comes_back(api):
    until = (api.clock.now() + timedelta(hours=6)).isoformat()
    shelf = {"act": "shelve", "by": "ines", "why": "probe is being moved", "until": until}
    assert act(api, shelf).json()["state"] == "shelved"
    back = act(api, {"act": "unshelve", "by": "ines"})
    assert back.json()["state"] == "unacknowledged"
    out = act(api, {"act": "take-out-of-service", "by": "ines", "why": "new sensor"})
    assert out.json()["state"] == "out of service"
    assert act(api, {"act": "return-to-service", "by": "ines"}).status_code == 200


@pytest.mark.parametrize(
    ("body", "key", "words"),
    [
        ({"act": "acknowledge"}, "by", "ines"),
        ({"act": "acknowledge", "by": "nobody"}, "by", "ines"),
        ({"act": "acknowledge", "by": "tobin"}, "by", "ines"),  # an owner
        ({"act": "take-out-of-service", "by": "ines", "why": " "}, "why", "Say why"),
        ({"act": "shelve", "by": "ines", "why": "wind"}, "until", "Say when"),
        ({"act": "acknowledge", "by": "ines", "why": "two\nlines"}, "why", "line"),
        ({"act": "silence", "by": "ines"}, "act", "'shelve'"),
        ({"act": "acknowledge", "by": "ines", "how": 1}, "how", "Leave it out"),
    ],
)
def test_an_act_that_says_too_little_is_refused_and_changes_nothing(api, body, key, words):
    before = changes(api)
    answer = act(api, body)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    [fault] = answer.json()["faults"]
    assert fault["key"] == key
    assert words in fault["remedy"]
    assert changes(api) == before


def test_what_its_state_does_not_allow_is_a_conflict_and_is_not_kept(api):
    refused = act(api, {"act": "unshelve", "by": "ines"}, key="back")
    assert refused.status_code == 409
    assert refused.headers["content-type"] == "application/problem+json"
    too_long = (api.clock.now() + timedelta(days=30)).isoformat()
    far = {"act": "shelve", "by": "ines", "why": "winter", "until": too_long}
    assert act(api, far).status_code == 409
    until = (api.clock.now() + timedelta(hours=6)).isoformat()
    act(api, {"act": "shelve", "by": "ines", "why": "wind", "until": until})
    assert act(api, {"act": "unshelve", "by": "ines"}, key="back").status_code == 200


def test_a_key_that_only_looks_acts_on_nothing(api):
    before = changes(api)
    assert act(api, TAKE_ON, headers=api.reader).status_code == 403
    assert act(api, TAKE_ON, headers={"Accept": "*/*"}).status_code == 401
    assert changes(api) == before


def test_the_same_act_sent_again_is_done_once_and_answered_alike(api):
    first = act(api, TAKE_ON, key="k-1")
    act(api, {"act": "give-back", "by": "ines", "why": "cannot come"})
    there = changes(api)
    again = act(api, TAKE_ON, key="k-1")
    assert (again.status_code, again.content) == (first.status_code, first.content)
    assert changes(api) == there


def test_the_same_key_with_another_body_is_refused(api):
    act(api, TAKE_ON, key="k-1")
    there = changes(api)
    answer = act(api, TAKE_ON | {"why": "on my way now"}, key="k-1")
    assert answer.status_code == 422
    [fault] = answer.json()["faults"]
    assert (fault["key"], fault["value"]) == ("header.Idempotency-Key", "k-1")
    assert changes(api) == there


def test_a_key_is_of_one_caller(api):
    act(api, TAKE_ON, key="k-1")
    other = give_key(api.store, "operator", "S" * 43)
    assert act(api, TAKE_ON | {"why": "mine"}, key="k-1", headers=other).status_code == 200


def test_a_key_may_be_used_anew_once_its_answer_is_forgotten(api):
    act(api, TAKE_ON, key="k-1")
    api.clock.advance_to(api.clock.now() + timedelta(days=2, minutes=1))
    assert act(api, TAKE_ON | {"why": "again"}, key="k-1").status_code == 200


def test_sent_many_times_at_once_it_is_done_once(api):
    until = (api.clock.now() + timedelta(hours=6)).isoformat()
    shelf = {"act": "shelve", "by": "ines", "why": "wind", "until": until}
    before = len(changes(api))
    with ThreadPoolExecutor(4) as pool:
        told = list(pool.map(lambda _: act(api, shelf, key="k-2"), range(4)))
    assert {one.content for one in told} == {told[0].content}
    assert told[0].status_code == 200
    assert len(changes(api)) == before + 1


WORK = {
    "at": "2026-11-14T15:30:00-06:00",
    "by": "Tom Varga",
    "act": "drained",
    "circuits": ["cylinder-passages"],
    "evidence": {"dry": True},
}


def test_work_sent_again_with_its_key_is_answered_as_the_first_time(api):
    sent = api.mechanic | {"Idempotency-Key": "work-1"}
    first, again = (api.web.post("/api/craft/k2/layup", json=WORK, headers=sent) for _ in "ab")
    assert first.status_code == again.status_code == 201
    assert first.content == again.content
    other = api.web.post("/api/craft/k2/layup", json=WORK | {"note": "cold"}, headers=sent)
    assert other.status_code == 422
    written = api.get("/api/craft/k2/layup").json()
    assert [one["id"] for one in written].count(first.json()["entry"]) == 1
    assert not any(one.get("note") == "cold" for one in written)
