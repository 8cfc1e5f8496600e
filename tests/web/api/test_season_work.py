"""Backlog, spring list and a claim's case through the API: the figures of page and command."""

from datetime import timedelta

from monitor.craft.layup import FindingKind, ReadyStep, Seen
from monitor.reports.case_lines import case_json
from monitor.reports.circuit_case import read_circuit_case
from monitor.reports.standing_work import has_work_left
from monitor.store.entering import enter
from tests.craft.scene import library, work

HEAD = "cylinder-passages"


def put_on_record(api, entry):
    with api.store.transaction() as tx:
        profile = tx.layup.record_of(entry.craft, library()).profile
        enter(tx.layup, [entry], {profile.id: profile}, api.clock.now(), "test")


def test_the_backlog_tells_who_is_left_and_more_hands_are_never_later(api):
    told = api.get("/api/backlog").json()
    craft = api.craft.read_now()
    left = {one.id for one in craft if has_work_left(one, api.yard)}
    assert (set(told["craft"]), told["undone"], told["in_care"]) == (left, len(left), len(craft))
    assert 0 < len(left) < len(craft)
    many = api.get("/api/backlog?hands=12").json()
    assert many["plan_done_on"] <= told["plan_done_on"]
    assert many["minutes"] == told["minutes"]
    refused = api.get("/api/backlog?hands=0")
    assert (refused.status_code, refused.json()["faults"][0]["key"]) == (422, "query.hands")


def test_a_tick_stands_in_the_spring_list_with_person_and_time(api):
    path = "/api/craft/k2/spring"
    before = api.get(path)
    assert not before.json()["may_be_started"]
    at = api.clock.now() - timedelta(minutes=5)
    entry = work("readied", at=at, craft="k2", by="tom", readied=ReadyStep.UNCOVERED)
    put_on_record(api, entry)
    told = api.get(path, headers={"If-None-Match": before.headers["etag"]})
    [done] = [one for one in told.json()["steps"] if one["entry"] == entry.id]
    assert done["done_by"] == "tom"
    assert told.json()["open_before_start"] == before.json()["open_before_start"] - 1
    assert api.get("/api/craft/none/spring").status_code == 404


def test_a_claim_is_that_of_the_command_and_its_tag_holds_while_only_the_clock_goes_on(api):
    path = "/api/craft/k2/claim"
    nothing_found = api.get(path)
    [fault] = nothing_found.json()["faults"]
    assert (nothing_found.status_code, fault["key"]) == (422, "query.circuit")
    assert HEAD in fault["remedy"]
    of_head = api.get(f"{path}?circuit={HEAD}")
    with api.store.snapshot() as tx:
        record = tx.layup.record_of("k2", library())
        case = read_circuit_case(tx, api.yard, record, HEAD, api.clock.now())
    assert of_head.json() == case_json(case)
    assert of_head.json()["nights"]
    tag = of_head.headers["etag"]
    api.clock.advance_to(api.clock.now() + timedelta(seconds=30))
    again = api.get(f"{path}?circuit={HEAD}", headers={"If-None-Match": tag})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)

    seen = Seen(id="k2-head", part=HEAD, words="cracked in May", kind=FindingKind.CRACK)
    at = api.clock.now() - timedelta(hours=1)
    put_on_record(api, work("inspected", at=at, craft="k2", by="tom", findings=(seen,)))
    told = api.get(path, headers={"If-None-Match": tag}).json()
    assert (told["circuit"], told["finding"]["words"]) == (HEAD, "cracked in May")
    assert api.get(f"{path}?finding=k2-head").json() == told
    for asked in ("finding=none", "circuit=none"):
        refused = api.get(f"{path}?{asked}")
        assert refused.status_code == 422
        assert refused.json()["faults"][0]["value"] == "none"
