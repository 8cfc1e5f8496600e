"""What season records of many craft cost, beside reading the rollups and entries that they need.

    .venv/bin/python -m tests.bench.season_records --craft 2000 --days 120

Tells the ratio to that reading, and how much memory more craft take.
"""

import argparse
import resource
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from monitor.clock import to_ms
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import Act
from monitor.reports.season.read_season import read_season_figures, season_bounds
from monitor.reports.season.season_json import season_json
from monitor.store.reading_rows import ReadingRow
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag
from tests.craft.scene import library, work
from tests.reports.season import winter

_ACTS = (Act.ARRIVED, Act.FUEL_STABILISED, Act.DRAINED, Act.SPRAYED_DOWN, Act.COVER_FITTED)
_AT_ONCE = 100


def main() -> None:
    """Fill a store, and time both."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--craft", type=int, default=2000)
    parser.add_argument("--days", type=int, default=120)
    parser.add_argument("--times", type=int, default=3, help="the quickest of so many counts")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        store = winter.open_store(Path(folder))
        ids = fill_store(store, arguments.craft, arguments.days)
        now = winter.ARRIVED + timedelta(days=arguments.days)
        few_s, few_mb = time_records(store, ids[:_AT_ONCE], now)
        all_s, all_mb = time_records(store, ids, now)
        floor_s = time_reading(store, ids, now)
        for _ in range(arguments.times - 1):  # in turn, so that a busy machine slows both
            all_s = min(all_s, time_records(store, ids, now)[0])
            floor_s = min(floor_s, time_reading(store, ids, now))
        print(f"{len(ids)} craft, {arguments.days} days, three spaces")
        print(f"records: {all_s / floor_s:.2f} x reading their rollups and entries")
        print(f"peak memory: {few_mb:.0f} MB for {_AT_ONCE} craft, {all_mb:.0f} MB for {len(ids)}")
        print(f"one craft of all: {all_s / len(ids) * 1000:.1f} ms; of {_AT_ONCE}: "
              f"{few_s / _AT_ONCE * 1000:.1f} ms")  # fmt: skip
        store.close()


def fill_store(store: Store, count: int, days: int) -> list[str]:
    """A winter of readings each half hour in three spaces, and craft with five entries each."""
    ids = [f"c{number}" for number in range(count)]
    yard = winter.yard()
    since = winter.ARRIVED
    with store.transaction() as tx:
        for space in yard.spaces:
            keys = [(winter.sensor_of(space.id), one) for one in
                    (Channel.TEMPERATURE, Channel.HUMIDITY)]  # fmt: skip
            series = tx.series.series_ids(keys)
            at_ms = np.arange(to_ms(since), to_ms(since) + days * 86_400_000, 1_800_000)
            air = -3.0 + 6.0 * np.sin(at_ms / 86_400_000 * 2 * np.pi)
            tx.reading_writer.append_rows(
                [
                    ReadingRow(series[key], int(at), int(value), None, Flag.PASS)
                    for key, values in zip(keys, (air * 100, 8000 + air * 100), strict=True)
                    for at, value in zip(at_ms, values, strict=True)
                ]
            )
    while True:
        with store.transaction() as tx:
            if tx.rollups.advance_mark(since + timedelta(days=days)):
                break
    while True:
        with store.transaction() as tx:
            if not tx.rollups.make_some():
                break
    with store.transaction() as tx:
        tx.layup.put_craft(
            [
                Craft(id=one, name=one, profile="pwc-two-stroke", arrived_at=since, owner="wren")
                for one in ids
            ],
            since,
        )
        tx.layup.add_stays(
            [
                Stay(craft=one, space=yard.spaces[n % 3].id, since=since, by="ines")
                for n, one in enumerate(ids)
            ],
            since,
        )
        done = [work(act, float(n), at=since, by="ines") for n, act in enumerate(_ACTS)]
        tx.layup.append_entries([replace(e, craft=one) for one in ids for e in done], since)
    return ids


def time_reading(store: Store, ids: list[str], now: datetime) -> float:
    """Seconds to read what the records need: rollups of the spaces, records with their links."""
    begins, _ = season_bounds(winter.YEAR, winter.yard())
    sensors = [winter.sensor_of(one.id) for one in winter.yard().spaces]
    began = time.process_time()
    with store.snapshot() as tx:
        tx.rollups.hours_between(sensors, to_ms(begins), to_ms(now.astimezone(UTC)))
        for first in range(0, len(ids), _AT_ONCE):
            some = ids[first : first + _AT_ONCE]
            tx.layup.records_of(some, library())
            tx.layup.links_of_each(some)
    return time.process_time() - began


def time_records(store: Store, ids: list[str], now: datetime) -> tuple[float, float]:
    """Seconds to make all records, none of them kept; and the most memory until then [MB]."""
    began = time.process_time()
    with store.snapshot() as tx:
        for one in read_season_figures(
            tx, winter.yard(), library(), ids, winter.YEAR, now, program="bench"
        ):
            season_json(one, winter.yard())
    took_s = time.process_time() - began
    return took_s, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
