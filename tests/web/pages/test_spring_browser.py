"""The spring list on a phone: step by step to the sign-off, and what stands against a start."""

import asyncio
from datetime import timedelta
from threading import Event
from typing import NamedTuple

import pytest

from monitor.craft.layup import Act
from monitor.web.server import PageServer
from tests.real.chromium import QUIET, chromium
from tests.real.need import need
from tests.web.pages.looks import check_axe, check_fits
from tests.web.pages.test_bench_browser import free_port, until
from tests.web.pages.test_spring import FILLED, Spring

__all__ = ["chromium"]


@pytest.fixture
def spring(tmp_path):
    made = Spring(tmp_path)
    yield made
    made.store.close()


def fill_in(page, **said):
    """Fill the fields of the step at hand in."""
    for name, value in (FILLED | said).items():
        field = page.locator(f"#next [name={name}]").first
        if not field.count():
            continue
        if field.get_attribute("type") == "radio":
            page.locator(f"#next .choice:has([name={name}][value='{value}'])").tap()
        else:
            field.fill(value)


def test_a_craft_is_made_ready_on_a_phone_and_nothing_frees_it_too_soon(spring, chromium):
    server = PageServer(spring.app)
    address = f"{server.start()}craft/{spring.craft}/spring"
    page = chromium.new_page(viewport={"width": 390, "height": 844}, has_touch=True)
    page.goto(address)
    was_refused = False
    for _ in range(len(spring.progress().before_start)):
        assert "DO NOT START" in page.inner_text("p.warning")
        assert page.get_by_role("button", name="I sign off").count() == 0
        if not was_refused and page.locator("#next [name=oil]").count():
            fill_in(page, oil="milky")
            with page.expect_navigation():
                page.locator("#next button.next").tap()
            assert "no start" in page.inner_text("#next .complaint").lower()
            assert page.locator("#next [value=milky]").is_checked()  # what was said stays
            was_refused = True
        fill_in(page)
        spring.wait(timedelta(minutes=5))
        with page.expect_navigation():
            page.locator("#next button.next").tap()
    assert was_refused

    page.locator(".done summary").first.tap()  # a tick is taken back, and closes the way again
    with page.expect_navigation():
        page.get_by_role("button", name="Not done after all").first.tap()
    assert page.get_by_role("button", name="I sign off").count() == 0
    fill_in(page)
    spring.wait(timedelta(minutes=5))
    with page.expect_navigation():
        page.locator("#next button.next").tap()

    with page.expect_navigation():
        page.get_by_role("button", name="I sign off").tap()
    assert "may be started" in page.inner_text("p.warning")
    assert spring.work()[-1].act is Act.SIGNED_OFF
    assert spring.progress().may_be_started
    page.close()
    check_fits(chromium, address)
    check_axe(chromium, address)
    server.stop()


class LosesTheAnswer:
    """The page of a server that is killed when it has entered a tick and not yet answered it."""

    def __init__(self, app):
        self.app, self.entered = app, Event()

    async def __call__(self, scope, receive, send):
        if scope["type"] != "http" or scope["method"] != "POST":
            await self.app(scope, receive, send)
            return

        async def keep_back(_):
            """The answer goes nowhere."""

        await self.app(scope, receive, keep_back)
        self.entered.set()
        await asyncio.sleep(3600)


def test_ticks_wait_in_the_phone_through_reload_and_restart_and_are_entered_once(
    spring, chromium, tmp_path
):
    def started_phone():
        return chromium.browser_type.launch_persistent_context(
            tmp_path / "phone",
            executable_path=need("chromium", "chromium fonts-dejavu-core"),
            args=[*QUIET, "--no-sandbox"],
            viewport={"width": 390, "height": 844},
            has_touch=True,
        )

    before, port = len(spring.work()), free_port()
    killed = LosesTheAnswer(spring.app)
    server = PageServer(killed, port=port)
    address = f"{server.start()}craft/{spring.craft}/spring"
    phone = started_phone()
    page = phone.new_page()
    page.goto(address)
    until(
        page,
        """async () => {
          const kept = await (await caches.open('laidup-bench-pages-1')).keys();
          return kept.filter((one) => /bench(-.*)?\\.js$|spring$/.test(one.url)).length >= 7;
        }""",
    )
    first, second = (one.key for one in spring_steps(page)[:2])
    page.locator("#next button.next").tap()
    assert killed.entered.wait(30)  # on record, and the phone does not know it
    server.stop()
    page.wait_for_selector("#waiting >> text=1 entry waits to be sent")
    assert "DO NOT START" in page.inner_text("p.warning")
    assert len(spring.work()) == before + 1

    page.reload()  # there is no server, and the list opens
    page.wait_for_selector("#waiting >> text=1 entry waits to be sent")
    assert "This page is as of" in page.inner_text("#waiting")
    assert page.locator("header .left").is_hidden()  # how far it was is not said to be so now
    assert not step_form(page, first).is_visible()
    assert "Ticked off in this phone only" in page.inner_text(".spring > li:first-child")
    fill_step(page, second)
    step_form(page, second).locator("button.next").tap()
    page.wait_for_selector("#waiting >> text=2 entries wait to be sent")
    assert len(spring.work()) == before + 1
    phone.close()

    spring.wait(timedelta(minutes=5))
    again = PageServer(spring.app, port=port)
    again.start()
    phone = started_phone()
    page = phone.new_page()
    page.goto(address)
    page.wait_for_selector("#waiting >> text=Now on record")
    until(page, "async () => !document.querySelector('#waiting h2')")
    page.reload()
    page.wait_for_load_state("networkidle")
    assert page.locator("#waiting").is_hidden()
    assert len(spring.work()) == before + 2
    assert [one.done for one in spring_steps(page)[:3]] == [True, True, False]
    phone.close()
    again.stop()


class SeenStep(NamedTuple):
    """A line of the list as the phone shows it."""

    key: str
    done: bool


def spring_steps(page):
    """The lines of the list; of one that is done, no form tells its key."""
    return [
        SeenStep(*one)
        for one in page.eval_on_selector_all(
            ".spring > li",
            "all => all.map(e => [e.querySelector('[name=step]')?.value || '',"
            " e.classList.contains('done')])",
        )
    ]


def step_form(page, key):
    return page.locator(f"form.entry:has([name=step][value='{key}'])")


def fill_step(page, key):
    """Fill the form of a step in, which stands open."""
    for name, value in FILLED.items():
        field = step_form(page, key).locator(f"[name={name}]").first
        if not field.count():
            continue
        if field.get_attribute("type") == "radio":
            step_form(page, key).locator(f".choice:has([name={name}][value='{value}'])").tap()
        else:
            field.fill(value)


def test_what_may_be_started_is_not_said_by_a_page_that_is_read_without_a_link(spring, chromium):
    while not spring.progress().may_be_started:
        spring.wait(timedelta(minutes=5))
        spring.send(spring.form())
    server = PageServer(spring.app)
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{server.start()}craft/{spring.craft}/spring")
    page.wait_for_function("navigator.serviceWorker.ready.then(() => true)")
    assert "may be started" in page.inner_text("main")
    until(page, "async () => await caches.match(location.pathname)")
    server.stop()
    page.reload()
    assert page.locator("main[data-kept]").count() == 1
    assert "may be started" not in page.inner_text("main")
    assert "DO NOT START by this page" in page.inner_text("main")
