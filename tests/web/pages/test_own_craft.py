"""An owner's page over a real store: own craft alone, believed answers, in the owner's language."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.staticfiles import StaticFiles

from monitor.craft.layup import Act
from monitor.craft.protection import LayupState
from monitor.web.access.keys_and_links import make_owner_link
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.roles import AccessRole
from monitor.web.access.visitor import Visitor, VisitorKind
from monitor.web.page_templates import make_page_templates
from monitor.web.pages.own_craft import read_owner_page
from monitor.web.pages.own_craft_routes import OwnCraftDesk, own_craft_routes
from monitor.web.server import PageServer
from monitor.yard.message import Message, MessageKind
from monitor.yard.space import Role
from tests.web.pages.conftest import NASTY, app_of
from tests.web.pages.looks import check_axe, check_fits, reads_without_scripts
from tests.web.played_night import EVENING

OWNERS = {f"k{n}": f"owner-k{n:02}" for n in range(1, 13)}


def owner_of(played, craft, role=AccessRole.OWNER):
    person = played.settings.yard.person(OWNERS[craft])
    return Visitor(kind=VisitorKind.OWNER, role=role, person=person, craft=frozenset({craft}),
                   name=person.name, form_token="t")  # fmt: skip


def app_for(played, visitor):
    app = FastAPI()
    desk = OwnCraftDesk(
        store=played.store, yard=played.settings.yard, profiles=played.settings.profiles,
        clock=played.clock, templates=make_page_templates(),
    )  # fmt: skip
    app.include_router(own_craft_routes(desk))
    app.mount("/static", StaticFiles(packages=[("monitor.web", "static")]))

    @app.middleware("http")
    async def know_visitor(request, call_next):
        request.scope["visitor"] = visitor
        return await call_next(request)

    return app


def browse(played, craft, role=AccessRole.OWNER):
    app = app_for(played, owner_of(played, craft, role))
    return TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)


def soup(answer):
    assert answer.status_code == 200
    return BeautifulSoup(answer.text, "html.parser")


def text_of(played, craft, **asked):
    return browse(played, craft).get("/owner/secret", params=asked).text


@pytest.mark.parametrize("craft", sorted(OWNERS))
def test_nothing_on_it_names_other_craft_or_their_owners(evening, craft):
    said = text_of(evening, craft)
    own = {craft, OWNERS[craft]}
    records = evening.settings.craft
    others = [one.craft for one in records if one.craft.id != craft]
    words = {one.name for one in others} | {one.hull_number for one in others if one.hull_number}
    words |= {
        one.name for one in evening.settings.yard.people if one.id in set(OWNERS.values()) - own
    }
    words |= {one.mail for one in evening.settings.yard.people if one.id not in own}
    ids = {one.id for one in others} | (set(OWNERS.values()) - own)
    for word in words:
        assert word not in said
    for each in ids:
        assert not re.search(rf"\b{re.escape(each)}\b", said)
    spaces = {one.space for one in evening.craft.read_now() if one.id == craft}
    for space in evening.settings.yard.spaces:
        if space.id not in spaces:
            assert space.name not in said


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sets(st.sampled_from(sorted(OWNERS)), min_size=1, max_size=4), st.integers(0, 26))
def test_whatever_craft_are_one_s_own_no_other_comes_along(evening, own, hours):
    now = EVENING - timedelta(hours=hours)
    page = read_owner_page(
        evening.store, evening.settings.yard, evening.settings.profiles, own, now,
        evening.settings.yard.person(OWNERS[min(own)]),
    )  # fmt: skip
    assert {one.id for one in page.craft} == own
    said = repr(page.craft) + page.first
    for record in evening.settings.craft:
        assert (record.craft.name in said) == (record.craft.id in own)


def test_the_first_thing_is_whether_it_is_safe_and_what_to_do(evening):
    assert "leave Pintail alone" in soup(browse(evening, "k5").get("/owner/s")).h1.text
    assert "Heron is not safe from frost tonight. You have nothing to do." in text_of(evening, "k8")
    assert "Teal is safe from frost tonight. You have nothing to do." in text_of(evening, "k1")


def test_an_owner_reads_in_the_own_language_and_units(evening):
    german = soup(browse(evening, "k10").get("/owner/s"))
    assert german.html["lang"] == "de"
    assert "Dieser Winter" in german.text
    for english in ("This winter", "What was done", "night", "Questions", "The yard"):
        assert english not in german.text
    assert "°F" in text_of(evening, "k2")
    assert "°C" not in text_of(evening, "k2")


def test_the_winter_has_a_cell_a_night_and_a_cell_opens_its_night(evening):
    page = soup(browse(evening, "k5").get("/owner/s"))
    (cell,) = page.select(".winter a")  # one whole night was watched
    assert "iced" in cell["class"]
    told = re.match(r"Night from 13 Nov: coldest air (\d+\.\d)\s°F; ice", cell["aria-label"])
    assert float(told[1]) < 32.0  # of a reader in °F
    opened = soup(browse(evening, "k5").get("/owner/s", params={"night": "2026-11-13"}))
    assert opened.select_one(".opened").text == cell["aria-label"]


def test_what_was_done_is_told_without_who_did_it(evening):
    page = soup(browse(evening, "k1").get("/owner/s"))
    assert page.select(".done li")
    for name in ("Ines", "Aldaz", "Tom", "Varga"):
        assert name not in page.text


def test_i_ran_it_is_believed_at_once_and_the_yard_is_told(own_evening):
    client = browse(own_evening, "k1")
    craft = next(one for one in own_evening.craft.read_now() if one.id == "k1")
    assert craft.protection["cylinder-passages"].state is LayupState.PROVEN
    at = (EVENING - timedelta(hours=1)).strftime("%Y-%m-%dT%H:%M")
    form = {"form_token": "t", "craft": "k1", "at": at}
    for _ in range(2):  # told twice is told once
        answer = client.post("/owner/s/ran", data=form)
        assert (answer.status_code, answer.headers["location"]) == (303, "../s")
    craft = next(one for one in own_evening.craft.read_now() if one.id == "k1")
    assert craft.protection["cylinder-passages"].state is LayupState.VOID
    with own_evening.store.snapshot() as tx:
        entries = [e for e in tx.layup.entries_of("k1") if e.act is Act.RUN_ON_WATER]
        told = [m for m, _ in tx.outbox.newest_messages(200) if m.kind is MessageKind.NOTICE]
    assert [e.by for e in entries] == ["owner-k01"]
    told = [m for m in told if m.key.startswith("owner-told/")]
    assert {m.person for m in told} == {"operator", "mechanic"}
    assert all("Rosa Lindqvist ran Teal" in m.subject for m in told)


def test_i_collect_it_is_on_record_and_changes_nothing_else(own_evening):
    before = next(one for one in own_evening.craft.read_now() if one.id == "k1").protection
    client = browse(own_evening, "k1")
    form = {"form_token": "t", "craft": "k1", "on": "2027-04-18"}
    assert client.post("/owner/s/collect", data=form).status_code == 303
    after = next(one for one in own_evening.craft.read_now() if one.id == "k1")
    assert after.protection == before
    with own_evening.store.snapshot() as tx:
        (entry,) = [e for e in tx.layup.entries_of("k1") if e.act is Act.COLLECTION_TOLD]
        told = [m for m, _ in tx.outbox.newest_messages(200) if m.key.startswith("owner-told/")]
    assert entry.note == "collects it on 2027-04-18"
    assert told[0].subject == "Rosa Lindqvist collects Teal on Sun 18 Apr"


@pytest.mark.parametrize(
    ("act", "form"),
    [
        ("collect", {"on": "2026-11-01"}),
        ("collect", {"on": "2036-11-01"}),
        ("collect", {"on": "soon"}),
        ("collect", {}),
        ("ran", {"at": "2027-01-01T10:00"}),
        ("ran", {"at": "2020-01-01T10:00"}),
        ("ran", {"at": "<script>"}),
        ("ran", {}),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason_and_nothing_is_written(evening, act, form):
    client = browse(evening, "k1")
    with evening.store.snapshot() as tx:
        before = len(tx.layup.entries_of("k1"))
    answer = client.post(f"/owner/s/{act}", data={"form_token": "t", "craft": "k1", **form})
    assert answer.status_code == 422
    assert "Nothing was taken into the record" in answer.text
    assert "<script>" not in answer.text
    page = BeautifulSoup(answer.text, "html.parser")
    assert page.select_one("form")["action"] == "../s/collect"  # it stands a step below
    assert page.select_one("link[rel='icon']")["href"] == "../../static/favicon.svg"
    with evening.store.snapshot() as tx:
        assert len(tx.layup.entries_of("k1")) == before


def test_a_refusal_is_in_the_owner_s_language(evening):
    client = browse(evening, "k10")  # Nils Harbin reads German
    for act, form in (("collect", {}), ("collect", {"on": "2026-01-01"}), ("ran", {}),
                      ("ran", {"at": "2027-01-01T10:00"})):  # fmt: skip
        page = client.post(f"/owner/s/{act}", data={"form_token": "t", "craft": "k10", **form})
        told = BeautifulSoup(page.text, "html.parser").select_one("main .warning").text
        assert told.startswith("Nichts wurde eingetragen: ")
        assert " no " not in told
        assert "name a" not in told
    assert "Zum Inhalt" in client.get("/owner/s").text
    assert "Skip to" not in client.get("/owner/s").text


@pytest.mark.parametrize("act", ["collect", "ran"])
def test_nobody_tells_of_another_s_craft_or_without_the_form_s_token(evening, act):
    form = {"form_token": "t", "craft": "k2", "on": "2027-04-18", "at": "2026-11-14T10:00"}
    assert browse(evening, "k1").post(f"/owner/s/{act}", data=form).status_code == 404
    form |= {"craft": "k1", "form_token": "wrong"}
    assert browse(evening, "k1").post(f"/owner/s/{act}", data=form).status_code == 403


def test_a_third_party_reads_and_gets_neither_letters_nor_forms(evening):
    page = soup(browse(evening, "k8", AccessRole.THIRD_PARTY).get("/owner/s"))
    assert page.select("form") == []
    assert page.select("#letters") == []
    assert "Heron" in page.text


def test_letters_are_one_s_own_and_shown_as_text(own_evening):
    with own_evening.store.transaction() as tx:
        tx.outbox.add(
            Message(key=str(n), person=person, channel="mail", address="a@b.example",
                    kind=MessageKind.REPORT, subject=subject, text=NASTY, created_at=EVENING)
            for n, (person, subject) in enumerate(
                [("owner-k01", "For Rosa"), ("owner-k02", "For Abel")]
            )
        )  # fmt: skip
    page = soup(browse(own_evening, "k1").get("/owner/s"))
    assert "For Rosa" in page.text
    assert "For Abel" not in page.text
    assert NASTY in page.select_one(".letter").text


def _keep_mail(played, kind, text, person="owner-k01"):
    with played.store.transaction() as tx:
        tx.outbox.add(
            [Message(key=f"kept/{kind}", person=person, channel="mail", address="a@b.example",
                     kind=kind, subject="For Rosa", text=text, created_at=EVENING)]
        )  # fmt: skip


@pytest.mark.parametrize("kind", [MessageKind.SIGN_IN, MessageKind.NOTICE, MessageKind.TEST])
def test_a_link_that_is_lent_shows_no_way_to_its_owner_s_password(own_evening, kind):
    _keep_mail(own_evening, kind, "https://watch.yard.example/password/secret")
    assert "/password/" not in browse(own_evening, "k1").get("/owner/s").text


def test_an_owner_who_works_here_too_rereads_no_letter_of_everybody_s_craft(own_evening):
    _keep_mail(
        own_evening, MessageKind.ALARM, "Unblock Plover: https://watch.yard.example/answer/s"
    )
    visitor = owner_of(own_evening, "k1")
    both = replace(visitor.person, roles=visitor.person.roles | {Role.OPERATOR})
    client = TestClient(
        app_for(own_evening, replace(visitor, person=both)), base_url="http://127.0.0.1"
    )
    said = client.get("/owner/s").text
    assert "Plover" not in said
    assert "/answer/" not in said


def test_an_owner_whose_craft_left_is_told_so(evening):
    visitor = replace(owner_of(evening, "k1"), craft=frozenset())
    client = TestClient(app_for(evening, visitor), base_url="http://127.0.0.1")
    assert "None of your craft is in the yard" in client.get("/owner/s").text


@pytest.fixture
def owner_address(evening):
    server = PageServer(app_for(evening, owner_of(evening, "k5")))
    yield f"{server.start()}owner/secret"
    server.stop()


def test_it_fits_can_be_hit_and_axe_finds_nothing(owner_address, chromium):
    check_fits(chromium, owner_address)
    check_axe(chromium, owner_address)
    assert "This winter" in reads_without_scripts(chromium, owner_address)


def test_by_a_link_an_owner_reads_the_own_page_and_tells_the_yard(own_evening):
    yard, clock = own_evening.settings.yard, own_evening.clock
    access = PeopleAccess(own_evening.store, yard, clock, own_evening.craft.read_now)
    with own_evening.store.transaction() as tx:
        secret, _ = make_owner_link(tx, "owner-k01", 30, clock.now(), "operator")
    app = app_of(own_evening, access=access)
    client = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    page = soup(client.get(f"/owner/{secret}"))
    assert page.h1.text.startswith("Teal is safe")
    token = page.select_one("input[name=form_token]")["value"]
    form = {"form_token": token, "craft": "k1", "on": "2027-04-18"}
    path = page.select_one("form")["action"]
    answer = client.post(f"/owner/{secret}/collect", data=form)
    assert path == f"./{secret}/collect"
    assert answer.status_code == 303
    assert client.get(f"/craft/k1?link={secret}").status_code in {303, 401, 404}
    assert client.get(f"/owner/{secret[:-1]}x").status_code == 404
