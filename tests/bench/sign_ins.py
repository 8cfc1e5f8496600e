"""What do a round and a batch of readings wait for while many sign in at once?

``python -m tests.bench.sign_ins`` judges the demo's evening and stores batches of readings, in turn
with nobody at the door and with as many trying passwords as the page lets wait there, each try at
the full cost of a password. The floor is the same work with nobody there, in the same run;
``--write`` puts the page into SIGN_INS.md.
"""

import argparse
import contextlib
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread

from monitor.clock import to_ms
from monitor.web.access.passwords import Passwords, PasswordsBusyError
from monitor.yard.reading import Channel, Flag, Reading
from tests.real.page import load_in_words, page
from tests.web.played_night import PlayedNight, play_night

FILE = Path(__file__).with_name("SIGN_INS.md")
HEADING = """# What sign-ins cost the watch

Written by `python -m tests.bench.sign_ins --write`."""
AT_THE_DOOR = 16  # answered and waiting at once: monitor/web/limits.py lets no more in
TURNS = 6
READINGS = 500


@contextmanager
def storm(count: int) -> Iterator[list[int]]:
    """So many try passwords without a pause; how many tries were answered."""
    passwords, over, tried = Passwords(), Event(), [0]
    kept = passwords.hash_password("four cold words apart")

    def try_on() -> None:
        while not over.is_set():
            with contextlib.suppress(PasswordsBusyError):
                passwords.is_password(kept, "not the password at all")
                tried[0] += 1

    callers = [Thread(target=try_on, daemon=True) for _ in range(count)]
    for one in callers:
        one.start()
    try:
        yield tried
    finally:
        over.set()
        for one in callers:
            one.join()


def store_batch(played: PlayedNight, batch: int) -> None:
    """One transaction of readings, as intake writes it."""
    begin_ms = to_ms(played.clock.now()) + batch * READINGS * 1000
    with played.store.transaction(can_wait=True) as tx:
        tx.reading_writer.add(
            Reading(
                sensor=f"urn:dev:ops:bench-{n % 10}",
                channel=Channel.TEMPERATURE,
                at_ms=begin_ms + n * 1000,
                value=1.0,
                raw=1.0,
                flag=Flag.PASS,
            )
            for n in range(READINGS)
        )


def timed_s(work: Callable[[], None]) -> float:
    """How long it takes [s]."""
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def measured() -> Iterator[str]:
    """A row for each kind of work."""
    batch = iter(range(10_000))
    with tempfile.TemporaryDirectory() as folder:
        played = play_night(Path(folder))
        works: dict[str, Callable[[], None]] = {
            "a round of twelve craft": played.judge_now,
            f"{READINGS} readings stored": lambda: store_batch(played, next(batch)),
        }
        quiet: dict[str, list[float]] = {name: [] for name in works}
        stormy: dict[str, list[float]] = {name: [] for name in works}
        tried_in_all, storm_s = 0, 0.0
        for _ in range(TURNS):
            for name, work in works.items():
                quiet[name].append(timed_s(work))
            begin = time.perf_counter()
            with storm(AT_THE_DOOR) as tried:
                for name, work in works.items():
                    stormy[name].append(timed_s(work))
            tried_in_all += tried[0]
            storm_s += time.perf_counter() - begin
        played.store.close()
    yield (
        f"With {AT_THE_DOOR} who try passwords without a pause, beside the same work with nobody"
        f" there; medians of {TURNS} turns. {tried_in_all / storm_s:.1f} tries a second were"
        " answered."
    )
    yield ""
    yield "| work | nobody there ms | many sign in ms | ratio | slowest of them ms |"
    yield "| --- | --- | --- | --- | --- |"
    for name in works:
        alone, among = statistics.median(quiet[name]), statistics.median(stormy[name])
        yield (
            f"| {name} | {alone * 1e3:.0f} | {among * 1e3:.0f} | {among / alone:.2f} |"
            f" {max(stormy[name]) * 1e3:.0f} |"
        )
    yield ""
    yield load_in_words()


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true")
    page(FILE if parser.parse_args().write else None, HEADING, measured())
    return 0


if __name__ == "__main__":
    sys.exit(main())
