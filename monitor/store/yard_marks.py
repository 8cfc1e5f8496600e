"""What tells that nothing of a yard has changed, asked in one statement; what was read until then.

A page asks for alarms, who has them and forecasts each time that it is made anew, and most of the
time none of them is another. Every question costs some hundred microseconds by itself, so one
statement asks for the marks of all, and what stands under the same mark is not read again.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property
from threading import Lock
from typing import Any, TypeVar, cast

from sqlalchemy import Connection, Integer, bindparam, func, select

from monitor.store.chain_rows import MOST
from monitor.store.tables import (
    alarm_change_counts,
    forecasts,
    present_judgements,
    record_breaks,
    record_links,
)

_Read = TypeVar("_Read")
_MOST_ROWS = 5000  # of one answer; a larger one is read again rather than held
_YARD = bindparam("yard_id", type_=Integer)
_MARKS = select(
    select(present_judgements.c.at_ms)
    .where(present_judgements.c.yard_id == _YARD)
    .scalar_subquery()
    .label("judged_ms"),
    select(func.max(forecasts.c.fetched_ms))
    .where(forecasts.c.yard_id == _YARD)
    .scalar_subquery()
    .label("forecast_ms"),
    # Positions only ever grow, and the last is found without a walk through the season's links.
    select(func.coalesce(func.max(record_links.c.position), -1))
    .where(record_links.c.yard_id == _YARD, record_links.c.position <= MOST)
    .scalar_subquery()
    .label("links"),
    # Kept beside the events, and none where there are none: to count them takes longer each week.
    func.coalesce(
        select(alarm_change_counts.c.changes)
        .where(alarm_change_counts.c.yard_id == _YARD)
        .scalar_subquery(),
        0,
    ).label("alarm_changes"),
    select(func.count())
    .select_from(record_breaks)
    .where(record_breaks.c.yard_id == _YARD)
    .scalar_subquery()
    .label("breaks"),
)


@dataclass(frozen=True, slots=True)
class YardMarks:
    """How far each table has come; whatever changes one of them moves its mark."""

    judged_ms: int | None  # of the newest written round; None: there is none
    forecast_ms: int | None  # when the newest forecast was fetched
    alarm_changes: int  # of state, on record
    links: int  # last position in the record's chains; -1: there is none
    breaks: int  # craft whose record is broken


class KeptReads:
    """Answers of the store by what was asked, each with the mark under which it was read."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: dict[str, tuple[Hashable, Any]] = {}

    def find_kept(self, question: str, mark: Hashable) -> Any | None:  # noqa: ANN401 - any answer
        """What was answered under this very mark; None where nothing is kept of it."""
        with self._lock:
            kept = self._kept.get(question)
        return kept[1] if kept is not None and kept[0] == mark else None

    def keep_answer(self, question: str, mark: Hashable, answer: object, rows: int) -> None:
        """Keep an answer in place of the one before, unless it has too many rows to be held."""
        with self._lock:
            if rows <= _MOST_ROWS:
                self._kept[question] = (mark, answer)
            else:
                self._kept.pop(question, None)


class SteadyReads:
    """The reads of one snapshot, each made again only where its mark has moved.

    It is made before the snapshot's first statement: what this process commits after that has
    another ``alarm_commits``, so nothing that the snapshot is too old for is kept under it.
    """

    def __init__(
        self, connection: Connection, yard_id: int, kept: KeptReads, alarm_commits: int
    ) -> None:
        """Make it.

        Parameters
        ----------
        connection : Connection
        yard_id : int
        kept : KeptReads
            Of this process.
        alarm_commits : int
            How many transactions of this process have changed alarms, as it is now.
        """
        self._connection = connection
        self._yard_id = yard_id
        self._kept = kept
        self._alarm_commits = alarm_commits

    @cached_property
    def marks(self) -> YardMarks:
        """The marks of this snapshot."""
        found = self._connection.execute(_MARKS, {"yard_id": self._yard_id}).one()
        return YardMarks(
            found.judged_ms, found.forecast_ms, found.alarm_changes, found.links, found.breaks
        )

    @property
    def alarm_mark(self) -> Hashable:
        """Of alarms: facts of one may change without its state, in the process that watches."""
        return self._alarm_commits, self.marks.alarm_changes

    def read_once(
        self, question: str, mark: Hashable, read: Callable[[], Sequence[_Read]]
    ) -> list[_Read]:
        """The rows that answer a question, as they were read under this mark, or read now."""
        found = cast("Sequence[_Read] | None", self._kept.find_kept(question, mark))
        if found is None:
            found = read()
            self._kept.keep_answer(question, mark, found, len(found))
        return list(found)

    def read_since(
        self,
        question: str,
        mark: Hashable,
        since_ms: int,
        read: Callable[[], Sequence[_Read]],
        at_ms: Callable[[_Read], int],
    ) -> list[_Read]:
        """The rows since a time that moves on: of those that were read since an earlier one.

        Parameters
        ----------
        question : str
        mark : hashable
        since_ms : int
        read : callable
            Reads the rows since then.
        at_ms : callable
            The time of a row.
        """
        kept = self._kept.find_kept(question, mark)
        if kept is not None and kept[0] <= since_ms < kept[0] + _WORTH_GOING_THROUGH_MS:
            return [one for one in kept[1] if at_ms(one) >= since_ms]
        found = read()
        self._kept.keep_answer(question, mark, (since_ms, found), len(found))
        return list(found)


_WORTH_GOING_THROUGH_MS = 24 * 3600 * 1000
