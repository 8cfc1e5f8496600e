"""Where "Done" of the evening page leads: the bench, at tonight's part of the job."""

from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.craft.protection import LayupState
from tests.web.pages.conftest import app_of
from tests.web.pages.test_bench import filled, words

HERON = "k8"  # its block was run cold: it is drained tonight, and filled hot another day


def page_at(web, address):
    answer = web.get(address)
    assert answer.status_code == 200, answer.text
    return BeautifulSoup(answer.text, "html.parser")


def test_done_leads_to_the_steps_that_letters_ask_for_tonight_and_then_to_the_rest(own_evening):
    web = TestClient(app_of(own_evening), base_url="http://127.0.0.1")
    row = next(one for one in page_at(web, "/").select("a.button") if HERON in one["href"])
    assert "Done" in words(row)
    page = page_at(web, "/" + row["href"])
    assert "for tonight" in words(page.select_one(".left"))
    first = page.find("input", {"name": "step"})["value"]
    assert first.startswith("drain-engine/")
    # Without that the bench plans the winter, in which the block is not drained first.
    assert page_at(web, f"/craft/{HERON}/bench").find("input", {"name": "step"})["value"] != first

    answer = web.post(f"/craft/{HERON}/bench", data=filled(page, dry="yes"))
    assert answer.url.query == b"entered=" + filled(page)["draft"].encode() + b"&job=tonight"
    after = BeautifulSoup(answer.text, "html.parser")
    assert "On record" in words(after)
    left = after.find("input", {"name": "step"})
    assert left is None or left["value"] != first
    craft = next(one for one in own_evening.craft.read_now() if one.id == HERON)
    assert craft.protection["block"].state is LayupState.PROVEN  # believed at once


def test_a_tap_without_what_was_seen_goes_on_record_and_proves_nothing(own_evening):
    web = TestClient(app_of(own_evening), base_url="http://127.0.0.1")
    page = page_at(web, f"/craft/{HERON}/bench?job=tonight")
    told = BeautifulSoup(web.post(f"/craft/{HERON}/bench", data=filled(page)).text, "html.parser")
    assert "this would not prove" in words(told)
    web.post(f"/craft/{HERON}/bench", data=filled(told, knowing="yes"))
    craft = next(one for one in own_evening.craft.read_now() if one.id == HERON)
    assert craft.protection["block"].state is not LayupState.PROVEN
