"""The nights of a season as rows of hours, so that all of them are added up at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from monitor.reports.season.space_hours import Floats, Hours
from monitor.yard.space import Yard

_NOON = time(12)
_Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class NightSpan:
    """One night of the yard, from noon to noon by its clock, with its hours."""

    evening: date
    since: datetime
    until: datetime
    hours: slice

    @property
    def middle(self) -> datetime:
        """About midnight."""
        return self.since + (self.until - self.since) / 2


def night_spans(hours: Hours, yard: Yard, since: datetime, until: datetime) -> list[NightSpan]:
    """Every night that ended within ``since <= at <= until``, at least half of it."""
    found: list[NightSpan] = []
    evening = since.astimezone(yard.zone).date() - timedelta(days=1)
    while True:
        begins, ends = (
            datetime.combine(evening + timedelta(days=n), _NOON, yard.zone).astimezone(UTC)
            for n in (0, 1)
        )
        if ends > until:
            return found
        if begins + (ends - begins) / 2 >= since:
            found.append(
                NightSpan(
                    evening=evening,
                    since=begins,
                    until=ends,
                    hours=hours.slice_between(max(begins, since), ends),
                )
            )
        evening += timedelta(days=1)


class NightRows:
    """Hours of some nights as rows; nights of one length (23 to 25 hours) stand in one table.

    Parameters
    ----------
    spans : sequence of NightSpan
        In the order of the results; a night without an hour has nothing.
    """

    def __init__(self, spans: Sequence[NightSpan]) -> None:
        self.spans, self._size = spans, len(spans)
        by_length: dict[int, list[int]] = {}
        for n, one in enumerate(spans):
            by_length.setdefault(one.hours.stop - one.hours.start, []).append(n)
        self._tables: list[tuple[_Indices, _Indices]] = [
            (
                np.array(several, dtype=np.intp),
                np.array([spans[n].hours.start for n in several], dtype=np.intp)[:, None]
                + np.arange(length, dtype=np.intp),
            )
            for length, several in by_length.items()
            if length > 0
        ]

    def sum_hours(self, values: Floats) -> Floats:
        """The sum of each night's hours; 0 of a night without one."""
        found = np.zeros(self._size)
        for nights, rows in self._tables:
            found[nights] = values[rows].sum(axis=1)
        return found

    def lows_all_known(self, values: Floats) -> Floats:
        """The lowest of each night's hours; NaN where one of them is not known."""
        found = np.full(self._size, np.nan)
        for nights, rows in self._tables:
            found[nights] = values[rows].min(axis=1)
        return found

    def lows_known(self, values: Floats) -> Floats:
        """The lowest of each night's known hours; NaN where none is."""
        found = np.full(self._size, np.nan)
        for nights, rows in self._tables:
            found[nights] = np.fmin.reduce(values[rows], axis=1)
        return found

    def where_lowest(self, values: Floats) -> _Indices:
        """Index of the first hour that is the lowest known of its night; -1 where none is known."""
        found = np.full(self._size, -1, dtype=np.intp)
        for nights, rows in self._tables:
            several = np.where(np.isnan(values[rows]), np.inf, values[rows])
            least = several.argmin(axis=1)
            row = np.arange(nights.size)
            found[nights] = np.where(np.isinf(several[row, least]), -1, rows[row, least])
        return found
