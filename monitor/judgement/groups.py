"""Groups of identical parts of craft: one representative is judged, whatever their number."""

from dataclasses import fields, replace
from datetime import datetime, timedelta

from monitor.craft.protection import Protection
from monitor.craft.stored import Battery, StoredCraft
from monitor.judgement.air.grid import PAST_H
from monitor.judgement.grouped_judgements import GroupedJudgements, Key, Member, PartGroups
from monitor.yard.assessment import Hazard, Subject
from monitor.yard.facts import battery_memory_of, past_ice_of
from monitor.yard.frost_facts import NO_ICE
from monitor.yard.space import Yard

# Parts are compared one by one; all else that a craft has, but for these, tells it from others.
_PARTS = {"circuits", "protection", "surfaces", "keeping", "battery"}
_NAMES = {"id", "name", "owner", "berth", "hull_number", "plan_start"}
_COMING = {"since", "came_from"}
_SHARED = tuple(
    one.name for one in fields(StoredCraft) if one.name not in _PARTS | _NAMES | _COMING
)


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
        return () if ice == NO_ICE else (ice,)
    memory = battery_memory_of(judged.facts)
    times = (memory.may_be_frozen_at, memory.charge_known_at)
    return times if any(times) else ()
