"""Judgements of representatives, read as those of every part that is equal to one."""

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from monitor.craft.stored import StoredCraft
from monitor.judgement.craft_job import is_led, plan_craft_acts, with_job
from monitor.judgement.crew_hours import CrewHours
from monitor.judgement.work_order import Where, takes_time, turns_of_work
from monitor.yard.assessment import Assessment, Hazard, Subject, WorkTurn
from monitor.yard.space import Yard

Key = tuple[Hazard, str, str]  # a subject wherever it stands: its craft, else its space, and part


def key_of(judged: Assessment) -> Key:
    """Key of what a judgement is about, wherever that stands."""
    subject = judged.subject
    return (judged.hazard, subject.craft or subject.space, subject.part)


class Member(NamedTuple):
    """One part of a group of identical ones."""

    part: Key
    subject: Subject


def _copies_for(
    judged: Assessment, like: Sequence[Member], turns: Mapping[Where, WorkTurn]
) -> list[Assessment]:
    """Copies of a representative's judgement for members of its group, with their work turns."""
    return judged.of_others(
        (subject, turns.get((subject.space, subject.craft))) for _, subject in like
    )


@dataclass(frozen=True, slots=True)
class PartGroups:
    """A yard's craft, reduced to one representative for each group of identical parts."""

    of: list[StoredCraft]
    craft: list[StoredCraft]  # only the parts that stand for their kind
    members: dict[Key, list[Member]]  # by the part that stands for its kind: all of that
    kind_of: dict[Key, tuple[Key, Member]]  # by part: what stands for it, and itself


@dataclass(frozen=True, slots=True)
class GroupedJudgements:
    """Judgements of one moment: one for each group's representative, and those of all else."""

    judged: dict[Key, Assessment]
    kinds: PartGroups | None = None  # None: every part is judged for itself alone

    def assessment_of(self, part: Key) -> Assessment | None:
        """Judgement of a part or of its group's representative; None: not judged."""
        return self.judged.get(self._judged_for(part))

    def all_parts(self) -> Iterator[Key]:
        """Every part that was judged, members of groups included."""
        for by in self.judged:
            yield from self._parts_like(by)

    def spaces_of(self, parts: Iterable[Key]) -> set[str]:
        """Spaces in which these parts stand."""
        judged = (self.assessment_of(part) for part in parts)
        return {each.subject.space for each in judged if each is not None}

    def within_spaces(self, spaces: Container[str]) -> "GroupedJudgements":
        """Only the judgements of parts in some of the spaces."""
        here = {by: each for by, each in self.judged.items() if each.subject.space in spaces}
        return GroupedJudgements(here, self.kinds)

    def own_assessment(self, part: Key) -> Assessment:
        """Judgement of one part, with its own subject.

        Raises
        ------
        KeyError
            If it was not judged.
        """
        judged = self.judged[self._judged_for(part)]
        known = None if self.kinds is None else self.kinds.kind_of.get(part)
        if known is None:
            return judged
        _, one = known
        return _copies_for(judged, [one], {})[0]

    def assessments_in_order(self, yard: Yard, now: datetime) -> list[Assessment]:
        """Every part's own judgement, the acts numbered over the whole yard as by `order_acts`."""
        members = {} if self.kinds is None else self.kinds.members
        acts: dict[Where, list[Assessment]] = {}
        exposed: dict[str, dict[str, Assessment]] = {}
        for by, judged in self.judged.items():
            if takes_time(judged):
                subjects = [one.subject for one in members.get(by, ())] or [judged.subject]
                for subject in subjects:
                    acts.setdefault((subject.space, subject.craft), []).append(judged)
                    if is_led(judged):
                        exposed.setdefault(subject.craft, {})[subject.part] = judged
        craft = [] if self.kinds is None else self.kinds.of
        jobs = plan_craft_acts(exposed, craft, yard)
        turns = turns_of_work(acts, now, jobs, CrewHours.of_yard(yard, now))
        found: list[Assessment] = []
        for by, judged in self.judged.items():
            like = members.get(by) or [Member(by, judged.subject)]
            told = _copies_for(judged, like, turns if takes_time(judged) else {})
            found += [with_job(each, jobs) for each in told] if is_led(judged) else told
        return found

    def for_next_round(self, kinds: PartGroups) -> list[Assessment]:
        """Judgements to hand to the next round: one for each group and each ungrouped part."""
        if kinds is self.kinds:
            return list(self.judged.values())
        own = (part for part in self.judged if part not in kinds.kind_of)
        return [
            self.own_assessment(part)
            for part in (*kinds.members, *own)
            if self.assessment_of(part) is not None
        ]

    def updated_by(self, later: "GroupedJudgements") -> "GroupedJudgements":
        """These judgements, replaced where a later moment judged some of the spaces anew."""
        if later.kinds is self.kinds:
            return GroupedJudgements(self.judged | later.judged, self.kinds)
        apart = {part: self.own_assessment(part) for part in self.all_parts()}
        return GroupedJudgements(
            apart | {part: later.own_assessment(part) for part in later.all_parts()}
        )

    def changed_in(self, later: "GroupedJudgements") -> list[Key]:
        """Parts whose standing differs in a later moment, or that are new in it."""
        if later.kinds is self.kinds:
            differ = [
                by
                for by, each in later.judged.items()
                if _standing_differs(self.judged.get(by), each)
            ]
            return [part for by in differ for part in later._parts_like(by)]
        return [
            part
            for part in later.all_parts()
            if _standing_differs(self.assessment_of(part), later.assessment_of(part))
        ]

    def _judged_for(self, part: Key) -> Key:
        known = None if self.kinds is None else self.kinds.kind_of.get(part)
        return part if known is None else known[0]

    def _parts_like(self, by: Key) -> list[Key]:
        like = None if self.kinds is None else self.kinds.members.get(by)
        return [by] if like is None else [one.part for one in like]


def _standing_differs(was: Assessment | None, now: Assessment | None) -> bool:
    return was is None or now is None or was.standing is not now.standing
