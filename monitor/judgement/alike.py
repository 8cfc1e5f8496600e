"""Parts of craft that nothing tells apart: judged once, whatever the number of craft."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from monitor.craft.stored import StoredCraft
from monitor.judgement.air import PAST_H
from monitor.judgement.freeze import ICED_AT
from monitor.yard.assessment import Assessment, Hazard

Key = tuple[Hazard, str, str]  # a subject wherever it stands: its craft, else its space, and part


@dataclass(frozen=True, slots=True)
class Alike:
    """A yard's craft brought down to one part of each kind."""

    craft: list[StoredCraft]  # only the parts that stand for their kind
    stands_for: dict[Key, Key]  # every part: the one that is judged in its place


def alike(
    craft: Sequence[StoredCraft],
    known: dict[Key, Assessment],
    apart: frozenset[str],
    now: datetime,
) -> Alike:
    """Find the parts of which one judgement tells all.

    Parameters
    ----------
    craft : sequence of StoredCraft
    known : dict
        What was last judged of each part: two circuits of which one has been through ice differ.
    apart : set of str
        Craft that have sensors of their own; they are left as they are.
    now : datetime
        A craft that came into its space within the hours looked at differs from one that has
        stood there for long.
    """
    kinds: dict[tuple[object, ...], Key] = {}
    stands_for: dict[Key, Key] = {}
    found = []
    recent = now - timedelta(hours=PAST_H + 48.0)

    def first(key: Key, kind: tuple[object, ...]) -> bool:
        stands_for[key] = kinds.setdefault((key[0], *kind), key)
        return stands_for[key] == key

    for each in craft:
        own = each.id if each.id in apart else ""
        since = each.since if each.since is not None and each.since > recent else None
        place = (own, each.space, since)
        circuits = []
        for circuit in each.circuits:
            key = (Hazard.FROST, each.id, circuit.id)
            iced = known[key].figures.get(ICED_AT) if key in known else None
            held = replace(each.protection[circuit.id], circuit="", why="")
            if first(key, (*place, replace(circuit, id=""), held, iced)):
                circuits.append(circuit)
        surfaces = tuple(
            surface
            for surface in each.surfaces
            if first((Hazard.DAMP, each.id, surface.id), (*place, replace(surface, id="")))
        )
        battery = each.battery
        if battery and not first((Hazard.BATTERY, each.id, "battery"), (*place, battery)):
            battery = None
        if circuits or surfaces or battery:
            found.append(
                replace(
                    each,
                    circuits=tuple(circuits),
                    protection={one.id: each.protection[one.id] for one in circuits},
                    surfaces=surfaces,
                    battery=battery,
                )
            )
    return Alike(found, stands_for)
