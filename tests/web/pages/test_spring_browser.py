"""The spring list on a phone: step by step to the sign-off, and what stands against a start."""

from datetime import timedelta

import pytest

from monitor.craft.layup import Act
from monitor.web.server import PageServer
from tests.real.chromium import chromium
from tests.web.pages.looks import check_axe, check_fits
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
