"""A claim's case as a page: opened by what was found, facts and no verdict."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.craft.layup import FindingKind, Seen
from monitor.store.entering import enter
from monitor.web.access.roles import AccessRole
from monitor.web.access.visitor import Visitor, VisitorKind
from monitor.web.app import create_app
from tests.craft.scene import work
from tests.web.pages.conftest import NASTY
from tests.web.pages.test_spring import Spring

BOX = "water-box"


@pytest.fixture
def spring(tmp_path):
    return Spring(tmp_path)


def find(spring, words="cracked in May", part=BOX, kind=FindingKind.CRACK):
    seen = Seen(id="k1-box", part=part, words=words, kind=kind)
    at = spring.clock.now() - timedelta(hours=1)
    entry = work("inspected", at=at, craft=spring.craft, by="tom", findings=(seen,))
    with spring.store.transaction() as tx:
        record = tx.layup.record_of(spring.craft, spring.settings.profiles)
        enter(tx.layup, [entry], {record.profile.id: record.profile}, spring.clock.now(), "test")


def case(spring, query="", status=200):
    answer = spring.web.get(f"/craft/{spring.craft}/claim{query}")
    assert answer.status_code == status
    return BeautifulSoup(answer.text, "html.parser")


def test_without_a_finding_a_circuit_is_chosen(spring):
    page = case(spring)
    assert "Choose a circuit" in page.get_text()
    assert page.select(f"nav a[href$='circuit={BOX}']")


def test_what_was_found_opens_its_case(spring):
    find(spring)
    page = case(spring)
    found = page.select_one("p.warning").get_text()
    assert "cracked in May" in found
    assert "exhaust water box" in found
    assert BOX not in found, "people know it by its name"
    assert "exhaust water box" in page.h1.get_text()
    headings = [one.get_text() for one in page.select("section h2")]
    assert headings[0] == "Nights near or past its limit"
    # The yard was never heard: nobody watched, and the page says so and calls no night safe.
    assert page.select("section[aria-labelledby=gaps] li")
    assert "nobody can tell" in page.get_text()


def test_the_work_on_that_circuit_stands_there_and_no_other(spring):
    find(spring)
    told = case(spring).select_one("section[aria-labelledby=work]").get_text().lower()
    assert "antifreeze run through" in told
    assert "oil changed" not in told


def test_what_was_found_elsewhere_opens_no_case(spring):
    find(spring, part="hull")
    assert "Choose a circuit" in case(spring).get_text()


@pytest.mark.parametrize("query", ["?finding=none-such", "?circuit=none-such"])
def test_a_case_that_is_none_is_not_found(spring, query):
    case(spring, query, 404)


def test_words_of_whoever_found_it_are_text(spring):
    find(spring, words=NASTY)
    page = case(spring)
    assert NASTY in page.select_one("p.warning").get_text()
    assert not page.select("main script")


class Linked:
    """Lets an owner in by link, whatever it is, to their own craft."""

    def __init__(self, spring, language):
        person = replace(spring.yard.person("owner-k01"), language=language)
        self.visitor = Visitor(
            kind=VisitorKind.OWNER, role=AccessRole.OWNER, person=person, form_token="t",
            craft=frozenset({spring.craft}),
        )  # fmt: skip

    async def find_visitor(self, *_):
        return self.visitor

    def take_yard(self, _):
        """The same people stay."""


def read_by_owner(spring, language):
    """The page of a case as an owner who reads this language has it by link."""
    app = create_app(
        spring.store, spring.yard, spring.clock, spring.care.read_now,
        profiles=spring.settings.profiles, access=Linked(spring, language),
    )  # fmt: skip
    answer = TestClient(app).get(f"/owner/s/claim/{spring.craft}")
    assert answer.status_code == 200
    return BeautifulSoup(answer.text, "html.parser")


def test_an_owner_reads_the_case_in_the_own_language(spring):
    find(spring, words="cracked in May")
    page = read_by_owner(spring, "de")
    assert page.html["lang"] == "de"
    assert "Was über Teal: Wassersammler im Auspuff aufgezeichnet ist" in page.h1.get_text()
    assert "(Riss): „cracked in May“" in page.select_one("p.warning").get_text()
    said = page.get_text(" ")
    assert "Frostschutz durchgefahren" in said
    assert re.search(r"Vom \d+\. Oktober 2026 bis \d+\. (April|März) 2027: \d+ Nächte", said)
    # Beside what is quoted from the record, and the yard's own names, nothing is in English.
    bare = re.sub(r"„[^“]*“", " ", said)
    for english in ("the", "and", "night", "nobody", "record", "alarm on", "Found", "Moved", "of"):
        assert not re.search(rf"\b{english}\b", bare), english
    assert page.select_one("nav")["aria-label"] == "Weitere Fälle"


def test_an_owner_who_reads_english_and_the_yard_have_one_wording(spring):
    find(spring)
    mine, yards = read_by_owner(spring, "en"), case(spring)
    assert mine.html["lang"] == "en"
    for part in ("near", "gaps", "work", "undone", "others"):
        where = f"section[aria-labelledby={part}]"
        assert mine.select_one(where).get_text() == yards.select_one(where).get_text()
