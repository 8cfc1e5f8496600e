"""Parts of craft that nothing tells apart: judged once, whatever the number of craft."""

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta
from typing import NamedTuple

from monitor.craft.protection import Protection
from monitor.craft.stored import Battery, StoredCraft
from monitor.judgement.air.grid import PAST_H
from monitor.judgement.craft_job import is_led, lead_jobs, with_job
from monitor.judgement.speech import Speech
from monitor.judgement.work_order import Where, takes_time, work_turns
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
    """What a judgement is about, wherever it stands."""
    subject = judged.subject
    return (judged.hazard, subject.craft or subject.space, subject.part)


class Member(NamedTuple):
    """One part of those that nothing tells apart."""

    part: Key
    subject: Subject


def _told(
    judged: Assessment, like: Sequence[Member], turns: Mapping[Where, WorkTurn]
) -> list[Assessment]:
    """A judgement as that of each of some parts that are like it, with its turn in the work."""
    return judged.of_others(
        (subject, turns.get((subject.space, subject.craft))) for _, subject in like
    )


@dataclass(frozen=True, slots=True)
class Alike:
    """A yard's craft brought down to one part of each kind."""

    of: list[StoredCraft]
    craft: list[StoredCraft]  # only the parts that stand for their kind
    members: dict[Key, list[Member]]  # by the part that stands for its kind: all of that
    kind_of: dict[Key, tuple[Key, Member]]  # by part: what stands for it, and itself


@dataclass(frozen=True, slots=True)
class Found:
    """What one look at a yard found: a judgement of each kind of part, and of all else."""

    judged: dict[Key, Assessment]
    kinds: Alike | None = None  # None: every part is judged for itself alone

    def of(self, part: Key) -> Assessment | None:
        """What was judged of a part, or of the one that stands for it."""
        return self.judged.get(self._judged_for(part))

    def parts(self) -> Iterator[Key]:
        """All that was judged, part by part."""
        for by in self.judged:
            yield from self._parts_like(by)

    def spaces(self, parts: Iterable[Key]) -> set[str]:
        """Where these parts stand."""
        judged = (self.of(part) for part in parts)
        return {each.subject.space for each in judged if each is not None}

    def within(self, spaces: Container[str]) -> "Found":
        """Only what stands in some of the spaces."""
        here = {by: each for by, each in self.judged.items() if each.subject.space in spaces}
        return Found(here, self.kinds)

    def told(self, part: Key) -> Assessment:
        """The judgement of one part, under its own name.

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
        return _told(judged, [one], {})[0]

    def each_in_order(self, yard: Yard, now: datetime) -> list[Assessment]:
        """Every part's own judgement, the acts numbered over the whole yard as by `in_order`."""
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
        jobs = lead_jobs(exposed, craft, Speech.of(yard, now))
        turns = work_turns(acts, now, jobs)
        found: list[Assessment] = []
        for by, judged in self.judged.items():
            like = members.get(by) or [Member(by, judged.subject)]
            told = _told(judged, like, turns if takes_time(judged) else {})
            found += [with_job(each, jobs) for each in told] if is_led(judged) else told
        return found

    def handed_on(self, kinds: Alike) -> list[Assessment]:
        """What the next look is to know of its kinds, and of all that is judged for itself."""
        if kinds is self.kinds:
            return list(self.judged.values())
        own = (part for part in self.judged if part not in kinds.kind_of)
        return [self.told(part) for part in (*kinds.members, *own) if self.of(part) is not None]

    def then(self, later: "Found") -> "Found":
        """What is known once a later look at some of the spaces is put in the place of this."""
        if later.kinds is self.kinds:
            return Found(self.judged | later.judged, self.kinds)
        apart = {part: self.told(part) for part in self.parts()}
        return Found(apart | {part: later.told(part) for part in later.parts()})

    def changed_in(self, later: "Found") -> list[Key]:
        """Parts whose standing a later look finds to be another, or that this one did not see."""
        if later.kinds is self.kinds:
            differ = [
                by for by, each in later.judged.items() if _differs(self.judged.get(by), each)
            ]
            return [part for by in differ for part in later._parts_like(by)]
        return [part for part in later.parts() if _differs(self.of(part), later.of(part))]

    def _judged_for(self, part: Key) -> Key:
        known = None if self.kinds is None else self.kinds.kind_of.get(part)
        return part if known is None else known[0]

    def _parts_like(self, by: Key) -> list[Key]:
        like = None if self.kinds is None else self.kinds.members.get(by)
        return [by] if like is None else [one.part for one in like]


def kinds_of(
    yard: Yard, craft: list[StoredCraft], known: Found, now: datetime, *found: Alike | None
) -> Alike:
    """Kinds of parts that a yard's craft have; found anew only when a craft is not what it was.

    Parameters
    ----------
    yard : Yard
    craft : list of StoredCraft
        In the yard's care at ``now``.
    known : Found
        What the look before found.
    now : datetime
    *found : Alike
        Kinds of other looks, which may still hold.
    """
    for kinds in (known.kinds, *found):
        if kinds is not None and kinds.of == craft:
            return kinds
    with_sensors = frozenset(each.craft for each in yard.sensors if each.craft is not None)
    return alike(craft, known, with_sensors, now)


def _differs(was: Assessment | None, now: Assessment | None) -> bool:
    return was is None or now is None or was.standing is not now.standing


def alike(craft: list[StoredCraft], known: Found, apart: frozenset[str], now: datetime) -> Alike:
    """Find the parts of which one judgement tells all.

    Parameters
    ----------
    craft : list of StoredCraft
    known : Found
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

    def first(key: Key, kind: tuple[object, ...], space: str) -> bool:
        hazard, owner, part = key
        by = kinds.setdefault((hazard, *kind), key)
        member = Member(key, Subject(space, owner, part))
        members.setdefault(by, []).append(member)
        kind_of[key] = by, member
        return by == key

    for each in craft:
        alone = each.id in apart or bool(each.unsettled)
        place = _place(each, recent, alone=alone)
        circuits = []
        protection = {}
        for circuit in each.circuits:
            key = (Hazard.FROST, each.id, circuit.id)
            held = each.protection[circuit.id]
            handed = _handed(known, key)
            kind = (replace(circuit, id=""), _held(held, recent, has_past=bool(handed)), handed)
            if first(key, (*place, *kind), each.space):
                circuits.append(circuit)
                protection[circuit.id] = held
        surfaces = tuple(
            surface
            for surface in each.surfaces
            if first(
                (Hazard.DAMP, each.id, surface.id),
                (*place, replace(surface, id=""), each.keeping),
                each.space,
            )
        )
        battery = each.battery
        stands = None if battery is None else _long_there(battery, recent)
        key = (Hazard.BATTERY, each.id, "battery")
        as_others = (*place, stands, _handed(known, key))
        if battery and not first(key, as_others, battery.space or each.space):
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
    return Alike(craft, found, members, kind_of)


def _place(each: StoredCraft, recent: datetime, *, alone: bool) -> tuple[object, ...]:
    """What all parts of a craft have in common with those of others that are like them."""
    came = each.since is not None and each.since > recent
    return (
        each.id if alone else "",
        (each.since, each.came_from) if came else None,
        *(getattr(each, name) for name in _SHARED),
    )


def _held(held: Protection, recent: datetime, *, has_past: bool) -> Protection:
    """When somebody looked matters only for ice that came before that and is remembered."""

    def when(at: datetime | None) -> datetime | None:
        return None if not has_past and at is not None and at < recent else at

    return replace(
        held,
        circuit="",
        why="",
        inspected_at=when(held.inspected_at),
        sampled_at=when(held.sampled_at),
    )


def _long_there(battery: Battery, recent: datetime) -> Battery:
    """When a battery came matters only while its air before that is looked at."""
    if battery.since is None or battery.since > recent:
        return battery
    return replace(battery, since=None, came_from="")


def _handed(known: Found, part: Key) -> tuple[object, ...]:
    """What was remembered of a part from one look to the next."""
    judged = known.of(part)
    if judged is None:
        return ()
    if judged.hazard is Hazard.FROST:
        ice = past_ice_of(judged.facts)
        return () if ice.at is None else (ice,)
    memory = battery_memory_of(judged.facts)
    times = (memory.may_be_frozen_at, memory.charge_known_at)
    return times if any(times) else ()
