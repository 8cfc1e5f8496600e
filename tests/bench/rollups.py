"""What does a season of one space cost, read hour by hour and read row by row?

``python -m tests.bench.rollups`` stores a season of two sensors that speak each minute, has it
rolled up, and reads temperature and humidity of one of them both ways; processor time, the best of
a few runs taken in turn, as a ratio. ``--write`` puts the page into ROLLUPS.md beside this file.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from monitor.clock import to_ms
from monitor.store.migrate import migrate
from monitor.store.rolling_up import make_due_hours
from monitor.store.store import Store
from monitor.yard.reading import Channel
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("ROLLUPS.md")
HEADING = """# A season hour by hour

Written by `python -m tests.bench.rollups --write`."""
BEGIN = datetime(2026, 10, 1, tzinfo=UTC)
DAYS = 200
RUNS = 5
CHANNELS = (Channel.TEMPERATURE, Channel.HUMIDITY)
SENSORS = ("post", "wall")


def fill(store: Store) -> int:
    """Store a season, a reading a minute of each channel; tells how many readings."""
    minutes = np.arange(DAYS * 24 * 60)
    count = 0
    with store.transaction() as tx:
        series = tx.series.series_ids([(name, each) for name in SENSORS for each in CHANNELS])
    for n, series_id in enumerate(series.values()):
        values = (400.0 * np.sin(minutes / 230.0 + n) + 3000.0).astype(int).tolist()
        at_ms = (to_ms(BEGIN) + minutes * 60_000).tolist()
        rows = [(series_id, at, value, None, 1) for at, value in zip(at_ms, values, strict=True)]
        with store.transaction() as tx:
            count += tx.reading_writer.append_rows(rows)
    return count


def best_s(*ways: Callable[[], object]) -> list[float]:
    """Processor time of each, the best of some runs taken in turn."""
    best = [np.inf] * len(ways)
    for _ in range(RUNS):
        for n, way in enumerate(ways):
            start = time.process_time()
            way()
            best[n] = min(best[n], time.process_time() - start)
    return best


def table() -> Iterator[str]:
    """One row: the season's rows, its hours, and what reading the one costs to the other."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/laidup.db"
        migrate(url)
        store = Store(url, "bench")
        rows = fill(store)
        start = time.process_time()
        make_due_hours(store, BEGIN + timedelta(days=DAYS + 1))
        made_s = time.process_time() - start
        span = (to_ms(BEGIN), to_ms(BEGIN + timedelta(days=DAYS)))

        def by_row() -> object:
            with store.snapshot() as tx:
                return tx.readings.traces_between([(SENSORS[0], each) for each in CHANNELS], *span)

        def by_hour() -> object:
            with store.snapshot() as tx:
                return tx.rollups.hours_between(SENSORS[:1], *span)

        hours = sum(trace.hour_ms.size for trace in by_hour().values())  # type: ignore[attr-defined]
        row_s, hour_s = best_s(by_row, by_hour)
        store.close()
    yield load_in_words()
    yield ""
    yield "| rows of one sensor | its hours | hours to rows | making all to reading all rows |"
    yield "|---|---|---|---|"
    yield (
        f"| {rows // len(SENSORS)} | {hours} | {hour_s / row_s:.4f} |"
        f" {made_s / (len(SENSORS) * row_s):.1f} |"
    )


def main() -> int:
    """Print the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    chosen = parser.parse_args()
    page(FILE if chosen.write else None, HEADING, table())
    return 0


if __name__ == "__main__":
    sys.exit(main())
