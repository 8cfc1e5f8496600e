"""What people do on the evening page: one tap each, in their name, undone by the next."""

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.clock import ReadingsClock
from monitor.web.app import create_app
from monitor.yard.alarm import AlarmState
from tests.reports import kettlemoss as yard_of

OSPREY, NORTH_ROW = "a-frost", "a-silence"


class Phone:
    """An operator's browser without scripts: it shows the page and sends its forms."""

    def __init__(self, store, clock=None):
        self.clock = clock or ReadingsClock(yard_of.KETTLEMOSS_NOW)
        self.web = TestClient(create_app(store, yard_of.yard(), self.clock, yard_of.craft))
        self.answer = None

    def page(self):
        return BeautifulSoup(self.web.get("/").text, "html.parser")

    def buttons(self, alarm):
        forms = self.page().find_all("form", action=f"alarms/{alarm}/acts")
        return {form.button["value"]: form for form in forms}

    def tap(self, alarm, act):
        form = self.buttons(alarm)[act]
        fields = {one["name"]: one["value"] for one in form.find_all("input")}
        return self.send(alarm, fields | {form.button["name"]: form.button["value"]})

    def send(self, alarm, fields):
        self.answer = self.web.post(f"/alarms/{alarm}/acts", data=fields)
        return BeautifulSoup(self.answer.text, "html.parser")


@pytest.fixture
def phone(store):
    return Phone(store)


def alarm_of(store, alarm):
    with store.snapshot() as tx:
        return tx.alarms.get(alarm), tx.alarms.history_of(alarm)


def words(tag):
    return " ".join(tag.get_text(" ").split())


def test_one_tap_takes_it_on_and_the_page_that_follows_says_who_has_it(store, phone):
    after = phone.tap(OSPREY, "acknowledge")
    assert "Ines Marrow has it since 16:04" in words(after.find(id="at-K11"))
    alarm, history = alarm_of(store, OSPREY)
    assert alarm.state is AlarmState.ACKNOWLEDGED
    assert (history[-1].by, history[-1].why.text) == ("ines", "taken on by a tap on the page")


def test_the_next_tap_undoes_it_and_the_alarm_asks_again(store, phone):
    phone.tap(OSPREY, "acknowledge")
    after = phone.tap(OSPREY, "give-back")
    assert "has it" not in words(after.find(id="at-K11"))
    assert alarm_of(store, OSPREY)[0].state is AlarmState.UNACKNOWLEDGED
    assert "acknowledge" in phone.buttons(OSPREY)


def test_after_ten_minutes_nothing_is_undone_by_a_tap(store, phone):
    fields = {"act": "give-back", "alarms": OSPREY}
    fields["form_token"] = phone.buttons(OSPREY)["acknowledge"].input["value"]
    phone.tap(OSPREY, "acknowledge")
    phone.clock.advance_to(yard_of.at(16, 15))
    assert "give-back" not in phone.buttons(OSPREY)
    refused = phone.send(OSPREY, fields)
    assert phone.answer.status_code == 409
    assert "within the last 10 minutes" in words(refused)
    assert alarm_of(store, OSPREY)[0].state is AlarmState.ACKNOWLEDGED


def test_a_tap_shelves_an_alarm_until_the_morning_and_another_tells_it_again(store, phone):
    form = phone.buttons(OSPREY)["shelve"]
    assert "Quiet until 07:00" in words(form)
    phone.tap(OSPREY, "shelve")
    alarm, history = alarm_of(store, OSPREY)
    assert alarm.state is AlarmState.SHELVED
    assert history[-1].why.until == yard_of.at(7, 0, day=15)
    phone.tap(OSPREY, "unshelve")
    assert alarm_of(store, OSPREY)[0].state is AlarmState.UNACKNOWLEDGED


def test_a_shelved_alarm_takes_no_work_off_the_list(phone):
    after = phone.tap(OSPREY, "shelve")
    assert "Osprey" in words(after.find(id="todo").parent)


def test_of_two_operators_the_second_tap_changes_nothing_and_sees_the_first(store, phone):
    form = phone.buttons(OSPREY)["acknowledge"]
    other = AlarmActs(store, ReadingsClock(yard_of.at(16, 2)))
    other.acknowledge(OSPREY, "tobin")
    fields = {one["name"]: one["value"] for one in form.find_all("input")}
    after = phone.send(OSPREY, fields | {"act": "acknowledge"})
    assert "Tobin Ashby has it since 16:02" in words(after.find(id="at-K11"))
    assert [event.by for event in alarm_of(store, OSPREY)[1]] == ["tobin"]


@pytest.mark.parametrize(
    ("fields", "status"),
    [
        ({"act": "acknowledge"}, 403),  # no token: another site's form
        ({"act": "acknowledge", "form_token": "x" * 43}, 403),
        ({"act": "drain", "form_token": None}, 400),
        ({"act": "acknowledge", "alarms": "a b\n", "form_token": None}, 400),
        ({"act": "unshelve", "form_token": None}, 409),  # it is not on the shelf
    ],
)
def test_what_is_no_act_of_this_page_changes_nothing(store, phone, fields, status):
    token = phone.buttons(OSPREY)["acknowledge"].input["value"]
    before = alarm_of(store, OSPREY)
    phone.send(OSPREY, {key: token if value is None else value for key, value in fields.items()})
    assert phone.answer.status_code == status
    assert alarm_of(store, OSPREY) == before


def test_a_page_is_made_once_and_again_when_anything_of_the_yard_has_changed(store, phone):
    first = phone.web.get("/")
    again = phone.web.get("/", headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    AlarmActs(store, phone.clock).acknowledge(OSPREY, "ines")
    changed = phone.web.get("/", headers={"If-None-Match": first.headers["etag"]})
    assert changed.status_code == 200
    assert changed.headers["etag"] != first.headers["etag"]


def test_what_another_process_wrote_is_shown_too(phone, tmp_path):
    first = phone.web.get("/")
    other = yard_of.open_store(tmp_path)
    try:
        AlarmActs(other, phone.clock).acknowledge(OSPREY, "ines")
    finally:
        other.close()

    def asked_again():
        headers = {"If-None-Match": first.headers["etag"]}
        return phone.web.get("/", headers=headers).status_code

    assert any(asked_again() == 200 for _ in range(2000))  # the store is asked a few times a second


def test_the_hour_that_passes_makes_the_page_anew(phone):
    before = words(phone.page().find(id="at-K11"))
    phone.clock.advance_to(yard_of.at(18, 30))
    after = words(phone.page().find(id="at-K11"))
    assert (before[:8], after[:3]) == ("by 18:15", "now")
