"""Hourly rollups of readings: kept for ever, made once an hour is over, anew where it changed.

An hour that is not made yet (`monitor/store/stale_hours.py`) is worked out of its readings when
somebody asks for it, so whoever reads gets the same figures however far the making has come.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import datetime

from sqlalchemy import Connection, bindparam, delete, func, insert, select

from monitor.clock import to_ms
from monitor.store.dropped_months import DroppedMonths
from monitor.store.readings import Readings
from monitor.store.series import SeriesKey, YardSeries
from monitor.store.stale_hours import StaleHours, hour_of, hours_changed_by
from monitor.store.statements import in_batches
from monitor.store.tables import rollups
from monitor.yard.hourly import (
    HOUR_MS,
    MINUTE_MS,
    REACH_MS,
    HourlyTrace,
    HourOfReadings,
    as_trace,
    hours_of_sensor,
)
from monitor.yard.reading import Channel

CHANNELS = (Channel.TEMPERATURE, Channel.HUMIDITY)
_LATE_MS = 10 * MINUTE_MS  # readings seldom come later: an hour is made once, not twice
_STEP_MS = 31 * 24 * HOUR_MS  # of a history that has none yet, entered in one transaction
_AT_ONCE = 200  # hours that one transaction makes: intake waits for it

# Built once: a report asks for the hours of many series.
_STRETCH = (
    select(*(rollups.c[name] for name in HourOfReadings._fields))
    .where(
        rollups.c.yard_id == bindparam("yard"),
        rollups.c.series_id == bindparam("series"),
        rollups.c.hour_ms >= bindparam("from"),
        rollups.c.hour_ms < bindparam("to"),
    )
    .order_by(rollups.c.hour_ms)
)


class Rollups:
    """The hours of one yard's sensors: temperature and humidity."""

    def __init__(
        self,
        connection: Connection,
        yard_id: int,
        known: YardSeries,
        readings_: Readings,
        stale: StaleHours,
        dropped: DroppedMonths,
    ) -> None:
        self._connection = connection
        self._dropped = dropped
        self._yard_id = yard_id
        self._series = known
        self._readings = readings_
        self._stale = stale

    def hours_between(
        self, sensors: Collection[str], from_ms: int, to_ms: int
    ) -> dict[SeriesKey, HourlyTrace]:
        """Temperature and humidity of sensors, hour by hour.

        Parameters
        ----------
        sensors : collection of str
        from_ms, to_ms : int
            Hours that begin in ``from_ms <= at < to_ms`` are told. Where ``from_ms`` is no full
            hour of UTC, as midnight in some zones, they begin with it, and all of them are worked
            out of their readings.

        Returns
        -------
        dict
            A trace for each sensor and channel, empty where nothing is known.
        """
        mark_ms = self._stale.mark_ms()
        uneven = from_ms % HOUR_MS
        made_until = from_ms if mark_ms is None or uneven else max(from_ms, min(mark_ms, to_ms))
        series = self._series.known_series()
        stale = _hours_by_sensor(self._stale.stale_hours(), series)
        found: dict[SeriesKey, HourlyTrace] = {}
        for sensor in sensors:
            to_make = {hour for hour in stale.get(sensor, ()) if from_ms <= hour < made_until}
            if uneven:
                to_make = set(range(from_ms, to_ms, HOUR_MS))
            else:
                to_make |= self._hours_that_readings_tell(sensor, series, made_until, to_ms)
            fresh = self._work_out(sensor, sorted(to_make))
            for channel in CHANNELS:
                rows = self._made(series.get((sensor, channel)), from_ms, made_until)
                if to_make:
                    others = [row for row in rows if row[0] not in to_make]
                    rows = sorted([*others, *fresh[channel]], key=_beginning)
                found[sensor, channel] = as_trace(channel, rows)
        return found

    def advance_mark(self, now: datetime) -> bool:
        """Move the mark to the last hour that is surely over, and have the hours before it made.

        Returns
        -------
        bool
            Whether it got there: a long history is taken month by month.
        """
        mark_ms = self._stale.mark_ms()
        # What comes now cannot change what lies before the goal.
        goal_ms = max(hour_of(to_ms(now) - _LATE_MS) - REACH_MS, self._dropped.rollups_from_ms)
        if mark_ms is not None and goal_ms <= mark_ms:
            if goal_ms < mark_ms:  # the clock was set back: later hours are no longer over
                self._stale.set_mark(goal_ms)
            return True
        series = self._series.known_series()
        since_ms = self._oldest_reading_ms(series, mark_ms)
        if since_ms is None:
            self._stale.set_mark(goal_ms)
            return True
        begin_ms = max(hour_of(since_ms) - REACH_MS, self._dropped.rollups_from_ms)
        begin_ms = begin_ms if mark_ms is None else max(begin_ms, mark_ms)
        until_ms = max(min(goal_ms, begin_ms + _STEP_MS), begin_ms)
        self._have_made(series, begin_ms, until_ms)
        self._stale.set_mark(until_ms)
        return until_ms >= goal_ms

    def have_made_since(self, since: datetime) -> None:
        """Have every hour from a time up to the mark made anew, whatever is noted of it."""
        mark_ms = self._stale.mark_ms()
        if mark_ms is not None:
            begin_ms = max(hour_of(to_ms(since)), self._dropped.rollups_from_ms)
            self._have_made(self._series.known_series(), begin_ms, mark_ms)

    def make_some(self) -> bool:
        """Make hours that are to be made, a bounded number of them; False once none is left."""
        some = self._stale.stale_hours(_AT_ONCE)
        series = self._series.known_series()
        for sensor, hours_ms in _hours_by_sensor(some, series).items():
            self._replace(sensor, sorted(hours_ms), series)
        self._stale.forget_hours(some)
        return len(some) == _AT_ONCE

    def are_made(self, until_ms: int) -> bool:
        """Whether every hour before a time is made, of its readings as they are."""
        mark_ms = self._stale.mark_ms()
        if mark_ms is None or mark_ms < until_ms:
            return False
        return not any(hour_ms < until_ms for _, hour_ms in self._stale.stale_hours())

    def any_due(self) -> bool:
        """Whether there are hours that are to be made."""
        return bool(self._stale.stale_hours(1))

    def clear_hours(self) -> None:
        """Throw hours away; `advance_mark` and `make_some` make them again of the readings.

        Those whose readings were dropped stay: they were held against them before.
        """
        from_ms = self._dropped.rollups_from_ms
        own = (rollups.c.yard_id == self._yard_id, rollups.c.hour_ms >= from_ms)
        self._connection.execute(delete(rollups).where(*own))
        self._stale.forget_hours()
        self._stale.set_mark(from_ms or None)

    def count_hours(self) -> int:
        """How many hours of series are kept."""
        kept = select(func.count()).select_from(rollups).where(rollups.c.yard_id == self._yard_id)
        return int(self._connection.scalar(kept) or 0)

    def _have_made(self, series: dict[SeriesKey, int], from_ms: int, to_ms: int) -> None:
        """Enter every hour of a stretch of which readings tell something, once a sensor."""
        for sensor in dict.fromkeys(sensor for sensor, _ in series):
            of_sensor = next(
                (series[sensor, one] for one in CHANNELS if (sensor, one) in series), 0
            )
            hours = self._hours_that_readings_tell(sensor, series, from_ms, to_ms)
            self._stale.enter_hours((of_sensor, hour_ms) for hour_ms in hours)

    def _replace(self, sensor: str, hours_ms: Sequence[int], series: dict[SeriesKey, int]) -> None:
        made = self._work_out(sensor, hours_ms)
        for channel in CHANNELS:
            series_id = series.get((sensor, channel))
            if series_id is None:
                continue
            for some in in_batches(hours_ms):
                self._connection.execute(
                    delete(rollups).where(
                        rollups.c.yard_id == self._yard_id,
                        rollups.c.series_id == series_id,
                        rollups.c.hour_ms.in_(some),
                    )
                )
            own = {"yard_id": self._yard_id, "series_id": series_id}
            rows = [own | one._asdict() for one in made[channel]]
            if rows:
                self._connection.execute(insert(rollups), rows)

    def _work_out(
        self, sensor: str, hours_ms: Sequence[int]
    ) -> dict[Channel, list[HourOfReadings]]:
        """Hours of a sensor, in order, out of its readings; hours in a row are read at once."""
        made: dict[Channel, list[HourOfReadings]] = {channel: [] for channel in CHANNELS}
        for run in _runs(hours_ms):
            traces = self._readings.traces_between(
                [(sensor, channel) for channel in CHANNELS],
                run[0] - REACH_MS,
                run[-1] + HOUR_MS + REACH_MS,
            )
            air, damp = (traces[sensor, channel] for channel in CHANNELS)
            for channel, hours in hours_of_sensor(air, damp, run).items():
                made[channel] += hours
        return made

    def _made(
        self, series_id: int | None, from_ms: int, to_ms: int
    ) -> list[Sequence[float | None]]:
        if series_id is None or from_ms >= to_ms:
            return []
        bounds = {"yard": self._yard_id, "series": series_id, "from": from_ms, "to": to_ms}
        # Plain tuples: numpy asks rows for attributes that they lack, ten times the work.
        return list(map(tuple, self._connection.execute(_STRETCH, bounds).all()))

    def _hours_that_readings_tell(
        self, sensor: str, series: dict[SeriesKey, int], from_ms: int, to_ms: int
    ) -> set[int]:
        """Hours in a stretch of which the readings of a sensor may tell something."""
        hours: set[int] = set()
        for channel in CHANNELS:
            if from_ms < to_ms and (sensor, channel) in series:
                hours |= self._readings.hours_read(
                    series[sensor, channel], from_ms - REACH_MS, to_ms + REACH_MS
                )
        touched = {each for hour_ms in hours for each in hours_changed_by(hour_ms)}
        return {hour_ms for hour_ms in touched if from_ms <= hour_ms < to_ms}

    def _oldest_reading_ms(self, series: dict[SeriesKey, int], mark_ms: int | None) -> int | None:
        """Time of the oldest reading that tells something of the hours behind the mark."""
        from_ms = None if mark_ms is None else mark_ms - REACH_MS
        if self._dropped.before_ms is not None:
            from_ms = max(from_ms or 0, self._dropped.before_ms)
        times = [
            self._readings.oldest_ms(series_id, from_ms)
            for (_, channel), series_id in series.items()
            if channel in CHANNELS
        ]
        return min((one for one in times if one is not None), default=None)


def _beginning(row: Sequence[float | None]) -> float:
    return row[0] or 0.0


def _hours_by_sensor(
    hours: Iterable[tuple[int, int]], series: dict[SeriesKey, int]
) -> dict[str, set[int]]:
    """Hours of series as hours of their sensors: what is wet rests on both channels."""
    names = {series_id: sensor for (sensor, _), series_id in series.items()}
    found: dict[str, set[int]] = {}
    for series_id, hour_ms in hours:
        found.setdefault(names[series_id], set()).add(hour_ms)
    return found


def _runs(hours_ms: Sequence[int]) -> Iterator[Sequence[int]]:
    """Hours in order, cut where one does not follow on the other."""
    first = 0
    for n in range(1, len(hours_ms) + 1):
        if n == len(hours_ms) or hours_ms[n] - hours_ms[n - 1] > HOUR_MS:
            yield hours_ms[first:n]
            first = n
