"""Faults of the way in: written by intake, read by whoever tells of them."""

from datetime import datetime

from sqlalchemy import Connection, delete, insert, select, update

from monitor.clock import from_ms, to_ms
from monitor.store.tables import intake_faults
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
