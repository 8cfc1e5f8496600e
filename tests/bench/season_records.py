"""What season records of many craft cost, beside reading the rollups and entries that they need.

    .venv/bin/python -m tests.bench.season_records --craft 2000 --days 120

Tells the ratio to that reading, in processor time of this one process (records start no other), and
the most memory that is resident while records are made, of 100 craft and of all. ``--mixed`` gives
craft of four types that came, were worked on and moved on days of their own; else all are alike.
"""

import argparse
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from monitor.clock import to_ms
from monitor.craft.canonical import canonical_bytes
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import Act
from monitor.craft.sealing import PROOF, YardKey
from monitor.craft.signing_key import SigningKey
from monitor.reports.season.read_season import read_season_figures, season_bounds
from monitor.reports.season.record_sealer import RecordSealer
from monitor.reports.season.season_json import season_json
from monitor.store.closing_days import close_due_days
from monitor.store.reading_rows import ReadingRow
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag
from tests.craft.scene import library, work
from tests.reports.season import winter

_ACTS = (Act.ARRIVED, Act.FUEL_STABILISED, Act.DRAINED, Act.SPRAYED_DOWN, Act.COVER_FITTED)
_TYPES = ("pwc-two-stroke", "jet-boat", "tow-boat", "pwc-four-stroke")
_AT_ONCE = 100


def main() -> None:
    """Fill a store, and time both."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--craft", type=int, default=2000)
    parser.add_argument("--days", type=int, default=120)
    parser.add_argument("--times", type=int, default=3, help="the quickest of so many counts")
    parser.add_argument("--proofs", action="store_true", help="also seal records, with proofs")
    parser.add_argument("--mixed", action="store_true", help="craft that differ")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        store = winter.open_store(Path(folder))
        ids = fill_store(store, arguments.craft, arguments.days, mixed=arguments.mixed)
        now = winter.ARRIVED + timedelta(days=arguments.days)
        few_s, few_mb = time_records(store, ids[:_AT_ONCE], now)
        all_s, all_mb = time_records(store, ids, now)
        floor_s = time_reading(store, ids, now)
        for _ in range(arguments.times - 1):  # in turn, so that a busy machine slows both
            all_s = min(all_s, time_records(store, ids, now)[0])
            floor_s = min(floor_s, time_reading(store, ids, now))
        print(f"{len(ids)} craft, {arguments.days} days, three spaces")
        print(f"records: {all_s / floor_s:.2f} x reading their rollups and entries"
              f" ({all_s:.2f} s of {floor_s:.2f} s of one processor)")  # fmt: skip
        print(f"peak memory: {few_mb:.0f} MB for {_AT_ONCE} craft, {all_mb:.0f} MB for {len(ids)}")
        print(f"one craft of all: {all_s / len(ids) * 1000:.1f} ms; of {_AT_ONCE}: "
              f"{few_s / _AT_ONCE * 1000:.1f} ms")  # fmt: skip
        if arguments.proofs:
            print(tell_proofs(store, ids, now))
        store.close()


def tell_proofs(store: Store, ids: list[str], now: datetime) -> str:
    """What the proofs of some records take, all days of the season closed before."""
    yard, profiles = winter.yard(), library()
    close_due_days(store, now + timedelta(hours=2))
    key = YardKey(key=SigningKey.make_new(), successions=())
    some = ids[:: max(len(ids) // _AT_ONCE, 1)]
    with store.snapshot() as tx:
        began = time.process_time()
        sealer = RecordSealer(tx, yard, key, winter.YEAR, now)
        shared_s = time.process_time() - began
        sizes, sealing_s = [], 0.0
        for one in read_season_figures(tx, yard, profiles, some, winter.YEAR, now, program="bench"):
            body = season_json(one, yard)
            began = time.process_time()
            sealed = sealer.seal_figures(one, body)
            sealing_s += time.process_time() - began
            sizes.append(len(canonical_bytes(sealed[PROOF])))
    return (
        f"proofs of {len(sizes)} of {len(ids)} craft: {max(sizes) / 1000:.0f} kB at most;"
        f" {shared_s:.2f} s for all, {sealing_s / len(sizes) * 1000:.0f} ms each to prove and seal"
    )


def fill_store(store: Store, count: int, days: int, *, mixed: bool = False) -> list[str]:
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
    kinds = len(_TYPES) if mixed else 1
    came = [since + timedelta(days=n % 17, hours=n % 5) * mixed for n in range(count)]
    stays = [
        Stay(craft=one, space=yard.spaces[n % 3].id, since=came[n], by="ines")
        for n, one in enumerate(ids)
    ] + [
        Stay(craft=one, space=yard.spaces[(n + 1) % 3].id, by="ines",
             since=came[n] + timedelta(days=40 + n % 9))
        for n, one in enumerate(ids) if mixed and n % 4 == 0
    ]  # fmt: skip
    entries = [
        replace(
            work(act, float(step), at=came[n] + timedelta(days=(n + step) % 23) * mixed, by="ines"),
            craft=one,
        )
        for n, one in enumerate(ids)
        for step, act in enumerate(_ACTS)
    ]
    with store.transaction() as tx:
        tx.layup.put_craft(
            [
                Craft(id=one, name=one, profile=_TYPES[n % kinds], arrived_at=came[n], owner="wren")
                for n, one in enumerate(ids)
            ],
            since,
        )
        tx.layup.add_stays(stays, since)
        tx.layup.append_entries(entries, since)
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
    """Seconds to make all records, none of them kept; and the most memory that took [MB]."""
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # begins a new peak
    yard, profiles = winter.yard(), library()
    began = time.process_time()
    with store.snapshot() as tx:
        for one in read_season_figures(tx, yard, profiles, ids, winter.YEAR, now, program="bench"):
            season_json(one, yard)
    took_s = time.process_time() - began
    status = Path("/proc/self/status").read_text(encoding="ascii")
    [peak] = [line.split()[1] for line in status.splitlines() if line.startswith("VmHWM:")]
    return took_s, int(peak) / 1024


if __name__ == "__main__":
    main()
