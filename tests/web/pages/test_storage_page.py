"""The quality of storage as a page and as files: one set of figures in all of them."""

import csv
import json
from datetime import timedelta
from io import BytesIO, StringIO

import pypdf
import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.reports.storage.read_storage import read_storage_seasons
from monitor.web.pages import storage_routes
from monitor.wording import typeset
from tests.web.pages.conftest import app_of
from tests.web.pages.looks import check_axe, check_fits


def unspaced(text: str) -> str:
    return "".join(text.split())


def test_page_pdf_csv_and_json_are_of_one_set_of_figures(browse):
    body = browse.get("/storage.json").json()
    rows = list(csv.DictReader(StringIO(browse.get("/storage.csv").text)))
    page = BeautifulSoup(browse.get("/storage").text, "html.parser")
    pdf = pypdf.PdfReader(BytesIO(browse.get("/storage.pdf").content))
    printed = unspaced(typeset(" ".join(one.extract_text() for one in pdf.pages)))
    assert json.loads(pdf.attachments["storage.json"][0]) == body
    assert [row["space"] for row in rows] == [*(one["space"] for one in body["spaces"]), "*"]
    for row, told in zip(rows, [*body["spaces"], body["whole"]], strict=True):
        for key in ("of_h", "heard_h", "inside_h", "too_cold_h"):
            assert float(row[key]) == told["hours"][key]
        assert row["answers_due"] == str(told["answers"]["due"])
    said = [unspaced(one.text) for one in page.select("main p:not(.key, .bar), main td")]
    assert len(said) > 20
    for line in said:
        assert line in printed
    share = body["whole"]["hours"]["share_inside"]
    assert f"{int(100 * share)}%insidethelimits" in said[0]
    assert 0.0 < share < 1.0


@pytest.mark.parametrize(
    ("asked", "status"), [("?season=2099", 404), ("?season=1200", 422), ("?season=1999", 200)]
)
def test_a_season_without_craft_says_so_and_one_ahead_is_refused(browse, asked, status):
    answer = browse.get(f"/storage{asked}")
    assert answer.status_code == status
    assert ("nothing to tell" in answer.text) is (status == 200)


def test_it_fits_its_targets_can_be_hit_and_axe_finds_nothing(address, chromium):
    check_fits(chromium, f"{address}storage")
    check_axe(chromium, f"{address}storage")


def test_it_is_reckoned_once_for_all_readers_and_anew_once_somebody_has_acted(
    own_evening, monkeypatch
):
    reckoned = []

    def watch_reckoning(*said):
        reckoned.append(said)
        return read_storage_seasons(*said)

    monkeypatch.setattr(storage_routes, "read_storage_seasons", watch_reckoning)
    with TestClient(app_of(own_evening), base_url="http://127.0.0.1") as client:
        before = client.get("/storage.json").json()
        assert client.get("/storage").status_code == 200
        assert client.get("/storage.csv").status_code == 200
        assert client.get("/storage?season=2025").status_code == 200
        assert len(reckoned) == 2  # one for each season
        with own_evening.store.snapshot() as tx:
            asking = [one.id for one in tx.alarms.open_alarms() if one.cause == "frost"]
        AlarmActs(own_evening.store, own_evening.clock).acknowledge_each(asking, "ines", "test")
        after = client.get("/storage.json").json()
    was, now = (one["whole"]["answers"] for one in (before, after))
    assert now["in_time"] > was["in_time"]


def test_a_round_that_changes_no_alarm_leaves_the_season_as_it_was_reckoned_for_some_minutes(
    own_evening, monkeypatch
):
    reckoned = []

    def watch_reckoning(*said):
        reckoned.append(said)
        return read_storage_seasons(*said)

    monkeypatch.setattr(storage_routes, "read_storage_seasons", watch_reckoning)
    own_evening.judge_now()  # what there was to tell has been told
    with TestClient(app_of(own_evening), base_url="http://127.0.0.1") as client:
        assert client.get("/storage").status_code == 200
        before = own_evening.store.change_mark()
        own_evening.judge_now()
        assert own_evening.store.change_mark() != before
        assert client.get("/storage").status_code == 200
        assert len(reckoned) == 1
        own_evening.clock.advance_to(own_evening.clock.now() + timedelta(minutes=10))
        assert client.get("/storage").status_code == 200
    assert len(reckoned) == 2


@pytest.mark.parametrize("path", ["/storage", "/backlog", "/history/2026-11-13"])
def test_the_way_to_the_evening_has_one_name_on_every_page(browse, path):
    page = BeautifulSoup(browse.get(path).text, "html.parser")
    assert page.select_one(".back a").text == "Tonight's page"
