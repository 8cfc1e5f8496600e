"""What does a replay cost? Its processor time over that of reading the same rows, in one process.

``python -m tests.bench.replay`` fills a yard of 40 spaces with one-minute readings of ten days,
2,000 craft with the lay-up records of the demo's twelve, and replays the last days of it; with
``--write`` the page goes into REPLAY.md beside this file. The floor is the store's own reading of
the stretch's rows. A replay also reads the days before its stretch and adds the lay-up records up,
once however long it is: so the last column tells what a further day costs, over reading that
day's rows. Only ratios are to be compared.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from monitor.clock import to_ms
from monitor.craft.record import CraftRecord
from monitor.judgement.air.grid import series_needed
from monitor.replay import Replay
from monitor.settings.load import Settings, load_settings, shipped_folder
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor, Space, SpaceKind, Yard
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("REPLAY.md")
HEADING = """# What a replay costs

Written by `python -m tests.bench.replay --write`."""
FIRST_DAYS = 1.0
KINDS = (SpaceKind.COLD, SpaceKind.OPEN, SpaceKind.WRAPPED, SpaceKind.HEATED)
MEAN_C = {SpaceKind.COLD: 1.0, SpaceKind.OPEN: -1.0, SpaceKind.WRAPPED: 0.0, SpaceKind.HEATED: 8.0}
UNTIL = datetime(2026, 12, 15, 12, tzinfo=UTC)
FILLED = timedelta(days=10)


def yard_of(demo: Settings, count: int) -> Yard:
    spaces = tuple(
        Space(id=f"space-{n}", name=f"Space {n}", kind=KINDS[n % len(KINDS)]) for n in range(count)
    )
    labels = {"temperature": Channel.TEMPERATURE, "humidity": Channel.HUMIDITY}
    sensors = tuple(
        Sensor(name=f"air-{space.id}", space=space.id, labels=labels) for space in spaces
    )
    return replace(demo.yard, spaces=spaces, sensors=sensors)


def craft_of(demo: Settings, yard: Yard, count: int) -> Iterator[CraftRecord]:
    for n in range(count):
        like = demo.craft[n % len(demo.craft)]
        craft = f"c{n}"
        yield replace(
            like,
            craft=replace(like.craft, id=craft, name=f"Craft {n}", hull_number=""),
            stays=tuple(
                replace(stay, craft=craft, space=yard.spaces[n % len(yard.spaces)].id, berth="")
                for stay in like.stays[:1]
            ),
            entries=tuple(replace(entry, craft=craft) for entry in like.entries),
        )


def fill(store: Store, yard: Yard) -> None:
    """Two fronts and the nights between them, a little different in every space."""
    chance = np.random.default_rng(1)
    hours = np.arange(-FILLED / timedelta(hours=1), 0.0, 1.0 / 60.0)
    at = to_ms(UNTIL) + np.round(hours * 3_600_000).astype(np.int64)
    course = 5.0 * np.sin(2 * np.pi * hours / 110.0) - 4.0 * np.cos(2 * np.pi * hours / 24.0)
    for space in yard.spaces:
        for channel, values in (
            (Channel.TEMPERATURE, MEAN_C[space.kind] + course),
            (Channel.HUMIDITY, 78.0 - 2.0 * course),
        ):
            with store.transaction() as tx:
                (series,) = tx.series.series_ids([(f"air-{space.id}", channel)]).values()
                noisy = values + chance.normal(0.0, 0.1, hours.size)
                steps = np.round(noisy / channel.resolution).astype(int)
                tx.reading_writer.append_rows(
                    [(series, int(t), int(v), None, 1) for t, v in zip(at, steps, strict=True)]
                )


def replays(chosen: argparse.Namespace) -> Iterator[str]:
    """A table: the rows' own reading, then replays over more craft, in shorter and longer steps."""
    demo = load_settings(shipped_folder() / "demo" / "yard.toml")
    since = UNTIL - timedelta(days=chosen.days)
    yield f"{chosen.spaces} spaces, {FILLED.days} days of readings a minute. {load_in_words()}"
    yield ""
    yield "| craft | told to | days | looks | changes | to reading their rows | each further day |"
    yield "|---|---|---|---|---|---|---|"
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'yard.db'}"
        migrate(url)
        yard = yard_of(demo, chosen.spaces)
        filling = Store(url, "filled")
        fill(filling, yard)
        floor = reading_s(filling, yard, since)
        for count in chosen.craft:
            with filling.transaction() as tx:
                take_in(tx.layup, craft_of(demo, yard, count), demo.profiles, UNTIL)
            for every in chosen.every:
                step = timedelta(minutes=every)
                begun = replayed(filling, yard, demo, step, UNTIL - timedelta(days=FIRST_DAYS))
                whole = replayed(filling, yard, demo, step, since)
                further = (whole.seconds - begun.seconds) / (chosen.days - FIRST_DAYS)
                yield (
                    f"| {count} | {every:.0f} min | {chosen.days:g} | {whole.looks} |"
                    f" {whole.changes} | {whole.seconds / floor:.1f} |"
                    f" {further / (floor / chosen.days):.1f} |"
                )
        filling.close()


def reading_s(store: Store, yard: Yard, since: datetime) -> float:
    """Processor time of reading all rows of a stretch from the store; the best of three."""
    best = np.inf
    for _ in range(3):
        start = time.process_time()
        with store.snapshot() as tx:
            tx.readings.traces_between(series_needed(yard), to_ms(since), to_ms(UNTIL))
        best = min(best, time.process_time() - start)
    return best


class Replayed(NamedTuple):
    seconds: float
    changes: int
    looks: int


def replayed(
    store: Store, yard: Yard, demo: Settings, every: timedelta, since: datetime
) -> Replayed:
    replay = Replay(store, yard, demo.profiles, every)
    start = time.process_time()
    changes = sum(1 for _ in replay.run(since, UNTIL))
    return Replayed(time.process_time() - start, changes, replay.rounds)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--craft", type=int, nargs="+", default=[20, 200, 2000])
    parser.add_argument("--spaces", type=int, default=40)
    parser.add_argument("--days", type=float, default=4.0)
    parser.add_argument("--every", type=float, nargs="+", default=[10.0, 60.0], help="minutes")
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    chosen = parser.parse_args()
    page(FILE if chosen.write else None, HEADING, replays(chosen))
    return 0


if __name__ == "__main__":
    sys.exit(main())
