"""What every page is held to in a browser: it fits, it can be hit, axe finds nothing."""

import re

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

SIZES = ((390, 844), (844, 390), (1280, 800))
_RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
_OPEN_ALL = "for (const d of document.querySelectorAll('details')) d.open = true"
# Links that stand in a sentence are excepted (WCAG 2.2, 2.5.8); buttons and folds are not. A box to
# tick is hit anywhere on its label.
_TARGETS = (
    "button, summary, input:not([type=hidden], [type=checkbox]), label:has(> [type=checkbox]),"
    " select, .back a, form button"
)


def opened(browser: Browser, address: str, size=(390, 844), **options) -> tuple[Page, list[str]]:
    """A page in a window of some size, and all that went wrong while it was loaded."""
    page = browser.new_page(viewport={"width": size[0], "height": size[1]}, **options)
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("requestfailed", lambda request: said.append(request.url))
    answer = page.goto(address)
    assert answer is not None
    assert answer.status == 200, address
    return page, said


def check_fits(browser: Browser, address: str) -> None:
    """At three sizes and at WCAG's 320: nothing sideways, a silent console, one heading."""
    for size in ((320, 640), *SIZES):
        page, said = opened(browser, address, size)
        page.evaluate(_OPEN_ALL)
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], size
        assert page.locator("h1").count() == 1
        assert said == []
        low = page.eval_on_selector_all(
            _TARGETS,
            "all => all.filter(e => e.offsetParent && e.getBoundingClientRect().height < 44)"
            ".map(e => e.outerHTML.slice(0, 90))",
        )
        assert low == [], size
        # A list of a page's links is read without the words around them (WCAG 2.2, 2.4.9).
        bare = page.eval_on_selector_all(
            "a", "all => all.map(e => e.textContent.trim()).filter(t => /^(PDF|CSV|JSON)$/.test(t))"
        )
        assert bare == [], size
        page.close()


def check_axe(browser: Browser, address: str) -> None:
    """No fault with contrast, names or structure, by day and by night, everything unfolded."""
    for scheme in ("light", "dark"):
        for size in (SIZES[0], SIZES[2]):
            page, _ = opened(browser, address, size, color_scheme=scheme, bypass_csp=True)
            page.evaluate(_OPEN_ALL)
            found = Axe().run(page, options=_RULES)
            assert found.violations_count == 0, found.generate_report()
            page.close()


def reads_without_scripts(browser: Browser, address: str) -> str:
    """The text of a page in a browser that runs no script."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    text = page.inner_text("body")
    context.close()
    return text


def check_finds_craft(chromium, address, rows):
    """Find Heron 4 of a large yard by its name and open it, without scripts."""
    page, _ = opened(chromium, address, java_script_enabled=False)
    page.get_by_label("Find a craft").fill("heron 4")
    page.get_by_role("button", name="Find").click()
    page.wait_for_url("**find=heron+4*")
    assert page.locator(rows).count() == 1
    page.locator(rows).click()
    page.locator("h1", has_text=re.compile("^Heron 4")).wait_for()
