"""Readings from a file into the store, on the same way as those from the broker."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from monitor.clock import to_ms
from monitor.intake.batch import ASIDE_AGE, ASIDE_BYTES
from monitor.intake.decode import DecodedReading, Decoder
from monitor.intake.follow import enter_readings
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.table import Row, read_rows
from monitor.intake.trust import TimePolicy
from monitor.store.aside import KeptAside
from monitor.store.store import Store
from monitor.yard.space import Sensor

_AT_ONCE = 5000  # rows in one transaction: the daemon's own writes wait no longer than that takes
_TRIM_EVERY = 20_000  # kept aside; a file may be bad from end to end
_TOLD = 20


@dataclass(slots=True)
class Backfilled:
    """What a file brought."""

    rows: int = 0
    readings: int = 0  # in rows that could be read
    new: int = 0  # of them; the others were in the store already
    aside: int = 0
    contrary: int = 0  # readings kept aside because their time has another value in the store
    too_late: int = 0  # readings kept aside because raw ones of their time are in the archive
    complaints: list[str] = field(default_factory=list)  # the first twenty, with their lines


def file_decoder(sensors: Iterable[Sensor]) -> Decoder:
    """Decoder of a yard's files: readings of any age, of every sensor of the yard.

    A sensor's topic binds what comes from the broker. A file came on none: it is believed because a
    person of the yard gives it.
    """
    untied = [replace(sensor, topic="") for sensor in sensors]
    return Decoder(untied, TimePolicy(behind_s=float("inf")))


def import_readings_file(
    store: Store,
    decoder: Decoder,
    file: Path,
    now: datetime,
    progress: Callable[[Backfilled], None],
) -> Backfilled:
    """Take in a file of readings.

    A row that cannot be used is kept aside with its line number; the others are taken. The same
    file once more adds nothing.

    Parameters
    ----------
    store : Store
    decoder : Decoder
        As `file_decoder` makes it.
    file : Path
        CSV, see `monitor.intake.table`.
    now : datetime
        No reading may be later.
    progress : callable
        Called after each transaction with what there is so far.

    Raises
    ------
    ConfigurationError
        If the file cannot be read or its header is not known; then nothing is taken.
    """
    so_far = Backfilled()
    taken: list[DecodedReading] = []
    aside: list[tuple[Row, str]] = []
    untrimmed = 0
    message = ArrivedMessage(f"file {file.name}", b"", to_ms(now), False, 0, 0, 0)
    earliest_s, latest_s = decoder.clocks.believed_range(message.arrived_ms)

    def commit_batch() -> None:
        nonlocal untrimmed
        with store.transaction(can_wait=True) as tx:
            entered = enter_readings(tx, taken, now)
            tx.aside.keep_all(
                KeptAside(message.topic, reason, row.text.encode("utf-8", "surrogateescape"), now)
                for row, reason in aside
            )
            untrimmed += len(aside) + entered.contrary + entered.too_late
            if untrimmed >= _TRIM_EVERY:
                untrimmed = 0
                tx.aside.trim_to(ASIDE_BYTES, now - ASIDE_AGE)
        so_far.new += entered.new
        so_far.contrary += entered.contrary
        so_far.too_late += entered.too_late
        so_far.aside += len(aside)
        taken.clear()
        aside.clear()
        progress(so_far)

    for row in read_rows(file):
        so_far.rows += 1
        if row.records and not earliest_s <= row.records[0].at_s <= latest_s:
            row = row._replace(records=[], reason="at: before 1970, or in the future")
        readings, reason = decoder.decode_records(row.records, message)
        reason = row.reason or reason
        taken += readings
        so_far.readings += len(readings)
        if reason:
            reason = f"line {row.line}: {reason}"
            aside.append((row, reason))
            if len(so_far.complaints) < _TOLD:
                so_far.complaints.append(reason)
        if len(taken) + len(aside) >= _AT_ONCE:
            commit_batch()
    commit_batch()
    return so_far
