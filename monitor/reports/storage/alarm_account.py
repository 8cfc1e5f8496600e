"""What became of a season's alarms: answered in time or not, and which craft were saved by it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta

import numpy as np

from monitor.clock import from_ms
from monitor.craft.craft_stays import with_measured_lag
from monitor.craft.record import CraftRecord
from monitor.reports.season.figures import Kept
from monitor.reports.season.space_hours import SeasonAir
from monitor.reports.storage.figures import AnswersInTime, CraftSaved
from monitor.store.transaction import Transaction
from monitor.yard.alarm import LAIDUP, Alarm, AlarmEvent, AlarmState, Priority
from monitor.yard.alarm_facts import Change, ChangeFacts
from monitor.yard.duty import ANSWER_WITHIN
from monitor.yard.space import Yard

_STALE = timedelta(hours=24)  # ISA-18.2: an alarm that stands for longer is stale
_ANSWERS = frozenset({AlarmState.ACKNOWLEDGED, AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE})
_ICE = frozenset({"ice", "third-ice"})
_FROST = "frost"


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmAccount:
    """What became of the alarms of a season, by space."""

    answers: Mapping[str, AnswersInTime]
    frost: Sequence["FrostAlarmed"] = ()
    iced: Sequence[tuple[str, str]] = ()  # craft and space of each alarm of ice

    def saved_in(self, space: str | None) -> CraftSaved:
        """Craft by what became of their alarms of frost, in one space or in all."""
        some = [one for one in self.frost if space in {None, one.space}]
        lost = {craft for craft, _ in self.iced}  # wherever it was: it is not told as saved
        saved = {one.craft for one in some if one.made_safe and one.came} - lost
        unheard = {one.craft for one in some if one.made_safe and one.came is None}
        return CraftSaved(
            alarmed=_in_order(one.craft for one in some),
            made_safe=_in_order(one.craft for one in some if one.made_safe),
            saved=_in_order(saved),
            not_known=_in_order(unheard - saved),
            iced=_in_order(craft for craft, place in self.iced if space in {None, place}),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostAlarmed:
    """One time that frost threatened a circuit."""

    craft: str
    space: str
    made_safe: bool  # by a person
    came: bool | None  # whether its cold came after all; None: not heard


@dataclass(frozen=True, slots=True, kw_only=True)
class _Raising:
    """From an alarm's beginning to ask until it is over, or begins again."""

    alarm: Alarm
    began: AlarmEvent
    later: Sequence[AlarmEvent] = field(default_factory=tuple)

    @property
    def due_at(self) -> datetime:
        why = self.began.why
        named = None
        if isinstance(why, ChangeFacts) and why.headline is not None:
            named = why.headline.deadline
        if named is not None and named > self.began.at:
            return named
        is_high = self.alarm.priority is Priority.HIGH
        return self.began.at + (ANSWER_WITHIN if is_high else _STALE)

    @property
    def made_safe_at(self) -> datetime | None:
        return next((one.at for one in self.later if _change_of(one) is Change.MADE_SAFE), None)

    @property
    def answered_at(self) -> datetime | None:
        """When a person took it on, or what they did had made it safe."""
        taken = [
            one.at
            for one in self.later
            if (one.after in _ANSWERS and one.by != LAIDUP) or _change_of(one) is Change.MADE_SAFE
        ]
        return min(taken, default=None)

    @property
    def over_at(self) -> datetime | None:
        over = (AlarmState.NORMAL, AlarmState.RETURNED, AlarmState.SUPPRESSED)
        return next((one.at for one in self.later if one.after in over), None)


def read_alarm_account(
    tx: Transaction,
    yard: Yard,
    air: SeasonAir,
    records: Sequence[CraftRecord],
    now: datetime,
) -> AlarmAccount:
    """Follow every alarm that was raised in a season.

    Parameters
    ----------
    tx : Transaction
    yard : Yard
    air : SeasonAir
        Of the season.
    records : sequence of CraftRecord
        Of all craft: time constants of circuits are theirs.
    now : datetime
        An answer that is due later is not missed yet.
    """
    if not air.hours.begin_ms.size:
        return AlarmAccount(answers={})
    since, until = from_ms(int(air.hours.begin_ms[0])), from_ms(air.hours.until_ms)
    raised = dict.fromkeys(alarm.id for _, alarm in tx.alarms.raisings_between(since, until))
    known = {one.id: one for one in tx.alarms.find_known(list(raised))}
    histories = tx.alarms.histories_of(list(raised))
    raisings = [
        each
        for key in raised
        for each in _raisings(known[key], histories[key])
        if since <= each.began.at < until
    ]
    lags = _long_lags(records)
    by_space: dict[str, list[_Raising]] = {}
    for one in raisings:
        by_space.setdefault(one.alarm.space, []).append(one)
    return AlarmAccount(
        answers={space: _answers(several, now) for space, several in by_space.items()},
        frost=[
            _follow_alarm(one, yard, air, lags)
            for one in raisings
            if one.alarm.cause == _FROST and one.alarm.craft
        ],
        iced=[
            (one.alarm.craft, one.alarm.space)
            for one in raisings
            if one.alarm.cause in _ICE and one.alarm.craft
        ],
    )


def _long_lags(records: Sequence[CraftRecord]) -> dict[tuple[str, str], float]:
    """The long time constant of each circuit of each craft [h]."""
    found = {}
    for record in records:
        measured = {one.circuit: one for one in record.craft.measured}
        for one in record.profile.circuits:
            key = (record.craft.id, one.circuit.id)
            found[key] = with_measured_lag(one.circuit, measured.get(one.circuit.id)).lag_high_h
    return found


def _raisings(alarm: Alarm, history: Sequence[AlarmEvent]) -> Iterator[_Raising]:
    asked = [
        n
        for n, one in enumerate(history)
        if one.after is AlarmState.UNACKNOWLEDGED
        and one.before in {AlarmState.NORMAL, AlarmState.RETURNED, AlarmState.SUPPRESSED}
    ]
    for first, after in zip(asked, [*asked[1:], len(history)], strict=True):
        yield _Raising(alarm=alarm, began=history[first], later=history[first + 1 : after])


def _answers(raisings: Sequence[_Raising], now: datetime) -> AnswersInTime:
    count = {"in_time": 0, "late": 0, "unanswered": 0, "over_before_due": 0, "open_before_due": 0}
    waited = []
    for one in raisings:
        due, answered, over = one.due_at, one.answered_at, one.over_at
        if answered is not None and (over is None or answered <= over):
            count["in_time" if answered <= due else "late"] += 1
            waited.append((answered - one.began.at).total_seconds())
        elif over is not None and over <= due:
            count["over_before_due"] += 1
        elif over is None and now < due:
            count["open_before_due"] += 1
        elif answered is not None:
            count["late"] += 1
            waited.append((answered - one.began.at).total_seconds())
        else:
            count["unanswered"] += 1
    return AnswersInTime(**count, waited_s=tuple(sorted(waited)))


def _follow_alarm(
    raising: _Raising, yard: Yard, air: SeasonAir, lags: Mapping[tuple[str, str], float]
) -> FrostAlarmed:
    alarm, safe_at, why = raising.alarm, raising.made_safe_at, raising.began.why
    lag_h = lags.get((alarm.craft, alarm.part))
    headline = why.headline if isinstance(why, ChangeFacts) else None
    ice_point_c = None if headline is None else headline.ice_point_c
    came: bool | None = None
    if safe_at is not None and lag_h is not None and ice_point_c is not None:
        since, until = from_ms(int(air.hours.begin_ms[0])), from_ms(air.hours.until_ms)
        here = Kept(space=alarm.space, berth="", since=since, until=until, by="")
        after = air.hours.slice_between(safe_at, _noon_after(safe_at, yard))
        body_c = air.body_c([here], air.of_stays([here]), lag_h)[after]
        is_heard = bool(body_c.size) and not bool(np.isnan(body_c).any())
        came = True if bool((body_c <= ice_point_c).any()) else False if is_heard else None
    return FrostAlarmed(
        craft=alarm.craft, space=alarm.space, made_safe=safe_at is not None, came=came
    )


def _noon_after(at: datetime, yard: Yard) -> datetime:
    """The noon that ends the night after a time, by the yard's clock."""
    local = at.astimezone(yard.zone)
    day = local.date() + timedelta(days=1 if local.hour >= 12 else 0)
    return datetime.combine(day, time(12), yard.zone).astimezone(UTC)


def _change_of(event: AlarmEvent) -> Change | None:
    return event.why.change if isinstance(event.why, ChangeFacts) else None


def _in_order(craft: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(set(craft)))
