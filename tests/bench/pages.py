"""What does the evening page cost? Ratios to an empty page and to ``json.dumps``, in one run.

``python -m tests.bench.pages`` serves a yard's evening page and its account as the daemon does, and
beside them an empty page by the same framework and the same server; a client on the same machine
asks for them in turn over one connection each. ``--write`` puts the page into PAGES.md beside this
file. Processor time of server and client, which are one process here, medians; only ratios are
to be compared. The first text on a slow line is in seconds, for the line makes them
(``first_paint.py``). The facts that a page is measured by are the yard's account (`/api/assess`),
written by ``json.dumps``. ``--readers`` so many ask without pause, in a process of their own.
"""

import argparse
import http.client
import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from fastapi import FastAPI
from fastapi.responses import HTMLResponse

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.judgement.work_order import order_acts
from monitor.store.packed_judgements import group_equal
from monitor.store.store import Store
from monitor.web.app import create_app
from monitor.web.kept_pages import _pack_answer
from monitor.web.server import PageServer
from monitor.yard.assessment import Assessment
from tests.bench.first_paint import LINE_ITSELF, REGULAR_3G, first_paint_s, started_browser
from tests.bench.judgement import NOW, Yardful
from tests.real.page import load_in_words, page
from tests.real.stores import scene_url

FILE = Path(__file__).with_name("PAGES.md")
HEADING = """# What the evening page costs

Written by `python -m tests.bench.pages --write`. Aims: the page at most 5 times an empty page where
nothing changed since it was made, and 3 times `json.dumps` of the yard's account where it is made
anew; the account 2 times that; 150 kB on the wire and 1 MB unpacked; 50 readers without pause at
0.3 of their rate on an empty page; the first text within 1 s on a slow phone line. Before it was
cut down and kept, the page took 567 to 2,635 times an empty one, and 13 MB at 2,000 craft.

"After one" is made anew after one judgement has changed and all others are the same objects;
"after a round" after every judgement was made anew, facts and all: nothing that was kept of the
account helps, and what is judged alike shares its objects, as a round leaves it. The floor is what
no page or account made anew goes without: an empty page, the store asked twice for its marks, and
the answer packed; no word of it is made yet.

Met at 2,000 craft: the page made anew, also after a round; the account after one. At both: the page
unchanged, the readers' rate, and the sizes. Missed: the account after a round, by what its
distinct judgements are said in and what packs it; and the first text on
`mobileRegular3G`, where the browser counts 1,125 ms for the one request that
any page needs, so that one word takes longer than the aim. Its seconds wait for a processor, too:
with 6 processes wanting the machine, not 30, the first text of a dozen craft took 0.5 s on the line
itself (one word 0.4 s), and 1.4 s on `mobileRegular3G` (1.2 s).

Declared: for a dozen craft the two aims for what is made anew are given up. Their `json.dumps` is
0.5 ms, so that 3 times it is 1.5 ms, of which an empty page, the store's marks and the packing
take 0.8 ms (1.7 times it): 0.7 ms were left for every sentence and row. Made anew the page costs
4 to 5 ms of processor, the account 3 ms after one judgement and 9 ms after a round (84 distinct
sentences of about 0.1 ms, each said once); a screen shows its next picture after 17 ms, and one
way there and back of the slow line takes 300 ms, so nobody waits longer for it. A sentence is not
kept from round to round by its facts: a real round moves their numbers, and only a bench finds
them equal."""
GZIP = {"Accept-Encoding": "gzip"}


def empty_app() -> FastAPI:
    """A page of the same framework with nothing in it, and one with a word, to see it painted."""
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)

    @app.get("/")
    async def show_nothing() -> HTMLResponse:
        return HTMLResponse("")

    @app.get("/word/")
    async def show_word() -> HTMLResponse:
        return HTMLResponse("<!doctype html><title>Floor</title><p>Tonight")

    return app


class Asked:
    """One page on one connection that stays open."""

    def __init__(self, address: str, path: str) -> None:
        host = address.removeprefix("http://").rstrip("/")
        self._connection, self._path = http.client.HTTPConnection(host), path
        self.took_s: list[float] = []
        self.size = 0

    def ask(self) -> None:
        try:
            self._ask_once()
        except (http.client.RemoteDisconnected, ConnectionError):
            self._connection.close()  # the server ends a connection after a while
            self._ask_once()

    def _ask_once(self) -> None:
        start = time.process_time()
        self._connection.request("GET", self._path, headers=GZIP)
        answer = self._connection.getresponse()
        body = answer.read()
        self.took_s.append(time.process_time() - start)
        assert answer.status == 200, answer.status
        self.size = len(body)

    def median_s(self) -> float:
        return statistics.median(self.took_s)


def timed_s(work: Callable[[], object], runs: int) -> float:
    took = []
    for _ in range(runs):
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return statistics.median(took)


def rate_of(address: str, readers: int, seconds: float) -> float:
    """Pages a second that so many readers get, in a process of their own."""
    done = subprocess.run(
        [sys.executable, "-m", __spec__.name, "--read", address, str(readers), str(seconds)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return float(done.stdout)


def read_without_pause(address: str, readers: int, seconds: float) -> float:
    """Ask by so many connections at once until the time is up; answers of 200 a second."""
    import threading

    counts, end = [0] * readers, time.perf_counter() + seconds

    def read(n: int) -> None:
        asked = Asked(address, "/")
        while time.perf_counter() < end:
            asked.ask()
            counts[n] += 1

    threads = [threading.Thread(target=read, args=(n,)) for n in range(readers)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    return sum(counts) / seconds


def row_of(craft: int, spaces: int, given: argparse.Namespace) -> str:
    """Measure one yard."""
    yardful = Yardful(craft, spaces)
    judged = order_acts(yardful.found.assessments_in_order(yardful.yard, NOW), NOW)
    with tempfile.TemporaryDirectory() as folder:
        store, clock = Store(scene_url(Path(folder)), yardful.yard.id), ReadingsClock(NOW)
        with store.transaction() as tx:
            tx.assessments.replace_judgements(judged)
        AlarmRound(store, yardful.yard, clock).run({one.id: one for one in yardful.stored})
        served = PageServer(create_app(store, yardful.yard, clock, lambda: yardful.stored))
        empty = PageServer(empty_app())
        try:
            return _row(craft, spaces, store, judged, (served.start(), empty.start()), given)
        finally:
            served.stop()
            empty.stop()
            store.close()


def _row(
    craft: int,
    spaces: int,
    store: Store,
    judged: Sequence[Assessment],
    served: tuple[str, str],
    given: argparse.Namespace,
) -> str:
    address, nothing = served
    same, empty = Asked(address, "/"), Asked(nothing, "/")
    account = Asked(address, "/api/assess")
    for each in (same, empty, account):
        each.ask()
        each.took_s.clear()
    for _ in range(given.runs * 20):
        for each in (same, empty, account):
            each.ask()
    one_s = _anew_s(store, address, lambda n: _with_one_changed(judged, n), given.runs)
    round_s = _anew_s(store, address, lambda n: _judged_again(judged, n), given.runs)
    plain = _plain(address, "/")
    facts = json.loads(_plain(address, "/api/assess"))
    dumped_s = timed_s(lambda: json.dumps(facts), max(given.runs, 9))
    asked_s = empty.median_s() + 2 * timed_s(store.change_mark, given.runs * 5)
    floors_s = [
        asked_s + timed_s(lambda body=body: _pack_answer(lambda: body), given.runs)
        for body in (plain, _plain(address, "/api/assess"))
    ]
    rates = [rate_of(each, given.readers, given.seconds) for each in (address, nothing)]
    with started_browser() as browser:
        paints_s = [
            first_paint_s(browser, asked, line, given.runs)
            for line in (LINE_ITSELF, REGULAR_3G)
            for asked in (address, f"{nothing.rstrip('/')}/word")
        ]
    return (
        f"| {craft} | {spaces} | {same.median_s() / empty.median_s():.1f} |"
        f" {one_s[0] / dumped_s:.1f} | {round_s[0] / dumped_s:.1f} |"
        f" {account.median_s() / dumped_s:.2f} |"
        f" {one_s[1] / dumped_s:.1f} | {round_s[1] / dumped_s:.1f} | {same.size / 1000:.0f} kB |"
        f" {len(plain) / 1000:.0f} kB | {rates[0] / rates[1]:.2f} |"
        f" {paints_s[0]:.1f} s ({paints_s[1]:.1f}), {paints_s[2]:.1f} s ({paints_s[3]:.1f}) |"
        f" {floors_s[0] / dumped_s:.1f}, {floors_s[1] / dumped_s:.1f} |"
        f" {1000 * one_s[0]:.0f} ms, {1000 * dumped_s:.1f} ms, {rates[1]:.0f}/s |"
    )


def _anew_s(
    store: Store, address: str, change: Callable[[int], list[Assessment]], runs: int
) -> tuple[float, float]:
    """What page and account cost after each of some changes [s]."""
    page_anew, account_anew = Asked(address, "/"), Asked(address, "/api/assess")
    for n in range(runs):
        changed = change(n)
        with store.transaction() as tx:
            tx.assessments.replace_judgements(changed)
        page_anew.ask()
        account_anew.ask()
    return page_anew.median_s(), account_anew.median_s()


def _with_one_changed(judged: Sequence[Assessment], n: int) -> list[Assessment]:
    found = list(judged)
    place = (1 + 7 * n) % len(found)
    found[place] = replace(found[place], now_c=found[place].now_c + 0.1)
    return found


def _judged_again(judged: Sequence[Assessment], n: int) -> list[Assessment]:
    """As a round leaves them: facts and all made anew, and shared by what is judged alike."""
    later = timedelta(seconds=1 + n)
    return [
        each
        for group in group_equal(judged)
        for each in replace(deepcopy(group.judgement), at=group.judgement.at + later).of_others(
            group.subjects
        )
    ]


def _plain(address: str, path: str) -> bytes:
    host = address.removeprefix("http://").rstrip("/")
    connection = http.client.HTTPConnection(host)
    connection.request("GET", path)
    return connection.getresponse().read()


def table(given: argparse.Namespace) -> Iterator[str]:
    """A row for each number of craft."""
    yield load_in_words()
    yield ""
    yield (
        "| craft | spaces | unchanged, to empty | after one, to dumps | after a round, to dumps |"
        " account unchanged, to dumps | account after one, to dumps |"
        " account after a round, to dumps | on the wire | unpacked | readers' rate, to empty |"
        " first text (of a page with one word) on 300 ms and 700 kbit/s, on `mobileRegular3G` |"
        " floor of page and account made anew, to dumps | after one, dumps, empty |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|"
    for craft in given.craft:
        yield row_of(craft, min(given.spaces, craft), given)


def main() -> int:
    """Print the page, or be the readers."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--craft", type=int, nargs="+", default=[12, 200, 2000])
    parser.add_argument("--spaces", type=int, default=40)
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--readers", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=4.0)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    parser.add_argument("--read", nargs=3, metavar=("ADDRESS", "READERS", "SECONDS"))
    given = parser.parse_args()
    if given.read:
        address, readers, seconds = given.read
        print(read_without_pause(address, int(readers), float(seconds)))
        return 0
    page(FILE if given.write else None, HEADING, table(given))
    return 0


if __name__ == "__main__":
    sys.exit(main())
