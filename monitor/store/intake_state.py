"""What intake keeps of its own way: faults of it, sensors' wrong clocks, the broker's session."""

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select, update

from monitor.clock import from_ms, to_ms
from monitor.store.tables import intake_faults, sensor_clocks, session_names
from monitor.yard.health import IntakeFault, IntakeFaultKind

_COUNTER = "broker's counter"  # no fault: how many drops the broker had counted when last heard


class IntakeFaults:
    """The faults of one yard's way in; what is right has no row."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def standing_faults(self) -> dict[IntakeFaultKind, IntakeFault]:
        """Faults that stand."""
        rows = self._connection.execute(
            select(intake_faults).where(
                intake_faults.c.yard_id == self._yard_id, intake_faults.c.kind != _COUNTER
            )
        )
        faults = [
            IntakeFault(
                kind=IntakeFaultKind(row.kind),
                amount=row.amount,
                since=from_ms(row.since_ms),
                last_at=from_ms(row.last_ms),
            )
            for row in rows
        ]
        return {fault.kind: fault for fault in faults}

    def note_fault(self, kind: IntakeFaultKind, amount: float, at: datetime) -> None:
        """Note a fault, or that it has changed; since when it has been there stays."""
        self._put(kind, amount, at)

    def count_more(self, kind: IntakeFaultKind, more: float, at: datetime) -> None:
        """Count further cases of a fault; those of one that was over are counted anew."""
        known = self.standing_faults().get(kind)
        if known is not None and not known.is_current(at):
            self.clear_fault(kind)
            known = None
        self.note_fault(kind, more + (known.amount if known else 0.0), at)

    def clear_fault(self, kind: IntakeFaultKind) -> None:
        """Forget a fault that has been mended."""
        self._connection.execute(
            delete(intake_faults).where(
                intake_faults.c.yard_id == self._yard_id, intake_faults.c.kind == kind
            )
        )

    def broker_counter(self) -> int | None:
        """How many drops the broker had counted when it was last heard; None: never heard."""
        found = self._connection.scalar(
            select(intake_faults.c.amount).where(
                intake_faults.c.yard_id == self._yard_id, intake_faults.c.kind == _COUNTER
            )
        )
        return None if found is None else int(found)

    def keep_broker_counter(self, count: int, at: datetime) -> None:
        """Keep what the broker has counted, to see growth over restarts of laidup."""
        self._put(_COUNTER, count, at)

    def _put(self, kind: str, amount: float, at: datetime) -> None:
        changed = self._connection.execute(
            update(intake_faults)
            .where(intake_faults.c.yard_id == self._yard_id, intake_faults.c.kind == kind)
            .values(amount=amount, last_ms=to_ms(at))
        )
        if not changed.rowcount:
            self._connection.execute(
                insert(intake_faults).values(
                    yard_id=self._yard_id,
                    kind=kind,
                    amount=amount,
                    since_ms=to_ms(at),
                    last_ms=to_ms(at),
                )
            )


class WrongClock(NamedTuple):
    """One sensor's clock."""

    ahead_s: float  # negative: behind
    since: datetime  # when it was first seen to be wrong


class SensorClocks:
    """The wrong clocks of one yard's sensors; one that is right has no row."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def wrong_clocks(self) -> dict[str, WrongClock]:
        """Clocks that are wrong, by their sensor's name."""
        rows = self._connection.execute(
            select(sensor_clocks).where(sensor_clocks.c.yard_id == self._yard_id)
        )
        return {row.sensor: WrongClock(row.ahead_s, from_ms(row.since_ms)) for row in rows}

    def note_clocks(self, news: Mapping[str, float | None], at: datetime) -> None:
        """Note by how much clocks are ahead [s], or None for one that is right again."""
        known = self.wrong_clocks() if news else {}
        for sensor, ahead_s in news.items():
            its = (sensor_clocks.c.yard_id == self._yard_id, sensor_clocks.c.sensor == sensor)
            if ahead_s is None:
                self._connection.execute(delete(sensor_clocks).where(*its))
            elif sensor in known:
                self._connection.execute(update(sensor_clocks).where(*its).values(ahead_s=ahead_s))
            else:
                self._connection.execute(
                    insert(sensor_clocks).values(
                        yard_id=self._yard_id, sensor=sensor, ahead_s=ahead_s, since_ms=to_ms(at)
                    )
                )


class SessionNames:
    """The session of one yard at its broker, where it is not named by the yard's id.

    All yards once had the same name. One that had it goes on with it: under another it would never
    be given what waits in the broker.
    """

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def earlier_client_id(self) -> str | None:
        """Client id that the yard has had since before it was made of its id; None: it had none."""
        return self._connection.scalar(
            select(session_names.c.client_id).where(session_names.c.yard_id == self._yard_id)
        )
