"""Readings of all series of a yard at once: the newest of each, and how many there are."""

from collections.abc import Container
from typing import Any

from sqlalchemy import Connection, Select, func, select

from monitor.store.landing import Landing
from monitor.store.reading_rows import reading_of_row
from monitor.store.series import SeriesKey, YardSeries
from monitor.store.statements import in_batches
from monitor.store.tables import landed_readings, readings, series
from monitor.yard.reading import Reading

_NEWEST_LOOKED_AT = 100  # readings of sensors that are no longer in the yard's file are few


class YardReadings:
    """The readings that the store holds of one yard, whatever their series."""

    def __init__(
        self, connection: Connection, yard_id: int, known: YardSeries, landing: Landing
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._series = known
        self._landing = landing

    def latest_readings(self) -> dict[SeriesKey, Reading]:
        """Newest reading of every series, whatever its flag."""
        newest = {row.series_id: row for row in self._connection.execute(self._newest_settled())}
        newest.pop(None, None)  # series that have none there
        newest |= {row.series_id: row for row in self._connection.execute(self._newest_landed())}
        return {
            (sensor, channel): reading_of_row(sensor, channel, newest[series_id])
            for (sensor, channel), series_id in self._series.known_series().items()
            if series_id in newest
        }

    def newest_at_ms(self, sensors: Container[str], until_ms: int) -> int | None:
        """Time of the newest reading of any of these sensors up to a moment [ms].

        While readings come, it is found at the end of the table that they land in, whatever the
        number of sensors.
        """
        landed = (
            select(landed_readings.c.at_ms, series.c.sensor)
            .join_from(
                landed_readings,
                series,
                (series.c.yard_id == landed_readings.c.yard_id)
                & (series.c.series_id == landed_readings.c.series_id),
            )
            .where(landed_readings.c.yard_id == self._yard_id, landed_readings.c.at_ms <= until_ms)
            .order_by(landed_readings.c.at_ms.desc())
            .limit(_NEWEST_LOOKED_AT)
        )
        for row in self._connection.execute(landed):
            if row.sensor in sensors:
                return int(row.at_ms)
        times = (
            one.at_ms
            for (sensor, _), one in self.latest_readings().items()
            if sensor in sensors and one.at_ms <= until_ms
        )
        return max(times, default=None)

    def _newest_settled(self) -> Select[Any]:
        one = readings.alias()
        # For each series a look at the end of its part of the index; a GROUP BY would go through
        # every reading of the season.
        newest_ms = (
            select(func.max(one.c.at_ms))
            .where(one.c.yard_id == series.c.yard_id, one.c.series_id == series.c.series_id)
            .scalar_subquery()
        )
        same = (
            (readings.c.yard_id == series.c.yard_id)
            & (readings.c.series_id == series.c.series_id)
            & (readings.c.at_ms == newest_ms)
        )
        return (
            select(readings)
            .join_from(series, readings, same, isouter=True)  # else SQLite begins with readings
            .where(series.c.yard_id == self._yard_id)
        )

    def _newest_landed(self) -> Select[Any]:
        one = landed_readings.alias()
        newest = (
            select(one.c.series_id, func.max(one.c.at_ms).label("at_ms"))
            .where(one.c.yard_id == self._yard_id)
            .group_by(one.c.series_id)
            .subquery()
        )
        same = (landed_readings.c.series_id == newest.c.series_id) & (
            landed_readings.c.at_ms == newest.c.at_ms
        )
        return (
            select(landed_readings)
            .join_from(landed_readings, newest, same)
            .where(landed_readings.c.yard_id == self._yard_id)
        )

    def count_between(self, from_ms: int, to_ms: int) -> int:
        """How many readings the store holds with ``from_ms <= at < to_ms``."""
        count = 0
        ids = list(self._series.known_series().values())
        for table, since_ms, until_ms in self._landing.spans_by_table(from_ms, to_ms):
            # Series by series, as the key of most is led.
            for some in [[one] for one in ids] if table is readings else in_batches(ids):
                within = (table.c.at_ms >= since_ms, table.c.at_ms < until_ms)
                counted = select(func.count()).where(
                    table.c.yard_id == self._yard_id, table.c.series_id.in_(some), *within
                )
                count += self._connection.scalar(counted) or 0
        return count

    def count_readings(self) -> int:
        """How many readings the yard has stored."""
        return sum(
            self._connection.scalar(select(func.count()).where(table.c.yard_id == self._yard_id))
            or 0
            for table in (readings, landed_readings)
        )
