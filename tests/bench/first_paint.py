"""When does a phone on a slow line see the first of the evening page? By Chromium, in seconds.

The line is Lighthouse's `mobileRegular3G` (its `core/config/constants.js`): 300 ms there and back,
700 kbit/s, with its factors for a browser that throttles by request: 3.75 times the delay for each
request, 0.9 of the rate. `LINE_ITSELF` is the line without these factors: one delay a request, as
on a connection that is open already. Nothing is in the browser's memory; its processor is not
slowed.
"""

import os
import shutil
import statistics
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from playwright.sync_api import Browser, sync_playwright

from tests.real.chromium import QUIET


@dataclass(frozen=True)
class SlowLine:
    """A line as the browser imitates it."""

    latency_ms: float
    rate_kbit_s: float

    def as_conditions(self) -> dict[str, object]:
        """What `Network.emulateNetworkConditions` of the DevTools protocol takes."""
        rate = self.rate_kbit_s * 1024 / 8
        return {
            "offline": False,
            "latency": self.latency_ms,
            "downloadThroughput": rate,
            "uploadThroughput": rate,
        }


LINE_ITSELF = SlowLine(latency_ms=300.0, rate_kbit_s=700.0)
REGULAR_3G = SlowLine(latency_ms=300.0 * 3.75, rate_kbit_s=700.0 * 0.9)
_FIRST_PAINT = """() => new Promise(found => new PerformanceObserver(list => {
  const one = list.getEntriesByName('first-contentful-paint')[0];
  if (one) found(one.startTime);
}).observe({type: 'paint', buffered: true}))"""


@contextmanager
def started_browser() -> Iterator[Browser]:
    """Chromium without a window, calling nobody but the page."""
    program = shutil.which("chromium")
    if program is None:
        raise SystemExit("chromium is not installed; apt-get install chromium fonts-dejavu-core")
    flags = [*QUIET, "--no-sandbox"] if os.geteuid() == 0 else QUIET
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=flags)
        yield browser
        browser.close()


def first_paint_s(browser: Browser, address: str, line: SlowLine, runs: int) -> float:
    """Median time from asking for the page to its first text [s]."""
    took = []
    for _ in range(runs):
        context = browser.new_context(viewport={"width": 390, "height": 844})
        page = context.new_page()
        protocol = context.new_cdp_session(page)
        protocol.send("Network.enable")
        protocol.send("Network.emulateNetworkConditions", line.as_conditions())
        page.goto(f"{address.rstrip('/')}/?renew=off", wait_until="load")
        took.append(float(page.evaluate(_FIRST_PAINT)) / 1000.0)
        context.close()
    return statistics.median(took)
