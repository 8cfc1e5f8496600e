"""The backlog of a yard: what is left, at its own pace, the cold before it, and how it is told."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.craft.layup import Act, LayupEntry
from monitor.phrases.backlog import backlog_line
from monitor.reports.backlog import backlog_json, read_backlog
from monitor.reports.backlog_lines import backlog_lines
from monitor.reports.standing_work import has_work_left
from monitor.store.entering import enter
from monitor.web.pages.backlog import MOST_LEFT
from monitor.web.server import PageServer
from monitor.yard.readers import words_for
from tests.web.large_yard import large_yard
from tests.web.pages.conftest import app_of
from tests.web.pages.looks import check_axe, check_finds_craft, check_fits
from tests.web.pages.test_bench import Bench


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """The demo's yard, with one craft of which no work is on record."""
    return Bench(tmp_path_factory.mktemp("yard"))


def read(bench, hands=None, craft=None):
    with bench.store.snapshot() as tx:
        here = bench.care.read_now() if craft is None else craft
        return read_backlog(tx, bench.yard, here, bench.clock.now(), hands)


def shifted(craft, days):
    """The craft as if its work had been done so many days later."""
    entries = tuple(
        replace(one, at=one.at + timedelta(days=days), day_began=None)
        for one in craft.plan_start.entries
    )
    return replace(craft, plan_start=replace(craft.plan_start, entries=entries))


def busy_yard(bench):
    """Ten craft finished over the last three weeks, and what the demo has left besides."""
    craft = bench.care.read_now()
    left = {one.id for one in craft if has_work_left(one, bench.yard)}
    done = next(one for one in craft if one.id not in left and _claims(one))
    last = max(entry.at for entry in _claims(done))
    ages = (2, 4, 5, 7, 9, 11, 13, 15, 18, 20)
    more = [
        replace(shifted(done, (bench.clock.now() - last).days - age), id=f"x{age}", name=f"X{age}")
        for age in ages
    ]
    return [one for one in craft if one.id in left] + more


def _claims(craft):
    acts = {Act.DRAINED, Act.BLOWN_OUT, Act.ANTIFREEZE_POURED, Act.ANTIFREEZE_RUN_THROUGH}
    return [one for one in craft.plan_start.entries if one.act in acts]


def test_what_is_left_is_what_no_evidence_protects(bench):
    backlog = read(bench)
    assert "k2" in {one.craft.id for one in backlog.work.undone}
    assert "k1" not in {one.craft.id for one in backlog.work.undone}
    assert backlog.work.in_care == 12


def test_too_few_days_of_work_tell_no_pace_and_the_page_says_so(bench):
    craft = [one for one in bench.care.read_now() if one.id in {"k1", "k2"}]
    backlog = read(bench, craft=craft)
    assert backlog.work.pace is None
    assert backlog.hard is None
    said = backlog_lines(backlog, bench.yard, words_for(bench.yard, bench.clock.now()))
    assert "too few days" in said.first
    assert said.facts[0].startswith("Pace: not known")


def test_a_known_pace_gives_a_range_a_chance_and_what_it_takes(bench):
    craft = busy_yard(bench)
    backlog = read(bench, craft=craft)
    finish = backlog.work.finish
    assert backlog.work.today < finish.early <= finish.likely <= finish.late
    assert 0.0 < backlog.hard.chance <= 1.0
    assert backlog.hard.past_winters == 0  # the demo's yard has none
    said = backlog_lines(backlog, bench.yard, words_for(bench.yard, bench.clock.now()))
    assert "no source" in " ".join(said.facts)
    assert backlog.load.minutes == sum(one.minutes for one in backlog.work.undone)
    assert any("hours" in line or " h" in line for line in said.needed)


def test_more_hands_are_never_later_and_change_the_plan_too(bench):
    craft = busy_yard(bench)
    own = bench.yard.duty.hands
    few, many = read(bench, own, craft), read(bench, own * 3, craft)
    assert many.work.finish.likely <= few.work.finish.likely
    assert many.load.done_on <= few.load.done_on


def test_nothing_left_is_said_in_one_sentence(bench):
    craft = [one for one in bench.care.read_now() if one.id == "k1"]
    said = backlog_lines(
        read(bench, craft=craft), bench.yard, words_for(bench.yard, bench.clock.now())
    )
    assert said.first == "Every craft in the yard is laid up."
    assert not said.needed


def test_the_line_counts_what_it_counts():
    assert backlog_line(1, 12, None).startswith("1 of 12 craft is not laid up: ")
    assert backlog_line(3, 12, None).startswith("3 of 12 craft are not laid up: ")


def test_programs_read_it_in_si(bench):
    told = backlog_json(read(bench, craft=busy_yard(bench)))
    assert told["hard_night_c"] == -4.0
    assert date.fromisoformat(told["done_early"]) <= date.fromisoformat(told["done_late"])
    assert told["minutes"] > 0
    assert all(one["quantity_l"] > 0 for one in told["supplies"])


def test_the_page_tells_it_and_the_evening_leads_there(bench):
    page = BeautifulSoup(bench.web.get("/backlog").text, "html.parser")
    assert "not laid up" in page.h1.get_text()
    assert page.select("a[href='craft/k2']")
    evening = BeautifulSoup(bench.web.get("/").text, "html.parser")
    [link] = evening.select("a[href='backlog']")
    assert "not laid up" in link.get_text()


def test_a_backlog_that_is_kept_tells_of_work_at_once(own_evening):
    with TestClient(app_of(own_evening), base_url="http://127.0.0.1") as client:
        before, again = (client.get("/backlog") for _ in range(2))
        assert before.text == again.text
        assert before.headers["ETag"] == again.headers["ETag"]
        left = BeautifulSoup(before.text, "html.parser").select_one(".cases a")["href"]
        with own_evening.store.transaction() as tx:
            gone = LayupEntry(
                id="gone", craft=left.rsplit("/", 1)[1], at=own_evening.clock.now(),
                by="ines", act=Act.HANDED_OVER,
            )  # fmt: skip
            enter(tx.layup, [gone], own_evening.settings.profiles, gone.at, "test")
        after = BeautifulSoup(client.get("/backlog").text, "html.parser")
    assert left not in {one["href"] for one in after.select(".cases a")}


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """A yard with more craft left than one page lists."""
    with large_yard(tmp_path_factory.mktemp("many"), 72, spaces=6) as yard:
        yield yard


@pytest.fixture(scope="module")
def many_address(many):
    server = PageServer(many.make_app())
    yield server.start()
    server.stop()


def lines_of(client, address):
    page = BeautifulSoup(client.get(address).text, "html.parser")
    onward = [one["href"] for one in page.select("section .back a") if "more" in one.get_text()]
    return [one["href"] for one in page.select(".cases a")], (onward or [None])[0]


def test_every_craft_left_in_a_large_yard_is_on_one_of_its_pages_and_on_one_alone(many):
    with many.store.snapshot() as tx:
        left = read_backlog(tx, many.yard, many.care.read_now(), many.clock.now()).work.undone
    assert len(left) > MOST_LEFT
    seen, onward = [], "backlog"
    with TestClient(many.make_app(), base_url="http://127.0.0.1") as client:
        while onward is not None:
            here, onward = lines_of(client, f"/{onward}")
            assert len(here) <= MOST_LEFT
            seen += here
    assert sorted(seen) == sorted(f"craft/{one.craft.id}" for one in left)


def test_a_large_backlog_is_found_by_space_and_by_name(many):
    here = {one.id: one for one in many.care.read_now()}
    with TestClient(many.make_app(), base_url="http://127.0.0.1") as client:
        in_space, _ = lines_of(client, "/backlog?space=space-1")
        named, _ = lines_of(client, "/backlog?find=HERON")
        nobody, _ = lines_of(client, "/backlog?find=nobody")
    assert {here[one.rsplit("/", 1)[1]].space for one in in_space} == {"space-1"}
    assert named
    assert all("Heron" in here[one.rsplit("/", 1)[1]].name for one in named)
    assert nobody == []


def test_a_product_names_the_first_of_the_many_craft_that_it_is_for_and_counts_the_others(many):
    with TestClient(many.make_app(), base_url="http://127.0.0.1") as client:
        page = BeautifulSoup(client.get("/backlog").text, "html.parser")
    [needed] = [one for one in page.select(".facts li") if "containers of" in one.get_text()]
    assert "more." in needed.get_text()
    assert len(needed.get_text()) < 200


def test_a_large_backlog_fits_and_axe_finds_no_fault(many_address, chromium):
    check_fits(chromium, f"{many_address}backlog")
    check_axe(chromium, f"{many_address}backlog?find=heron")


def test_a_craft_is_found_in_a_large_backlog_without_scripts(many_address, chromium):
    check_finds_craft(chromium, f"{many_address}backlog", ".cases a")
