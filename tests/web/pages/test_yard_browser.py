"""A yard set up and changed on a phone: a list of craft, a heard sensor, a person, a hand-over."""

import re
from datetime import timedelta

import pytest

from monitor.web.server import PageServer
from tests.real.chromium import chromium
from tests.web.pages.looks import check_axe, check_fits
from tests.web.pages.test_yard import NEW, NOW, Browser, empty_store

__all__ = ["chromium", "empty_store"]


class ServedYard(Browser):
    """The same yard behind a real server, which goes by each change as the daemon's does."""

    server = None

    def start(self):
        self.server = PageServer(self.web.app)
        return self.server.start()

    def renew(self):
        super().renew()
        if self.server:
            self.server.serve_app(self.web.app)


@pytest.fixture
def served(tmp_path, empty_store):
    made = ServedYard(tmp_path, empty_store)
    yield made
    made.server.stop()
    made.store.close()


class Operator:
    """A phone at the yard's pages that counts its taps."""

    def __init__(self, browser, address):
        self.page = browser.new_page(viewport={"width": 390, "height": 844}, has_touch=True)
        self.taps = 0
        self.page.goto(f"{address}yard")

    def tap(self, what):
        self.taps += 1
        what.tap()

    def open(self, step):
        if not self.page.url.endswith("/yard"):
            self.tap(self.page.get_by_role("link", name="The yard"))
        self.tap(self.page.get_by_role("link", name=re.compile(f"^{step}")))

    def press(self, button):
        self.tap(self.page.get_by_role("button", name=button))

    def fill(self, label, text):
        field = self.page.get_by_label(label).last
        self.tap(field)
        field.fill(text)


def test_a_yard_is_taken_in_changed_and_handed_over_on_a_phone(served, chromium):
    served.hear(NEW, -3.0, NOW - timedelta(minutes=20))
    address = served.start()
    one = Operator(chromium, address)
    page = one.page

    one.open("Craft")
    one.fill("One craft a line", "Teal, outboard, Ada Moss <ada@owners.example>, Cold shed/1")
    one.press("Show it back")
    assert "Teal" in page.inner_text(".listed")
    one.press("Take 1 craft in")
    page.wait_for_selector("text=1 craft here")

    one.open("Sensors")
    one.press(re.compile("hangs in Cold shed"))
    page.wait_for_selector("text=No sensor sends that the yard does not know")
    taken = next(sensor for sensor in served.yard.sensors if sensor.name == NEW)
    assert (taken.space, taken.topic) == ("shed", "mill-lane/loft/#")

    one.open("People")
    one.fill("Name", "Vera Lund")  # of a helper: the last form on the page
    one.press("Add the helper")
    page.wait_for_selector("text=Vera Lund")
    assert "Vera Lund" in served.yard.helpers.values()

    one.open("Craft")
    served.clock.run_on(timedelta(minutes=15))
    one.tap(page.get_by_text("Moved, or leaves"))
    one.press("Handed over to its owner")
    page.wait_for_selector("text=1 not here")
    assert served.care.read_now() == ()
    assert one.taps <= 20, one.taps

    one.tap(page.get_by_role("link", name="The yard"))
    assert "Vera Lund" in page.inner_text(".changes")
    page.close()
    for path in ("people", "craft"):  # the others are made of the same parts
        check_fits(chromium, f"{address}yard/{path}")
    check_axe(chromium, f"{address}yard/people")
