"""How well the alarms behave: the rate figures of EEMUA 191 and ISA-18.2 over a stretch of time."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median

from monitor.store.transaction import Transaction
from monitor.wording import Wording
from monitor.yard.alarm import ACTIVE, Alarm, AlarmState, Priority
from monitor.yard.message import MessageKind
from monitor.yard.people import display_name
from monitor.yard.space import Yard

# EEMUA 191, as published summaries give it: an operator can take about one alarm in ten minutes;
# more than ten in ten minutes is a flood. That it ends below five in ten minutes is from memory.
FLOOD_WINDOW = timedelta(minutes=10)
FLOOD_BEGINS = 10  # more than
FLOOD_ENDS = 5  # fewer than
MANAGEABLE_PER_DAY = 150
STALE_AFTER = timedelta(hours=24)
_MOST = 10
_TOLD = frozenset({MessageKind.ALARM, MessageKind.UPDATE, MessageKind.ALL_CLEAR})


@dataclass(frozen=True, slots=True, kw_only=True)
class Flood:
    """A stretch with more alarms than a person can take in."""

    begins: datetime
    ends: datetime
    alarms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmFigures:
    """Rates over ``since`` to ``until``."""

    since: datetime
    until: datetime
    raised: int
    per_day: float
    messages_per_day: dict[str, float]  # by person: what they really got
    by_priority: dict[Priority, int]
    most_frequent: tuple[tuple[str, int], ...]  # headline's subject and cause, at most ten
    floods: tuple[Flood, ...]
    standing: int  # alarms that stand at the end
    stale: tuple[Alarm, ...]  # of them, for more than a day
    shelved: int
    answered_min: float | None  # median minutes from asking to a person's answer


def alarm_figures(tx: Transaction, since: datetime, until: datetime) -> AlarmFigures:
    """Work the figures out from alarms, their events and the messages written.

    Parameters
    ----------
    tx : Transaction
    since, until : datetime
        Aware, ``since < until``.

    Raises
    ------
    ValueError
        If the stretch is empty.
    """
    if not since < until:
        raise ValueError(f"figures need a stretch of time, not {since} to {until}")
    days = (until - since) / timedelta(days=1)
    raised = tx.alarms.raisings_between(since, until)
    standing = [alarm for alarm in tx.alarms.open_alarms() if alarm.state in ACTIVE]
    told = Counter(
        each.person for each in tx.outbox.written_between(since, until) if each.kind in _TOLD
    )
    return AlarmFigures(
        since=since,
        until=until,
        raised=len(raised),
        per_day=len(raised) / days,
        messages_per_day={person: count / days for person, count in sorted(told.items())},
        by_priority={
            priority: sum(alarm.priority is priority for _, alarm in raised)
            for priority in Priority
        },
        most_frequent=tuple(Counter(_label(alarm) for _, alarm in raised).most_common(_MOST)),
        floods=tuple(floods([at for at, _ in raised])),
        standing=len(standing),
        stale=tuple(alarm for alarm in standing if until - alarm.raised_at > STALE_AFTER),
        shelved=sum(alarm.state is AlarmState.SHELVED for alarm in tx.alarms.open_alarms()),
        answered_min=_answered_min(tx, raised),
    )


def rate_lines(figures: AlarmFigures, yard: Yard, wording: Wording) -> list[str]:
    """Say the figures in sentences, each beside what EEMUA 191 calls manageable."""
    days = (figures.until - figures.since) / timedelta(days=1)
    of_each = ", ".join(f"{count} {name}" for name, count in figures.by_priority.items() if count)
    lines = [
        f"{figures.raised} {'alarm' if figures.raised == 1 else 'alarms'} in {days:.0f} days,"
        f" {figures.per_day:.1f} a day"
        f"{f' ({of_each})' if of_each else ''}."
        f" From about {MANAGEABLE_PER_DAY} a day on one person misses some (EEMUA 191)."
    ]
    if figures.messages_per_day:
        most = sorted(figures.messages_per_day.items(), key=lambda each: (-each[1], each[0]))
        told = ", ".join(f"{display_name(yard, who)} {rate:.1f}" for who, rate in most[:_MOST])
        others = len(most) - _MOST
        more = f" and {others} more {'person' if others == 1 else 'people'}" if others > 0 else ""
        lines.append(f"Messages about them, a day: {told}{more}.")
    often = [f"{label} {count}" for label, count in figures.most_frequent if count > 1]
    if often:
        lines.append(f"Most frequent: {', '.join(often)}.")
    if figures.floods:
        worst = max(figures.floods, key=lambda flood: flood.alarms)
        lines.append(
            f"Floods (more than {FLOOD_BEGINS} alarms in 10 min): {len(figures.floods)}; the"
            f" largest {wording.clock(worst.begins)} with {worst.alarms}, told together."
        )
    else:
        lines.append(f"No flood (more than {FLOOD_BEGINS} alarms in 10 min).")
    lines.append(
        f"Standing now: {figures.standing}, {len(figures.stale)} of them for more than a day;"
        f" {figures.shelved} shelved."
    )
    if figures.answered_min is not None:
        lines.append(f"Acknowledged after {figures.answered_min:.0f} min (median).")
    return lines


def floods(times: Sequence[datetime]) -> list[Flood]:
    """Find floods in times that are in order.

    One begins with the first of more than ten alarms within ten minutes, and goes on for as
    long as each ten minutes bring five or more.
    """
    found: list[Flood] = []
    at = 0
    while at < len(times):
        end = at
        while end < len(times) and times[end] - times[at] < FLOOD_WINDOW:
            end += 1
        if end - at <= FLOOD_BEGINS:
            at += 1
            continue
        last = end
        while last < len(times) and _recent(times, last) >= FLOOD_ENDS:
            last += 1
        found.append(Flood(begins=times[at], ends=times[last - 1], alarms=last - at))
        at = last
    return found


def _recent(times: Sequence[datetime], at: int) -> int:
    """How many alarms came within the ten minutes up to one of them."""
    return at + 1 - bisect_right(times, times[at] - FLOOD_WINDOW)


def _label(alarm: Alarm) -> str:
    return f"{alarm.headline.subject}: {alarm.cause}"


def _answered_min(tx: Transaction, raised: Sequence[tuple[datetime, Alarm]]) -> float | None:
    minutes = []
    for at, alarm in raised:
        answers = [
            event.at
            for event in tx.alarms.history_of(alarm.id)
            if event.before is AlarmState.UNACKNOWLEDGED
            and event.after is AlarmState.ACKNOWLEDGED
            and event.at >= at
        ]
        if answers:
            minutes.append((answers[0] - at) / timedelta(minutes=1))
    return median(minutes) if minutes else None
