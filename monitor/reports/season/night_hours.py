"""The nights of a season as rows of hours, so that all of them are added up at once."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import isnan

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms
from monitor.reports.season.figures import Kept
from monitor.reports.season.space_hours import Floats, Hours
from monitor.yard.space import Yard

_NOON = time(12)
_HOUR = timedelta(hours=1)
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

    @property
    def length_h(self) -> float:
        """From noon to noon: 23 to 25 [h]."""
        return (self.until - self.since) / _HOUR


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
        self.begins = [one.since for one in spans]
        self.ends = [one.until for one in spans]
        self._first = np.array([one.hours.start for one in spans], dtype=np.intp)
        self._after = np.array([one.hours.stop for one in spans], dtype=np.intp)
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

    def lie_within(self, hours: slice) -> NDArray[np.bool_]:
        """Whether all hours of each night are among these."""
        within: NDArray[np.bool_] = (self._first >= hours.start) & (self._after <= hours.stop)
        return within

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


@dataclass(frozen=True, slots=True, kw_only=True)
class NightAirs:
    """The air of some nights, one item each in their order."""

    low_c: Sequence[float | None]  # None: nothing was read
    low_at: Sequence[datetime | None]  # beginning of the hour of the low
    heard_h: Sequence[float]
    coldest_at: Sequence[datetime]  # as ``low_at``; the middle of a night without a reading

    def cut_nights(self, first: int, after: int) -> "NightAirs":
        """Of some of these nights in a row."""
        part = slice(first, after)
        return NightAirs(
            low_c=self.low_c[part],
            low_at=self.low_at[part],
            heard_h=self.heard_h[part],
            coldest_at=self.coldest_at[part],
        )


def airs_of_nights(rows: NightRows, hours: Hours, low_c: Floats, heard: Floats) -> NightAirs:
    """The air of each night.

    Parameters
    ----------
    rows : NightRows
    hours : Hours
    low_c : array of float
        Lowest of each hour [°C]; NaN where nothing was read.
    heard : array of float
        Share of each hour, 0 to 1.
    """
    lowest = rows.where_lowest(low_c)
    lows_c = np.where(lowest < 0, np.nan, low_c[lowest]).tolist()
    begin_ms = hours.begin_ms[lowest].tolist()
    low_at = [None if isnan(low) else from_ms(at) for low, at in zip(lows_c, begin_ms, strict=True)]
    return NightAirs(
        low_c=[None if isnan(low) else low for low in lows_c],
        low_at=low_at,
        heard_h=rows.sum_hours(heard * hours.length_h).tolist(),
        coldest_at=[at or span.middle for at, span in zip(low_at, rows.spans, strict=True)],
    )


@dataclass(frozen=True, slots=True)
class NightsStood:
    """Nights in a row in one berth; of the one night of a move, arrival or leaving, its hours."""

    nights: range  # among all nights
    space: str  # where it stood last
    stood_h: float | None  # None: from noon to noon


def nights_stood(rows: NightRows, kept: Sequence[Kept]) -> Iterator[NightsStood]:
    """The nights of which a craft stood in the yard for half at least, in order.

    Parameters
    ----------
    rows : NightRows
        Of nights in order of time.
    kept : sequence of Kept
        Where it stood, in order of time and one after the other.
    """
    after = 0  # the first night that is not yet told
    for stay in kept:
        touched = range(bisect_right(rows.ends, stay.since), bisect_left(rows.begins, stay.until))
        whole = range(
            max(bisect_left(rows.begins, stay.since), after), bisect_right(rows.ends, stay.until)
        )
        before = range(max(touched.start, after), min(whole.start, touched.stop))
        for n in before:
            yield from _part_of_night(rows, n, kept)
        if whole:
            yield NightsStood(whole, stay.space, None)
        for n in range(max(whole.stop, before.stop, after), touched.stop):
            yield from _part_of_night(rows, n, kept)
        after = max(after, touched.stop)


def _part_of_night(rows: NightRows, n: int, kept: Sequence[Kept]) -> Iterator[NightsStood]:
    """A night that begins or ends within a stay, if the craft stood for half of it."""
    since, until = rows.begins[n], rows.ends[n]
    stays = [one for one in kept if one.since < until and one.until > since]
    stood = sum((min(one.until, until) - max(one.since, since) for one in stays), timedelta())
    if stood * 2 >= until - since:
        yield NightsStood(range(n, n + 1), stays[-1].space, stood / _HOUR)
