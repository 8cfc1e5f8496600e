"""What a week's letters cost, beside reading the rollups, judgements and entries that they need.

    .venv/bin/python -m tests.bench.weekly --owners 200 500 --craft 2000

Owners share the craft; two people of the yard read of all. Processor time as a multiple of that
reading, of this process and of the one that draws; the quickest of some runs in turn. The daemon
has the record added up already, as it judges by it; `laidup report` adds it up besides.
``--profile FILE`` keeps what cProfile says of one run.
"""

import argparse
import cProfile
import os
import resource
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from monitor.clock import ReadingsClock, to_ms
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import Act
from monitor.craft.stored import StoredCraft
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.reports.letter import letters_of, readers
from monitor.reports.week import compose
from monitor.store.reading_rows import ReadingRow
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Person, Role, Yard
from tests.craft.scene import library, work
from tests.reports.season import winter

_ACTS = (Act.ARRIVED, Act.FUEL_STABILISED, Act.DRAINED, Act.SPRAYED_DOWN, Act.COVER_FITTED)
_DAYS = 12
_STEP_MS = 600_000
_NOW = winter.ARRIVED + timedelta(days=_DAYS)


def yard_of(owners: int) -> Yard:
    """The yard with so many owners, each reading in one of two units."""
    people = (
        *(one for one in winter.yard().people if Role.OPERATOR in one.roles),
        Person(id="tobin", name="Tobin Vale", mail="tobin@kettlemoss.example",
               roles=frozenset({Role.MECHANIC}), temperature_unit="F"),
        *(
            Person(id=f"o{n}", name=f"Owner {n}", mail=f"o{n}@lake.example",
                   roles=frozenset({Role.OWNER}), temperature_unit="F" if n % 3 else None,
                   language="de" if n % 5 == 0 else "en")
            for n in range(owners)
        ),
    )  # fmt: skip
    return winter.yard(people=people)


def fill_store(store: Store, yard: Yard, count: int, owners: int) -> None:
    """Craft with entries of their own, twelve days of readings, rolled up and judged once."""
    with store.transaction() as tx:
        for space in yard.spaces:
            keys = [(winter.sensor_of(space.id), one) for one in
                    (Channel.TEMPERATURE, Channel.HUMIDITY)]  # fmt: skip
            series = tx.series.series_ids(keys)
            at_ms = np.arange(to_ms(winter.ARRIVED), to_ms(_NOW), _STEP_MS)
            air = -1.0 + 6.0 * np.sin(at_ms / 86_400_000 * 2 * np.pi)
            for key, values in zip(keys, (air * 100, 8000 + air * 100), strict=True):
                tx.reading_writer.append_rows(
                    [
                        ReadingRow(series[key], int(at), int(value), None, Flag.PASS)
                        for at, value in zip(at_ms, values, strict=True)
                    ]
                )
    _roll_up(store)
    ids = [f"c{number:04}" for number in range(count)]
    done = [work(act, float(n), at=winter.ARRIVED, by="ines") for n, act in enumerate(_ACTS)]
    with store.transaction() as tx:
        tx.layup.put_craft(
            [
                Craft(id=one, name=f"Craft {one}", profile="pwc-two-stroke", owner=f"o{n % owners}",
                      arrived_at=winter.ARRIVED)
                for n, one in enumerate(ids)
            ],
            winter.ARRIVED,
        )  # fmt: skip
        tx.layup.add_stays(
            [
                Stay(craft=one, space=yard.spaces[n % 3].id, since=winter.ARRIVED, by="ines")
                for n, one in enumerate(ids)
            ],
            winter.ARRIVED,
        )
        tx.layup.append_entries(
            [replace(each, craft=one) for one in ids for each in done], winter.ARRIVED
        )
    clock = ReadingsClock(_NOW)
    for _ in range(2):  # the second has changes to write
        Round(store, yard, clock).run(CraftInCare(store, library(), yard, clock).read_now())
        clock.advance_to(clock.now() + timedelta(minutes=1))


def _roll_up(store: Store) -> None:
    is_over = False
    while not is_over:
        with store.transaction() as tx:
            is_over = tx.rollups.advance_mark(_NOW)
    is_left = True
    while is_left:
        with store.transaction() as tx:
            is_left = tx.rollups.make_some()


def read_rows(store: Store, yard: Yard) -> None:
    """The floor: rollups of the week, the newest judgements and the week's, all entries."""
    monday_ms = to_ms(_NOW - timedelta(days=_NOW.weekday() + 7))
    sensors = [winter.sensor_of(one.id) for one in yard.spaces]
    with store.snapshot() as tx:
        tx.rollups.hours_between(sensors, monday_ms, monday_ms + 7 * 86_400_000)
        tx.assessments.latest_judgements()
        tx.assessments.changes_between(_NOW - timedelta(days=14), _NOW)
        tx.layup.all_records(library())


def read_craft(store: Store, yard: Yard) -> tuple[StoredCraft, ...]:
    """The craft with their record added up: the daemon has them, for it judges them."""
    return CraftInCare(store, library(), yard, ReadingsClock(_NOW)).read_now()


def write_letters(store: Store, yard: Yard, craft: Sequence[StoredCraft]) -> int:
    """All letters of the last whole week, none of them kept."""
    monday = _NOW.date() - timedelta(days=_NOW.weekday() + 7)
    report = compose(store, yard, craft, monday, _NOW)
    return sum(1 for _ in letters_of(report, readers(report)))


def processor_s(url: str, yard: Yard, run: Callable[..., object], *given: object) -> float:
    """Processor time of a run over a store of its own, with that of processes it started [s]."""
    store = Store(url, yard.id)
    began = os.times()
    run(store, yard, *given)
    ended = os.times()
    store.close()
    return sum(ended[:4]) - sum(began[:4])


def table(arguments: argparse.Namespace) -> Iterator[str]:
    """A row for each number of owners."""
    yield "| craft | owners | letters | drawing | adding up the record | floor | peak memory |"
    yield "|---|---|---|---|---|---|---|"
    for owners in arguments.owners:
        with tempfile.TemporaryDirectory() as folder:
            yard, store = yard_of(owners), winter.open_store(Path(folder))
            fill_store(store, yard, max(arguments.craft, owners), owners)
            craft = read_craft(store, yard)
            # Another store each time: what one keeps in memory of its last round is no reading.
            url = f"sqlite:///{folder}/laidup.db"
            floor_s, letters_s, record_s, drawing_s = [], [], [], []
            for _ in range(arguments.times):  # in turn, so that a busy machine slows all
                floor_s.append(processor_s(url, yard, read_rows))
                began = sum(os.times()[2:4])
                letters_s.append(processor_s(url, yard, write_letters, craft))
                drawing_s.append(sum(os.times()[2:4]) - began)
                record_s.append(processor_s(url, yard, read_craft))
            if arguments.profile:
                watch = cProfile.Profile()
                watch.runcall(write_letters, store, yard, craft)
                watch.dump_stats(arguments.profile)
            store.close()
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            floor = min(floor_s)
            yield (
                f"| {max(arguments.craft, owners)} | {owners} | {min(letters_s) / floor:.2f} |"
                f" of it {min(drawing_s) / floor:.2f} | {min(record_s) / floor:.2f} |"
                f" {floor:.2f} s | {peak:.0f} MB |"
            )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--owners", type=int, nargs="+", default=[200, 500])
    parser.add_argument("--craft", type=int, default=0, help="at least a craft for each owner")
    parser.add_argument("--times", type=int, default=3, help="the quickest of so many")
    parser.add_argument("--profile", metavar="FILE")
    for line in table(parser.parse_args()):
        print(line, flush=True)


if __name__ == "__main__":
    main()
