"""Whose clock is wrong: written by intake, which compares them, and read by whoever tells it."""

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select, update

from monitor.clock import from_ms, to_ms
from monitor.store.tables import sensor_clocks


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
