"""What do the pages cost that tell of a whole yard: quality of storage, craft in and out, backlog?

``python -m tests.bench.list_pages`` fills a store with a winter of 2,000 craft in 40 spaces, each
with two channels heard every half hour and five entries a craft, has the evening judged, and asks
each page once anew and then again; processor time, the best of a few runs, beside an empty page of
the same server. ``--write`` puts the page into LIST_PAGES.md; ``--profile PATH`` tells where one
page's time goes.
"""

import argparse
import cProfile
import pstats
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from unittest.mock import patch

import numpy as np
from fastapi.testclient import TestClient

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock, to_ms
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import Act
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.store.reading_rows import ReadingRow
from monitor.store.rolling_up import make_due_hours
from monitor.web.app import create_app
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Mount, Sensor
from tests.bench.judgement import spaces_of
from tests.craft.scene import library, work
from tests.real.page import load_in_words, page
from tests.reports.season import winter
from tests.web.yard_book import book_of

FILE = Path(__file__).with_name("LIST_PAGES.md")
HEADING = """# Pages of a whole yard

Written by `python -m tests.bench.list_pages --write`. "After a round" is the first visit after
every judgement was made anew, which moves the yard's mark; "again" is the visit after it. Figures
of a whole season, `/storage`, are kept over rounds for ten minutes while no alarm and no record
changes: its row is of such a round, and the first of all readers still waits until they are
reckoned (1.8 s). Earlier tables were of a yard whose readings had not been stored.

Before the quality of storage and the backlog were kept under that mark, and the list of craft was
folded by space from 60 craft on, the same command told on the same machine: `/storage` 733 ms and
again 754, `/storage.json` 729 and 769, `/backlog` 496 and 511, `/yard/craft` 237 and 236 with
5,864 kB, `/yard/sensors` 251 and 244 with 3,434 kB."""
EMPTY = "/favicon.ico"
PATHS = (
    EMPTY,
    "/storage",
    "/storage.json",
    "/yard/craft",
    "/yard/sensors",
    "/backlog",
    "/",
)
_ACTS = (Act.ARRIVED, Act.FUEL_STABILISED, Act.DRAINED, Act.SPRAYED_DOWN, Act.COVER_FITTED)
_STEP_MS = 1_800_000


class WinterYard:
    """A store with a winter in it, and the web over it."""

    def __init__(self, folder: Path, craft: int, spaces: int, days: int) -> None:
        places = spaces_of(spaces)
        sensors = [
            Sensor(name=f"air-{one.id}", space=one.id, mount=Mount.AIR, interval_s=1800.0)
            for one in places
        ]
        self.yard = winter.yard(spaces=places, sensors=tuple(sensors))
        self.now = winter.ARRIVED + timedelta(days=days)
        self.store = winter.open_store(folder)
        self._hear(days)
        self._lay_up(craft)
        self.clock = ReadingsClock(self.now)
        self.care = CraftInCare(self.store, library(), self.yard, self.clock)
        self.judge()

    def _hear(self, days: int) -> None:
        begin_ms = to_ms(winter.ARRIVED)
        at_ms = np.arange(begin_ms, begin_ms + days * 86_400_000, _STEP_MS)
        for n, one in enumerate(self.yard.sensors):
            keys = [(one.name, each) for each in (Channel.TEMPERATURE, Channel.HUMIDITY)]
            air = -3.0 + 0.05 * n + 6.0 * np.sin(at_ms / 86_400_000 * 2 * np.pi)
            with self.store.transaction() as tx:
                series = tx.series.series_ids(keys)
                for key, values in zip(keys, (air * 100, 8000 + air * 100), strict=True):
                    tx.reading_writer.append_rows(
                        [
                            ReadingRow(series[key], int(at), int(value), None, Flag.PASS)
                            for at, value in zip(at_ms, values, strict=True)
                        ]
                    )
        make_due_hours(self.store, self.now)

    def _lay_up(self, count: int) -> None:
        since, places = winter.ARRIVED, self.yard.spaces
        ids = [f"c{number}" for number in range(count)]
        done = [work(act, float(n), at=since, by="ines") for n, act in enumerate(_ACTS)]
        with self.store.transaction() as tx:
            tx.layup.put_craft(
                [
                    Craft(id=one, name=f"Craft {one}", profile="pwc-two-stroke",
                          arrived_at=since, owner="wren")
                    for one in ids
                ],
                since,
            )  # fmt: skip
            tx.layup.add_stays(
                [
                    Stay(craft=one, space=places[n % len(places)].id, since=since, by="ines")
                    for n, one in enumerate(ids)
                ],
                since,
            )
            tx.layup.append_entries([replace(e, craft=one) for one in ids for e in done], since)

    def judge(self) -> None:
        """Have one more round, after which nothing that was made for a page holds."""
        here = self.care.read_now()
        Round(self.store, self.yard, self.clock).run(here)
        AlarmRound(self.store, self.yard, self.clock).run({one.id: one for one in here})

    @contextmanager
    def browse(self) -> Iterator[TestClient]:
        """A client of the yard's pages, its own ones among them."""
        app = create_app(
            self.store, self.yard, self.clock, self.care.read_now, profiles=library(),
            book=book_of(self.store, self.yard, self.clock, self.care.read_now),
        )  # fmt: skip
        with TestClient(app, base_url="http://127.0.0.1") as client:
            yield client


def ask_pages(yard: WinterYard, runs: int) -> Iterator[str]:
    """A row for each page: the first time after a round, then again, and how large it is."""
    anew, again = (dict.fromkeys(PATHS, np.inf) for _ in range(2))
    size = dict.fromkeys(PATHS, 0)
    with yard.browse() as client:
        for _ in range(runs):
            yard.clock.advance_to(yard.clock.now() + timedelta(minutes=1))
            yard.judge()
            for path in PATHS:
                for best in (anew, again):
                    start = time.process_time()
                    answer = client.get(path)
                    best[path] = min(best[path], time.process_time() - start)
                    assert answer.status_code == 200, path
                size[path] = len(answer.content)
    for path in PATHS:
        yield (
            f"| `{path}` | {anew[path] * 1e3:.0f} | {anew[path] / anew[EMPTY]:.0f} |"
            f" {again[path] * 1e3:.0f} | {again[path] / again[EMPTY]:.0f} |"
            f" {size[path] / 1e3:.0f} |"
        )


def profile_page(yard: WinterYard, path: str) -> None:
    """Print where the time goes in the thread that makes a page."""
    watch = cProfile.Profile()

    async def run_watched(work: Callable[..., object], *said: object, **_: object) -> object:
        return watch.runcall(work, *said)

    with yard.browse() as client:
        client.get(EMPTY)
        with patch("anyio.to_thread.run_sync", run_watched):
            client.get(path)
    pstats.Stats(watch).sort_stats("cumulative").print_stats(45)


def measured(given: argparse.Namespace) -> Iterator[str]:
    """The table, or one page's profile."""
    with tempfile.TemporaryDirectory() as folder:
        yard = WinterYard(Path(folder), given.craft, given.spaces, given.days)
        if given.profile:
            profile_page(yard, given.profile)
        else:
            yield f"{given.craft} craft in {given.spaces} spaces, {given.days} days of a winter."
            yield ""
            yield "| page | after a round ms | of an empty one | again ms | of an empty one | kB |"
            yield "| --- | --- | --- | --- | --- | --- |"
            yield from ask_pages(yard, given.runs)
        yard.store.close()
    yield ""
    yield load_in_words()


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--craft", type=int, default=2000)
    parser.add_argument("--spaces", type=int, default=40)
    parser.add_argument("--days", type=int, default=120)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--profile", metavar="PATH", default="")
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    given = parser.parse_args()
    page(FILE if given.write else None, HEADING, measured(given))
    return 0


if __name__ == "__main__":
    sys.exit(main())
