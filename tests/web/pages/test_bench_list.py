"""The list of craft to enter work on: whole in a small yard, by space or name in a large one."""

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.web.pages.yard_craft_list import MOST_LISTED
from monitor.web.server import PageServer
from tests.web.large_yard import large_yard
from tests.web.pages.looks import check_axe, check_finds_craft, check_fits


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """A yard with more craft than one page lists, most of them in two spaces."""
    with large_yard(tmp_path_factory.mktemp("many"), 130, spaces=2) as yard:
        yield yard


@pytest.fixture(scope="module")
def few(tmp_path_factory):
    """A yard with as many craft as one page lists."""
    with large_yard(tmp_path_factory.mktemp("few"), MOST_LISTED, spaces=6) as yard:
        yield yard


@pytest.fixture(scope="module")
def many_address(many):
    server = PageServer(many.make_app())
    yield server.start()
    server.stop()


def read(yard, address):
    with TestClient(yard.make_app(), base_url="http://127.0.0.1") as client:
        answer = client.get(address)
    assert answer.status_code == 200
    return BeautifulSoup(answer.text, "html.parser")


def craft_on(page):
    return [one["href"].split("/")[1] for one in page.select(".pick a")]


def test_a_small_yard_is_listed_whole_and_needs_no_field_to_find_in(few):
    page = read(few, "/bench")
    assert sorted(craft_on(page)) == sorted(one.id for one in few.care.read_now())
    assert page.select("form, .spaces, .pick ~ .back") == []


def test_a_large_yard_shows_its_spaces_and_how_many_craft_stand_in_each(many):
    page = read(many, "/bench")
    assert craft_on(page) == []
    told = {one["href"]: one.get_text() for one in page.select(".spaces a")}
    here = [one.space for one in many.care.read_now()]
    assert told == {
        f"bench?space={one.id}": f"{one.name}: {here.count(one.id)}" for one in many.yard.spaces
    }


def test_every_craft_of_a_space_is_on_one_of_its_pages_and_on_one_alone(many):
    there = [one.id for one in many.care.read_now() if one.space == "space-0"]
    assert len(there) > MOST_LISTED
    seen, onward = [], "bench?space=space-0"
    while onward is not None:
        page = read(many, f"/{onward}")
        assert len(craft_on(page)) <= MOST_LISTED
        seen += craft_on(page)
        more = [one["href"] for one in page.select("main .back a") if "more" in one.get_text()]
        onward = more[0] if more else None
    assert sorted(seen) == sorted(there)


def test_craft_are_found_by_part_of_their_name_in_all_spaces(many):
    found = set(craft_on(read(many, "/bench?find=HERON")))
    assert found == {one.id for one in many.care.read_now() if "Heron" in one.name}
    nobody = read(many, "/bench?find=nobody")
    assert craft_on(nobody) == []
    assert "None of them." in nobody.main.get_text()


def test_the_list_fits_and_axe_finds_no_fault(many_address, chromium):
    check_fits(chromium, f"{many_address}bench")
    check_fits(chromium, f"{many_address}bench?space=space-0")
    check_axe(chromium, f"{many_address}bench?find=heron")


def test_a_craft_is_found_for_the_bench_without_scripts(many_address, chromium):
    check_finds_craft(chromium, f"{many_address}bench", ".pick a")
