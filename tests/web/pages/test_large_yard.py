"""The evening of 400 craft in forty spaces: seen at once, short, and nothing is left uncounted."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.reports.picture import read_picture
from monitor.web.pages.evening_blocks import group_by_walk
from monitor.web.server import PageServer
from tests.web.large_yard import large_yard
from tests.web.pages.looks import _RULES, SIZES, check_axe, check_fits, opened

_SCREENS = 9  # of a phone; before work was grouped by walk these were 12.7


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    with large_yard(tmp_path_factory.mktemp("large"), 400) as yard:
        yield yard


@pytest.fixture(scope="module")
def large_address(large):
    server = PageServer(large.make_app())
    yield server.start()
    server.stop()


def picture_of(yard):
    with yard.store.snapshot() as tx:
        return read_picture(tx, yard.yard, yard.care.read_now(), yard.clock.now())


def test_a_large_evening_is_seen_in_a_screen_taken_on_and_given_back_and_finds_a_craft(
    large_address, chromium
):
    page, said = opened(chromium, f"{large_address}?renew=off")
    lead = page.locator("#lead")
    assert re.search(r"\d+ of 400 craft need work tonight", lead.inner_text())
    first = page.locator("#todo ~ .visits > li").first
    assert first.locator(".job").bounding_box()["y"] < 844
    assert page.evaluate("document.documentElement.scrollHeight") <= _SCREENS * 844

    walk = page.locator("#todo ~ .visits > li", has=page.get_by_role("button")).first
    walk.locator("summary").click()
    one = walk.locator("li", has=page.get_by_role("button", name="I have it")).first
    key = one.get_attribute("id")
    one.get_by_role("button", name="I have it").click()
    taken_on = page.get_by_text("1 taken on")
    taken_on.wait_for()
    page.locator(f"li:has(> .visit #{key}) summary").click()
    page.locator(f"#{key}").get_by_role("button", name="Undo").click()
    page.locator(f"#{key}").get_by_role("button", name="I have it").wait_for(state="attached")
    taken_on.wait_for(state="detached")

    page.get_by_label("Find a craft").fill("heron 12")
    page.get_by_role("button", name="Find").click()
    page.wait_for_url("**/yard/craft?find=heron+12*")
    page.locator("#here ~ .rows a", has_text="Heron 12").first.click()
    page.locator("h1", has_text=re.compile("^Heron 12")).wait_for()
    assert set(said) <= {large_address}  # a renewal that was under way as the page was left
    page.close()


@pytest.mark.parametrize(("size", "scheme"), [*zip(SIZES, ("light", "dark", "dark"), strict=True)])
def test_axe_finds_no_fault_with_a_large_evening_and_nothing_scrolls_sideways(
    large_address, chromium, size, scheme
):
    page, _ = opened(
        chromium, f"{large_address}?renew=off", size, color_scheme=scheme, bypass_csp=True
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    page.evaluate("for (const d of document.querySelectorAll('.visits details')) d.open = true")
    found = Axe().run(page, options=_RULES)
    assert found.violations_count == 0, found.generate_report()
    page.close()


def test_no_craft_that_must_not_be_started_is_folded_away_or_left_out(
    large, large_address, chromium
):
    iced = [one for one in picture_of(large).tasks if one.holds_ice and not one.can_wait]
    assert iced
    page, _ = opened(chromium, f"{large_address}?renew=off")
    seen = page.inner_text("main")  # of what is folded nothing
    alone = [one for one in iced if one.has_ice]
    in_time = [one for one in iced if not one.has_ice and not (one.turn and one.turn.too_late)]
    for task in (*alone, *in_time):
        assert re.search(rf"{re.escape(task.craft[0].name)}\b", seen)
    page.close()


def test_what_one_walk_does_is_one_act_in_one_space_within_one_hour(large):
    tasks = [one for one in picture_of(large).tasks if not one.can_wait and not one.has_ice]
    walks = group_by_walk(tasks)
    assert len(walks) < len(tasks) / 2
    assert sorted(id(task) for walk in walks for task in walk) == sorted(map(id, tasks))
    for walk in walks:
        assert len({task.space.id for task in walk}) == 1
        hours = [task.by for task in walk if task.by is not None]
        assert not hours or (max(hours) - min(hours)).total_seconds() <= 3600
        assert len(walk) <= 40


def test_all_on_one_walk_are_taken_on_by_one_tap_without_scripts(large_address, chromium):
    page, _ = opened(chromium, large_address, java_script_enabled=False)
    button = page.get_by_role("button", name="I have them").first
    button.click()
    page.get_by_text("has it since").first.wait_for()
    page.get_by_role("button", name="Undo").first.click()
    page.get_by_text("has it since").wait_for(state="detached")
    page.close()


def test_a_large_past_night_counts_all_craft_by_space_and_shows_each_on_the_page_of_its_own(large):
    here = large.care.read_now()
    with TestClient(large.make_app(), base_url="http://127.0.0.1") as client:
        answer = client.get("/history/2026-11-13")
        page = BeautifulSoup(answer.text, "html.parser")
        counted = [
            [int(each) for each in re.findall(r"(\d+) needed something, (\d+) nothing", said)[0]]
            for said in (one.get_text(" ", strip=True) for one in page.select("#stood ~ .brief li"))
        ]
        [first] = page.select("#stood ~ .brief li:first-child a")
        space = BeautifulSoup(client.get(f"/history/{first['href']}").text, "html.parser")
    assert len(answer.content) < 150_000  # of 400 craft it was 793 kB
    assert sum(map(sum, counted)) == len(here)
    place = first["href"].partition("space=")[2].partition("#")[0]
    shown = {one["href"].rsplit("/", 1)[1] for one in space.select("#stood ~ * a[href*='craft/']")}
    assert shown == {one.id for one in here if one.space == place}


def test_a_large_past_night_fits_and_axe_finds_no_fault(large_address, chromium):
    check_fits(chromium, f"{large_address}history/2026-11-13")
    check_axe(chromium, f"{large_address}history/2026-11-13")
