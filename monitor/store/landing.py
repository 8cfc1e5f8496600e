"""Which of two tables holds a reading: the one that new readings land in, or the one for ever.

`readings` is led by the series, so that a season of one is read in a row; but readings that come
together then change a page each. `landed_readings` is led by the time: they change one page, and
once an hour move on in bulk, some sixty of a series to a page. A mark parts the two: readings
before it are in the first, all others in the second. So each is in one table, a repeat meets the
one that is there, and whoever reads up to the mark reads one table as before.
"""

from collections.abc import Collection, Iterator

from sqlalchemy import Connection, Table, delete, func, select, text

from monitor.store.statements import YardMark
from monitor.store.tables import landed_readings, landing_mark, readings, series

LATE_MS = 10 * 60_000  # readings seldom come later, so they land; later ones cost a page each
MOVE_EVERY_MS = 60 * 60_000
MOST_LANDED = 10_000  # whoever reads one series there goes through all: some milliseconds

_MOVE_ON = text(
    "INSERT INTO readings (yard_id, series_id, at_ms, value, raw, flag)"
    " SELECT yard_id, series_id, at_ms, value, raw, flag FROM landed_readings"
    " WHERE yard_id = :yard AND at_ms < :mark ORDER BY series_id, at_ms"
)
_MOVE_BACK = text(
    "INSERT INTO landed_readings (yard_id, series_id, at_ms, value, raw, flag)"
    " SELECT yard_id, series_id, at_ms, value, raw, flag FROM readings"
    " WHERE yard_id = :yard AND series_id = :series AND at_ms >= :mark"
)


class Landing:
    """The mark of one yard, on one connection; without a mark every reading is in `readings`."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._mark = YardMark(connection, landing_mark.c.from_ms, yard_id)

    def mark_ms(self) -> int | None:
        """Time from which on readings are in `landed_readings`; None: none is."""
        return self._mark.read_ms()

    def spans_by_table(self, from_ms: int, to_ms: int) -> Iterator[tuple[Table, int, int]]:
        """The parts of ``from_ms <= at < to_ms`` in order of time, each with its table."""
        mark_ms = self.mark_ms()
        if mark_ms is None or from_ms < mark_ms:
            yield readings, from_ms, to_ms if mark_ms is None else min(to_ms, mark_ms)
        if mark_ms is not None and to_ms > mark_ms:
            yield landed_readings, max(from_ms, mark_ms), to_ms

    def times_by_table(self, times: Collection[int]) -> Iterator[tuple[Table, list[int]]]:
        """Times of readings, each with the table that holds it, or would."""
        mark_ms = self.mark_ms()
        before = [at_ms for at_ms in times if mark_ms is None or at_ms < mark_ms]
        if before:
            yield readings, before
        if mark_ms is not None and len(before) < len(times):
            yield landed_readings, [at_ms for at_ms in times if at_ms >= mark_ms]

    def is_due(self, now_ms: int) -> bool:
        """Whether the mark should move: an hour is over, much has landed, or the clock was set."""
        mark_ms = self.mark_ms()
        if mark_ms is None or now_ms < mark_ms or now_ms - mark_ms >= LATE_MS + MOVE_EVERY_MS:
            return True
        landed = select(func.count()).where(
            landed_readings.c.yard_id == self._yard_id,
            landed_readings.c.at_ms < now_ms - LATE_MS,
        )
        return int(self._connection.scalar(landed) or 0) >= MOST_LANDED

    def move_mark(self, now_ms: int) -> None:
        """Set the mark a little before now, and move the readings that are on its other side."""
        before_ms, mark_ms = self.mark_ms(), now_ms - LATE_MS
        if before_ms is None or mark_ms < before_ms:
            self._move_back(mark_ms)
        else:
            self._connection.execute(_MOVE_ON, {"yard": self._yard_id, "mark": mark_ms})
            self._connection.execute(
                delete(landed_readings).where(
                    landed_readings.c.yard_id == self._yard_id, landed_readings.c.at_ms < mark_ms
                )
            )
        self._mark.put(mark_ms)

    def _move_back(self, mark_ms: int) -> None:
        """Let readings of the mark and later land; series by series, as their key is led."""
        ids = select(series.c.series_id).where(series.c.yard_id == self._yard_id)
        for series_id in self._connection.scalars(ids).all():
            bounds = {"yard": self._yard_id, "series": series_id, "mark": mark_ms}
            self._connection.execute(_MOVE_BACK, bounds)
            self._connection.execute(
                delete(readings).where(
                    readings.c.yard_id == self._yard_id,
                    readings.c.series_id == series_id,
                    readings.c.at_ms >= mark_ms,
                )
            )
