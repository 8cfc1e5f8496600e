"""The page in a real browser: it fits, can be read, renews itself and admits when it cannot."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from monitor.clock import ReadingsClock
from monitor.web.app import create_app
from monitor.web.server import PageServer
from monitor.yard.assessment import Hazard, Standing
from tests.reports import kettlemoss as yard_of

# axe-core's rules for WCAG 2.0, 2.1 and 2.2, levels A and AA, and its best practices.
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}


class Served:
    """The filled yard, served; the test may write more and stop the server."""

    def __init__(self, store, craft=None):
        self.store = store
        self.clock = ReadingsClock(yard_of.KETTLEMOSS_NOW)
        kept = craft or yard_of.craft()
        self.server = PageServer(
            create_app(store, yard_of.yard(), self.clock, lambda: kept, renew_s=1)
        )
        self.address = self.server.start()


@pytest.fixture
def served(store) -> Iterator[Served]:
    web = Served(store)
    yield web
    web.server.stop()


def opened(browser: Browser, address: str, *, width=390, **options) -> tuple[Page, list[str]]:
    page = browser.new_page(viewport={"width": width, "height": 844}, **options)
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("requestfailed", lambda request: said.append(request.url))
    page.goto(address)
    return page, said


@pytest.mark.parametrize("width", [320, 390, 844, 900, 1280])
def test_nothing_scrolls_sideways_and_the_console_stays_silent(served, chromium, width):
    # WCAG 2.2, success criterion 1.4.10: reflow at 320 CSS pixels.
    page, said = opened(chromium, served.address, width=width)
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert said == []


def test_a_name_without_a_space_does_not_push_the_page_aside(store, chromium):
    craft = [replace(one, name="W" * 80, berth="M" * 60) for one in yard_of.craft()]
    web = Served(store, craft)
    try:
        page, _ = opened(chromium, web.address, width=320)
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
    finally:
        web.server.stop()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 1280])
def test_axe_finds_no_fault_with_contrast_names_or_structure(served, chromium, scheme, width):
    page, _ = opened(
        chromium, f"{served.address}?renew=off", width=width, color_scheme=scheme, bypass_csp=True
    )
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, found.generate_report()


def test_links_and_folds_are_large_enough_to_hit(served, chromium):
    # WCAG 2.2, success criterion 2.5.8: 24 by 24 CSS pixels, links within a sentence excepted.
    page, _ = opened(chromium, served.address)
    heights = page.eval_on_selector_all("summary", "all => all.map(e => e.offsetHeight)")
    assert len(heights) >= 12
    assert min(heights) >= 24


def test_every_fold_opens_by_keyboard(served, chromium):
    page, _ = opened(chromium, served.address)
    fold = page.locator("#craft-K2")
    fold.locator("summary").focus()
    page.keyboard.press("Enter")
    assert fold.locator("table").is_visible()


def test_without_scripts_everything_is_there_and_opens(served, chromium):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(served.address)
    assert page.locator(".fleet > li").count() == 12
    page.locator("#craft-K2 summary").click()
    assert page.locator("#craft-K2 table").is_visible()


def test_the_page_takes_over_a_new_judgement_and_leaves_open_what_was_open(served, chromium):
    page, said = opened(chromium, served.address)
    page.locator("#craft-K2 summary").click()
    well = {Hazard.FROST: Standing.HOLDING, Hazard.BATTERY: Standing.CHARGED}
    quiet = [
        replace(a, standing=well[a.hazard], calls_for_act=False, margin_k=5.0)
        if a.hazard in well
        else a
        for a in yard_of.assessments()
    ]
    with served.store.transaction() as tx:
        tx.assessments.replace_judgements(quiet)
    page.get_by_text("All 12 craft hold what tonight brings").wait_for(timeout=15_000)
    assert page.locator("#craft-K2 table").is_visible()
    assert page.evaluate("document.activeElement.closest('details')?.id") == "craft-K2"
    assert said == []


def test_a_page_that_cannot_be_renewed_says_of_when_it_is(served, chromium):
    page, _ = opened(chromium, served.address)
    served.server.stop()
    alert = page.get_by_role("alert")
    alert.wait_for(timeout=15_000)
    assert "is of 16:04 and may no longer hold" in alert.inner_text()


def test_the_plots_show_the_gap_of_a_silent_sensor(served, chromium):
    page, _ = opened(chromium, served.address)
    ends = page.eval_on_selector_all(
        ".plot .air", "all => all.map(e => e.getBBox().x + e.getBBox().width)"
    )
    nows = page.eval_on_selector_all(".plot .now", "all => all.map(e => e.getBBox().x)")
    # North Row, the third, was last heard 2 h 24 min ago; one hour is about five units wide.
    short = [now - end for now, end in zip(nows, ends, strict=True)]
    assert short[2] > 10
    assert max(short[0], short[1], short[3], short[4]) < 5


def test_the_time_shown_is_the_readings_clock(served, chromium):
    served.clock.advance_to(yard_of.KETTLEMOSS_NOW + timedelta(hours=1))
    page, _ = opened(chromium, served.address)
    assert page.locator("#asof").inner_text() == "17:04"
