"""Inputs of the damp wing: air, nights and forecast of a yard, and the surfaces in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from math import isfinite, sqrt

from monitor.craft.craft_condition import Keeping
from monitor.craft.profile import Surface
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.arrival import lagged_body
from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.public_forecast import ComingAir
from monitor.judgement.damp.hull import Hull
from monitor.judgement.damp.metal import SurfaceKind

# Air changes of an engine's compartment times its volume over the engine's area [m/h]: 3 and 6 an
# hour, 0.5 and 0.6 m (common practice, no source). What wets the metal has to get in first.
_USUAL_M_H, _OPEN_M_H = 1.5, 3.6

CaseKey = tuple[object, ...]  # all that a surface's verdict depends on


@dataclass(frozen=True, slots=True, kw_only=True)
class DampInputs:
    """What a yard's metal is judged by; keys are spaces."""

    airs: Mapping[str, SpaceAir]
    nights: Mapping[str, Tonight | None]
    probes_c: Mapping[str, Mapping[tuple[str, str], float]]  # on the metal, by craft and surface
    mould: Mapping[tuple[str, Hull], float]  # index over the weeks, by space and way to keep it
    drives: Mapping[str, DrivingAir]
    coming: ComingAir | None = None  # outdoors, as a public forecast has it


@dataclass(frozen=True, slots=True)
class SurfaceCase:
    """One group of identical surfaces in one air: all of them get the same verdict."""

    slow: SurfaceKind  # the long end of its time constant: it stays cold, and so wet, for longest
    usual: SurfaceKind
    surface: Surface
    keeping: Keeping
    came_h: float
    probe_c: float | None


@dataclass(frozen=True, slots=True)
class YardSurfaces:
    """Every surface of a yard: those to be judged, with their case, and those in unknown air."""

    cases: dict[CaseKey, SurfaceCase]
    judged_by: list[tuple[StoredCraft, Surface, CaseKey]]
    unknown: list[tuple[StoredCraft, Surface]]


def yard_surfaces(inputs: DampInputs, craft: Mapping[str, Sequence[StoredCraft]]) -> YardSurfaces:
    """Group the surfaces of the craft in each space by all that their verdict depends on."""
    found = YardSurfaces({}, [], [])
    for space, air in inputs.airs.items():
        known = inputs.nights[space] is not None and isfinite(air.condensation_c[-1])
        oldest = air.now + timedelta(hours=float(air.hours[0]))
        for one in craft.get(space, ()):
            if not known:
                found.unknown.extend((one, surface) for surface in one.surfaces)
                continue
            came = one.since is not None and one.since > oldest
            arrival = (one.since, one.came_from) if came else None
            for surface in one.surfaces:
                probe_c = inputs.probes_c[space].get((one.id, surface.id))
                key = (space, arrival, one.keeping, *_surface_key(surface), probe_c)
                if key not in found.cases:
                    found.cases[key] = _case_of(air, one, surface, probe_c)
                found.judged_by.append((one, surface, key))
    return found


def _surface_key(surface: Surface) -> tuple[object, ...]:
    return (surface.name, surface.lag_low_h, surface.lag_high_h, surface.length_m)


def _case_of(
    air: SpaceAir, craft: StoredCraft, surface: Surface, probe_c: float | None
) -> SurfaceCase:
    place = lagged_body(air, surface.lag_high_h, craft.since, craft.came_from)
    hull = Hull.of_keeping(craft.keeping)
    slow = SurfaceKind(craft.space, place, surface.length_m, hull, _OPEN_M_H, probe_c)
    usual_h = sqrt(surface.lag_low_h * surface.lag_high_h)
    return SurfaceCase(
        slow=slow,
        usual=replace(slow, stood=replace(place, lag_h=usual_h), brought_m_h=_USUAL_M_H),
        surface=surface,
        keeping=craft.keeping,
        came_h=place.since_h,
        probe_c=probe_c,
    )
