"""Judgements: the latest of each subject, and every change of standing for good."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, model_validator
from sqlalchemy import Connection, delete, func, insert, select, update

from monitor.clock import from_ms, to_ms
from monitor.store.earlier_facts import with_facts
from monitor.store.packed_judgements import (
    group_equal,
    pack_groups,
    pad_to_block,
    unpack_judgements,
)
from monitor.store.present import (
    Due,
    NewPicture,
    PresentPicture,
    SubjectKey,
    WatchSeen,
    key_of_subject,
)
from monitor.store.statements import put_in_place
from monitor.store.tables import assessments, present_judgements, standing_changes
from monitor.store.visible_picture import VisiblePicture
from monitor.store.yard_marks import SteadyReads
from monitor.yard.assessment import NOT_KEPT, Assessment, Hazard, Origin, Standing, Subject

NO_ORIGINS: Mapping[str, Origin] = {}


class Assessments:
    """The judgements of one yard."""

    def __init__(
        self,
        connection: Connection,
        yard_id: int,
        present: PresentPicture,
        reads: SteadyReads | None = None,
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._present = present
        self._reads = reads
        self._own = present_judgements.c.yard_id == yard_id
        self._new: NewPicture | None = None

    def replace_judgements(
        self, judged: Iterable[Assessment], origins: Mapping[str, Origin] = NO_ORIGINS
    ) -> list[Assessment]:
        """Put one round's judgements in place of the last round's.

        Readers of this process have them at once. They are written when a standing changes, or
        something else that a person would see, at most every 15 s; else only that it was judged.

        Parameters
        ----------
        judged : iterable of Assessment
        origins : mapping of Origin by craft, optional
            What the judgements were made by; that of spaces and sensors has the empty key.

        Returns
        -------
        list of Assessment
            Those whose standing is not what it was; they are kept for good.
        """
        judged = sorted(judged, key=_place)
        if not judged:
            self._clear()
            return []
        stored_ms = self.judged_mark()
        before = self._standings_before(stored_ms)
        standings = {key_of_subject(one): one.standing for one in judged}
        changed = [
            one
            for one, (key, standing) in zip(judged, standings.items(), strict=True)
            if before.get(key) is not standing
        ]
        new = NewPicture(
            judged=judged, standings=standings, at_ms=max(to_ms(one.at) for one in judged)
        )
        # Changes are written at once, and whoever reads the picture elsewhere reads them with it;
        # of what is no longer judged nothing else tells.
        gone = any(key not in standings for key in before)
        self._new = self._write_picture(new, stored_ms, urgent=gone)
        self._write_changes(changed, origins)
        return changed

    def show_committed(self) -> None:
        """Show what was put in place to this process, now that it is on the disk."""
        if self._new is not None:
            self._present.take(self._new)
            self._new = None

    def _standings_before(self, stored_ms: int | None) -> Mapping[SubjectKey, Standing]:
        known = self._present.standings_newer_than(-1 if stored_ms is None else stored_ms)
        if known is not None:
            return known
        return {key_of_subject(one): one.standing for one in self.latest_judgements()}

    def _clear(self) -> None:
        """Nothing is judged any more: there is no present picture."""
        self._new = NewPicture(judged=[], standings={}, at_ms=0)
        self._connection.execute(delete(present_judgements).where(self._own))
        earlier = delete(assessments).where(assessments.c.yard_id == self._yard_id)
        self._connection.execute(earlier)

    def _write_picture(self, new: NewPicture, stored_ms: int | None, *, urgent: bool) -> NewPicture:
        if not self._present.is_due(new.at_ms, stored_ms, urgent=urgent):
            return new
        groups = group_equal(new.judged)
        visible = VisiblePicture.of_groups(groups)
        due = self._present.due(visible, new.at_ms, stored_ms, urgent=urgent)
        if due is Due.NOTHING:
            return new
        values: dict[str, object] = {"at_ms": new.at_ms}
        if due is Due.PICTURE:
            values["body"] = pad_to_block(pack_groups(groups))
        if stored_ms is not None:
            self._connection.execute(update(present_judgements).where(self._own).values(values))
        else:
            self._connection.execute(
                insert(present_judgements).values(values | {"yard_id": self._yard_id})
            )
            # From now on the rows of earlier revisions are no longer the latest.
            earlier = delete(assessments).where(assessments.c.yard_id == self._yard_id)
            self._connection.execute(earlier)
        return replace(new, written=due, visible=visible)

    def _write_changes(self, changed: list[Assessment], origins: Mapping[str, Origin]) -> None:
        if not changed:
            return
        changes = [
            self._row(one) | _origin_columns(origins.get(one.subject.craft, NOT_KEPT))
            for one in changed
        ]
        # Two rounds may share one moment of the readings' clock: the later one stands.
        self._connection.execute(put_in_place(standing_changes), changes)

    def latest_judgements(self) -> list[Assessment]:
        """Judgements of the last round, in order of subject."""
        at_ms = self.judged_mark()
        newer = self._present.newer_than(-1 if at_ms is None else at_ms)
        if newer is not None:
            return newer
        if at_ms is None:
            return self._of_earlier_revisions()
        row = self._connection.execute(select(present_judgements).where(self._own)).one()
        judged = {
            key_of_subject(one): one for one in unpack_judgements(row.body, from_ms(row.at_ms))
        }
        judged |= {key_of_subject(one): one for one in self._changes(row.at_ms, None)}
        return sorted(judged.values(), key=_place)

    def latest_in(self, spaces: Collection[str], craft: str | None = None) -> list[Assessment]:
        """Judgements of the last round in some spaces, in order of subject.

        Where this process made them, the cost does not grow with the yard.

        Parameters
        ----------
        spaces : collection of str
        craft : str, optional
            Of this craft alone; empty: of the spaces themselves and their sensors.
        """
        wanted = sorted(set(spaces))
        at_ms = self.judged_mark()
        newer = self._present.some_newer_than(-1 if at_ms is None else at_ms, wanted, craft)
        if newer is not None:
            return newer
        return [
            one
            for one in self.latest_judgements()
            if one.subject.space in wanted and craft in {None, one.subject.craft}
        ]

    def judged_mark(self) -> int | None:
        """When the newest written round was judged [ms]; another process may have written it."""
        if self._reads is not None:
            return self._reads.marks.judged_ms
        return self._connection.scalar(select(present_judgements.c.at_ms).where(self._own))

    def watch_seen(self) -> WatchSeen:
        """What the last round's judgements say of the watch, at the same cost for any yard.

        They are gone through once: as they are made, or where another process made them.
        """
        at_ms = self.judged_mark()
        seen = self._present.watch_at(at_ms)
        if seen is None:
            seen = WatchSeen.of_judgements(self.latest_judgements())
            self._present.keep_watch(seen, at_ms)
        return seen

    def _of_earlier_revisions(self) -> list[Assessment]:
        """What a store holds whose last round was judged before there was one row for all."""
        rows = self._connection.scalars(
            select(assessments.c.body).where(assessments.c.yard_id == self._yard_id)
        )
        judged = (_Body.model_validate_json(body).assessment for body in rows)
        return sorted(judged, key=_place)

    def changes_between(self, since: datetime, until: datetime) -> list[Assessment]:
        """Changes of standing with ``since <= at < until``, in time order."""
        return self._changes(to_ms(since), to_ms(until))

    def _changes(self, since_ms: int, until_ms: int | None) -> list[Assessment]:
        within = [
            standing_changes.c.yard_id == self._yard_id,
            standing_changes.c.at_ms >= since_ms,
        ]
        if until_ms is not None:
            within.append(standing_changes.c.at_ms < until_ms)
        rows = self._connection.scalars(
            select(standing_changes.c.body).where(*within).order_by(standing_changes.c.at_ms)
        )
        return [read_change(body) for body in rows]

    def origins_between(
        self, since: datetime, until: datetime
    ) -> dict[tuple[Hazard, Subject], Origin]:
        """What each subject's last change with ``since <= at < until`` was judged by."""
        kept = standing_changes.c
        rows = self._connection.execute(
            select(
                kept.hazard, kept.space, kept.craft, kept.part,
                kept.program, kept.settings_digest, kept.profile_digest,
            )
            .where(
                kept.yard_id == self._yard_id, kept.at_ms >= to_ms(since), kept.at_ms < to_ms(until)
            )
            .order_by(kept.at_ms)
        )  # fmt: skip
        return {
            (Hazard(hazard), Subject(space, craft, part)): Origin(
                program=program or "", settings=settings or "", profile=profile or ""
            )
            for hazard, space, craft, part, program, settings, profile in rows
        }

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
        hazard, space, craft, part = key_of_subject(assessment)
        return {
            "yard_id": self._yard_id,
            "hazard": str(hazard),
            "space": space,
            "craft": craft,
            "part": part,
            "at_ms": to_ms(assessment.at),
            "standing": str(assessment.standing),
            "body": _Body(assessment=assessment).model_dump_json(),
        }


def read_change(body: str) -> Assessment:
    """A judgement as a row of the changes of standing holds it, of whatever season."""
    return _Body.model_validate_json(body).assessment


def _origin_columns(origin: Origin) -> dict[str, object]:
    return {
        "program": origin.program or None,
        "settings_digest": origin.settings or None,
        "profile_digest": origin.profile or None,
    }


def _place(assessment: Assessment) -> tuple[str, str, str, str]:
    """In order of subject."""
    subject = assessment.subject
    return (subject.space, subject.craft, assessment.hazard, subject.part)


class _Body(BaseModel):
    """An assessment as JSON. NaN and infinity are meant: plain JSON would turn them into null."""

    model_config = ConfigDict(ser_json_inf_nan="strings")
    assessment: Assessment

    @model_validator(mode="before")
    @classmethod
    def _read_earlier_seasons(cls, stored: dict[str, Any]) -> dict[str, Any]:
        """Rows of earlier seasons hold finished sentences where facts stand now."""
        return {"assessment": with_facts(stored["assessment"])}
