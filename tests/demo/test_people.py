"""The demo's people do their part of the story: an answer by the link, and a craft saved."""

import threading
from datetime import timedelta
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from monitor.clock import ReadingsClock
from monitor.craft.protection import LayupState
from monitor.demo.people import MECHANIC, OPERATOR, SAVED, People
from monitor.judgement.inputs import CraftInCare
from monitor.settings.load import load_settings, shipped_folder
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from simulator import kettlemoss

BEGIN = kettlemoss.scenario().start
EVENING = BEGIN + timedelta(hours=3)


@pytest.fixture
def stage(tmp_path):
    """The demo's yard with its record in a store, its people, and what they tell."""
    settings = load_settings(shipped_folder() / "demo" / "yard.toml")
    url = f"sqlite:///{tmp_path / 'demo.db'}"
    migrate(url)
    store = Store(url, settings.yard.id)
    with store.transaction() as tx:
        take_in(tx.layup, settings.craft, settings.profiles, BEGIN)
    told = []
    yield settings, store, People(settings, store, tmp_path, BEGIN, told.append), told
    store.close()


@pytest.fixture
def page():
    """Where an answer goes: takes it as the page of the watch does, and remembers the path."""
    asked = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self):
            asked.append(self.path)
            self.send_response(303)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_):
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server.server_port, asked
    server.shutdown()
    thread.join()
    server.server_close()


def protection(settings, store):
    clock = ReadingsClock(EVENING)
    craft = CraftInCare(store, settings.profiles, settings.yard, clock).read_now()
    return next(one for one in craft if one.id == SAVED).protection["cylinder-passages"]


def put_mail(folder, settings, link, at=BEGIN + timedelta(minutes=15)):
    mail = EmailMessage()
    mail["To"], mail["Subject"] = settings.yard.person(OPERATOR).mail, "Unblock it"
    mail["Date"] = at
    mail.set_content(f"I have this:\n{link}\n")
    (folder / f"{at:%Y%m%dT%H%M}.eml").write_bytes(mail.as_bytes())


def test_what_the_mechanic_enters_proves_that_the_craft_holds(stage):
    settings, store, people, told = stage
    assert protection(settings, store).state is not LayupState.PROVEN
    people.do_what_is_due(EVENING)
    assert protection(settings, store).state is LayupState.PROVEN
    name = settings.yard.person(MECHANIC).name
    assert [line for line in told if line.startswith(name)]


def test_nobody_acts_before_the_hour_and_nobody_twice(stage):
    settings, store, people, told = stage
    people.do_what_is_due(BEGIN)
    assert told == []
    assert protection(settings, store).state is not LayupState.PROVEN
    people.do_what_is_due(EVENING)
    people.do_what_is_due(EVENING + timedelta(hours=1))
    assert len(told) == 1  # no letter has come that could be answered


def test_the_operator_answers_by_the_link_in_her_letter(stage, page, tmp_path):
    settings, _, people, told = stage
    port, asked = page
    people.do_what_is_due(EVENING)
    put_mail(tmp_path, settings, f"http://127.0.0.1:{port}/answer/secret-1")
    people.do_what_is_due(EVENING + timedelta(minutes=5))
    assert asked == ["/answer/secret-1"]
    assert "follows the link" in told[-1]


def test_what_the_night_brought_is_answered_in_the_morning_by_its_own_link(stage, page, tmp_path):
    settings, _, people, told = stage
    port, asked = page
    put_mail(tmp_path, settings, f"http://127.0.0.1:{port}/answer/first")
    people.do_what_is_due(EVENING)
    put_mail(tmp_path, settings, f"http://127.0.0.1:{port}/answer/evening", EVENING)
    morning = BEGIN.replace(hour=0) + timedelta(days=1, hours=14)
    people.do_what_is_due(morning)
    assert asked == ["/answer/first"]  # the morning's letter is not in yet
    put_mail(tmp_path, settings, f"http://127.0.0.1:{port}/answer/night", morning)
    people.do_what_is_due(morning + timedelta(minutes=5))
    people.do_what_is_due(morning + timedelta(minutes=10))
    assert asked == ["/answer/first", "/answer/night"]
    assert "morning" in told[-1]


def test_the_spring_look_tells_how_the_saved_craft_goes_back_into_the_water(stage):
    people = stage[2]
    unsaved = " ".join(people.spring_lines())
    assert "no proof" in unsaved
    people.do_what_is_due(EVENING)
    saved = list(people.spring_lines())
    assert len(saved) >= 3
    assert all(": " in line and line.endswith(".") for line in saved)
    # Nobody needs to look for cracks in what was seen dry before the frost.
    assert "no proof" not in " ".join(saved)
