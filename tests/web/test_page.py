"""The page in a real browser: it fits, can be read, renews itself and admits when it cannot."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.clock import ReadingsClock
from monitor.web.app import create_app
from monitor.web.server import PageServer
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Hazard, Standing, Urgency, WorkTurn
from tests.reports import kettlemoss as yard_of
from tests.written import written

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


def test_the_page_looks_as_it_should_where_nothing_but_itself_arrives(served, chromium):
    # On a slow line each request costs a phone a third of a second or more before the first text.
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.route("**/static/**", lambda route: route.abort())
    page.goto(served.address)
    style = "getComputedStyle(document.querySelector('{}')).{}"
    assert page.evaluate(style.format("body", "fontSize")) == "17px"  # laidup.css
    assert page.evaluate(style.format(".visits", "listStyleType")) == "none"  # evening.css


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


TARGETS = "a:not(.skip), summary, button"


def targets_of(page):
    """What can be tapped and is seen, each as left, top, right and bottom."""
    return page.eval_on_selector_all(
        TARGETS,
        """all => all.filter(e => e.checkVisibility()).map(e => {
             const r = e.getBoundingClientRect();
             return [e.textContent.trim().slice(0, 40), r.left, r.top, r.right, r.bottom]; })""",
    )


@pytest.mark.parametrize("folds", ["shut", "open"])
def test_what_is_tapped_is_44_pixels_high(served, chromium, folds):
    # Stricter than WCAG 2.2, success criterion 2.5.8 (24 pixels): gloved thumbs in the cold.
    page, _ = opened(chromium, served.address)
    if folds == "open":
        page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    found = targets_of(page)
    assert len(found) >= 12
    assert [one for one in found if one[4] - one[2] < 43.5] == []


def test_no_text_is_smaller_than_17_pixels_on_a_phone(served, chromium):
    page, _ = opened(chromium, served.address)
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    sizes = page.eval_on_selector_all(
        "body *",
        """all => all.filter(e => e.checkVisibility() && [...e.childNodes].some(
             n => n.nodeType === 3 && n.textContent.trim())).map(
             e => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim().slice(0, 40)])""",
    )
    assert [one for one in sizes if one[0] < 17] == []


def test_every_fold_opens_by_keyboard(served, chromium):
    page, _ = opened(chromium, served.address)
    fold = page.locator("#craft-long-shed")
    fold.locator("summary").focus()
    page.keyboard.press("Enter")
    assert fold.locator("a").first.is_visible()


def test_without_scripts_everything_is_there_and_opens(served, chromium):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(served.address)
    assert page.locator(".fleet a[href^=craft]").count() == 12
    page.locator("#craft-long-shed summary").click()
    assert page.locator("#craft-long-shed a >> nth=0").is_visible()


def test_the_page_takes_over_a_new_judgement_and_leaves_open_what_was_open(served, chromium):
    page, said = opened(chromium, served.address)
    page.locator("#craft-long-shed summary").click()
    well = {Hazard.FROST: Standing.HOLDING, Hazard.BATTERY: Standing.CHARGED}
    quiet = [
        replace(a, standing=well[a.hazard], calls_for_act=False, margin_k=5.0)
        if a.hazard in well
        else a
        for a in yard_of.assessments()
    ]
    with served.store.transaction() as tx:
        tx.assessments.replace_judgements(quiet)
    page.get_by_text("All 12 craft are safe tonight").wait_for(timeout=15_000)
    assert page.locator("#craft-long-shed a[href='craft/K2']").is_visible()
    assert page.evaluate("document.activeElement.closest('details')?.id") == "craft-long-shed"
    assert said == []


def test_a_page_that_cannot_be_renewed_says_of_when_it_is(served, chromium):
    page, _ = opened(chromium, served.address)
    served.server.stop()
    alert = page.get_by_role("alert")
    alert.wait_for(timeout=15_000)
    assert "is of 16:04 and may no longer hold" in alert.inner_text()


def test_the_time_shown_is_the_readings_clock(served, chromium):
    served.clock.advance_to(yard_of.KETTLEMOSS_NOW + timedelta(hours=1))
    page, _ = opened(chromium, served.address)
    assert page.locator("#asof").inner_text() == "17:04"


def test_twelve_craft_in_trouble_take_four_screens_of_a_phone(served, chromium):
    page, _ = opened(chromium, served.address)
    assert page.locator("#todo").is_visible()
    assert page.evaluate("document.documentElement.scrollHeight") <= 4 * 844


def all_in_trouble():
    """The yard's judgements with frost before every craft, each with its hour and its minutes."""
    return [
        replace(
            a,
            standing=Standing.EXPOSED,
            deadline=a.deadline or yard_of.at(23, 10),
            urgency=Urgency.EXPECTED,
            turn=WorkTurn(order=n, minutes=40.0, done_in_h=1.0, too_late=False),
            **(written("No evidence.", "Drain it tonight, bow up, until nothing more comes."))
        )
        if a.hazard is Hazard.FROST
        else a
        for n, a in enumerate(yard_of.assessments(), start=1)
    ]  # fmt: skip


def test_frost_before_every_one_of_twelve_craft_takes_four_screens_too(served, chromium):
    with served.store.transaction() as tx:
        tx.assessments.replace_judgements(all_in_trouble())
    page, _ = opened(chromium, served.address)
    assert page.locator("#todo ~ .visits > li").count() >= 12
    assert page.evaluate("document.documentElement.scrollHeight") <= 4 * 844


def test_a_tap_takes_it_on_without_leaving_the_place_and_another_gives_it_back(served, chromium):
    page, said = opened(chromium, served.address)
    row = page.locator("#at-K11")
    row.scroll_into_view_if_needed()
    before = page.evaluate("window.scrollY")
    row.get_by_role("button", name="I have it").click()
    row.get_by_text("Ines Marrow has it since 16:04").wait_for(timeout=30_000)
    assert abs(page.evaluate("window.scrollY") - before) < 100
    row.get_by_role("button", name="Undo").click()
    row.get_by_role("button", name="I have it").wait_for(timeout=30_000)
    assert said == []


def test_without_scripts_a_tap_acts_too(served, chromium):
    page = chromium.new_context(java_script_enabled=False).new_page()
    page.goto(served.address)
    page.locator("#at-K11").get_by_role("button", name="I have it").click()
    page.locator("#at-K11").get_by_text("Ines Marrow has it").wait_for(timeout=30_000)


def test_what_one_operator_does_shows_on_the_page_of_another_and_is_marked_as_new(served, chromium):
    page, said = opened(chromium, served.address)
    assert page.locator(".news").count() == 0
    AlarmActs(served.store, served.clock).acknowledge("a-frost", "tobin")
    row = page.locator("#at-K11")
    row.get_by_text("Tobin Ashby has it").wait_for(timeout=30_000)
    assert "news" in row.get_attribute("class").split()
    assert "lines have changed" in page.locator("#since").inner_text()  # the row and its alarm
    rule = row.evaluate("e => getComputedStyle(e, '::before').width")
    assert rule == "4px"
    assert said == []


def test_what_changed_while_nobody_looked_is_marked_when_the_reader_comes_back(served, chromium):
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    page.goto("about:blank")
    AlarmActs(served.store, served.clock).acknowledge("a-frost", "tobin")
    page.goto(served.address)
    assert page.locator("#at-K11.news").count() == 1
    assert page.locator("#at-K9.news").count() == 0
    page.reload()  # it has been looked at
    assert page.locator(".news").count() == 0


def test_targets_stand_8_pixels_apart(served, chromium):
    page, _ = opened(chromium, served.address)
    gaps = page.eval_on_selector_all(
        ".acts",
        """all => all.flatMap(box => {
             const seen = [...box.querySelectorAll('button, a')].map(
               e => e.getBoundingClientRect());
             return seen.slice(1).map((r, n) => r.top >= seen[n].bottom
               ? r.top - seen[n].bottom : r.left - seen[n].right); })""",
    )
    assert gaps
    assert min(gaps) >= 7.5


def test_it_prints_on_one_sheet_without_its_buttons(served, chromium):
    page, _ = opened(chromium, f"{served.address}?renew=off")
    page.emulate_media(media="print")
    assert page.get_by_role("button").filter(visible=True).count() == 0
    sheets = page.pdf(format="A4", prefer_css_page_size=True).count(b"/Type /Page\n")
    assert sheets == 1


def test_two_craft_in_no_trouble_fit_one_screen(store, chromium):
    quiet = [
        a
        for a in yard_of.assessments()
        if a.subject.craft in {"", "K1", "K6"} and a.hazard is not Hazard.SILENCE
    ]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(quiet)
        tx.alarms.put(replace(one, state=AlarmState.NORMAL) for one in yard_of.alarms())
    web = Served(store, [one for one in yard_of.craft() if one.id in {"K1", "K6"}])
    try:
        page, _ = opened(chromium, web.address)
        assert page.get_by_text("Both craft are safe tonight").is_visible()
        last = page.locator("#spaces").bounding_box()
        assert last["y"] < 844
    finally:
        web.server.stop()
