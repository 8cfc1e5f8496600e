"""One week's figures as JSON: spaces' air, alarms with waits and rates; the air as CSV too."""

import csv
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from io import StringIO
from typing import Any

from monitor.reports.alarm_rates import AlarmFigures
from monitor.reports.skill import skill_json
from monitor.reports.week import AlarmOfWeek, SpaceWeek, WeeklyReport
from monitor.units import json_number


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceOfWeek:
    """The air of one space over the week; what was not seen is ``unseen_h``, and never mild."""

    space: str
    name: str
    low_c: float | None
    low_at: datetime | None
    high_c: float | None
    high_at: datetime | None
    below_zero_h: float | None
    wet_h: float | None  # RH above 80 % with the air above 0 °C (ISO 9223)
    unseen_h: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmWait:
    """One alarm of the week, and how long it waited for somebody."""

    alarm: str
    cause: str
    space: str
    craft: str | None
    raised_at: datetime
    acknowledged_at: datetime | None
    acknowledged_by: str | None  # a name
    waited_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmRates:
    """How well the alarms behaved: figures of EEMUA 191 and ISA-18.2."""

    raised: int
    per_day: float
    floods: int
    standing: int  # at the week's end
    stale: int  # of them, for more than a day
    shelved: int
    answered_s: float | None  # median from asking to a person's answer
    by_priority: dict[str, int]
    messages_per_day: dict[str, float]  # by a person's id


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekAccount:
    """One week of the yard in figures."""

    week: str  # ISO 8601
    since: datetime
    until: datetime
    spaces: list[SpaceOfWeek]
    alarms: list[AlarmWait]
    rates: AlarmRates | None
    skill: dict[str, Any] | None  # as `laidup skill --json` has it; null: too few nights


def week_account(report: WeeklyReport) -> WeekAccount:
    """Turn a week's report into the figures that leave the house."""
    return WeekAccount(
        week=report.week,
        since=report.since.astimezone(UTC),
        until=report.until.astimezone(UTC),
        spaces=[_space(one) for one in report.spaces],
        alarms=[_alarm(one) for one in report.alarms],
        rates=None if report.rates is None else _rates(report.rates),
        skill=None if report.skill is None else skill_json(report.skill),
    )


def _space(week: SpaceWeek) -> SpaceOfWeek:
    low, high = week.air.low, week.air.high
    return SpaceOfWeek(
        space=week.space.id,
        name=week.space.name,
        low_c=None if low is None else json_number(low.value_c, 3),
        low_at=None if low is None else low.at.astimezone(UTC),
        high_c=None if high is None else json_number(high.value_c, 3),
        high_at=None if high is None else high.at.astimezone(UTC),
        below_zero_h=json_number(week.air.below_zero_h, 3),
        wet_h=json_number(week.air.wet_h, 3),
        unseen_h=json_number(week.air.unseen_h, 3),
    )


def _alarm(week: AlarmOfWeek) -> AlarmWait:
    alarm, taken = week.alarm, week.acknowledged_at
    return AlarmWait(
        alarm=alarm.id,
        cause=alarm.cause,
        space=alarm.space,
        craft=alarm.craft or None,
        raised_at=alarm.raised_at.astimezone(UTC),
        acknowledged_at=None if taken is None else taken.astimezone(UTC),
        acknowledged_by=week.acknowledged_by or None,
        waited_s=None if taken is None else week.wait / timedelta(seconds=1),
    )


def _rates(figures: AlarmFigures) -> AlarmRates:
    median_min = figures.answered_min
    return AlarmRates(
        raised=figures.raised,
        per_day=round(figures.per_day, 3),
        floods=len(figures.floods),
        standing=figures.standing,
        stale=len(figures.stale),
        shelved=figures.shelved,
        answered_s=None if median_min is None else round(median_min * 60.0, 1),
        by_priority={str(each): count for each, count in figures.by_priority.items()},
        messages_per_day={who: round(count, 3) for who, count in figures.messages_per_day.items()},
    )


def week_csv(account: WeekAccount) -> str:
    """The air of each space in a row, in SI and UTC; what is not known is empty."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = [one.name for one in fields(SpaceOfWeek)]
    writer.writerow(["week", "from", "to", *names])
    for space in account.spaces:
        values = (getattr(space, name) for name in names)
        row = [_cell(one) for one in (account.week, account.since, account.until, *values)]
        writer.writerow(row)
    return out.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    return value
