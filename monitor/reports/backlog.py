"""Autumn's backlog: craft not laid up, at this pace done by when, and a hard night before then."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np

from monitor.clock import to_ms
from monitor.craft.act_table import CLAIMS
from monitor.craft.plan.pace import (
    HARD_NIGHT_C,
    Finish,
    HardNight,
    LayupPace,
    chance_of_hard_night,
    finish_of,
    forecast_spread_k,
    pace_of,
)
from monitor.craft.plan.step import JobPlan
from monitor.craft.plan.yard import (
    DAY_MINUTES,
    Supply,
    Workload,
    reckon_workload,
    sum_supplies,
)
from monitor.craft.stored import StoredCraft
from monitor.reports.air import read_hourly_air
from monitor.reports.standing_work import (
    StandingWork,
    has_work_left,
    list_standing_work,
    newest_forecast,
)
from monitor.store.transaction import Transaction
from monitor.yard.forecast import PublicForecast
from monitor.yard.space import WARM, Yard

SAFE_CHANCE = 0.1  # of a hard night: the day up to which it stays below is the one to be through by
_PAST_WINTERS = 6
_KNOWN = 0.8  # share of the hours of a past winter's nights that must have been read
_MOST_NIGHTS = 120
_MOST_HANDS = 12
_NIGHT = timedelta(hours=20)


@dataclass(frozen=True, slots=True, kw_only=True)
class BacklogWork:
    """What is left, at which pace, and when it is done: of the record alone."""

    count: int  # craft that are not laid up
    in_care: int
    pace: LayupPace | None  # None: the record shows too few days
    finish: Finish | None  # None: no pace is known
    today: date
    undone: tuple[StandingWork, ...] = ()  # the same planned; none where only a count was asked for

    @property
    def plans(self) -> list[JobPlan]:
        """The steps against the frost that are left, a plan for each craft."""
        return [JobPlan(craft=one.craft.id, low_c=0.0, steps=one.steps) for one in self.undone]


@dataclass(frozen=True, slots=True, kw_only=True)
class AutumnBacklog:
    """The same with the weather before it, and what it takes to be through in time."""

    work: BacklogWork
    supplies: tuple[Supply, ...]
    load: Workload
    hard: HardNight | None  # before it is likely done; None: no pace, or all stand in heat
    safe_until: date | None  # the last day before which a hard night is unlikely; None: none is
    stands_in_cold: bool  # whether any that is left stands where it is not heated
    hands_needed: int | None  # to be through by then at the plan's minutes; None: no crew is


def work_of_backlog(craft: Sequence[StoredCraft], yard: Yard, now: datetime) -> BacklogWork:
    """Count what is left, and hold it against what the last weeks got done; plans no job.

    Parameters
    ----------
    craft : sequence of StoredCraft
        Those in the yard's care now.
    yard : Yard
    now : datetime
    """
    today = now.astimezone(yard.zone).date()
    left = {one.id for one in craft if has_work_left(one, yard)}
    finished = Counter(
        day for one in craft if one.id not in left and (day := _finished_on(one, yard))
    )
    pace = pace_of(finished, today)
    return BacklogWork(
        count=len(left),
        in_care=len(craft),
        pace=pace,
        finish=None if pace is None else finish_of(len(left), pace, today),
        today=today,
    )


def _finished_on(craft: StoredCraft, yard: Yard) -> date | None:
    """The day of the last work that claims to protect a craft; None where none is of this year."""
    if craft.plan_start is None:
        return None
    claims = [one.at for one in craft.plan_start.entries if one.act in CLAIMS]
    return max(claims).astimezone(yard.zone).date() if claims else None


def read_backlog(
    tx: Transaction,
    yard: Yard,
    craft: Sequence[StoredCraft],
    now: datetime,
    hands: int | None = None,
) -> AutumnBacklog:
    """Read the backlog with the weather before it.

    Parameters
    ----------
    tx : Transaction
    yard : Yard
    craft : sequence of StoredCraft
        Those in the yard's care now.
    now : datetime
    hands : int, optional
        People who lay up, where that is not the yard's own number; the pace grows with them.
    """
    work = replace(work_of_backlog(craft, yard, now), undone=list_standing_work(craft, yard))
    asked = yard.duty.hands if hands is None else hands
    load = reckon_workload(work.plans, work.today + timedelta(days=1), asked)
    if work.pace is not None and hands is not None:
        finish = finish_of(work.count, work.pace, work.today, hands / yard.duty.hands)
        work = replace(work, finish=finish)
    cold = {one.craft.space for one in work.undone if yard.space(one.craft.space).kind not in WARM}
    weather = _Weather(tx, yard, frozenset(cold), now)
    likely = work.finish.likely if work.finish else None
    safe_until = weather.safe_until() if cold else None
    return AutumnBacklog(
        work=work,
        supplies=sum_supplies(work.plans),
        load=load,
        hard=weather.before(likely) if cold and likely else None,
        safe_until=safe_until,
        stands_in_cold=bool(cold),
        hands_needed=_hands_needed(work, safe_until),
    )


def _hands_needed(work: BacklogWork, until: date | None) -> int | None:
    if until is None or not work.count:
        return None
    begins = work.today + timedelta(days=1)
    for hands in range(1, _MOST_HANDS + 1):
        if reckon_workload(work.plans, begins, hands, DAY_MINUTES).done_on <= until:
            return hands
    return None


class _Weather:
    """The nights ahead of the spaces in which craft wait; each past winter is read once."""

    def __init__(self, tx: Transaction, yard: Yard, spaces: frozenset[str], now: datetime) -> None:
        self._yard, self._now = yard, now
        self._today = now.astimezone(yard.zone).date()
        self._forecast = _lows_ahead(newest_forecast(tx, now), yard, now) if spaces else {}
        self._past: list[list[float]] = []
        for years in range(1, _PAST_WINTERS if spaces else 1):
            lows = _past_lows(tx, yard, spaces, self._today, years)
            self._past += [] if lows is None else [lows]

    def before(self, day: date) -> HardNight:
        """Chance of a hard night before that day."""
        count = min(max((day - self._today).days, 0), _MOST_NIGHTS)
        nights = [self._today + timedelta(days=n) for n in range(count)]
        past = [any(low <= HARD_NIGHT_C for low in lows[:count]) for lows in self._past]
        southern = self._yard.latitude is not None and self._yard.latitude < 0.0
        return chance_of_hard_night(nights, self._forecast, past, southern=southern)

    def safe_until(self) -> date | None:
        """The last day before which a hard night stays unlikely; None where tonight is not."""
        found = None
        for ahead in range(1, _MOST_NIGHTS + 1):
            day = self._today + timedelta(days=ahead)
            if self.before(day).chance >= SAFE_CHANCE:
                break
            found = day
        return found


def _lows_ahead(
    forecast: PublicForecast | None, yard: Yard, now: datetime
) -> dict[date, tuple[float, float]]:
    """Low and spread of each night that a public forecast speaks of as a whole."""
    found: dict[date, tuple[float, float]] = {}
    if forecast is None:
        return found
    today = now.astimezone(yard.zone).date()
    for ahead in range(15):
        begins = datetime.combine(today + timedelta(days=ahead), time(15), yard.zone)
        ends_ms = to_ms(begins + _NIGHT)
        within = (forecast.at_ms >= to_ms(begins)) & (forecast.at_ms < ends_ms)
        if not within.any() or forecast.at_ms[-1] < ends_ms:
            break
        low_c = float(forecast.air_c[within].min())
        found[today + timedelta(days=ahead)] = (low_c, forecast_spread_k(ahead))
    return found


def _past_lows(
    tx: Transaction, yard: Yard, spaces: frozenset[str], today: date, years: int
) -> list[float] | None:
    """Lowest air of each of the same nights some winters ago; None where too little was read.

    Of several spaces the coldest. A night that was not read counts as mild: it is no evidence.
    """
    try:
        first = today.replace(year=today.year - years)
    except ValueError:  # the 29th of February
        first = today.replace(year=today.year - years, day=28)
    begins = datetime.combine(first, time(15), yard.zone)
    until = begins + timedelta(days=_MOST_NIGHTS)
    known = tuple(one for one in yard.spaces if one.id in spaces)
    airs = read_hourly_air(tx, replace(yard, spaces=known), begins, until).values()
    hours = np.vstack([one.coldest_c for one in airs])
    seen = ~np.isnan(hours)
    if not seen.any() or seen.any(axis=0).mean() < _KNOWN:
        return None
    coldest = np.where(seen, hours, np.inf).min(axis=0)
    nights = coldest[: coldest.size // 24 * 24].reshape(-1, 24)
    return [float(one) for one in nights.min(axis=1)]


def backlog_json(backlog: AutumnBacklog) -> dict[str, Any]:
    """The backlog as JSON: SI, the unit in the key."""
    work, hard, finish = backlog.work, backlog.hard, backlog.work.finish

    def day(one: date | None) -> str | None:
        return None if one is None else one.isoformat()

    return {
        "undone": work.count,
        "in_care": work.in_care,
        "craft": [one.craft.id for one in work.undone],
        "pace_per_week": None if work.pace is None else round(work.pace.per_week, 2),
        "pace_days": 0 if work.pace is None else len(work.pace.per_day),
        "done_early": day(finish.early) if finish else None,
        "done_likely": day(finish.likely) if finish else None,
        "done_late": day(finish.late) if finish else None,
        "hard_night_c": HARD_NIGHT_C,
        "chance_hard_night": None if hard is None else round(hard.chance, 3),
        "past_winters": None if hard is None else hard.past_winters,
        "forecast_nights": None if hard is None else hard.forecast_nights,
        "safe_until": day(backlog.safe_until),
        "minutes": backlog.load.minutes,
        "hands": backlog.load.hands,
        "day_minutes": backlog.load.day_minutes,
        "plan_done_on": day(backlog.load.done_on) if work.count else None,
        "hands_needed": backlog.hands_needed,
        "supplies": [
            {
                "product": one.product.name,
                "quantity_l": one.litres,
                "containers": one.containers,
                "craft": list(one.craft),
            }
            for one in backlog.supplies
        ],
    }
