"""A claim's case as a page: opened by what was found, facts and no verdict."""

from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from monitor.craft.layup import FindingKind, Seen
from monitor.store.entering import enter
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
    assert "cracked in May" in page.select_one("p.warning").get_text()
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
