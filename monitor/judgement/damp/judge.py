"""Judges condensation: each bare metal surface against the water that the air leaves on it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf, isfinite, nan, sqrt
from typing import Any

from monitor.craft.fitted import Surface
from monitor.craft.keeping import Keeping
from monitor.craft.layup import Cover
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.arrival import lagged_body
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.air.public_forecast import ComingAir
from monitor.judgement.air.tonight import Tonight
from monitor.judgement.damp.forecast import DewAhead
from monitor.judgement.damp.metal import (
    OPEN_HULL,
    Hull,
    SurfaceCourse,
    SurfaceKind,
    follow_surfaces,
)
from monitor.judgement.speech import Speech
from monitor.physics.moist_air import surface_humidity
from monitor.physics.wetness import WET_HUMIDITY_PCT
from monitor.yard.air_facts import UnreadFacts
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.damp_facts import DampFacts, DewAheadFacts
from monitor.yard.space import OUTDOORS, SpaceKind

_GUESS_SHARE = 0.1
# Air changes of an engine's compartment times its volume over the engine's area [m/h]: 3 and 6 an
# hour, 0.5 and 0.6 m (common practice, no source). What wets the metal has to get in first.
_USUAL_M_H, _OPEN_M_H = 1.5, 3.6
_DRY_G_M2 = 1.0  # less than a breath on glass
_SOON_STEPS = 4  # two hours, in which a film that is worth an act has begun
_FILM_G_M2 = 5.0  # a film that wets; less is a grey bloom that dries by itself (common practice)
_MOULD_SEEN = 1.0  # first growth under a microscope (Hukka & Viitanen 1999)
_LATELY_H = 24.0  # since a craft was brought in, that is worth saying
_HALF_HOUR = timedelta(hours=0.5)
_AT_ONCE_H = 0.5
_SURE_K = 2.0  # a forecast whose dew point was off by less, here and lately, is likely to come true


@dataclass(frozen=True, slots=True, kw_only=True)
class DampView:
    """All that a yard's metal is judged by; keys are spaces."""

    airs: Mapping[str, SpaceAir]
    nights: Mapping[str, Tonight | None]
    probes_c: Mapping[str, Mapping[tuple[str, str], float]]  # on the metal, by craft and surface
    mould: Mapping[tuple[str, Hull], float]  # index over the weeks, by space and way to keep it
    speech: Speech
    coming: ComingAir | None = None  # outdoors, as a public forecast has it


@dataclass(frozen=True, slots=True)
class _Shut:
    """From when to when the doors of a space must be shut, for all metal in it."""

    from_h: float
    until_h: float  # inf: not within what the forecast covers


@dataclass(frozen=True, slots=True)
class _Case:
    """One surface; two of the same case get the same verdict."""

    slow: SurfaceKind  # the long end of its time constant: it stays cold, and so wet, for longest
    usual: SurfaceKind
    surface: Surface
    keeping: Keeping
    came_h: float
    probe_c: float | None


def judge_damp(
    view: DampView, here: Mapping[str, Sequence[StoredCraft]]
) -> dict[str, list[Assessment]]:
    """Judge every surface of the craft that stand in a yard.

    Parameters
    ----------
    view : DampView
    here : mapping of sequence of StoredCraft by space

    Returns
    -------
    dict of list of Assessment by space
        One a surface. The metal follows the air with the long end of its time constant, because
        that keeps it cold, and so wet, for longest; what only that end wets must come to a film.
    """
    judged: dict[str, list[Assessment]] = {space: [] for space in view.airs}
    cases: dict[tuple[object, ...], _Case] = {}
    wanted: list[tuple[StoredCraft, Surface, tuple[object, ...]]] = []
    for space, air in view.airs.items():
        known = view.nights[space] is not None and isfinite(air.condensation_c[-1])
        oldest = air.now + timedelta(hours=float(air.hours[0]))
        for each in here.get(space, ()):
            came = each.since is not None and each.since > oldest
            arrival = (each.since, each.came_from) if came else None
            for surface in each.surfaces:
                if not known:
                    judged[space].append(_not_known(air, each, surface))
                    continue
                probe_c = view.probes_c[space].get((each.id, surface.id))
                key = (space, arrival, each.keeping, *_surface_key(surface), probe_c)
                if key not in cases:
                    cases[key] = _case_of(air, each, surface, probe_c)
                wanted.append((each, surface, key))
    kinds = dict.fromkeys(kind for case in cases.values() for kind in (case.slow, case.usual))
    nights = {space: night for space, night in view.nights.items() if night is not None}
    found = follow_surfaces(view.airs, nights, list(kinds), view.speech, view.coming)
    dews = {
        key: _dew_ahead(view.airs[case.slow.space], found[case.slow], found[case.usual])
        for key, case in cases.items()
    }
    shut = _shut_times((cases[key].slow.space, dew) for key, dew in dews.items())
    verdicts = {
        key: _verdict_on(
            view.airs[case.slow.space],
            case,
            (found[case.slow], found[case.usual]),
            None if (dew := dews[key]) is None else (dew, shut[case.slow.space]),
            view,
        )
        for key, case in cases.items()
    }
    for each, surface, key in wanted:
        judged[each.space].append(
            Assessment(
                subject=Subject(each.space, each.id, surface.id),
                hazard=Hazard.DAMP,
                at=view.airs[each.space].now,
                **verdicts[key],
            )
        )
    return judged


def _surface_key(surface: Surface) -> tuple[object, ...]:
    return (surface.name, surface.lag_low_h, surface.lag_high_h, surface.length_m)


def _case_of(air: SpaceAir, each: StoredCraft, surface: Surface, probe_c: float | None) -> _Case:
    place = lagged_body(air, surface.lag_high_h, each.since, each.came_from)
    hull = Hull.of_keeping(each.keeping)
    slow = SurfaceKind(each.space, place, surface.length_m, hull, _OPEN_M_H, probe_c)
    usual_h = sqrt(surface.lag_low_h * surface.lag_high_h)
    return _Case(
        slow=slow,
        usual=replace(slow, stood=replace(place, lag_h=usual_h), brought_m_h=_USUAL_M_H),
        surface=surface,
        keeping=each.keeping,
        came_h=place.since_h,
        probe_c=probe_c,
    )


def _dew_ahead(air: SpaceAir, slow: SurfaceCourse, usual: SurfaceCourse) -> DewAhead | None:
    """What a forecast would wet, whatever end of its lag; under the sky dew is the weather's."""
    if slow.front is None or air.space.kind in OUTDOORS:
        return None
    if usual.front is None or usual.front.first_dew(_FILM_G_M2, _DRY_G_M2) is None:
        return None
    return slow.front.first_dew(_FILM_G_M2, _DRY_G_M2)


def _shut_times(dews: Iterable[tuple[str, DewAhead | None]]) -> dict[str, _Shut]:
    """From when to when each space must be shut, so that no metal in it is wetted."""
    shut: dict[str, _Shut] = {}
    for space, dew in dews:
        if dew is not None:
            before = shut.get(space, _Shut(inf, 0.0))
            shut[space] = _Shut(min(before.from_h, dew.outdoors_h), max(before.until_h, dew.ends_h))
    return shut


def _verdict_on(
    air: SpaceAir,
    case: _Case,
    both: tuple[SurfaceCourse, SurfaceCourse],
    ahead: tuple[DewAhead, _Shut] | None,
    view: DampView,
) -> dict[str, Any]:
    slow, usual = both
    present = slow.present
    probed = case.probe_c is not None
    metal_c = float(slow.metal_c[present]) if case.probe_c is None else case.probe_c
    point_c = float(slow.point_c[present])
    film = float(slow.film_g_m2[present])
    coming = _coming_water(slow)
    sure = probed or _coming_water(usual) > _DRY_G_M2
    standing = _standing_of(air, slow.rh_pct, metal_c, point_c, coming, sure=sure)
    wet = standing in {Standing.SWEATING, Standing.FROSTING}
    _, dry_h, first_h = (slow.front or slow).hours_until_turns(_DRY_G_M2)
    facts = _damp_facts(air, case, slow, view, metal_c=metal_c, wet=wet)
    keeping = case.keeping
    if ahead is not None and not wet:
        dew, shut = ahead
        facts = replace(facts, ahead=_ahead_facts(air.now, dew, shut, view))
        return _dew_verdict(air.now, dew, facts, view, metal_c) | {
            "severity": _severity_of(dew.film_g_m2, keeping)
        }
    guess = 0.0 if probed else slow.share
    likely = Certainty.POSSIBLE if guess > _GUESS_SHARE or not sure else Certainty.LIKELY
    # Dew and rime under the sky are the weather's: nothing to do, but for a bilge.
    asks = wet and (air.space.kind is not SpaceKind.OPEN or keeping.bilge_wet)
    return {
        "standing": standing,
        "facts": facts,
        "calls_for_act": asks,
        "now_c": metal_c,
        "limit_c": point_c,
        "margin_k": metal_c - point_c,
        "deadline": air.now if wet else _time_in(air.now, first_h),
        "ends": _time_in(air.now, dry_h) if wet or film > _DRY_G_M2 else None,
        "urgency": Urgency.IMMEDIATE if wet else Urgency.FUTURE,
        "severity": _severity_of(film if wet else 0.0, keeping),
        "certainty": Certainty.OBSERVED if probed else likely,
        "cautions": (Caution.HEATERS,) if wet else (),
    }


def _dew_verdict(
    now: datetime, dew: DewAhead, facts: DampFacts, view: DampView, metal_c: float
) -> dict[str, Any]:
    """The verdict on dry metal to which a forecast brings dew; without its severity."""
    trusted = view.coming is not None and view.coming.error_k < _SURE_K
    return {
        "standing": Standing.DEW_AHEAD,
        "facts": facts,
        "calls_for_act": True,
        "now_c": metal_c,
        "limit_c": dew.point_c,
        "margin_k": dew.metal_c - dew.point_c,
        "deadline": _time_in(now, dew.begins_h),
        "ends": _time_in(now, dew.dry_h),
        "urgency": Urgency.EXPECTED,
        "certainty": Certainty.LIKELY if trusted else Certainty.POSSIBLE,
        "cautions": (Caution.HEATERS,),
    }


def _severity_of(film_g_m2: float, keeping: Keeping) -> Severity:
    # Film does not keep dew off; it keeps the dew off the metal, so less of it corrodes.
    wets = film_g_m2 > _FILM_G_M2 and not keeping.filmed
    return Severity.MODERATE if wets else Severity.MINOR


def _damp_facts(
    air: SpaceAir, case: _Case, slow: SurfaceCourse, view: DampView, *, metal_c: float, wet: bool
) -> DampFacts:
    """What a judgement of damp rests on: the metal and its air now, and the water on it."""
    air_c, film = float(air.mean_c[-1]), float(slow.film_g_m2[slow.present])
    clear_h, dry_h, _ = (slow.front or slow).hours_until_turns(_DRY_G_M2)
    hull, keeping = case.slow.hull, case.keeping
    return DampFacts(
        point_c=float(slow.point_c[slow.present]),
        air_c=air_c,
        air_rh_pct=slow.rh_pct,
        surface_rh_pct=min(float(surface_humidity(air_c, slow.rh_pct, metal_c)), 200.0),
        lag_h=case.surface.lag_high_h,
        probed=case.probe_c is not None,
        film_g_m2=film,
        clear_in_h=clear_h if wet else inf,
        clear_at=_time_in(air.now, clear_h) if wet else None,
        dry_in_h=dry_h if film > _DRY_G_M2 else inf,
        mould_index=nan if hull is OPEN_HULL else view.mould.get((case.slow.space, hull), nan),
        inside=hull is not OPEN_HULL,
        bilge_wet=keeping.bilge_wet,
        wrapped=keeping.cover is Cover.SHRINK_WRAP and not keeping.torn,
        closed=keeping.closed,
        filmed=keeping.filmed,
        brought_in=-_LATELY_H < case.came_h <= 0.0,
        public_source="" if view.coming is None else view.coming.source,
    )


def _ahead_facts(now: datetime, dew: DewAhead, shut: _Shut, view: DampView) -> DewAheadFacts:
    """What a forecast would bring, and from when to when the doors are to be shut."""
    by, clear_at = _time_in(now, shut.from_h), _time_in(now, shut.until_h)
    return DewAheadFacts(
        source="" if view.coming is None else view.coming.source,
        begins_at=now + timedelta(hours=dew.begins_h),
        metal_c=dew.metal_c,
        point_c=dew.point_c,
        film_g_m2=dew.film_g_m2,
        first_dew_in_h=dew.begins_h,
        clear_in_h=dew.ends_h,
        shut_by=_half_hour(by) if by is not None and shut.from_h > _AT_ONCE_H else None,
        shut_until=None if clear_at is None else _half_hour(clear_at) + _HALF_HOUR,
    )


def _coming_water(course: SurfaceCourse) -> float:
    """The most water on it within the next two hours [g/m²]."""
    return float(course.film_g_m2[course.present : course.present + _SOON_STEPS + 1].max())


def _standing_of(
    air: SpaceAir, rh_pct: float, metal_c: float, point_c: float, coming_g_m2: float, *, sure: bool
) -> Standing:
    # Two sensors of ±3 % RH are half a kelvin of dew point: what leaves no film is within that.
    if metal_c < point_c and coming_g_m2 > (_DRY_G_M2 if sure else _FILM_G_M2):
        return Standing.FROSTING if metal_c < 0.0 else Standing.SWEATING
    if max(air.rh_pct[-1], rh_pct) > WET_HUMIDITY_PCT and air.warmest_c[-1] > 0.0:
        return Standing.WETTING
    return Standing.DRY


def _time_in(now: datetime, hours: float) -> datetime | None:
    return now + timedelta(hours=hours) if isfinite(hours) else None


def _half_hour(at: datetime) -> datetime:
    """The half hour before: so exact is no forecast, and too early does no harm."""
    return at - timedelta(seconds=at.timestamp() % _HALF_HOUR.total_seconds())


def _not_known(air: SpaceAir, each: StoredCraft, surface: Surface) -> Assessment:
    return Assessment(
        subject=Subject(each.space, each.id, surface.id),
        hazard=Hazard.DAMP,
        standing=Standing.NOT_KNOWN,
        at=air.now,
        facts=UnreadFacts(missing="humidity" if air.is_known else "air"),
        severity=Severity.MINOR,
    )
