"""Debian's Chromium without a window, driven by Playwright."""

import os
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.real.need import need

# A test's browser calls nobody but the page under test.
QUIET = [
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture
def chromium() -> Iterator[Browser]:
    """A started browser of this test alone."""
    # Not kept for the whole run: Playwright leaves its event loop running in this thread, and a
    # later test could run no asyncio of its own.
    program = need("chromium", "chromium fonts-dejavu-core")
    flags = [*QUIET, "--no-sandbox"] if os.geteuid() == 0 else QUIET
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=flags)
        yield browser
        browser.close()


@pytest.fixture
def phone(chromium: Browser) -> Page:
    """An empty page as wide as a phone, 390 pixels."""
    return chromium.new_page(viewport={"width": 390, "height": 844})


@pytest.fixture
def desk(chromium: Browser) -> Page:
    """An empty page as wide as a desk's screen, 1280 pixels."""
    return chromium.new_page(viewport={"width": 1280, "height": 800})
