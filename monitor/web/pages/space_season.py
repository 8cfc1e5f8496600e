"""A space's season on its page: a bar for each day of its air, a row for each week."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

from monitor.clock import from_ms, to_ms
from monitor.craft.account import season
from monitor.reports.air import HourlyAir
from monitor.store.store import Transaction
from monitor.web.season_chart import DayOfAir
from monitor.wording import Wording
from monitor.yard.hourly import HOUR_MS
from monitor.yard.space import Space, Yard, sensors_of_place

_SEASON_MONTH = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekRow:
    """A week of its air; None where nothing was read."""

    monday: datetime
    low_c: float | None
    high_c: float | None
    frost_h: int  # hours in which it was below 0 °C
    unseen_h: int


def season_begins(tx: Transaction, yard: Yard, space: Space, now: datetime) -> datetime:
    """July's first hour, or that of the first reading since: nobody draws months of nothing."""
    begins = datetime(season(now.astimezone(yard.zone)), _SEASON_MONTH, 1, tzinfo=yard.zone)
    placed = [each for each in sensors_of_place(yard) if each.space == space.id]
    names = list(dict.fromkeys(each.sent_as for each in placed))
    sent = tx.rollups.hours_between(names, to_ms(begins) // HOUR_MS * HOUR_MS, to_ms(now))
    hours = [
        trace.cut_between(*each.span_ms)
        for each in placed
        for (name, _), trace in sent.items()
        if name == each.sent_as
    ]
    first = [int(trace.hour_ms[0]) for trace in hours if trace.hour_ms.size]
    return from_ms(min(first)) if first else now - timedelta(days=1)


def days_of(hourly: HourlyAir, words: Wording) -> list[DayOfAir]:
    """Days that were read, each from its coldest to its mildest hour."""
    values: dict[object, list[float]] = defaultdict(list)
    for at_ms, value_c in zip(hourly.at_ms.tolist(), hourly.coldest_c.tolist(), strict=True):
        if isfinite(value_c):
            values[from_ms(at_ms).astimezone(words.zone).date()].append(value_c)
    return [
        DayOfAir(day=day, low_c=min(seen), high_c=max(seen))  # type: ignore[arg-type]
        for day, seen in values.items()
    ]


def weeks_of(hourly: HourlyAir, words: Wording) -> list[WeekRow]:
    """Weeks since the first reading, the newest first."""
    values: dict[datetime, list[float]] = defaultdict(list)
    for at_ms, value_c in zip(hourly.at_ms.tolist(), hourly.coldest_c.tolist(), strict=True):
        at = from_ms(at_ms).astimezone(words.zone)
        monday = (at - timedelta(days=at.weekday())).replace(hour=12, minute=0, second=0)
        values[monday].append(value_c)
    found = []
    for monday, all_h in values.items():
        seen = [each for each in all_h if isfinite(each)]
        found.append(
            WeekRow(
                monday=monday,
                low_c=min(seen, default=None),
                high_c=max(seen, default=None),
                frost_h=sum(each < 0.0 for each in seen),
                unseen_h=len(all_h) - len(seen),
            )
        )
    return found[::-1]
