"""How much room the store's disk had, hour by hour: by that it is seen to fill up."""

from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, insert, select

from monitor.clock import to_ms
from monitor.store.tables import room_samples

_KEPT = timedelta(days=7)
_LEAST = timedelta(days=2)  # a day's rhythm of other programs' files must not pass for a trend
_MS_PER_DAY = 86_400_000


class RoomSamples:
    """Free room on the disk of one yard's store."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def add(self, at: datetime, free_bytes: int) -> None:
        """Keep what is free now; samples older than a week go."""
        of_yard = room_samples.c.yard_id == self._yard_id
        kept_from = to_ms(at - _KEPT)
        self._connection.execute(
            # What lies ahead was written by a clock that ran ahead.
            delete(room_samples).where(
                of_yard, (room_samples.c.at_ms < kept_from) | (room_samples.c.at_ms >= to_ms(at))
            )
        )
        self._connection.execute(
            insert(room_samples).values(
                yard_id=self._yard_id, at_ms=to_ms(at), free_bytes=free_bytes
            )
        )

    def shrinks_bytes_a_day(self, now: datetime, free_bytes: int) -> float | None:
        """By how much the room got less a day since the oldest sample; negative where it grew.

        None where less than two days are known.
        """
        oldest = self._connection.execute(
            select(room_samples.c.at_ms, room_samples.c.free_bytes)
            .where(room_samples.c.yard_id == self._yard_id)
            .order_by(room_samples.c.at_ms)
            .limit(1)
        ).one_or_none()
        if oldest is None or to_ms(now) - oldest.at_ms < _LEAST / timedelta(milliseconds=1):
            return None
        days: float = (to_ms(now) - oldest.at_ms) / _MS_PER_DAY
        return (int(oldest.free_bytes) - free_bytes) / days
