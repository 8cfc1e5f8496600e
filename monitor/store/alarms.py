"""Alarms and their append-only events."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

from pydantic import BaseModel, ConfigDict
from sqlalchemy import ColumnElement, Connection, Row, bindparam, func, insert, select, text, update

from monitor.clock import from_ms, to_ms
from monitor.store.statements import in_batches, put_in_place
from monitor.store.tables import alarm_change_counts, alarm_events, alarms
from monitor.store.yard_marks import SteadyReads
from monitor.yard.alarm import LAIDUP, Alarm, AlarmEvent, AlarmState, Priority
from monitor.yard.alarm_facts import ChangeFacts, FinishedLine, Headline, HeadlineFacts, Reason
from monitor.yard.assessment import Certainty, Severity, Urgency

_OPEN = tuple(state for state in AlarmState if state is not AlarmState.NORMAL)


class _HeadlineRow(BaseModel):
    """A headline as JSON; the ice point of a drained circuit is infinite."""

    model_config = ConfigDict(ser_json_inf_nan="strings")
    said: HeadlineFacts


class _ReasonRow(BaseModel):
    """Why an alarm changed, as JSON."""

    model_config = ConfigDict(ser_json_inf_nan="strings")
    said: ChangeFacts


# Counted in the transaction that appends them, so that the count is never another than theirs.
_COUNT_ON = text(
    "INSERT INTO alarm_change_counts (yard_id, changes) VALUES (:yard_id, :changes)"
    " ON CONFLICT (yard_id) DO UPDATE SET changes = alarm_change_counts.changes + excluded.changes"
)


class Alarms:
    """The alarms of one yard."""

    def __init__(
        self, connection: Connection, yard_id: int, reads: SteadyReads | None = None
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._reads = reads
        self.were_changed = False  # by this transaction

    def open_alarms(self) -> list[Alarm]:
        """Alarms that are not back to normal, the oldest first."""
        if self._reads is None:
            return self._select_open()
        return self._reads.read_once("open", self._reads.alarm_mark, self._select_open)

    def _select_open(self) -> list[Alarm]:
        # Named one by one: for "any but normal" the index of states is no help.
        return self._select(alarms.c.state.in_(_OPEN))

    def raised_between(self, since: datetime, until: datetime) -> list[Alarm]:
        """Alarms raised with ``since <= raised < until``, the oldest first."""
        return self._select(
            (alarms.c.raised_ms >= to_ms(since)) & (alarms.c.raised_ms < to_ms(until))
        )

    def page_behind(
        self, raised_ms: int, alarm_id: str, most: int, *, only_open: bool, since_ms: int = 0
    ) -> list[Alarm]:
        """So many alarms at most behind one, in order of when they were raised and of their id."""
        behind = (alarms.c.raised_ms > raised_ms) | (
            (alarms.c.raised_ms == raised_ms) & (alarms.c.alarm_id > alarm_id)
        )
        wanted = behind & (alarms.c.raised_ms >= since_ms)
        return self._select(wanted & alarms.c.state.in_(_OPEN) if only_open else wanted, most)

    def of_craft(self, craft: str) -> list[Alarm]:
        """Every alarm that one craft ever had, the oldest first."""
        return self._select(alarms.c.craft == craft)

    def of_each_craft(self, craft: Collection[str]) -> dict[str, list[Alarm]]:
        """Every alarm that each of these craft ever had, the oldest first."""
        found: dict[str, list[Alarm]] = {one: [] for one in craft}
        for some in in_batches(sorted(found)):
            for alarm in self._select(alarms.c.craft.in_(some)):
                found[alarm.craft].append(alarm)
        return found

    def get(self, alarm_id: str) -> Alarm | None:
        """One alarm by its id, whatever its state."""
        found = self._select(alarms.c.alarm_id == alarm_id)
        return found[0] if found else None

    def find_known(self, alarm_ids: Collection[str]) -> list[Alarm]:
        """Those of some alarms that are on record, whatever their state, the oldest first."""
        found: list[Alarm] = []
        for some in in_batches(sorted(set(alarm_ids))):
            found += self._select(alarms.c.alarm_id.in_(some))
        return found

    def count_changes(self) -> int:
        """How many changes of state are on record: the same number later means that none came."""
        found = self._connection.scalar(
            select(alarm_change_counts.c.changes).where(
                alarm_change_counts.c.yard_id == self._yard_id
            )
        )
        return int(found or 0)

    def acknowledged_by(self, person: str, at: datetime) -> list[Alarm]:
        """Alarms that a person's one answer acknowledged, the oldest first."""
        answered = select(alarm_events.c.alarm_id).where(
            alarm_events.c.yard_id == self._yard_id,
            alarm_events.c.by == person,
            alarm_events.c.at_ms == to_ms(at),
        )
        return self._select(alarms.c.alarm_id.in_(answered))

    def put(self, changed: Iterable[Alarm]) -> None:
        """Enter new alarms, and put known ones' new state in place of the old."""
        rows = [self._row(alarm) for alarm in changed]
        if rows:
            self.were_changed = True
            self._connection.execute(put_in_place(alarms), rows)

    def put_facts(self, changed: Iterable[Alarm]) -> None:
        """Put new facts in the rows of known alarms whose state has not changed.

        A statement that names the state would have SQLite write the index of states too.
        """
        rows = [
            {f"{_NEW}{name}": value for name, value in self._row(alarm).items() if name != "state"}
            for alarm in changed
        ]
        if rows:
            self.were_changed = True
            self._connection.execute(_PUT_FACTS, rows)

    def record_changes(self, events: Iterable[AlarmEvent]) -> None:
        """Append changes of state; nothing here is ever edited."""
        appended = list(events)
        if not appended:
            return
        last = self._last_numbers({event.alarm for event in appended})
        rows = []
        for event in appended:
            last[event.alarm] = last.get(event.alarm, 0) + 1
            rows.append(
                {
                    "yard_id": self._yard_id,
                    "alarm_id": event.alarm,
                    "n": last[event.alarm],
                    "at_ms": to_ms(event.at),
                    "before": str(event.before),
                    "after": str(event.after),
                    "by": event.by,
                    **_said_columns("why", event.why),
                }
            )
        self._connection.execute(insert(alarm_events), rows)
        self._connection.execute(_COUNT_ON, {"yard_id": self._yard_id, "changes": len(rows)})

    def _last_numbers(self, alarm_ids: Collection[str]) -> dict[str, int]:
        """Number of each alarm's last change; alarms without any are left out."""
        found: dict[str, int] = {}
        for some in in_batches(sorted(alarm_ids)):
            rows = self._connection.execute(
                select(alarm_events.c.alarm_id, func.max(alarm_events.c.n))
                .where(alarm_events.c.yard_id == self._yard_id, alarm_events.c.alarm_id.in_(some))
                .group_by(alarm_events.c.alarm_id)
            )
            found.update((alarm_id, int(number)) for alarm_id, number in rows)
        return found

    def history_of(self, alarm_id: str) -> list[AlarmEvent]:
        """Every change of one alarm, in order."""
        return self.histories_of([alarm_id])[alarm_id]

    def histories_of(self, alarm_ids: Collection[str]) -> dict[str, list[AlarmEvent]]:
        """Every change of some alarms, each one's in order."""
        found: dict[str, list[AlarmEvent]] = {each: [] for each in alarm_ids}
        for some in in_batches(sorted(found)):
            rows = self._connection.execute(
                select(alarm_events)
                .where(alarm_events.c.yard_id == self._yard_id, alarm_events.c.alarm_id.in_(some))
                .order_by(alarm_events.c.alarm_id, alarm_events.c.n)
            )
            for row in rows:
                found[row.alarm_id].append(_event(row))
        return found

    def raisings_between(self, since: datetime, until: datetime) -> list[tuple[datetime, Alarm]]:
        """Every time that an alarm began to ask with ``since <= at < until``, in time order."""
        rows = self._changes_of_alarms(
            alarm_events.c.after == AlarmState.UNACKNOWLEDGED,
            alarm_events.c.before != AlarmState.UNACKNOWLEDGED,
            alarm_events.c.at_ms >= to_ms(since),
            alarm_events.c.at_ms < to_ms(until),
        )
        return [(from_ms(row.at_ms), _alarm(row)) for row in rows]

    def cleared_since(self, since: datetime) -> list[Alarm]:
        """Alarms whose cause was seen to be gone since a time, the oldest first."""
        since_ms = to_ms(since)

        def select_cleared() -> list[Alarm]:
            return self._select(alarms.c.cleared_ms >= since_ms)

        if self._reads is None:
            return select_cleared()
        return self._reads.read_since(
            "cleared", self._reads.alarm_mark, since_ms, select_cleared, _cleared_ms
        )

    def taken_on(self, since: datetime) -> list[tuple[datetime, str, Alarm]]:
        """Every alarm that a person took on since a time, when and who, in time order."""
        if self._reads is None:
            return self._select_taken(since)
        mark = (self._reads.alarm_mark, since)
        return self._reads.read_once("taken on", mark, lambda: self._select_taken(since))

    def _select_taken(self, since: datetime) -> list[tuple[datetime, str, Alarm]]:
        rows = self._changes_of_alarms(
            alarm_events.c.after == AlarmState.ACKNOWLEDGED,
            alarm_events.c.at_ms >= to_ms(since),
        )
        return [(from_ms(row.at_ms), row.by, _alarm(row)) for row in rows]

    def given_back(self, since: datetime) -> list[tuple[datetime, str, Alarm]]:
        """Every alarm that a person took on and gave back since a time, when and who, in order."""
        rows = self._changes_of_alarms(
            alarm_events.c.before == AlarmState.ACKNOWLEDGED,
            alarm_events.c.after == AlarmState.UNACKNOWLEDGED,
            alarm_events.c.by != LAIDUP,
            alarm_events.c.at_ms >= to_ms(since),
        )
        return [(from_ms(row.at_ms), row.by, _alarm(row)) for row in rows]

    def _changes_of_alarms(self, *which: ColumnElement[bool]) -> Sequence[Row[Any]]:
        """Alarms with the time and the person of some of their changes, in time order."""
        return self._connection.execute(
            select(alarms, alarm_events.c.at_ms, alarm_events.c.by)
            .join(
                alarm_events,
                (alarm_events.c.yard_id == alarms.c.yard_id)
                & (alarm_events.c.alarm_id == alarms.c.alarm_id),
            )
            .where(alarms.c.yard_id == self._yard_id, *which)
            .order_by(alarm_events.c.at_ms, alarms.c.alarm_id)
        ).all()

    def _select(self, condition: object, most: int | None = None) -> list[Alarm]:
        rows = self._connection.execute(
            select(alarms)
            .where(alarms.c.yard_id == self._yard_id, condition)  # type: ignore[arg-type]
            .order_by(alarms.c.raised_ms, alarms.c.alarm_id)
            .limit(most)
        )
        return [_alarm(row) for row in rows]

    def _row(self, alarm: Alarm) -> dict[str, object]:
        return {
            "yard_id": self._yard_id,
            "alarm_id": alarm.id,
            "cause": alarm.cause,
            "space": alarm.space,
            "craft": alarm.craft,
            "part": alarm.part,
            "state": str(alarm.state),
            "priority": str(alarm.priority),
            "urgency": str(alarm.urgency),
            "severity": str(alarm.severity),
            "certainty": str(alarm.certainty),
            **_said_columns("headline", alarm.headline),
            "raised_ms": to_ms(alarm.raised_at),
            "changed_ms": to_ms(alarm.changed_at),
            "deadline_ms": None if alarm.deadline is None else to_ms(alarm.deadline),
            "cleared_ms": None if alarm.cleared_at is None else to_ms(alarm.cleared_at),
        }


def _cleared_ms(alarm: Alarm) -> int:
    return -1 if alarm.cleared_at is None else to_ms(alarm.cleared_at)


_NEW = "new_"  # bound names must differ from the columns' own
_PUT_FACTS = (
    update(alarms)
    .where(*(column == bindparam(f"{_NEW}{column.name}") for column in alarms.primary_key))
    .values(
        {
            column.name: bindparam(f"{_NEW}{column.name}")
            for column in alarms.columns
            if not column.primary_key and column.name != "state"
        }
    )
)


def _said_columns(column: str, said: Headline | Reason) -> dict[str, str | None]:
    """Written lines as they are, and facts as JSON beside an empty line."""
    if isinstance(said, FinishedLine):
        return {column: said.text, f"{column}_facts": None}
    row = _HeadlineRow(said=said) if isinstance(said, HeadlineFacts) else _ReasonRow(said=said)
    return {column: "", f"{column}_facts": row.model_dump_json()}


def _headline(row: Row[tuple[object, ...]]) -> Headline:
    if row.headline_facts is None:
        return FinishedLine(text=row.headline)
    return _HeadlineRow.model_validate_json(row.headline_facts).said


def _reason(row: Row[tuple[object, ...]]) -> Reason:
    if row.why_facts is None:
        return FinishedLine(text=row.why)
    return _ReasonRow.model_validate_json(row.why_facts).said


def _event(row: Row[tuple[object, ...]]) -> AlarmEvent:
    return AlarmEvent(
        alarm=row.alarm_id,
        at=from_ms(row.at_ms),
        before=AlarmState(row.before),
        after=AlarmState(row.after),
        by=row.by,
        why=_reason(row),
    )


def _alarm(row: Row[tuple[object, ...]]) -> Alarm:
    return Alarm(
        id=row.alarm_id,
        cause=row.cause,
        space=row.space,
        craft=row.craft,
        part=row.part,
        state=AlarmState(row.state),
        priority=Priority(row.priority),
        urgency=Urgency(row.urgency),
        severity=Severity(row.severity),
        certainty=Certainty(row.certainty),
        headline=_headline(row),
        raised_at=from_ms(row.raised_ms),
        changed_at=from_ms(row.changed_ms),
        deadline=None if row.deadline_ms is None else from_ms(row.deadline_ms),
        cleared_at=None if row.cleared_ms is None else from_ms(row.cleared_ms),
    )
