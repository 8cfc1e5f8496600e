"""Series of one yard: a sensor's one channel, its number in the store, and what it promised."""

from collections.abc import Collection, Mapping

from sqlalchemy import Connection, bindparam, insert, select, update

from monitor.store.tables import series
from monitor.yard.reading import Channel

SeriesKey = tuple[str, Channel]  # a sensor's name and one of its channels


class YardSeries:
    """The series of one yard, on one connection. A reading is keyed by its series' id and time."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def known_series(self) -> dict[SeriesKey, int]:
        """Ids of all series that ever had a reading."""
        rows = self._connection.execute(
            select(series.c.sensor, series.c.channel, series.c.series_id).where(
                series.c.yard_id == self._yard_id
            )
        )
        return {(row.sensor, Channel(row.channel)): row.series_id for row in rows}

    def series_ids(self, keys: Collection[SeriesKey]) -> dict[SeriesKey, int]:
        """Ids of the named series; those not yet known are entered."""
        known = self.known_series()
        new = [key for key in dict.fromkeys(keys) if key not in known]
        first = max(known.values(), default=0) + 1
        known.update((key, series_id) for series_id, key in enumerate(new, start=first))
        if new:
            self._connection.execute(
                insert(series),
                [
                    {
                        "yard_id": self._yard_id,
                        "series_id": known[key],
                        "sensor": key[0],
                        "channel": key[1],
                    }
                    for key in new
                ],
            )
        return {key: known[key] for key in keys}

    def series_of(self, sensor: str) -> dict[Channel, int]:
        """Ids of a sensor's series by channel."""
        known = self.known_series().items()
        return {channel: series_id for (name, channel), series_id in known if name == sensor}

    def series_by_sensor(self) -> dict[str, dict[Channel, int]]:
        """Ids of all series that ever had a reading, by sensor and channel."""
        found: dict[str, dict[Channel, int]] = {}
        for (sensor, channel), series_id in self.known_series().items():
            found.setdefault(sensor, {})[channel] = series_id
        return found

    def keep_promises(self, promises: Mapping[int, float]) -> None:
        """Keep how soon each series' next reading is promised [s], by the series' id."""
        if promises:
            self._connection.execute(
                update(series)
                .where(
                    series.c.yard_id == self._yard_id, series.c.series_id == bindparam("promised")
                )
                .values(update_s=bindparam("within")),
                [{"promised": one, "within": within} for one, within in promises.items()],
            )

    def promised_s(self) -> dict[SeriesKey, float]:
        """How soon the next reading of a series is promised [s]; absent where it is not."""
        rows = self._connection.execute(
            select(series.c.sensor, series.c.channel, series.c.update_s).where(
                series.c.yard_id == self._yard_id, series.c.update_s.is_not(None)
            )
        )
        return {(row.sensor, Channel(row.channel)): row.update_s for row in rows}
