"""What the broker says of messages that it threw away, and its growth kept in the store."""

import logging
from datetime import datetime, timedelta

from monitor.store.store import Store
from monitor.yard.health import IntakeFaultKind

log = logging.getLogger("laidup.intake")

# Where mosquitto, and brokers that follow it, count what they dropped for full queues. Others have
# no such topic, or let nobody read it: then nothing is known, and that is no fault.
DROPPED_TOPIC = "$SYS/broker/publish/messages/dropped"
_ONE_FAULT = timedelta(hours=24)  # drops no further apart than this are told as one
_LONGEST = 18  # digits


class DropWatch:
    """Notices that the broker has dropped messages, also while laidup was away."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._heard: int | None = None
        self._kept: int | None = None

    def read_count(self, payload: bytes) -> None:
        """Take up what the broker has counted since its start. Any thread may call this."""
        if payload.isdigit() and len(payload) <= _LONGEST:
            self._heard = int(payload)

    def store_growth(self, now: datetime) -> None:
        """Note growth in the store; a broker that counts less than before has started anew.

        Raises
        ------
        StoreError
            If the store takes nothing; then it is tried again at the next call.
        """
        heard = self._heard
        if heard is None or heard == self._kept:
            return
        kind = IntakeFaultKind.BROKER_DROPS
        with self._store.transaction() as tx:
            before = tx.intake_faults.broker_counter()
            tx.intake_faults.keep_broker_counter(heard, now)
            # What it had dropped before laidup ever heard it was not laidup's.
            grown = 0 if before is None else heard - before if heard >= before else heard
            if grown:
                known = tx.intake_faults.standing_faults().get(kind)
                if known is not None and now - known.last_at >= _ONE_FAULT:
                    tx.intake_faults.clear_fault(kind)  # that one was over: count anew
                    known = None
                tx.intake_faults.note_fault(kind, grown + (known.amount if known else 0), now)
        self._kept = heard
        if grown:
            log.warning(
                "The broker has dropped %d messages: raise its max_queued_messages, as"
                " deploy/mosquitto/keeping.conf does.",
                grown,
            )
