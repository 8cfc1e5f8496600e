"""Past standings: every change of one craft, and how each subject stood at one time."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Row, Select, and_, func, select
from sqlalchemy.sql.base import ReadOnlyColumnCollection

from monitor.clock import from_ms, to_ms
from monitor.store.assessments import read_change
from monitor.store.statements import in_batches
from monitor.store.tables import standing_changes
from monitor.yard.assessment import Assessment, Hazard, Origin, Standing


class PastJudgement(NamedTuple):
    """A judgement as it was made, and what made it."""

    seen: Assessment
    origin: Origin


class StandingChange(NamedTuple):
    """That a subject came to a standing, without what that rested on."""

    craft: str  # empty: of a space or sensor
    space: str
    part: str
    hazard: Hazard
    standing: Standing
    at: datetime


class StandingHistory:
    """Changes of standing of one yard, as they were kept for good."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._own = standing_changes.c.yard_id == yard_id

    def changes_of_craft(self, craft: str, since: datetime) -> list[PastJudgement]:
        """Every change of one craft since a time, in time order."""
        kept = standing_changes.c
        return self._past(
            select(standing_changes)
            .where(self._own, kept.craft == craft, kept.at_ms >= to_ms(since))
            .order_by(kept.at_ms, kept.hazard, kept.part)
        )

    def bare_changes(
        self, craft: Collection[str], since: datetime, until: datetime
    ) -> dict[str, list[StandingChange]]:
        """What subjects of each of these craft came to with ``since <= at < until``, in time order.

        What a judgement rested on is not read: of a winter that takes a hundredth of the time.
        With the craft "" those of spaces and sensors.
        """
        found: dict[str, list[StandingChange]] = {one: [] for one in craft}
        kept = standing_changes.c
        for some in in_batches(sorted(found)):
            rows = self._connection.execute(
                select(kept.craft, kept.space, kept.part, kept.hazard, kept.standing, kept.at_ms)
                .where(
                    self._own,
                    kept.craft.in_(some),
                    kept.at_ms >= to_ms(since),
                    kept.at_ms < to_ms(until),
                )
                .order_by(kept.craft, kept.at_ms, kept.hazard, kept.part)
            )
            for change in _readable_changes(rows):
                found[change.craft].append(change)
        return found

    def standings_at(self, at: datetime, craft: str | None = None) -> list[PastJudgement]:
        """How each subject stood at a time: its last change until then, in order of subject.

        A subject that was no longer judged by then is among them with its last change, too.

        Parameters
        ----------
        at : datetime
        craft : str, optional
            Of this craft alone; empty: of spaces and sensors.
        """
        kept = standing_changes.c
        subject = (kept.hazard, kept.space, kept.craft, kept.part)
        which: list[ColumnElement[bool]] = [self._own, kept.at_ms <= to_ms(at)]
        if craft is not None:
            which.append(kept.craft == craft)
        last = (
            select(*subject, func.max(kept.at_ms).label("at_ms"))
            .where(*which)
            .group_by(*subject)
            .subquery()
        )
        return self._past(
            select(standing_changes)
            .join(last, (kept.at_ms == last.c.at_ms) & _same_subject(last.c))
            .where(self._own)
            .order_by(kept.space, kept.craft, kept.hazard, kept.part)
        )

    def _past(self, statement: Select[Any]) -> list[PastJudgement]:
        rows: Sequence[Row[Any]] = self._connection.execute(statement).all()
        return [
            PastJudgement(
                read_change(row.body),
                Origin(
                    program=row.program or "",
                    settings=row.settings_digest or "",
                    profile=row.profile_digest or "",
                ),
            )
            for row in rows
        ]


def _readable_changes(rows: Iterable[Any]) -> Iterator[StandingChange]:
    """Rows as changes; one whose words a later or another program wrote is left out."""
    for row in rows:
        try:
            hazard, standing = Hazard(row.hazard), Standing(row.standing)
        except ValueError:
            continue
        yield StandingChange(row.craft, row.space, row.part, hazard, standing, from_ms(row.at_ms))


def _same_subject(last: ReadOnlyColumnCollection[str, Any]) -> ColumnElement[bool]:
    kept = standing_changes.c
    return and_(*(kept[name] == last[name] for name in ("hazard", "space", "craft", "part")))
