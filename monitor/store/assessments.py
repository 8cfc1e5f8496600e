"""Judgements: the latest of each subject, and every change of standing for good."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, model_validator
from sqlalchemy import Connection, bindparam, delete, func, insert, select

from monitor.clock import from_ms, to_ms
from monitor.store.tables import assessments, standing_changes
from monitor.yard.assessment import Assessment, Hazard, Standing


class Assessments:
    """The judgements of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def replace(self, judged: Iterable[Assessment]) -> list[Assessment]:
        """Put one round's judgements in place of the last round's.

        Returns
        -------
        list of Assessment
            Those whose standing is not what it was; they are kept for good.
        """
        before = {
            tuple(row[:4]): row.standing
            for row in self._connection.execute(
                select(
                    assessments.c.hazard,
                    assessments.c.space,
                    assessments.c.craft,
                    assessments.c.part,
                    assessments.c.standing,
                ).where(assessments.c.yard_id == self._yard_id)
            )
        }
        rows, changes, changed = [], [], []
        for assessment in judged:
            row = self._row(assessment)
            rows.append(row)
            if before.get(_key(assessment)) != assessment.standing:
                changes.append(row)
                changed.append(assessment)
        self._connection.execute(delete(assessments).where(assessments.c.yard_id == self._yard_id))
        if rows:
            self._connection.execute(insert(assessments), rows)
        if changes:
            # Two rounds may share one moment of the readings' clock: the later one stands.
            same = (standing_changes.c[name] == bindparam(f"the_{name}") for name in _CHANGE_KEY)
            self._connection.execute(
                delete(standing_changes).where(*same),
                # Bound names must differ from the columns' own.
                [{f"the_{name}": row[name] for name in _CHANGE_KEY} for row in changes],
            )
            self._connection.execute(insert(standing_changes), changes)
        return changed

    def latest(self) -> list[Assessment]:
        """Judgements of the last round, in order of subject."""
        rows = self._connection.scalars(
            select(assessments.c.body)
            .where(assessments.c.yard_id == self._yard_id)
            .order_by(
                assessments.c.space, assessments.c.craft, assessments.c.hazard, assessments.c.part
            )
        )
        return [_Body.model_validate_json(body).assessment for body in rows]

    def changes(self, since: datetime, until: datetime) -> list[Assessment]:
        """Changes of standing with ``since <= at < until``, in time order."""
        rows = self._connection.scalars(
            select(standing_changes.c.body)
            .where(
                standing_changes.c.yard_id == self._yard_id,
                standing_changes.c.at_ms >= to_ms(since),
                standing_changes.c.at_ms < to_ms(until),
            )
            .order_by(standing_changes.c.at_ms)
        )
        return [_Body.model_validate_json(body).assessment for body in rows]

    def known_since(self, hazard: Hazard) -> dict[tuple[str, str], datetime]:
        """When each part of each craft was first known of a hazard; without those still unknown."""
        part = (standing_changes.c.craft, standing_changes.c.part)
        rows = self._connection.execute(
            select(*part, func.min(standing_changes.c.at_ms))
            .where(
                standing_changes.c.yard_id == self._yard_id,
                standing_changes.c.hazard == hazard,
                standing_changes.c.craft != "",
                standing_changes.c.standing != Standing.NOT_KNOWN,
            )
            .group_by(*part)
        )
        return {(craft, part_id): from_ms(at_ms) for craft, part_id, at_ms in rows}

    def _row(self, assessment: Assessment) -> dict[str, object]:
        hazard, space, craft, part = _key(assessment)
        return {
            "yard_id": self._yard_id,
            "hazard": hazard,
            "space": space,
            "craft": craft,
            "part": part,
            "at_ms": to_ms(assessment.at),
            "standing": str(assessment.standing),
            "body": _Body(assessment=assessment).model_dump_json(),
        }


_CHANGE_KEY = ("yard_id", "hazard", "space", "craft", "part", "at_ms")


def _key(assessment: Assessment) -> tuple[str, str, str, str]:
    subject = assessment.subject
    return (str(assessment.hazard), subject.space, subject.craft, subject.part)


class _Body(BaseModel):
    """An assessment as JSON. NaN and infinity are meant: plain JSON would turn them into null."""

    model_config = ConfigDict(ser_json_inf_nan="strings")
    assessment: Assessment

    @model_validator(mode="before")
    @classmethod
    def _read_earlier_seasons(cls, stored: dict[str, Any]) -> dict[str, Any]:
        """Rows of earlier seasons hold finished sentences where facts stand now."""
        judged = stored["assessment"]
        if isinstance(judged, dict) and "basis" in judged:
            judged = dict(judged)
            text = {"form": "text", "basis": judged.pop("basis"), "act": judged.pop("act", "")}
            figures = judged.get("figures", {})
            text["past_ice"] = {
                "as_water_at": figures.pop("iced_at_unix_s", None),
                "as_mix_at": figures.pop("third_ice_at_unix_s", None),
            }
            judged |= {"facts": text, "calls_for_act": bool(text["act"])}
        return {"assessment": judged}
