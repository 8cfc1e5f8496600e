"""How many bytes does a yard write in a day? By part, and beside the readings' own bytes.

``python -m tests.bench.writing`` lets sensors send a reading a minute for an hour of a cold
evening (of the large yard a quarter of one), spread evenly, judges and alarms after each as the
daemon does, and counts what the process hands to the file system (``/proc/self/io``). The
write-ahead log is folded in before, and once more at the end: all folding is counted, and none of
another time's. ``--write`` puts the page into WRITING.md, ``--craft 50`` leaves out the large yard,
``--day`` follows the small one through a whole day, 14,400 rounds.
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
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

from monitor.alarms.round import AlarmRound
from monitor.clock import to_ms
from monitor.judgement.round import Round
from monitor.store.landing import LATE_MS
from monitor.store.migrate import migrate
from monitor.store.rolling_up import make_due_hours, move_landed
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag, Reading
from tests.bench.judgement import craft_of, spaces_of
from tests.judgement import scene
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("WRITING.md")
HEADING = """# What a day writes

Written by `python -m tests.bench.writing --craft 50 --write`; without `--craft` it takes a yard of
2,000 craft and 500 sensors too. `--day` has the small yard's whole day instead of an hour of it."""
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


def readings_at(sensors: list[str], minute: float, weather: "Weather") -> Iterator[Reading]:
    """One reading of each channel of some sensors, with the noise of real ones."""
    at_ms = to_ms(BEGIN) + round(minute * 60_000)
    for n, name in enumerate(sensors):
        cold = weather.air_c(minute) + 0.05 * math.sin(7 * n + 3 * minute)
        for channel, value in (
            (Channel.TEMPERATURE, cold),
            (Channel.HUMIDITY, weather.rh_pct + math.sin(n + minute)),
        ):
            value = round(value, 2)
            yield Reading(
                sensor=name, channel=channel, at_ms=at_ms, value=value, raw=value, flag=Flag.PASS
            )


@dataclass(frozen=True)
class Weather:
    """How the air goes on from the evening at which a stretch begins."""

    name: str
    fall_k_h: float
    rh_pct: float
    swing_k: float = 0.0  # of a day, warmest at the beginning

    def air_c(self, minute: float) -> float:
        """Air temperature some minutes after the beginning [°C]."""
        turn = 2.0 * math.pi * minute / _DAY_MINUTES
        return 1.0 - self.fall_k_h * minute / 60.0 - self.swing_k * (1.0 - math.cos(turn)) / 2.0


@dataclass(frozen=True)
class Yardful:
    """How large a yard is, how often it is judged, and for how long its bytes are counted."""

    craft: int
    sensors: int
    rounds_a_minute: int
    minutes: int


def stretch(size: Yardful, weather: Weather) -> tuple[Counter[str], int]:
    """Bytes written by each part over the stretch, and readings stored."""
    places = spaces_of(5)
    names = [f"air-{places[n % 5].id}" + ("" if n < 5 else f"-{n}") for n in range(size.sensors)]
    more = tuple(scene.air_sensor(places[n % 5], names[n]) for n in range(5, size.sensors))
    yard, stored = scene.yard_of(*places, sensors=more), craft_of(size.craft, places)
    by_id = {each.id: each for each in stored}
    clock, bytes_of, count = SetClock(), Counter(), 0
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/laidup.db"
        migrate(url)
        store = Store(url, yard.id)
        judgement, alarms = Round(store, yard, clock), AlarmRound(store, yard, clock)
        with store.transaction() as tx:
            for minute in range(-240, 0, 10):
                tx.reading_writer.add(readings_at(names, float(minute), weather))
        move_landed(store, BEGIN)
        for minute in range(_WARMING):  # until the alarms of the evening have been raised
            clock.at = BEGIN + timedelta(minutes=minute)
            _store_readings(store, readings_at(names, float(minute), weather))
            judgement.run(stored)
            alarms.run(by_id)
        move_landed(store, clock.at)
        make_due_hours(store, clock.at)
        _fold_log_in(f"{folder}/laidup.db")
        for minute in range(_WARMING, _WARMING + size.minutes):
            for turn in range(size.rounds_a_minute):
                part_of_minute = minute + turn / size.rounds_a_minute
                clock.at = BEGIN + timedelta(minutes=part_of_minute)
                sending = names[turn :: size.rounds_a_minute]
                before = written_bytes()
                _store_readings(store, readings_at(sending, part_of_minute, weather))
                stored_by = written_bytes()
                judgement.run(stored)
                judged_by = written_bytes()
                alarms.run(by_id)
                bytes_of["readings"] += stored_by - before
                bytes_of["judgement"] += judged_by - stored_by
                bytes_of["alarms"] += written_bytes() - judged_by
                count += 2 * len(sending)
            if minute % 60 == 59:
                before = written_bytes()
                move_landed(store, clock.at)
                make_due_hours(store, clock.at)
                bytes_of["readings"] += written_bytes() - before
        before = written_bytes()
        _fold_log_in(f"{folder}/laidup.db")
        bytes_of["last fold"] += written_bytes() - before
        store.close()
    return bytes_of, count


def _store_readings(store: Store, new: Iterator[Reading]) -> None:
    with store.transaction() as tx:
        tx.reading_writer.add(new)


YARDS = (
    Yardful(craft=50, sensors=12, rounds_a_minute=10, minutes=60),
    Yardful(craft=2000, sensors=500, rounds_a_minute=4, minutes=15),
)
WEATHERS = (
    Weather("steady, 70 % RH", 0.0, 70.0),
    Weather("steady, around 80 % RH, where metal gets wet", 0.0, 80.0),
    Weather("falls 1.2 K/h through 0 °C", 1.2, 80.0),
)
WHOLE_DAY = Weather("a day and night between 1 °C and −7 °C", 0.0, 80.0, swing_k=8.0)
_DAY_MINUTES = 24 * 60
_WARMING = 60  # minutes


def table(yards: Sequence[Yardful], weathers: Sequence[Weather]) -> Iterator[str]:
    """A row a yard and weather: megabytes a day by part, and in all to the readings' own bytes."""
    yield f"Written as if all day were as the minutes that were counted. {load_in_words()}"
    yield ""
    yield (
        "| craft | sensors | minutes | air | readings MB | judgement MB | alarms MB |"
        " last fold MB | all | to the floor |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|"
    for size in yards:
        days = _DAY_MINUTES / size.minutes
        for weather in weathers:
            bytes_of, count = stretch(size, weather)
            mb = {part: written * days / 1e6 for part, written in bytes_of.items()}
            floor = sum(bytes_of.values()) / (count * BYTES_A_VALUE)
            yield (
                f"| {size.craft} | {size.sensors} | {size.minutes} | {weather.name} |"
                f" {mb['readings']:.0f} | {mb['judgement']:.0f} | {mb['alarms']:.0f} |"
                f" {mb['last fold']:.0f} | {sum(mb.values()):.0f} | {floor:.0f} |"
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
            tx.series.series_ids([(f"n{each}", Channel.HUMIDITY) for each in range(series)])
            for each in range(1, series + 1):
                past = range(begin)
                tx.reading_writer.append_rows(
                    [(each, _MINUTE_MS * minute, minute % 700, None, 1) for minute in past]
                )
            if landing:
                tx.landing.move_mark(_MINUTE_MS * begin + LATE_MS)
        _fold_log_in(f"{folder}/laid.db")
        before = written_bytes()
        for minute in range(begin, begin + _HOUR):
            for turn in range(turns):
                new = range(1 + turn, series + 1, turns)
                with store.transaction() as tx:
                    tx.reading_writer.append_rows(
                        [(n, _MINUTE_MS * minute, minute, None, 1) for n in new]
                    )
        if landing:
            with store.transaction() as tx:
                tx.landing.move_mark(_MINUTE_MS * (begin + _HOUR) + LATE_MS)
        _fold_log_in(f"{folder}/laid.db")
        store.close()
        return (written_bytes() - before) * 24 / 1e6


def _fold_log_in(file: str) -> None:
    with contextlib.closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def main() -> int:
    """Print the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    sizes = [size.craft for size in YARDS]
    parser.add_argument("--craft", type=int, nargs="+", choices=sizes, default=sizes)
    parser.add_argument("--day", action="store_true", help="a whole day of the small yard")
    chosen = parser.parse_args()
    yards = [size for size in YARDS if size.craft in chosen.craft]
    if chosen.day:
        yards = [replace(YARDS[0], minutes=_DAY_MINUTES)]
    weathers = [WHOLE_DAY] if chosen.day else WEATHERS
    page(FILE if chosen.write else None, HEADING, table(yards, weathers))
    return 0


if __name__ == "__main__":
    sys.exit(main())
