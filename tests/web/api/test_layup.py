"""The lay-up record as JSON: entered whole or refused with remedies, read back as written."""

from dataclasses import replace
from datetime import UTC

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.craft.chain_check import breaks_of
from monitor.craft.layup import Liquid
from monitor.craft.plan.shelf import ShelfProduct
from monitor.store.taking_in import take_in
from monitor.web.api.layup import layup_router
from monitor.web.problems import handle_problems
from monitor.wording import Wording
from tests.craft.scene import EVE, SHELTERS, ZONE, library, twelve
from tests.craft.scene import yard as kettlemoss

NOW = EVE.astimezone(UTC)
DRAIN = {
    "at": "2026-11-14T15:30:00-06:00",
    "by": "Tom Varga",
    "act": "drained",
    "circuits": ["cylinder-passages"],
    "evidence": {"dry": True},
}
RUN = {"at": DRAIN["at"], "by": "Tom Varga", "act": "run-on-water"}
POUR = {
    "at": "2026-11-14T15:30:00-06:00",
    "by": "Ines Aldaz",
    "act": "antifreeze-poured",
    "circuits": ["water-box"],
    "product": {"name": "pink", "liquid": "propylene", "glycol_mass_fraction": 0.5},
    "quantity_l": 0.4,
    "evidence": {"outflow": "seen", "ice_point_c": -21.0, "zeroed_on": "2026-11-14"},
}


def served(store, shelf=()):
    app = FastAPI()
    handle_problems(app)
    app.include_router(
        layup_router(
            store,
            library(),
            SHELTERS,
            ReadingsClock(NOW),
            Wording(zone=ZONE, people={"ines": "Ines Aldaz", "tom": "Tom Varga"} if shelf else {}),
            replace(kettlemoss(), shelf=shelf),
        )
    )
    handle_problems(app)
    return TestClient(app)


@pytest.fixture
def yard(empty_store):
    with empty_store.transaction() as tx:
        take_in(tx.layup, twelve().values(), library(), NOW)
    return empty_store


@pytest.fixture
def api(yard):
    return served(yard)


def held(api, craft):
    return {one["circuit"]: one for one in api.get(f"/api/craft/{craft}/protection").json()}


def test_work_that_was_entered_counts_at_once(api, yard):
    assert held(api, "k2")["cylinder-passages"]["state"] == "unproven"
    answer = api.post("/api/craft/k2/layup", json=DRAIN)
    assert answer.status_code == 201
    [circuit] = answer.json()["circuits"]
    assert (circuit["state"], circuit["ice_point_c"]) == ("proven", None)
    assert held(api, "k2")["cylinder-passages"]["basis"] == "drained and seen dry"
    with yard.snapshot() as tx:
        assert breaks_of(tx.layup.chain.stored_rows(["k2"])["k2"]) == ()


def test_who_enters_work_behind_a_cut_of_the_yards_list_is_told(api, yard):
    with yard.transaction() as tx:
        for table in ("layup_entries", "record_links"):
            tx.layup.chain._connection.exec_driver_sql(
                f"DELETE FROM {table} WHERE craft_id = 'k1' AND number ="
                " (SELECT max(number) FROM record_links WHERE craft_id = 'k1')"
            )
    (told,) = api.post("/api/craft/k2/layup", json=DRAIN).json()["breaks"]
    assert "missing behind one of craft k1" in told


@pytest.mark.parametrize("mark", ["\n", "\x1b", "\u202e"])
@pytest.mark.parametrize(
    "said",
    [
        lambda name: {"by": name},
        lambda name: {"evidence": {"dry": True, "witness": name}},
        lambda name: {"findings": [{"id": "f1", "part": name, "words": "cracked"}]},
        lambda name: {
            "act": "antifreeze-poured",
            "evidence": {},
            "product": {"name": name},
        },
    ],
    ids=["by", "witness", "part", "product"],
)
def test_a_name_is_one_line_here_as_in_files_and_flags(api, said, mark):
    work = {**DRAIN, **said(f"Ned{mark}Frost")}
    assert api.post("/api/craft/k2/layup", json=work).status_code == 422
    assert held(api, "k2")["cylinder-passages"]["state"] == "unproven"
    clean = {**DRAIN, **said("Ned Frost")}
    assert api.post("/api/craft/k2/layup", json=clean).status_code == 201


def test_the_same_work_twice_is_on_record_once(api):
    first = api.post("/api/craft/k2/layup", json=POUR)
    again = api.post("/api/craft/k2/layup", json=POUR)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["entry"] == again.json()["entry"]
    assert again.json()["new"] is False


def test_work_reads_back_as_it_was_written(api):
    entry = api.post("/api/craft/k2/layup", json=POUR).json()["entry"]
    [back] = [one for one in api.get("/api/craft/k2/layup").json() if one["id"] == entry]
    assert back["at"] == "2026-11-14T21:30:00Z"
    assert back["product"] == POUR["product"]
    assert back["evidence"]["ice_point_c"] == -21.0
    assert back["replaced_by"] is None


def test_a_correction_names_what_it_replaces(api):
    slip = api.post("/api/craft/k1/layup", json=RUN)
    assert held(api, "k1")["water-box"]["state"] == "void"
    gone = {
        "at": DRAIN["at"],
        "by": "Ines Aldaz",
        "act": "withdrawn",
        "replaces": slip.json()["entry"],
    }
    assert api.post("/api/craft/k1/layup", json=gone).status_code == 201
    assert held(api, "k1")["water-box"]["state"] == "proven"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"circuits": ["boiler"]}, "no circuit 'boiler'"),
        ({"quantity_l": 53.0}, "was it fl oz?"),
        ({"at": "2026-10-01T09:00:00Z"}, "before Plover (k2) came"),
        ({"at": "2026-11-20T09:00:00Z"}, "still to come"),
        ({"replaces": "nothing"}, "no entry 'nothing'"),
        ({"circuits": []}, "protection belongs to a circuit"),
        ({"circuits": ["hoses", "hoses"]}, "named twice"),
    ],
)
def test_bad_work_is_refused_with_its_remedy_and_nothing_is_written(api, change, words):
    before = api.get("/api/craft/k2/layup").json()
    answer = api.post("/api/craft/k2/layup", json={**POUR, **change})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert words in str(answer.json()["faults"])
    assert api.get("/api/craft/k2/layup").json() == before


@pytest.mark.parametrize(
    ("change", "key", "problem", "remedy"),
    [
        (
            {"product": {"name": "pink", "glycol_mass_fraction": 1.2}},
            "product.glycol_mass_fraction",
            "too large",
            "Write 0.6 or less.",
        ),
        ({"at": "2026-11-14T15:30:00"}, "at", "it has no time zone", "30:00-05:00."),
        ({"at": "Tuesday"}, "at", "no time", "Write it like 2026-11-02T14:30."),
        ({"by": " "}, "by", "it is empty", "Write something"),
        ({"by": 7}, "by", "it is no text", "Write it in quotes."),
        (
            {"act": "poured"},
            "act",
            "it will not do",
            "Did you mean 'antifreeze-poured'?",
        ),
        ({"quantity": "14floz"}, "quantity", "laidup knows no such key", "correct its name."),
        ({"evidence": {"ice_point_c": 30.0}}, "evidence.ice_point_c", "too large", "or less."),
        ({"evidence": "dry"}, "evidence", "no group of fields", "Give its fields by name."),
        ({"quantity_l": -1}, "quantity_l", "too small", "Write a number above 0.0."),
        ({"quantity_l": "14floz"}, "quantity_l", "no number", "Write a number, like 2.5."),
        ({"circuits": "hoses"}, "circuits", "no list", "Put it in square brackets."),
        ({"circuits": ["The Hoses"]}, "circuits.0", "no id", "Use small letters"),
        ({"again": "perhaps"}, "again", "neither true nor false", "Write true or false."),
    ],
)
def test_a_body_of_the_wrong_form_is_refused_in_the_words_of_the_commands(
    api, change, key, problem, remedy
):
    answer = api.post("/api/craft/k2/layup", json={**POUR, **change})
    assert answer.status_code == 422
    [fault] = [one for one in answer.json()["faults"] if one["key"] == key]
    assert fault["problem"] == problem
    assert remedy in fault["remedy"]


def test_a_body_that_is_no_json_is_refused_in_plain_words(api):
    answer = api.post(
        "/api/craft/k2/layup", content=b"{", headers={"content-type": "application/json"}
    )
    assert answer.status_code == 422
    assert [one["problem"] for one in answer.json()["faults"]] == ["the body is no JSON"]


def test_an_unknown_craft_is_not_found(api):
    for answer in (
        api.get("/api/craft/k99/layup"),
        api.get("/api/craft/k99/protection"),
        api.post("/api/craft/k99/layup", json=DRAIN),
    ):
        assert answer.status_code == 404


def test_the_routes_describe_themselves(api):
    schema = api.get("/openapi.json").json()
    entry = schema["components"]["schemas"]["EntryBody"]["properties"]
    assert {"quantity_l", "rested_v", "at", "replaces"} <= set(entry)
    assert set(schema["paths"]) == {
        "/api/craft/{craft}/layup",
        "/api/craft/{craft}/plan",
        "/api/craft/{craft}/protection",
    }


def test_the_plan_is_the_job_that_is_left_and_changes_with_the_record(api):
    plan = api.get("/api/craft/k2/plan", params={"low_c": -12.0}).json()
    assert (plan["craft"], plan["low_c"]) == ("k2", -12.0)
    first = plan["needs"][0]
    assert (first["act"], first["circuits"]) == ("clear blockage", ["cylinder-passages"])
    assert first["enter_as"] == DRAIN["act"]
    assert api.post("/api/craft/k2/layup", json=DRAIN).status_code == 201
    left = api.get("/api/craft/k2/plan", params={"low_c": -12.0}).json()
    assert "clear blockage" not in {one["act"] for one in left["needs"]}


def test_a_plan_for_no_stated_low_is_for_the_yards_own(api):
    assert api.get("/api/craft/k2/plan").json()["low_c"] == -20.0
    assert api.get("/api/craft/k2/plan", params={"low_c": "nan"}).status_code == 422


@pytest.mark.parametrize("depth", [100, 100_000])
def test_nesting_without_end_is_refused_and_nothing_is_written(yard, depth):
    client = TestClient(served(yard).app, raise_server_exceptions=False)
    nested = '{"at": ' + "[" * depth + "]" * depth + "}"
    answer = client.post(
        "/api/craft/k2/layup", content=nested, headers={"content-type": "application/json"}
    )
    assert answer.status_code in {400, 422}


ROSA = ShelfProduct(id="rosa", name="Rosa 50 %", liquid=Liquid.PROPYLENE, strength=0.5, lot="R7")


def test_a_product_of_the_shelf_need_only_be_named(yard):
    api = served(yard, shelf=(ROSA,))
    assert api.post(
        "/api/craft/k10/layup", json={**POUR, "product": {"name": "rosa 50"}}
    ).is_success
    [written] = [one for one in api.get("/api/craft/k10/layup").json() if "product" in one]
    assert written["product"] == {
        "name": "Rosa 50 %", "liquid": "propylene", "glycol_mass_fraction": 0.5, "lot": "R7",
    }  # fmt: skip
    said = {**POUR, "at": "2026-11-14T15:40:00-06:00", "product": {"name": "rosa", "lot": "X"}}
    assert api.post("/api/craft/k10/layup", json=said).is_success
    written = api.get("/api/craft/k10/layup").json()[-1]
    said_of_it = {"name": "rosa", "liquid": "not known", "lot": "X"}
    assert written["product"] == said_of_it  # more than its name was said: as it was said


def test_a_withdrawal_tells_what_the_circuits_hold_then(api):
    entry = api.post("/api/craft/k2/layup", json=DRAIN).json()["entry"]
    gone = {"at": DRAIN["at"], "by": "Tom Varga", "act": "withdrawn", "replaces": entry}
    [circuit] = api.post("/api/craft/k2/layup", json=gone).json()["circuits"]
    assert (circuit["circuit"], circuit["state"]) == ("cylinder-passages", "unproven")


@pytest.mark.parametrize(
    ("change", "key", "words"),
    [
        ({"by": "Vera"}, "by", "is nobody of this yard"),
        ({"evidence": {"witness": "Vera"}}, "evidence.witness", "is nobody of this yard"),
        ({"evidence": {"witness": "tom"}}, "evidence.witness", "no witness of it"),
        (
            {"act": "withdrawn", "circuits": [], "evidence": {}},
            "replaces",
            "which entry it replaces",
        ),
        ({"at": "2026-10-20"}, "at", "no time zone"),
        ({"act": "fogd"}, "act", "it will not do"),
        ({"quantity": 1}, "quantity", "no such key"),
    ],
)
def test_a_refusal_names_its_key_and_says_what_to_write(yard, change, key, words):
    answer = served(yard, shelf=(ROSA,)).post("/api/craft/k2/layup", json={**DRAIN, **change})
    assert answer.status_code == 422
    [fault] = answer.json()["faults"]
    assert (fault["key"], words in fault["problem"]) == (key, True), fault
    if key == "act":
        assert "'withdrawn'" in fault["remedy"]
