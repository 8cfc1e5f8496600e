"""The bench in a browser as wide as a phone: by taps alone, and while the server is away."""

import re
import socket
from contextlib import suppress

import pytest
from PIL import Image
from playwright.sync_api import Error as PlaywrightError

from monitor.craft.layup import Act
from monitor.web.access.invitations import invite_person
from monitor.web.server import PageServer
from tests.craft.scene import twelve
from tests.real.chromium import QUIET, chromium
from tests.real.need import need
from tests.web.access.scene import OWNERS, PASSWORD, SignInScene, yard_with
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
        # To what was entered, or to the page anew where the phone's own list was the first to send.
        with self.page.expect_navigation(url="**/bench**"):
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


@pytest.fixture
def photo(tmp_path):
    file = tmp_path / "outlet.jpg"
    Image.effect_noise((1200, 900), 60).convert("RGB").save(file)
    return file


def free_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def until(page, holds):
    """Wait until a promise of the page comes true."""
    page.evaluate(
        f"""async () => {{
          for (let tries = 0; tries < 300; tries += 1) {{
            if (await ({holds})()) return;
            await new Promise((done) => setTimeout(done, 100));
          }}
          throw new Error("it never came true");
        }}"""
    )


def has_kept_its_page(page):
    until(
        page,
        """async () => {
          const kept = await (await caches.open('laidup-bench-pages-1')).keys();
          return kept.filter((one) => /bench(-.*)?\\.js$|bench$/.test(one.url)).length >= 7;
        }""",
    )


def test_entries_wait_in_the_phone_with_their_photo_through_a_reload_and_are_sent_once(
    bench, chromium, photo
):
    port = free_port()
    server = PageServer(bench.app, port=port)
    one = Mechanic(chromium, server.start())
    page = one.page
    has_kept_its_page(page)
    page.set_input_files("input[type=file]", photo)
    page.wait_for_selector(".taken canvas")
    server.stop()
    one.tap(NEXT)
    page.wait_for_selector("#waiting:not([hidden]) h2")
    said = page.inner_text("#waiting")
    assert "only in this phone, not on the record" in said
    assert "1 photo" in said
    assert "This page is as of" in said
    assert page.locator(".holding").is_hidden()  # what was held is not said to be held now
    assert page.inner_text("#place") == "2 of 9"

    page.reload()  # there is no server, and the page opens
    page.wait_for_selector("#waiting:not([hidden]) h2")
    page.wait_for_function("document.getElementById('place').textContent === '2 of 9'")
    assert page.locator(".holding").is_hidden()
    one.choose("flow_order", "engine first")
    one.choose("treated_fuel_seen", "yes")
    one.tap(NEXT)
    page.wait_for_selector("text=2 entries wait to be sent")
    assert bench.work() == ()

    again = PageServer(bench.app, port=port)
    again.start()
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("text=Now on record: treated fuel run through")
    assert [entry.act for entry in bench.work()] == [Act.FUEL_STABILISED, Act.FUEL_RUN_THROUGH]
    assert len(bench.work()[0].evidence.photo_sha256) == 1
    page.reload()
    page.wait_for_load_state("networkidle")
    assert page.locator("#waiting").is_hidden()
    assert page.inner_text("#place") == "3 of 9"
    assert len(bench.work()) == 2
    again.stop()


def test_what_waits_outlives_a_restart_of_the_phone(bench, chromium, tmp_path):
    def started_phone():
        return chromium.browser_type.launch_persistent_context(
            tmp_path / "phone",
            executable_path=need("chromium", "chromium fonts-dejavu-core"),
            args=[*QUIET, "--no-sandbox"],
            viewport={"width": 390, "height": 844},
        )

    port = free_port()
    server = PageServer(bench.app, port=port)
    address = f"{server.start().rstrip('/')}/craft/k2/bench"
    phone = started_phone()
    page = phone.new_page()
    page.goto(address)
    has_kept_its_page(page)
    server.stop()
    page.click(NEXT)
    page.wait_for_selector("text=1 entry waits to be sent")
    phone.close()
    again = PageServer(bench.app, port=port)
    again.start()
    phone = started_phone()
    page = phone.new_page()
    page.goto(address)
    page.wait_for_selector("text=Now on record: fuel stabilised")
    assert len(bench.work()) == 1
    phone.close()
    again.stop()


def test_an_entry_waits_for_a_session_that_has_ended_and_is_sent_after_signing_in(store, chromium):
    scene = SignInScene(store, yard_with(*OWNERS), records=twelve().values(), address=None)
    server = PageServer(scene.app, asks_who=True)
    address = server.start().rstrip("/")
    with store.transaction() as tx:
        secret, _ = invite_person(tx, "ines", scene.clock.now(), "test")
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{address}/password/{secret}")
    page.get_by_label("New password").fill(PASSWORD)
    page.get_by_role("button", name="Set it and sign in").click()
    page.goto(f"{address}/craft/k10/bench")
    page.wait_for_function("navigator.serviceWorker.ready.then(() => true)")
    scene.after(days=40)  # longer than any session
    page.click(NEXT)
    page.wait_for_selector("#waiting >> text=Sign in, and it is sent.")

    def entered():
        with store.snapshot() as tx:
            return [one for one in tx.layup.entries_of("k10") if one.by == "ines"]

    assert entered() == []
    page.get_by_role("link", name="Sign in").click()
    page.get_by_label(re.compile("Your name")).first.fill("ines")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_selector("text=Now on record")
    assert len(entered()) == 1
    server.stop()


def test_the_bench_fits_and_can_be_hit(bench, chromium):
    server = PageServer(bench.app)
    address = f"{server.start().rstrip('/')}/craft/k2/bench"
    check_fits(chromium, address)
    check_axe(chromium, address)
    server.stop()


def test_whoever_signs_out_leaves_no_page_of_the_bench_in_a_shared_phone(store, chromium):
    scene = SignInScene(store, yard_with(*OWNERS), records=twelve().values(), address=None)
    port = free_port()
    server = PageServer(scene.app, asks_who=True, port=port)
    address = server.start().rstrip("/")
    with store.transaction() as tx:
        secret, _ = invite_person(tx, "ines", scene.clock.now(), "test")
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{address}/password/{secret}")
    page.get_by_label("New password").fill(PASSWORD)
    page.get_by_role("button", name="Set it and sign in").click()
    page.goto(f"{address}/craft/k10/bench")
    has_kept_its_page(page)
    page.goto(f"{address}/account")
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.wait_for_url(f"{address}/sign-in")
    until(page, "async () => !(await caches.keys()).length")
    page.go_back()
    assert "Ines" not in page.content()
    server.stop()
    with pytest.raises(PlaywrightError, match="ERR_FAILED"):
        page.goto(f"{address}/craft/k10/bench")


def test_a_kept_page_hides_its_figures_though_no_script_of_it_runs(bench, chromium):
    server = PageServer(bench.app)
    one = Mechanic(chromium, server.start())
    page = one.page
    has_kept_its_page(page)
    page.evaluate(
        """async () => {
          const cache = await caches.open('laidup-bench-pages-1');
          const parts = (await cache.keys()).filter((one) => one.url.endsWith('.js'));
          await Promise.all(parts.map((one) => cache.delete(one)));
        }"""
    )
    server.stop()
    page.reload()
    assert page.locator("main[data-kept]").count() == 1
    assert page.locator(".online").count() > 1
    assert all(part.is_hidden() for part in page.locator(".online").all())


def test_a_page_too_old_to_show_is_thrown_away(bench, chromium):
    server = PageServer(bench.app)
    one = Mechanic(chromium, server.start())
    page = one.page
    has_kept_its_page(page)
    server.stop()  # else the worker may still put the page of now over the old one
    page.evaluate(
        """async () => {
          const cache = await caches.open('laidup-bench-pages-1');
          const date = new Date(Date.now() - 13 * 3600e3).toUTCString();
          const headers = { date, "content-type": "text/html" };
          await cache.put(location.pathname, new Response('<main id="state">of old', { headers }));
        }"""
    )
    with suppress(PlaywrightError):  # as the browser tells that there is no link
        page.reload()
    page.wait_for_url("chrome-error://**")  # its own page comes after the error is told
    assert page.locator("text=of old").count() == 0
    page.route("**/craft/empty", lambda asked: asked.fulfill(body="", content_type="text/html"))
    page.goto(one.address.replace("/k2/bench", "/empty"))
    until(page, "async () => !(await caches.match('/craft/k2/bench'))")
