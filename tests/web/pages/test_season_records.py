"""The season record to take away: the right craft's, in the reader's units, and nobody else's."""

import json
from dataclasses import replace
from datetime import timedelta
from io import BytesIO

import pypdf
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from monitor.craft.canonical import utc_text
from monitor.craft.record_check import check_record
from monitor.craft.sealing import YardKey
from monitor.craft.signing_key import SigningKey, TrustedKey
from monitor.reports.season.making import RecordMaker
from monitor.web.access.keys_and_links import make_owner_link
from monitor.web.access.roles import AccessRole
from monitor.web.access.route_rights import ROUTE_RIGHTS
from monitor.web.access.visitor import Visitor, VisitorKind
from monitor.web.problems import handle_problems
from monitor.web.season_records import RecordDesk, season_record_routes
from tests.web.pages.test_own_craft import browse, owner_of, soup
from tests.web.played_night import EVENING


def client_of(played, visitor, key=None):
    """The routes of season records over a played evening, as one visitor meets them."""
    app = FastAPI()
    desk = RecordDesk(
        store=played.store, yard=played.settings.yard, clock=played.clock,
        maker=RecordMaker(yard=played.settings.yard, profiles=played.settings.profiles),
        yard_key=lambda: None if key is None else YardKey(key=key),
    )  # fmt: skip
    app.include_router(season_record_routes(desk))
    handle_problems(app)

    @app.middleware("http")
    async def know_visitor(request, call_next):
        request.scope["visitor"] = visitor
        return await call_next(request)

    return TestClient(app)


@pytest.fixture
def asked(evening):
    """Asks for one of the records as the owner of a craft."""

    def ask(path, craft="k8", unit="C", key=None, headers=None):
        visitor = owner_of(evening, craft)
        person = replace(visitor.person, temperature_unit=unit)
        client = client_of(evening, replace(visitor, person=person), key)
        return client.get(path, headers=headers)

    return ask


def test_the_json_is_of_that_craft_and_kept_by_nobody_on_the_way(asked):
    answer = asked("/craft/k8/season-record.json")
    assert answer.status_code == 200
    assert json.loads(answer.content)["craft"]["id"] == "k8"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-disposition"].endswith('filename="season-2026-k8.json"')


def test_the_pdf_is_in_the_owners_units_with_the_same_json_inside(asked):
    answer = asked("/owner/secret/craft/k8/season-record.pdf", unit="F")
    assert answer.headers["content-type"] == "application/pdf"
    pdf = pypdf.PdfReader(BytesIO(answer.content))
    text = " ".join(page.extract_text() for page in pdf.pages)
    assert "°F" in text
    assert "°C" not in text
    assert json.loads(pdf.attachments["season-record.json"][0])["craft"]["id"] == "k8"


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/craft/k8/season-record.json?season=1999", 404),
        ("/craft/k99/season-record.json", 404),
        ("/craft/k8/season-record.exe", 404),
        ("/craft/k8/season-record.json?season=spring", 422),
    ],
)
def test_what_there_is_not_is_refused(asked, path, status):
    assert asked(path).status_code == status


def test_each_way_stands_in_the_table_of_rights_with_the_craft_in_its_path():
    rows = [row for row in ROUTE_RIGHTS if "season-record" in row.path]
    assert len(rows) == 5
    assert all("{craft}" in row.path for row in rows)


def test_an_owners_page_leads_to_it_by_link(evening):
    page = soup(browse(evening, "k8").get("/owner/secret"))
    links = [one["href"] for one in page.select("a[href*='season-record']")]
    assert links == ["./secret/craft/k8/season-record.pdf", "./secret/craft/k8/season-record.json"]


def test_an_owner_gets_it_sealed_with_its_proof_by_the_key_that_the_yard_has_now(asked):
    key = SigningKey.make_new()
    answer = asked("/owner/secret/craft/k8/season-record.json", key=key)
    found = check_record(answer.content, keys=[TrustedKey.from_text(key.public)])
    assert (found.holds, found.misfits, found.craft) == (True, (), "k8")
    assert found.links > 0
    pdf = pypdf.PdfReader(BytesIO(asked("/craft/k8/season-record.pdf", key=key).content))
    inside = pdf.attachments["season-record.json"][0]
    assert check_record(inside, keys=[TrustedKey.from_text(key.public)]).holds


@pytest.mark.parametrize(("language", "title"), [("de", "Winterbericht"), ("en", "Season record")])
def test_an_owner_gets_it_in_the_owners_language_and_both_hold_by_the_same_key(
    evening, language, title
):
    key, visitor = SigningKey.make_new(), owner_of(evening, "k8")
    reader = replace(visitor, person=replace(visitor.person, language=language))
    answer = client_of(evening, reader, key).get("/owner/secret/craft/k8/season-record.pdf")
    pdf = pypdf.PdfReader(BytesIO(answer.content))
    assert pdf.trailer["/Root"]["/Lang"] == language
    assert pdf.metadata.title.startswith(title)
    inside = pdf.attachments["season-record.json"][0]
    found = check_record(inside, keys=[TrustedKey.from_text(key.public)])
    assert (found.holds, found.misfits, found.craft) == (True, (), "k8")


def test_a_third_party_reads_the_owners_name_and_never_when_the_owner_opened_a_page(own_evening):
    at = EVENING - timedelta(hours=5)
    owner = owner_of(own_evening, "k8")
    with own_evening.store.transaction() as tx:
        _, grant = make_owner_link(tx, owner.person.id, 30, at - timedelta(days=1), "ansel")
        tx.page_grants.mark_seen(grant.id, at)
    insurer = Visitor(
        kind=VisitorKind.THIRD_PARTY, role=AccessRole.THIRD_PARTY,
        craft=frozenset({"k8"}), name="an insurer",
    )  # fmt: skip
    told = {}
    for who, visitor in (("owner", owner), ("insurer", insurer)):
        client = client_of(own_evening, visitor, SigningKey.make_new())
        said = client.get("/owner/secret/craft/k8/season-record.json").content
        assert check_record(said).misfits == ()
        answer = client.get("/owner/secret/craft/k8/season-record.pdf").content
        pdf = pypdf.PdfReader(BytesIO(answer))
        pages = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
        inside = pdf.attachments["season-record.json"][0]
        told[who] = json.loads(said), said + inside, pages
    opened = utc_text(at)
    document, files, pages = told["owner"]
    assert document["owner_page_opened_at"] == opened
    assert "owner's page was last opened" in pages
    document, files, pages = told["insurer"]
    assert "owner_page_opened_at" not in document
    assert b"owner_page_opened_at" not in files
    assert opened.encode() not in files
    assert "page was" not in pages, "nor that it was never seen to be opened"
    assert document["people"][owner.person.id] == owner.person.name
    assert owner.person.name in pages
    assert owner.person.mail.encode() not in files
    assert owner.person.mail not in pages


def test_a_program_gets_the_file_that_checks_and_304_until_the_figures_change(asked):
    key, path = SigningKey.make_new(), "/api/craft/k8/season-record"
    first = asked(path, key=key)
    assert check_record(first.content, keys=[TrustedKey.from_text(key.public)]).holds
    tag = first.headers["etag"]
    again = asked(path, key=key, headers={"If-None-Match": tag})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    assert asked(path, headers={"If-None-Match": tag}).status_code == 200, "that one has no seal"
    early = asked(f"{path}?season=2199")
    assert early.status_code == 422


def test_without_a_key_it_says_that_it_is_not_sealed(asked):
    assert "seal" not in json.loads(asked("/craft/k8/season-record.json").content)
    pdf = pypdf.PdfReader(BytesIO(asked("/craft/k8/season-record.pdf").content))
    assert "It is not sealed" in " ".join(page.extract_text() for page in pdf.pages)
