"""Cost of closing a day's tree and of a craft's proof, against reading the same rows once.

``python -m tests.bench.day_trees [--sensors 200] [--days 3]``: prints each as a ratio to the floor
in the same run, and the bytes that a day takes in the store and a season takes in a proof.
"""

import argparse
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import text

from monitor.clock import to_ms
from monitor.craft.canonical import canonical_bytes
from monitor.craft.signing_key import SigningKey
from monitor.store.closing_days import close_due_days
from monitor.store.migrate import migrate
from monitor.store.reading_rows import ReadingRow
from monitor.store.record_proof import SeasonProofs
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag

BEGIN = datetime(2026, 11, 4, tzinfo=UTC)
CHANNELS = (Channel.TEMPERATURE, Channel.HUMIDITY)


def filled_store(folder: Path, sensors: int, days: int) -> Store:
    """A store with a reading a minute of temperature and humidity of each sensor."""
    url = f"sqlite:///{folder / 'store.db'}"
    migrate(url)
    store = Store(url, "north")
    names = [f"post-{n}" for n in range(sensors)]
    with store.transaction() as tx:
        ids = tx.series.series_ids([(name, each) for name in names for each in CHANNELS])
    for name in names:
        rows = [
            ReadingRow(ids[name, each], to_ms(BEGIN) + minute * 60_000, minute, None, Flag.PASS)
            for each in CHANNELS
            for minute in range(days * 1440)
        ]
        with store.transaction() as tx:
            tx.reading_writer.append_rows(rows)
    return store


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sensors", type=int, default=200)
    parser.add_argument("--days", type=int, default=3)
    asked = parser.parse_args()
    with (
        TemporaryDirectory() as folder,
        closing(filled_store(Path(folder), asked.sensors, asked.days)) as store,
    ):
        began = time.process_time()
        with store.snapshot() as tx:
            rows = tx._connection.execute(text("SELECT * FROM readings")).all()
        floor = time.process_time() - began
        end = BEGIN + timedelta(days=asked.days, hours=2)
        began = time.process_time()
        closed = close_due_days(store, end)
        closing_s = time.process_time() - began
        with store.snapshot() as tx:
            size = tx._connection.scalar(text("SELECT sum(length(leaves)) FROM day_groups"))
            key = SigningKey.make_new()
            dates = [(BEGIN + timedelta(days=n)).date() for n in range(asked.days)]
            began = time.process_time()
            proofs = SeasonProofs(tx, "north", dates[0], dates[-1], key, end)
            shared_s = time.process_time() - began
            began = time.process_time()
            proof = proofs.proof_of("k1", {"post-7": dates}, ["shed"])
            proof_s = time.process_time() - began
    length = len(canonical_bytes(proof))
    print(f"{asked.sensors} sensors, {closed} days, {len(rows)} rows, read in {floor:.2f} s")
    print(f"closing: {closing_s / floor:.1f} x reading, {closing_s / closed:.2f} s a day")
    print(f"leaves: {size / closed / asked.sensors / 24:.0f} bytes an hour of a sensor")
    print(
        f"proofs: {shared_s / closed * 1000:.0f} ms a day shared, {proof_s / closed * 1000:.1f} ms"
        f" a day and craft; {length / closed * 150 / 1000:.0f} kB in 150 days of one sensor"
    )


if __name__ == "__main__":
    main()
