"""The bench in a browser as wide as a phone: by taps alone, and while the server is away."""

import socket

import pytest

from monitor.web.server import PageServer
from tests.real.chromium import chromium
from tests.web.pages.looks import check_axe, check_fits
from tests.web.pages.test_bench import Bench

__all__ = ["chromium"]
NEXT = "button.next"


@pytest.fixture
def bench(tmp_path):
    made = Bench(tmp_path)
    yield made
    made.store.close()


class Mechanic:
    """A phone at the bench that counts its taps."""

    def __init__(self, browser, address):
        self.page = browser.new_page(viewport={"width": 390, "height": 844}, has_touch=True)
        self.address = f"{address.rstrip('/')}/craft/k2/bench"
        self.page.goto(self.address)
        self.taps = 0

    def tap(self, what):
        self.taps += 1
        self.page.locator(what).first.tap()

    def choose(self, name, value):
        self.tap(f"label.choice:has(input[name='{name}'][value='{value}'])")

    def type_in(self, name, text):
        self.tap(f"#f-{name}")
        self.page.keyboard.type(text)

    def enter(self):
        with self.page.expect_navigation(url="**entered=**"):
            self.tap(NEXT)


def test_a_personal_watercraft_is_laid_up_in_25_taps(bench, chromium):
    server = PageServer(bench.app)
    one = Mechanic(chromium, server.start())
    one.enter()
    one.choose("flow_order", "engine first")
    one.choose("treated_fuel_seen", "yes")
    one.enter()
    one.choose("outflow", "full colour")
    one.type_in("ice_point", "26")
    one.choose("scale", "propylene")
    one.choose("zeroed_on", bench.clock.now().date().isoformat())
    one.choose("flow_order", "engine first")
    one.enter()
    one.enter()
    one.choose("oil", "clear")
    one.enter()
    one.enter()
    one.choose("space", "bench")
    one.type_in("rested", "12.7")
    one.enter()
    one.enter()
    one.enter()
    assert "Nothing is left to do" in one.page.inner_text("main")
    assert len(bench.work()) == 9
    assert one.taps <= 25, one.taps
    server.stop()


def test_an_entry_waits_in_the_phone_while_the_server_is_away_and_is_sent_once(bench, chromium):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = PageServer(bench.app, port=port)
    one = Mechanic(chromium, server.start())
    page = one.page
    server.stop()
    one.tap(NEXT)
    page.wait_for_selector("#waiting:not([hidden]) h2")
    assert "only in this phone, not on the record" in page.inner_text("#waiting")
    assert bench.work() == ()
    again = PageServer(bench.app, port=port)
    again.start()
    page.reload()
    page.wait_for_selector("text=Now on record: fuel stabilised")
    assert len(bench.work()) == 1
    page.reload()
    page.wait_for_load_state("networkidle")
    assert page.locator("#waiting").is_hidden()
    assert len(bench.work()) == 1
    again.stop()


def test_the_bench_fits_and_can_be_hit(bench, chromium):
    server = PageServer(bench.app)
    address = f"{server.start().rstrip('/')}/craft/k2/bench"
    check_fits(chromium, address)
    check_axe(chromium, address)
    server.stop()
