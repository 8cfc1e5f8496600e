"""Where "Done" leads: a step counts by what was seen of it, and a tap alone proves nothing."""

from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.craft.protection import LayupState
from monitor.judgement.inputs import CraftInCare
from monitor.settings.load import load_settings, shipped_folder
from monitor.store.entering import take_in
from monitor.store.store import Store
from monitor.web.app import create_app
from tests.real.stores import scene_url

PLOVER = "k2"  # of the demo's yard: a blocked passage is left full of water


class Yardful:
    """The demo's yard before anything was judged, and an operator's browser."""

    def __init__(self, folder):
        self.settings = load_settings(shipped_folder() / "demo" / "yard.toml")
        self.yard = self.settings.yard
        latest = max(entry.at for one in self.settings.craft for entry in one.entries)
        self.clock = ReadingsClock(latest + timedelta(days=1))
        self.store = Store(scene_url(folder), self.yard.id)
        with self.store.transaction() as tx:
            take_in(tx.layup, self.settings.craft, self.settings.profiles, self.clock.now())
        self.care = CraftInCare(self.store, self.settings.profiles, self.yard, self.clock)
        app = create_app(self.store, self.yard, self.clock, self.care.read_now)
        self.web = TestClient(app)
        self.token = self.page().find("input", {"name": "form_token"})["value"]

    def state(self):
        craft = next(one for one in self.care.read_now() if one.id == PLOVER)
        return craft.protection["cylinder-passages"].state

    def page(self):
        return BeautifulSoup(self.web.get(f"/craft/{PLOVER}/done").text, "html.parser")

    def send(self, **said):
        form = {"form_token": self.token, **said}
        self.answer = self.web.post(f"/craft/{PLOVER}/done", data=form)
        return BeautifulSoup(self.answer.text, "html.parser")

    def step(self):
        return self.page().find("input", {"name": "step"})["value"]


@pytest.fixture
def yardful(tmp_path):
    made = Yardful(tmp_path)
    yield made
    made.store.close()


def words(tag):
    return " ".join(tag.get_text(" ").split())


def test_each_step_asks_for_what_proves_it_and_for_nothing_else(yardful):
    first = yardful.page().select_one("form.proof")
    assert [one["name"] for one in first.select("input:not([type=hidden])")] == ["seen dry"]


def test_a_tap_without_what_was_seen_goes_on_record_and_proves_nothing(yardful):
    assert yardful.state() is not LayupState.PROVEN
    after = yardful.send(step=yardful.step())
    assert "Not proven: cylinder and head passages." in words(after)
    assert "nobody noted that it was probed and seen dry" in words(after)
    assert yardful.state() is not LayupState.PROVEN


def test_what_was_seen_proves_it_at_once_and_the_step_is_gone(yardful):
    step = yardful.step()
    after = yardful.send(step=step, **{"seen dry": "yes"})
    assert "It proves: cylinder and head passages" in words(after)
    assert yardful.state() is LayupState.PROVEN
    assert step not in [one["value"] for one in after.find_all("input", {"name": "step"})]


def test_undo_takes_the_entry_back_on_record_and_the_proof_with_it(yardful):
    after = yardful.send(step=yardful.step(), **{"seen dry": "yes"})
    after = yardful.send(undo=after.find("button", {"name": "undo"})["value"])
    assert "Taken back" in words(after)
    assert yardful.state() is not LayupState.PROVEN
    with yardful.store.snapshot() as tx:
        record = tx.layup.record_of(PLOVER, yardful.settings.profiles)
    assert [one.act for one in record.on_record][-2:] == ["drained", "withdrawn"]


def test_after_ten_minutes_an_entry_is_corrected_and_not_undone(yardful):
    after = yardful.send(step=yardful.step(), **{"seen dry": "yes"})
    entry = after.find("button", {"name": "undo"})["value"]
    yardful.clock.advance_to(yardful.clock.now() + timedelta(minutes=11))
    refused = yardful.send(undo=entry)
    assert yardful.answer.status_code == 422
    assert "within the last 10 minutes" in words(refused)
    assert yardful.state() is LayupState.PROVEN


def test_an_old_form_of_a_job_that_has_changed_enters_nothing(yardful):
    refused = yardful.send(step="drain/bailer", **{"seen dry": "yes"})
    assert yardful.answer.status_code == 422
    assert "the job has changed" in words(refused)
