"""The spring list: ticked off step by step, taken back by a further entry, never free too soon."""

from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from monitor.craft.layup import Act, ReadyStep
from monitor.craft.spring_progress import spring_progress
from monitor.store.entering import enter
from monitor.yard.space import shelters
from tests.craft.scene import work
from tests.web.pages.conftest import NASTY
from tests.web.pages.test_bench import Bench

TEAL = "k1"
FILLED = {"oil": "clear", "outflow": "clear water", "rested": "12,7", "note": "drum 3, 6 L"}


class Spring(Bench):
    """The demo's yard in April, and a mechanic's browser at one craft's list."""

    def __init__(self, folder, named="Teal", craft=TEAL):
        super().__init__(folder, named, "k2")
        self.craft = craft
        self.wait(timedelta(days=150))

    def wait(self, time):
        self.clock.advance_to(self.clock.now() + time)

    def page(self, query=""):
        answer = self.web.get(f"/craft/{self.craft}/spring{query}")
        assert answer.status_code == 200
        return BeautifulSoup(answer.text, "html.parser")

    def send(self, data, status=200):
        answer = self.web.post(f"/craft/{self.craft}/spring", data=data)
        assert answer.status_code == status, answer.text
        return BeautifulSoup(answer.text, "html.parser")

    def form(self, page=None, **said):
        """The form of the step at hand, filled in."""
        page = page or self.page()
        form = page.select_one("#next form.entry")
        hidden = {one["name"]: one["value"] for one in form.select("input[type=hidden]")}
        asked = {one["name"] for one in form.select("[name]")} - hidden.keys()
        return hidden | {name: FILLED[name] for name in asked & FILLED.keys()} | said

    def progress(self):
        return spring_progress(self.record(), shelters(self.yard), self.clock.now())

    def state(self):
        return self.page().select_one("p.warning").get_text()


@pytest.fixture
def spring(tmp_path):
    return Spring(tmp_path)


def test_the_whole_list_ends_with_a_craft_that_may_be_started(spring):
    before = len(spring.progress().before_start)
    for done in range(before):
        assert f"{before - done} step" in spring.state()
        assert "DO NOT START" in spring.state()
        spring.wait(timedelta(minutes=5))
        spring.send(spring.form())
    assert "nobody has signed off" in spring.state()
    spring.send(spring.form())
    assert "may be started" in spring.state()
    assert spring.progress().may_be_started
    assert [one.act for one in spring.work()][-1] is Act.SIGNED_OFF


def test_a_tick_keeps_person_time_and_what_was_read(spring):
    spring.send(spring.form(note="two wasps' nests"))
    entry = spring.work()[-1]
    assert (entry.readied, entry.act) == (ReadyStep.UNCOVERED, Act.COVER_OFF)
    assert entry.by in {person.id for person in spring.yard.people}
    assert entry.at == spring.clock.now()
    assert "two wasps' nests" in spring.page().select_one(".spring .done").get_text()


def test_a_form_that_is_sent_twice_enters_once(spring):
    form = spring.form()
    spring.send(form)
    count = len(spring.work())
    spring.send(form)
    assert len(spring.work()) == count


def test_a_tick_that_waited_in_a_phone_counts_from_when_it_was_tapped(spring):
    form = spring.form(waited="5400")
    spring.wait(timedelta(hours=2))
    spring.send(form)
    assert spring.work()[-1].at == spring.clock.now() - timedelta(minutes=90)
    form = spring.form(waited="99999999")  # longer than any phone is without a link
    count = len(spring.work())
    assert "waited" in spring.send(form, status=422).select_one(".complaint").get_text()
    assert len(spring.work()) == count


def test_a_tick_that_comes_again_when_it_was_taken_back_ticks_nothing_off(spring):
    form = spring.form()
    spring.send(form)
    undo = spring.page().select_one(".done button[name=undo]")["value"]
    spring.send({"form_token": form["form_token"], "undo": undo})
    count = len(spring.work())
    assert "taken back since" in spring.send(form, status=422).get_text()
    assert len(spring.work()) == count


def test_a_tick_is_taken_back_by_a_further_entry(spring):
    spring.send(spring.form())
    undo = spring.page().select_one(".done button[name=undo]")["value"]
    form = spring.form()
    spring.send({"form_token": form["form_token"], "undo": undo})
    assert spring.work()[-1].act is Act.WITHDRAWN
    assert not spring.page().select(".spring > .done")


def test_nobody_signs_off_while_a_step_is_open(spring):
    form = spring.form() | {"step": "sign-off"}
    page = spring.send(form, status=422)
    assert "DO NOT START" in page.get_text()
    assert Act.SIGNED_OFF not in {one.act for one in spring.work()}


def test_a_sign_off_by_another_way_frees_nothing(spring):
    profiles = spring.settings.profiles
    entry = work("signed-off", at=spring.clock.now(), by="ines")
    with spring.store.transaction() as tx:
        record = tx.layup.record_of(TEAL, profiles)
        enter(tx.layup, [entry], {record.profile.id: record.profile}, spring.clock.now(), "test")
    assert "DO NOT START" in spring.state()


@pytest.mark.parametrize(
    ("step", "said", "told"),
    [
        ("look-at-oils", {"oil": "milky"}, "no start"),
        ("fit-battery", {"rested": "twelve"}, "twelve"),
        ("fit-battery", {"rested": ""}, "volts at rest"),
        ("catch-antifreeze", {"note": " "}, "which drum"),
        ("uncover", {"at": "2099-01-01T10:00"}, "still to come"),
    ],
)
def test_what_is_missing_is_said_beside_its_field(spring, step, said, told):
    keys = [
        one.select_one("input[name=step]")["value"] for one in spring.page().select("form.entry")
    ]
    [key] = [one for one in keys if one.startswith(step)]
    page = spring.send(spring.form(spring.page(f"?step={key}"), **said), status=422)
    [complaint] = page.select("p.complaint")
    assert told in complaint.get_text().lower()
    assert not spring.progress().begun_at


def test_a_craft_that_is_not_there_has_no_list(spring):
    assert spring.web.get("/craft/nowhere/spring").status_code == 404


def test_a_name_is_text_and_no_markup(tmp_path):
    spring = Spring(tmp_path, named=NASTY, craft="k2")
    assert NASTY in spring.page().h1.get_text()


def test_the_craft_page_says_how_far_it_is(spring):
    spring.send(spring.form())
    page = spring.web.get(f"/craft/{TEAL}").text
    assert "Being made ready: 1 of" in page
    assert f"/craft/{TEAL}/spring" in page or f"craft/{TEAL}/spring" in page
