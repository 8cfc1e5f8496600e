"""The yard changed at its pages: what is heard taken in, moved, put right, refused, taken back."""

import json
import re
import shutil
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.cli import main
from monitor.craft.revising import CRAFT_FILES
from monitor.judgement.inputs import CraftInCare
from monitor.settings.load import load_settings, shipped_folder
from monitor.settings.yard_acts import YardBook, in_use
from monitor.store.aside import KeptAside
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in_each import take_in_each
from monitor.web.access.guard import OpenAccess
from monitor.web.app import create_app
from tests.set_clock import SetClock

NOW = datetime(2026, 11, 12, 15, 0, tzinfo=UTC)
NEW = "urn:dev:ops:mill-lane-loft"


class Browser:
    """An operator's browser at the shipped example, whose page is made anew as the yard changes."""

    def __init__(self, folder, empty):
        self.file = folder / "yard.toml"
        self.file.write_text((shipped_folder() / "yard.toml").read_text())
        (folder / "craft.toml").write_text("")
        shutil.copy(empty, folder / "laidup.db")
        self.store = Store(f"sqlite:///{folder / 'laidup.db'}", "mill-lane")
        self.clock = SetClock(NOW)
        self.settings = load_settings(self.file)
        self.access = OpenAccess(self.settings.yard)
        self.care = CraftInCare(self.store, self.settings.profiles, self.settings.yard, self.clock)
        self.book = YardBook(
            lambda: self.settings, self.store, self.clock,
            lambda: in_use(self.care.read_now()), self.renew,
        )  # fmt: skip
        self.renew()

    def renew(self):
        with self.store.snapshot() as tx:
            changes = tx.yard_changes.all_changes()
        self.settings = self.settings.with_changes(changes)
        self.care.take_yard(self.settings.yard)
        self.access.take_yard(self.settings.yard)
        app = create_app(
            self.store, self.settings.yard, self.clock, self.care.read_now, book=self.book,
            profiles=self.settings.profiles, access=self.access,
        )  # fmt: skip
        self.web = TestClient(app)

    @property
    def yard(self):
        return self.settings.yard

    def page(self, path):
        answer = self.web.get(path)
        assert answer.status_code == 200, answer.text
        return BeautifulSoup(answer.text, "html.parser")

    def send(self, path, **said):
        token = self.page("/yard/place").find("input", {"name": "form_token"})["value"]
        self.answer = self.web.post(path, data={"form_token": token, **said})
        return BeautifulSoup(self.answer.text, "html.parser")

    def hear(self, sensor, celsius, at=NOW):
        pack = [{"bn": f"{sensor}:", "n": "temperature", "u": "Cel", "v": celsius,
                 "t": at.timestamp()}]  # fmt: skip
        with self.store.transaction() as tx:
            tx.aside.keep_all(
                [KeptAside("mill-lane/loft", f"{sensor}:temperature: no sensor of this yard",
                           json.dumps(pack).encode(), at)]
            )  # fmt: skip


@pytest.fixture(scope="module")
def empty_store(tmp_path_factory):
    file = tmp_path_factory.mktemp("empty") / "laidup.db"
    migrate(f"sqlite:///{file}")
    return file


@pytest.fixture
def browser(tmp_path, empty_store):
    made = Browser(tmp_path, empty_store)
    yield made
    made.store.close()


def text(page):
    return " ".join(page.get_text(" ").split())


def test_a_sensor_that_is_heard_is_taken_in_by_one_tap_with_its_place(browser):
    browser.hear(NEW, -3.0, NOW - timedelta(minutes=20))
    row = browser.page("/yard/sensors").find("li", "heard")
    assert "−3.0 °C" in text(row).replace("26.6 °F", "−3.0 °C")
    button = row.find("button", {"value": "shed"})
    form = {one["name"]: one["value"] for one in row.find_all("input", {"type": "hidden"})}
    chosen = row.select_one("select[name=since] option[selected]")["value"]
    browser.send("/yard/items", **{**form, "space": button["value"], "since": chosen})
    assert browser.answer.status_code == 200

    def taken():
        return next(one for one in browser.yard.sensors if one.name == NEW)

    # What it had just sent counts to that place, or it would be called silent at once.
    assert (taken().space, taken().since) == ("shed", NOW - timedelta(minutes=20))
    assert taken().topic == "mill-lane/loft/#"  # nobody else speaks in its name
    assert not browser.page("/yard/sensors").find("li", "heard")
    browser.send("/yard/items", part="sensors", key=NEW, space="shop", note="post 3")
    assert (taken().space, taken().topic) == ("shop", "mill-lane/loft/#")


def test_what_is_changed_stands_with_person_and_time_and_is_taken_back(browser):
    browser.send("/yard/items", part="spaces", key="shed", name="Long Shed", kind="cold")
    assert browser.yard.space("shed").name == "Long Shed"
    changes = browser.page("/yard/changes")
    assert "Sam Ostrander: Space Long Shed name: Cold shed → Long Shed" in text(changes)
    number = changes.find("input", {"name": "number"})["value"]
    browser.send("/yard/undo", number=number)
    assert browser.yard.space("shed").name == "Cold shed"
    assert "taken back" in text(browser.page("/yard/changes"))


def test_what_cannot_be_is_refused_in_words_and_changes_nothing(browser):
    page = browser.send("/yard/items", part="people", key="sam", gone="yes")
    assert browser.answer.status_code == 422
    assert "Nobody has the role operator" in text(page)
    page = browser.send("/yard/items", part="shelf", key="", label="Blue", strength="lots")
    assert "strength" in text(page).casefold() or "%" in text(page)
    assert browser.book.read_changes() == []


def test_a_product_with_strength_and_lot_reaches_the_shelf(browser):
    browser.send("/yard/items", part="shelf", key="", label="Blue 60 %", liquid="propylene",
                 strength="60", lot="B7", container="5 L")  # fmt: skip
    product = next(one for one in browser.yard.shelf if one.name == "Blue 60 %")
    assert (product.strength, product.lot, product.container_l) == (0.6, "B7", 5.0)


def test_a_person_is_added_and_reached_and_hands_and_duty_are_kept(browser):
    browser.send("/yard/items", **{"part": "people", "key": "", "name": "Vera Lund",
                 "mail": "vera@mill-lane.example", "roles": "asked", "role-mechanic": "yes",
                 "reached": "asked", "by-mail": "yes", "phone": "+17155550143"})  # fmt: skip
    vera = browser.yard.person("vera-lund")
    assert (vera.name, vera.phone, vera.reached_by) == ("Vera Lund", "+17155550143", ("mail",))
    browser.send("/yard/items", **{"part": "duty", "hands": "3", "person-0": "vera-lund",
                 "begins-0": "18:00", "ends-0": "06:00", "saturday-0": "yes"})  # fmt: skip
    assert browser.yard.duty.hands == 3
    [shift] = browser.yard.duty.shifts
    assert (shift.person, shift.weekdays) == ("vera-lund", frozenset({5}))


TWELVE = "\n".join(
    ["name, type, owner, place"]
    + [f"Bird {n}, pwc two stroke, Lee Calloway, Cold shed/{n % 4 + 1}" for n in range(11)]
    + ["Heron; sterndrive raw water; Ada Moss <ada@owners.example>; shop/2"]
)


def test_twelve_craft_come_as_a_list_that_is_shown_back_before_it_is_taken(browser):
    page = browser.send("/yard/craft/list", list=TWELVE)
    assert len(page.select(".listed > li")) == 12
    assert "Take 12 craft in" in text(page)
    assert browser.care.read_now() == ()
    browser.send("/yard/craft/list", list=TWELVE, take="yes")
    craft = {one.name: one for one in browser.care.read_now()}
    assert len(craft) == 12
    heron = craft["Heron"]
    assert (heron.space, heron.berth, heron.owner) == ("shop", "2", "ada-moss")
    assert browser.yard.person("ada-moss").mail == "ada@owners.example"
    # Nothing was done to them, so nothing of them is safe.
    assert {str(held.state) for one in craft.values() for held in one.protection.values()} == {
        "unknown"
    }


def test_a_craft_file_that_differs_from_the_page_is_refused_with_the_command_that_mends_it(browser):
    browser.send("/yard/craft/list", list="Teal, outboard, Lee Calloway, shed/1", take="yes")
    file = browser.file.with_name("craft.toml")
    # Its charger, which the file has on another craft: no craft file need know of this one.
    browser.send("/yard/items", part="sensors", key="urn:dev:ops:mill-lane-maintainer-1",
                 space="shed", mount="battery", craft="teal")  # fmt: skip

    def taken_in():
        settings = load_settings(browser.file)
        browser.clock.run_on(timedelta(minutes=5))
        return take_in_each(
            browser.store, settings.craft, settings.profiles, browser.clock.now(), CRAFT_FILES
        )

    assert main(["export", "craft", "--out", str(file), "--config", str(browser.file)]) == 0
    written = file.read_text()
    same = taken_in()
    assert (same.craft, same.new_stays, same.changes, same.refused) == (1, 0, (), ())
    file.write_text(written.replace('name = "Teal"', 'name = "Tern"'))
    (refused,) = taken_in().refused
    assert "the file has Tern, and by sam it is Teal" in str(refused)
    assert "laidup export craft" in str(refused)
    assert [one.name for one in browser.care.read_now()] == ["Teal"]
    file.write_text(written.replace('name = "Teal"', 'name = "Tern"'))
    main(["import", "craft", str(file), "--by", "sam", "--config", str(browser.file)])
    file.write_text(written)  # which is only older now
    assert taken_in().refused == ()
    assert [one.name for one in browser.care.read_now()] == ["Tern"]


def test_a_line_that_cannot_be_read_is_named_and_nothing_is_taken(browser):
    wrong = "Teal, hovercraft, Lee Calloway, shed/1\nWren, outboard, Nobody Known, attic"
    page = browser.send("/yard/craft/list", list=wrong)
    assert "Line 1: there is no profile 'hovercraft'" in text(page)
    assert "'attic' is no space of this yard" in text(page)
    assert page.find("button", string=lambda said: said and "Take" in said) is None
    browser.send("/yard/craft/list", list=wrong, take="yes")
    assert browser.answer.status_code == 422
    assert browser.care.read_now() == ()


def test_a_craft_moves_goes_out_comes_back_and_is_handed_over(browser):
    browser.send("/yard/craft/list", list="Teal, outboard, Lee Calloway, shed/1", take="yes")

    def after(minutes, path, **said):
        browser.clock.run_on(timedelta(minutes=minutes))
        browser.send(path, craft="teal", **said)
        assert browser.answer.status_code == 200, text(BeautifulSoup(browser.answer.text))
        return {one.id: one for one in browser.care.read_now()}

    assert after(5, "/yard/craft/move", space="shop", berth="3")["teal"].berth == "3"
    assert after(15, "/yard/craft/turn", turn="out") == {}
    assert "Back, nobody says" in text(browser.page("/yard/craft"))
    assert after(15, "/yard/craft/turn", turn="back", used="yes")["teal"].space == "shop"
    assert after(15, "/yard/craft/turn", turn="over") == {}


def test_the_first_hour_is_led_step_by_step_and_calls_nothing_safe(browser):
    page = browser.page("/yard")
    left = [one.find("b").text for one in page.select(".steps .left")]
    assert left == ["Craft", "Rehearsal"]
    assert "nothing there is called safe" in text(page)
    page = browser.send("/yard/rehearsal")
    assert "A rehearsal is on its way to you by mail" in text(page)
    assert [one.find("b").text for one in browser.page("/yard").select(".steps .left")] == ["Craft"]


def test_the_limits_of_alarms_are_told_and_are_the_files(browser):
    page = browser.page("/yard/limits")
    assert "Frost ahead" in text(page)
    assert "[alarms.CAUSE]" in text(page)


def test_the_api_changes_the_yard_once_for_one_key_and_takes_it_back(browser):
    token = browser.page("/yard/place").find("input", {"name": "form_token"})["value"]
    edit = {"part": "spaces", "key": "loft", "after": {"name": "Loft", "kind": "cold"}}
    head = {"Idempotency-Key": "one", "X-Form-Token": token}
    first = browser.web.post("/api/yard/changes", json={"edits": [edit]}, headers=head)
    assert first.status_code == 200, first.text
    again = browser.web.post("/api/yard/changes", json={"edits": [edit]}, headers=head)
    assert again.json() == first.json()
    assert len(browser.web.get("/api/yard/changes").json()) == 1
    assert browser.yard.space("loft").name == "Loft"
    wrong = {"part": "sensors", "key": NEW, "after": {"space": "attic"}}
    refused = browser.web.post("/api/yard/changes", json={"edits": [wrong]}, headers=head | {
        "Idempotency-Key": "two"})  # fmt: skip
    assert refused.status_code == 409
    assert "attic" in refused.text
    back = browser.web.post("/api/yard/changes/1/undo", json={}, headers=head | {
        "Idempotency-Key": "three"})  # fmt: skip
    assert back.json()[0]["undoes"] == 1
    assert "loft" not in {one["key"] for one in browser.web.get("/api/yard").json()["items"]}


@pytest.fixture
def large(browser):
    """Seventy craft in the cold shed and twenty in the shop, more than one list is long."""
    lines = [f"Bird {n}, pwc two stroke, Lee Calloway, Cold shed" for n in range(70)]
    lines += [f"Fish {n}; outboard; Ada Moss <ada@owners.example>; shop" for n in range(20)]
    browser.send("/yard/craft/list", list="\n".join(lines), take="yes")
    assert len(browser.care.read_now()) == 90
    return browser


def names_on(page):
    return [one.text for one in page.select("main .rows > li > a bdi")]


def test_a_large_yard_is_looked_through_by_space_page_by_page_and_no_craft_is_missed(large):
    page = large.page("/yard/craft")
    assert page.select_one("#here").text == "90 craft here"
    assert names_on(page) == []
    spaces = {one.text: one["href"] for one in page.select(".ways a") if "space=" in one["href"]}
    assert set(spaces) == {"Cold shed: 70", "Heated shop: 20"}
    found, path = [], spaces["Cold shed: 70"]
    while path:
        page = large.page("/yard/craft?" + path.split("?")[1])
        assert page.select_one("#here").text == "70 of 90 craft here, in Cold shed"
        found += names_on(page)
        path = next((one["href"] for one in page.select(".ways a") if "start=" in one["href"]), "")
    assert sorted(found) == sorted(f"Bird {n}" for n in range(70))


@pytest.mark.parametrize(
    ("find", "count"),
    [("FISH 1", 11), ("ada", 20), ("Bird 7", 1), ("no such", 0), ("<b>", 0)],
)
def test_a_craft_of_a_large_yard_is_found_by_a_part_of_its_name_or_of_its_owners(
    large, find, count
):
    page = large.page(f"/yard/craft?{urlencode({'find': find})}")
    assert len(names_on(page)) == count
    assert f"{count} of 90 craft here" in page.select_one("#here").text
    assert page.select_one("#find")["value"] == find
    assert ("None of them." in text(page)) is (count == 0)


def test_who_moves_a_craft_that_was_found_gets_back_to_what_was_found(large):
    large.clock.run_on(timedelta(minutes=5))
    page = large.page("/yard/craft?find=Bird+7&space=shed")
    form = page.find("form", action=re.compile("craft/move$"))
    said = {one["name"]: one["value"] for one in form.select("input")} | {"space": "shop"}
    page = large.send("/yard/craft/move", **said)
    assert large.answer.url.query == b"find=Bird+7&space=shed"
    assert names_on(page) == []
    assert names_on(large.page("/yard/craft?find=Bird+7")) == ["Bird 7"]
    page = large.send("/yard/craft/move", **said | {"space": "attic"})
    assert "Choose the space" in page.select_one("[role=alert]").text
    assert page.select_one("#find")["value"] == "Bird 7"


def test_a_sensor_of_a_large_yard_is_offered_the_craft_of_its_space_and_its_own(large):
    battery = {"part": "sensors", "key": "urn:dev:ops:mill-lane-maintainer-1", "mount": "battery"}
    large.send("/yard/items", **battery, space="shed", craft="bird-3")
    large.send("/yard/items", **battery, space="shop")
    page = large.page("/yard/sensors")
    form = page.find("input", {"value": battery["key"]}).find_parent("form")
    offered = [one["value"] for one in form.select("select[name=craft] option")]
    assert sorted(offered) == sorted(["", "bird-3", *(f"fish-{n}" for n in range(20))])
    assert form.select_one("select[name=craft] option[selected]")["value"] == "bird-3"


def test_numbers_below_zero_bear_the_sign_of_all_pages_and_come_back_as_they_were(browser):
    browser.send("/yard/items", part="yard", longitude="-92.3", design_low="-29 C")
    page = browser.page("/yard/place")
    shown = {one["name"]: one.get("value", "") for one in page.select("form.entry input[name]")}
    assert shown["longitude"] == "\N{MINUS SIGN}92.3"
    assert shown["design_low"].startswith("\N{MINUS SIGN}20.2")  # -29 °C, in this yard's °F
    shown.pop("form_token")
    browser.send("/yard/items", **shown)
    assert browser.yard.longitude == -92.3
    assert browser.yard.design_low_c == pytest.approx(-29.0)
