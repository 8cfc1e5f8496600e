"""What the store says of the watch: its faults, what came in last, what does not leave."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.clock import from_ms, to_ms
from monitor.store.outbox_reports import Trouble
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.forecast import ForecastAsking
from monitor.yard.health import IntakeFault
from monitor.yard.space import Yard

STUCK_AFTER = timedelta(minutes=10)  # messages that were tried and wait for so long do not leave


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreSeen:
    """What was read from the store at one moment."""

    at: datetime
    newest_reading_at: datetime | None = None
    judged_at: datetime | None = None
    silent: tuple[str, ...] = ()  # sensors
    intake_faults: tuple[IntakeFault, ...] = ()
    stuck: tuple[Trouble, ...] = ()
    forecast: ForecastAsking | None = None  # None: the yard asks no agency
    broken_records: tuple[str, ...] = ()  # what is broken of each craft whose chain does not hold


def read_store(store: Store, yard: Yard, now: datetime, agency: str | None) -> StoreSeen:
    """Read what the store says; its cost grows neither with the craft nor with the seasons.

    Parameters
    ----------
    store : Store
    yard : Yard
    now : datetime
    agency : str or None
        Whose public forecast the yard asks for.

    Raises
    ------
    StoreError
        If the store gives nothing.
    """
    known = {sensor.name for sensor in yard.sensors}
    with store.snapshot() as tx:
        # What is dated in the future says nothing of when the last one came.
        newest_ms = tx.yard_readings.newest_at_ms(known, to_ms(now))
        watch = tx.assessments.watch_seen()
        return StoreSeen(
            at=now,
            newest_reading_at=None if newest_ms is None else from_ms(newest_ms),
            judged_at=watch.at,
            silent=watch.silent,
            intake_faults=tuple(tx.intake_faults.standing_faults().values()),
            stuck=_stuck_messages(tx, now),
            forecast=None if agency is None else tx.forecasts.asking_of(agency),
            broken_records=tuple(tx.layup.breaks.break_words().values()),
        )


def _stuck_messages(tx: Transaction, now: datetime) -> tuple[Trouble, ...]:
    """Channels that take nothing; one person's address is told of by an alarm of its own."""
    found = tx.outbox.channel_trouble(now - STUCK_AFTER, now)
    return tuple(one for one in found if not one.person and not one.takes_others)
