"""How many bytes does a yard write in a day? By part, and beside the readings' own bytes.

``python -m tests.bench.writing`` lets sensors send a reading a minute for a quarter of an hour of a
cold evening, spread evenly, judges and alarms after each as the daemon does, and counts what the
process hands to the file system (``/proc/self/io``); ``--write`` puts the page into WRITING.md,
``--craft 50`` leaves out the large yard.
The floor is what the values alone take: twelve bytes a reading, for its time and its value.
A second table lays readings alone into stores that hold two days: as they come, into the table
that is led by the series; and as they are kept, into one led by the time, from which each hour
moves on (`monitor/store/landing.py`).
"""

import argparse
import contextlib
import math
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import timedelta
from pathlib import Path

from monitor.alarms.round import AlarmRound
from monitor.clock import to_ms
from monitor.judgement.round import Round
from monitor.store.landing import LATE_MS
from monitor.store.migrate import migrate
from monitor.store.rolling_up import move_landed
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag, Reading
from tests.bench.judgement import craft_of, spaces_of
from tests.judgement import scene
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("WRITING.md")
HEADING = """# What a day writes

Written by `python -m tests.bench.writing --craft 50 --write`; without `--craft` it takes a yard of
2,000 craft and 500 sensors too, for half an hour."""
STRETCH = timedelta(minutes=15)
BYTES_A_VALUE = 12
BEGIN = scene.local(14, 17)


class SetClock:
    """A clock that the bench sets."""

    def __init__(self) -> None:
        self.at = BEGIN

    def now(self):
        return self.at


def written_bytes() -> int:
    """Bytes that this process has handed to files and pipes so far."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("wchar")).split()[1])


def readings_at(
    sensors: list[str], minute: float, fall_k_h: float, rh_pct: float
) -> Iterator[Reading]:
    """One reading of each channel of some sensors, with the noise of real ones."""
    at_ms = to_ms(BEGIN) + round(minute * 60_000)
    for n, name in enumerate(sensors):
        cold = 1.0 - fall_k_h * minute / 60.0 + 0.05 * math.sin(7 * n + 3 * minute)
        for channel, value in (
            (Channel.TEMPERATURE, cold),
            (Channel.HUMIDITY, rh_pct + math.sin(n + minute)),
        ):
            value = round(value, 2)
            yield Reading(
                sensor=name, channel=channel, at_ms=at_ms, value=value, raw=value, flag=Flag.PASS
            )


def stretch(
    craft: int, sensors: int, rounds_a_minute: int, fall_k_h: float, rh_pct: float
) -> tuple[Counter[str], int]:
    """Bytes written by each part over the stretch, and readings stored."""
    places = spaces_of(5)
    names = [f"air-{places[n % 5].id}" + ("" if n < 5 else f"-{n}") for n in range(sensors)]
    more = tuple(scene.air_sensor(places[n % 5], names[n]) for n in range(5, sensors))
    yard, stored = scene.yard_of(*places, sensors=more), craft_of(craft, places)
    by_id = {each.id: each for each in stored}
    clock, bytes_of, count = SetClock(), Counter(), 0
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/laidup.db"
        migrate(url)
        store = Store(url, yard.id)
        judgement, alarms = Round(store, yard, clock), AlarmRound(store, yard, clock)
        with store.transaction() as tx:
            for minute in range(-240, 0, 10):
                tx.readings.add(readings_at(names, float(minute), fall_k_h, rh_pct))
        move_landed(store, BEGIN)
        for _ in range(60):  # until the alarms of the evening have been raised
            clock.at += timedelta(minutes=1)
            judgement.run(stored)
            alarms.run(by_id)
        minutes = int(STRETCH / timedelta(minutes=1))
        for minute in range(60, 60 + minutes):
            for turn in range(rounds_a_minute):
                clock.at = BEGIN + timedelta(minutes=minute + turn / rounds_a_minute)
                sending = names[turn::rounds_a_minute]
                before = written_bytes()
                _store_readings(store, readings_at(sending, minute + turn / 60.0, fall_k_h, rh_pct))
                stored_by = written_bytes()
                judgement.run(stored)
                judged_by = written_bytes()
                alarms.run(by_id)
                bytes_of["readings"] += stored_by - before
                bytes_of["judgement"] += judged_by - stored_by
                bytes_of["alarms"] += written_bytes() - judged_by
                count += 2 * len(sending)
        store.close()
    return bytes_of, count


def _store_readings(store: Store, new: Iterator[Reading]) -> None:
    with store.transaction() as tx:
        tx.readings.add(new)


YARDS = {50: (12, 10), 2000: (500, 4)}  # craft: sensors, and rounds a minute
AIRS = (
    ("steady, 70 % RH", 0.0, 70.0),
    ("steady, around 80 % RH, where metal gets wet", 0.0, 80.0),
    ("falls 1.2 K/h through 0 °C", 1.2, 80.0),
)


def table(yards: Sequence[int]) -> Iterator[str]:
    """A row a yard and weather: megabytes a day by part, and in all to the readings' own bytes."""
    yield (
        f"{STRETCH / timedelta(minutes=1):.0f} minutes, written as if all day were so; a day has a"
        f" few hours in which many circuits near their limits. {load_in_words()}"
    )
    yield ""
    yield "| craft | sensors | air | readings MB | judgement MB | alarms MB | all | to the floor |"
    yield "|---|---|---|---|---|---|---|---|"
    days = timedelta(days=1) / STRETCH
    for craft in yards:
        sensors, rounds = YARDS[craft]
        for air, fall_k_h, rh_pct in AIRS:
            bytes_of, count = stretch(craft, sensors, rounds, fall_k_h, rh_pct)
            mb = {part: size * days / 1e6 for part, size in bytes_of.items()}
            floor = sum(bytes_of.values()) / (count * BYTES_A_VALUE)
            yield (
                f"| {craft} | {sensors} | {air} | {mb['readings']:.0f} | {mb['judgement']:.0f} |"
                f" {mb['alarms']:.0f} | {sum(mb.values()):.0f} | {floor:.0f} |"
            )
    yield ""
    yield (
        "Which part folds the write-ahead log in is chance; the sum is not. Readings alone, an hour"
        " of them, into tables that hold two days already:"
    )
    yield ""
    yield "| series | transactions a minute | led by the series at once MB | landing first MB |"
    yield "|---|---|---|---|"
    for series, turns in ((24, 10), (1000, 4)):
        kept, landed = (laid_mb(series, turns, landing=each) for each in (False, True))
        yield f"| {series} | {turns} | {kept:.0f} | {landed:.0f} |"


_HOUR = 60
_MINUTE_MS = 60_000


def laid_mb(series: int, turns: int, *, landing: bool) -> float:
    """Megabytes a day that readings alone make the store write, one a minute of each series.

    With ``landing`` they land and move on at the end of the hour, as under the daemon; else all of
    them go into the table whose key leads with the series.
    """
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/laid.db"
        migrate(url)
        store = Store(url, "laid")
        begin = 2 * 24 * _HOUR
        with store.transaction() as tx:
            tx.readings.series_ids([(f"n{each}", Channel.HUMIDITY) for each in range(series)])
            for each in range(1, series + 1):
                past = range(begin)
                tx.readings.append_rows(
                    [(each, _MINUTE_MS * minute, minute % 700, None, 1) for minute in past]
                )
            if landing:
                tx.readings.landing.move_mark(_MINUTE_MS * begin + LATE_MS)
        _fold_log_in(folder)
        before = written_bytes()
        for minute in range(begin, begin + _HOUR):
            for turn in range(turns):
                new = range(1 + turn, series + 1, turns)
                with store.transaction() as tx:
                    tx.readings.append_rows(
                        [(n, _MINUTE_MS * minute, minute, None, 1) for n in new]
                    )
        if landing:
            with store.transaction() as tx:
                tx.readings.landing.move_mark(_MINUTE_MS * (begin + _HOUR) + LATE_MS)
        _fold_log_in(folder)
        store.close()
        return (written_bytes() - before) * 24 / 1e6


def _fold_log_in(folder: str) -> None:
    with contextlib.closing(sqlite3.connect(f"{folder}/laid.db")) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def main() -> int:
    """Print the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    parser.add_argument("--craft", type=int, nargs="+", choices=YARDS, default=list(YARDS))
    chosen = parser.parse_args()
    page(FILE if chosen.write else None, HEADING, table(chosen.craft))
    return 0


if __name__ == "__main__":
    sys.exit(main())
