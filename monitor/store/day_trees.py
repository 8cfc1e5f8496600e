"""The trees of days: leaves of what was read, what alarms did, what letters went; add-only."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date, timedelta
from hashlib import sha256
from itertools import groupby
from typing import Any, NamedTuple

from sqlalchemy import Connection, func, insert, select

from monitor.clock import from_ms
from monitor.craft.canonical import canonical_bytes, utc_text
from monitor.store.landing import Landing
from monitor.store.readings import Readings
from monitor.store.statements import in_batches
from monitor.store.tables import (
    alarm_events,
    alarms,
    day_groups,
    landed_readings,
    outbox,
    readings,
    series,
)
from monitor.yard.day_leaves import (
    ALARM,
    HOUR,
    LETTER,
    DayGroup,
    ReadingSteps,
    unpack_leaves,
)
from monitor.yard.hourly import HOUR_MS
from monitor.yard.message import MessageKind
from monitor.yard.reading import Channel

DAY_MS = 24 * HOUR_MS
_ROWS = ("series_id", "at_ms", "value", "raw", "flag")


class FoldedGroup(NamedTuple):
    """A group of a day's leaves without them."""

    n: int
    about: str  # of what, canonical JSON
    size: int
    root: str


class DayTrees:
    """Groups of leaves of one yard's days, and the rows that they are made of."""

    def __init__(
        self, connection: Connection, yard_id: int, readings_: Readings, landing: Landing
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._readings = readings_
        self._landing = landing

    def add_day(self, day: date, groups: Sequence[DayGroup]) -> None:
        """Keep a day's groups, in the order of its tree."""
        rows = [
            {
                "yard_id": self._yard_id,
                "day": day.isoformat(),
                "n": n,
                "about": canonical_bytes(list(one.of)).decode(),
                "size": one.size,
                "root": one.root,
                "leaves": one.packed,
            }
            for n, one in enumerate(groups)
        ]
        for some in in_batches(rows, 500):
            self._connection.execute(insert(day_groups), list(some))

    def folded_groups(self, since: date, until: date) -> dict[str, list[FoldedGroup]]:
        """Every group of the days ``since <= day <= until``, in the order of each day's tree."""
        rows = self._connection.execute(
            select(*(day_groups.c[name] for name in ("day", "n", "about", "size", "root")))
            .where(
                day_groups.c.yard_id == self._yard_id,
                day_groups.c.day >= since.isoformat(),
                day_groups.c.day <= until.isoformat(),
            )
            .order_by(day_groups.c.day, day_groups.c.n)
        )
        found: dict[str, list[FoldedGroup]] = {}
        for day, *group in rows:
            found.setdefault(day, []).append(FoldedGroup(*group))
        return found

    def group_leaves(self, day: str, numbers: Sequence[int]) -> dict[int, tuple[list[Any], ...]]:
        """Leaves of some groups of a day, by their number."""
        rows = self._connection.execute(
            select(day_groups.c.n, day_groups.c.leaves).where(
                day_groups.c.yard_id == self._yard_id,
                day_groups.c.day == day,
                day_groups.c.n.in_(numbers),
            )
        )
        return {n: unpack_leaves(packed) for n, packed in rows}

    def leaves_of_sensor(self, sensor: str, channels: Sequence[Channel]) -> list[list[Any]]:
        """Every leaf of the hours of a sensor, in the order of the days they stand in."""
        about = canonical_bytes([HOUR, sensor, [str(one) for one in channels]]).decode()
        rows = self._connection.scalars(
            select(day_groups.c.leaves)
            .where(day_groups.c.yard_id == self._yard_id, day_groups.c.about == about)
            .order_by(day_groups.c.day)
        )
        return [leaf for packed in rows for leaf in unpack_leaves(packed)]

    def oldest_reading_ms(self) -> int | None:
        """Time of the oldest reading of the yard that is in the store; None if none is."""
        known = self._connection.scalars(
            select(series.c.series_id).where(series.c.yard_id == self._yard_id)
        ).all()
        times = [
            self._connection.scalar(
                select(func.min(table.c.at_ms)).where(
                    table.c.yard_id == self._yard_id, table.c.series_id == one
                )
            )
            for one in known
            for table in (readings, landed_readings)
        ]
        return min((at_ms for at_ms in times if at_ms is not None), default=None)

    def hours_of_series(
        self, series_ids: Collection[int], since_ms: int, until_ms: int
    ) -> dict[int, dict[int, list[ReadingSteps]]]:
        """Readings ``since <= at < until`` by series and beginning of their hour, in order."""
        found: dict[int, dict[int, list[ReadingSteps]]] = {}
        for table, first_ms, end_ms in self._landing.spans_by_table(since_ms, until_ms):
            columns = [table.c[name] for name in _ROWS]
            within = (table.c.at_ms >= first_ms, table.c.at_ms < end_ms)
            own = table.c.yard_id == self._yard_id
            if table is readings:  # led by the series: one after the other
                asked: Iterable[Collection[int]] = ([one] for one in sorted(series_ids))
            else:
                asked = in_batches(sorted(series_ids))
            for some in asked:
                rows = self._connection.execute(
                    select(*columns)
                    .where(own, table.c.series_id.in_(some), *within)
                    .order_by(table.c.series_id, table.c.at_ms)
                )
                for series_id, at_ms, value, raw, flag in rows:
                    hours = found.setdefault(series_id, {})
                    hour_ms = at_ms - at_ms % HOUR_MS
                    hours.setdefault(hour_ms, []).append(ReadingSteps(at_ms, value, raw, flag))
        return found

    def alarm_groups(self, since_ms: int, until_ms: int) -> Iterator[DayGroup]:
        """What became of alarms in a time, by space and craft."""
        rows = self._connection.execute(
            select(
                *(alarms.c.space, alarms.c.craft, alarm_events.c.alarm_id, alarm_events.c.n),
                *(alarm_events.c.at_ms, alarms.c.cause, alarms.c.part),
                *(alarm_events.c.before, alarm_events.c.after, alarm_events.c.by),
            )
            .join(
                alarms,
                (alarms.c.yard_id == alarm_events.c.yard_id)
                & (alarms.c.alarm_id == alarm_events.c.alarm_id),
            )
            .where(
                alarm_events.c.yard_id == self._yard_id,
                alarm_events.c.at_ms >= since_ms,
                alarm_events.c.at_ms < until_ms,
            )
            .order_by(alarms.c.space, alarms.c.craft, alarm_events.c.alarm_id, alarm_events.c.n)
        )
        for (space, craft), of_one in groupby(map(tuple, rows), lambda row: row[:2]):
            leaves = [
                [alarm_id, n, utc_text(from_ms(at_ms)), *said]
                for _, _, alarm_id, n, at_ms, *said in of_one
            ]
            yield DayGroup.over_leaves((ALARM, space, craft), leaves)

    def letter_groups(self, since_ms: int, until_ms: int) -> Iterator[DayGroup]:
        """Letters that were written in a time, by person; of what they say, the digest."""
        columns = ("person", "key", "created_ms", "channel", "kind", "subject", "text")
        rows = self._connection.execute(
            select(*(outbox.c[name] for name in columns))
            .where(
                outbox.c.yard_id == self._yard_id,
                outbox.c.created_ms >= since_ms,
                outbox.c.created_ms < until_ms,
                # Its link is a secret, and goes once the letter has.
                outbox.c.kind != str(MessageKind.SIGN_IN),
            )
            .order_by(outbox.c.person, outbox.c.created_ms, outbox.c.key)
        )
        for person, of_one in groupby(map(tuple, rows), lambda row: row[0]):
            leaves = [
                [key, utc_text(from_ms(at_ms)), channel, kind, _digest(subject, text)]
                for _, key, at_ms, channel, kind, subject, text in of_one
            ]
            yield DayGroup.over_leaves((LETTER, person), leaves)


def day_bounds(day: date) -> tuple[int, int]:
    """Beginning and end of a day of UTC [ms]."""
    begin_ms = (day - date(1970, 1, 1)).days * DAY_MS
    return begin_ms, begin_ms + DAY_MS


def day_of(at_ms: int) -> date:
    """The day of UTC in which a time lies."""
    return date(1970, 1, 1) + timedelta(days=at_ms // DAY_MS)


def _digest(subject: str, text: str) -> str:
    return sha256(canonical_bytes([subject, text])).hexdigest()
