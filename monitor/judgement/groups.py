"""Groups of identical parts of craft: one representative is judged, whatever their number."""

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta
from typing import NamedTuple

from monitor.craft.protection import Protection
from monitor.craft.stored import Battery, StoredCraft
from monitor.judgement.air.grid import PAST_H
from monitor.judgement.craft_job import is_led, plan_craft_acts, with_job
from monitor.judgement.crew_hours import CrewHours
from monitor.judgement.work_order import Where, takes_time, turns_of_work
from monitor.yard.assessment import Assessment, Hazard, Subject, WorkTurn
from monitor.yard.facts import battery_memory_of, past_ice_of
from monitor.yard.space import Yard

Key = tuple[Hazard, str, str]  # a subject wherever it stands: its craft, else its space, and part

# Parts are compared one by one; all else that a craft has, but for these, tells it from others.
_PARTS = {"circuits", "protection", "surfaces", "keeping", "battery"}
_NAMES = {"id", "name", "owner", "berth", "hull_number", "plan_start"}
_COMING = {"since", "came_from"}
_SHARED = tuple(
    one.name for one in fields(StoredCraft) if one.name not in _PARTS | _NAMES | _COMING
)


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


def part_groups(
    yard: Yard,
    craft: list[StoredCraft],
    known: GroupedJudgements,
    now: datetime,
    *found: PartGroups | None,
) -> PartGroups:
    """Groups of a yard's parts; computed again only when a craft has changed.

    Parameters
    ----------
    yard : Yard
    craft : list of StoredCraft
        In the yard's care at ``now``.
    known : GroupedJudgements
        Judgements of the round before.
    now : datetime
    *found : PartGroups
        Groups of other moments, which may still be valid.
    """
    for kinds in (known.kinds, *found):
        if kinds is not None and kinds.of == craft:
            return kinds
    with_sensors = frozenset(each.craft for each in yard.sensors if each.craft is not None)
    return group_parts(craft, known, with_sensors, now)


def _standing_differs(was: Assessment | None, now: Assessment | None) -> bool:
    return was is None or now is None or was.standing is not now.standing


def group_parts(
    craft: list[StoredCraft], known: GroupedJudgements, apart: frozenset[str], now: datetime
) -> PartGroups:
    """Group the parts that get one and the same judgement.

    Parameters
    ----------
    craft : list of StoredCraft
    known : GroupedJudgements
        What was last judged of each part: two circuits of which one has been through ice differ.
    apart : set of str
        Craft that have sensors of their own; they are left as they are, and so are those whose
        record itself calls for a judgement.
    now : datetime
        A craft that came into its space within the hours looked at differs from one that has
        stood there for long.
    """
    kinds: dict[tuple[object, ...], Key] = {}
    members: dict[Key, list[Member]] = {}
    kind_of: dict[Key, tuple[Key, Member]] = {}
    found = []
    recent = now - timedelta(hours=PAST_H + 48.0)

    def add_to_group(key: Key, kind: tuple[object, ...], space: str) -> bool:
        hazard, owner, part = key
        by = kinds.setdefault((hazard, *kind), key)
        member = Member(key, Subject(space, owner, part))
        members.setdefault(by, []).append(member)
        kind_of[key] = by, member
        return by == key

    for each in craft:
        alone = each.id in apart or bool(each.unsettled)
        place = _place_key(each, recent, alone=alone)
        circuits = []
        protection = {}
        for circuit in each.circuits:
            key = (Hazard.FROST, each.id, circuit.id)
            held = each.protection[circuit.id]
            handed = _memory_key(known, key)
            kind = (
                replace(circuit, id=""),
                _protection_key(held, recent, has_past=bool(handed)),
                handed,
            )
            if add_to_group(key, (*place, *kind), each.space):
                circuits.append(circuit)
                protection[circuit.id] = held
        surfaces = tuple(
            surface
            for surface in each.surfaces
            if add_to_group(
                (Hazard.DAMP, each.id, surface.id),
                (*place, replace(surface, id=""), each.keeping),
                each.space,
            )
        )
        battery = each.battery
        stands = None if battery is None else _battery_key(battery, recent)
        key = (Hazard.BATTERY, each.id, "battery")
        as_others = (*place, stands, _memory_key(known, key))
        if battery and not add_to_group(key, as_others, battery.space or each.space):
            battery = None
        if circuits or surfaces or battery or alone:
            found.append(
                replace(
                    each,
                    circuits=tuple(circuits),
                    protection=protection,
                    surfaces=surfaces,
                    battery=battery,
                )
            )
    return PartGroups(craft, found, members, kind_of)


def _place_key(each: StoredCraft, recent: datetime, *, alone: bool) -> tuple[object, ...]:
    """What must be equal in two craft before parts of theirs can share a group."""
    came = each.since is not None and each.since > recent
    return (
        each.id if alone else "",
        (each.since, each.came_from) if came else None,
        *(getattr(each, name) for name in _SHARED),
    )


def _protection_key(held: Protection, recent: datetime, *, has_past: bool) -> Protection:
    """Protection as far as it is compared: inspection times count only against remembered ice."""

    def recent_time(at: datetime | None) -> datetime | None:
        return None if not has_past and at is not None and at < recent else at

    return replace(
        held,
        circuit="",
        why="",
        inspected_at=recent_time(held.inspected_at),
        sampled_at=recent_time(held.sampled_at),
    )


def _battery_key(battery: Battery, recent: datetime) -> Battery:
    """Battery as far as it is compared: its arrival counts only within the hours of air used."""
    if battery.since is None or battery.since > recent:
        return battery
    return replace(battery, since=None, came_from="")


def _memory_key(known: GroupedJudgements, part: Key) -> tuple[object, ...]:
    """What the round before remembered of a part, as far as it is compared."""
    judged = known.assessment_of(part)
    if judged is None:
        return ()
    if judged.hazard is Hazard.FROST:
        ice = past_ice_of(judged.facts)
        return () if ice.at is None else (ice,)
    memory = battery_memory_of(judged.facts)
    times = (memory.may_be_frozen_at, memory.charge_known_at)
    return times if any(times) else ()
