"""Verdict on one surface: standing, margin, times and facts, from its course and the forecast."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf, nan
from typing import Any

from monitor.clock import hours_after
from monitor.craft.craft_condition import Keeping
from monitor.craft.layup import Cover
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.damp.forecast import DewAhead
from monitor.judgement.damp.hull import OPEN_HULL
from monitor.judgement.damp.inputs import DampInputs, SurfaceCase
from monitor.judgement.damp.members import WettingAhead
from monitor.judgement.damp.metal import DRY_G_M2, SurfaceSeries
from monitor.physics.moist_air import surface_humidity
from monitor.yard.assessment import (
    Caution,
    Certainty,
    Severity,
    Standing,
    Urgency,
)
from monitor.yard.damp_facts import MOULD_SEEN, DampFacts, DewAheadFacts
from monitor.yard.losses import LIKELY
from monitor.yard.space import SpaceKind

_GUESS_SHARE = 0.1
_SOON_STEPS = 4  # two hours, in which a film that is worth an act has begun
FILM_G_M2 = 5.0  # a film that wets; less is a grey bloom that dries by itself (common practice)
_LATELY_H = 24.0  # since a craft was brought in, that is worth saying
_HALF_HOUR = timedelta(hours=0.5)
_AT_ONCE_H = 0.5
_WET = frozenset({Standing.SWEATING, Standing.FROSTING})


@dataclass(frozen=True, slots=True)
class DoorsShut:
    """From when to when the doors of a space must be shut, for all metal in it."""

    from_h: float
    until_h: float  # inf: not within what the forecast covers


def verdict_on(
    case: SurfaceCase,
    courses: tuple[SurfaceSeries, SurfaceSeries],
    wetting: WettingAhead,
    ahead: tuple[DewAhead, DoorsShut] | None,
    inputs: DampInputs,
) -> dict[str, Any]:
    """Verdict on a group of identical surfaces: an assessment's fields but subject and time.

    Parameters
    ----------
    case : SurfaceCase
    courses : pair of SurfaceSeries
        With the long end of the time constant, and with the usual one.
    wetting : WettingAhead
        What becomes of it in each member of the night.
    ahead : pair of DewAhead and DoorsShut, or None
        The first dew that a public forecast brings; counts only while the metal is dry.
    inputs : DampInputs
    """
    slow, usual = courses
    air, present = inputs.airs[case.slow.space], slow.present
    probed = case.probe_c is not None
    metal_c = float(slow.metal_c[present]) if case.probe_c is None else case.probe_c
    point_c = float(slow.point_c[present])
    film = float(slow.film_g_m2[present])
    coming = _coming_water(slow)
    sure = probed or _coming_water(usual) > DRY_G_M2
    standing = _standing_of(slow, metal_c, point_c, coming, sure=sure)
    wet = standing in _WET
    _, dry_h, _ = (slow.front or slow).hours_until_turns(DRY_G_M2)
    facts = _damp_facts(air, case, slow, inputs, wetting, metal_c=metal_c, wet=wet)
    keeping = case.keeping
    if ahead is not None and not wet:
        dew, shut = ahead
        facts = replace(facts, ahead=_ahead_facts(air.now, dew, shut, inputs))
        return _dew_verdict(air.now, dew, facts, metal_c) | {
            "severity": _severity_of(dew.film_g_m2, keeping)
        }
    # Dew and rime under the sky are the weather's: nothing to do, but for a bilge.
    asks = wet and air.space.kind is not SpaceKind.OPEN
    asks = asks or keeping.bilge_wet or _stays_damp(facts, slow)
    return {
        "standing": standing,
        "facts": facts,
        "calls_for_act": asks,
        "now_c": metal_c,
        "limit_c": point_c,
        "margin_k": metal_c - point_c,
        "deadline": air.now if wet else hours_after(air.now, wetting.early_h),
        "ends": hours_after(air.now, dry_h) if wet or film > DRY_G_M2 else None,
        "urgency": Urgency.IMMEDIATE if wet else Urgency.FUTURE,
        "severity": _severity_of(film if wet else 0.0, keeping),
        "certainty": _certainty_of(slow, standing, wetting.chance, probed=probed, sure=sure),
        "cautions": (Caution.HEATERS,) if wet else (),
    }


def _dew_verdict(now: datetime, dew: DewAhead, facts: DampFacts, metal_c: float) -> dict[str, Any]:
    """The verdict on dry metal to which a forecast brings dew; without its severity."""
    return {
        "standing": Standing.DEW_AHEAD,
        "facts": facts,
        "calls_for_act": True,
        "now_c": metal_c,
        "limit_c": dew.point_c,
        "margin_k": dew.metal_c - dew.point_c,
        "deadline": hours_after(now, dew.begins_h),
        "ends": hours_after(now, dew.dry_h),
        "urgency": Urgency.EXPECTED,
        "certainty": Certainty.LIKELY if facts.chance_sweating > LIKELY else Certainty.POSSIBLE,
        "cautions": (Caution.HEATERS,),
    }


def _stays_damp(facts: DampFacts, slow: SurfaceSeries) -> bool:
    """Whether hatches that are shut, or film without vents, keep the air in it wetting."""
    shut_in = facts.closed or facts.wrapped
    return shut_in and (slow.air_is_wetting or facts.mould_index >= MOULD_SEEN)


def _certainty_of(
    slow: SurfaceSeries, standing: Standing, chance: float, *, probed: bool, sure: bool
) -> Certainty:
    if probed:
        return Certainty.OBSERVED
    doubted = standing in _WET and not chance > LIKELY
    guessed = slow.share > _GUESS_SHARE or not sure or doubted
    return Certainty.POSSIBLE if guessed else Certainty.LIKELY


def _severity_of(film_g_m2: float, keeping: Keeping) -> Severity:
    # Film does not keep dew off; it keeps the dew off the metal, so less of it corrodes.
    wets = film_g_m2 > FILM_G_M2 and not keeping.filmed
    return Severity.MODERATE if wets else Severity.MINOR


def _damp_facts(
    air: SpaceAir,
    case: SurfaceCase,
    slow: SurfaceSeries,
    inputs: DampInputs,
    wetting: WettingAhead,
    *,
    metal_c: float,
    wet: bool,
) -> DampFacts:
    """What a judgement of damp rests on: the metal and its air now, and the water on it."""
    air_c, film = float(air.mean_c[-1]), float(slow.film_g_m2[slow.present])
    clear_h, dry_h, _ = (slow.front or slow).hours_until_turns(DRY_G_M2)
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
        clear_at=hours_after(air.now, clear_h) if wet else None,
        dry_in_h=dry_h if film > DRY_G_M2 else inf,
        mould_index=nan if hull is OPEN_HULL else inputs.mould.get((case.slow.space, hull), nan),
        inside=hull is not OPEN_HULL,
        bilge_wet=keeping.bilge_wet,
        wrapped=keeping.cover is Cover.SHRINK_WRAP and not keeping.torn,
        closed=keeping.closed,
        filmed=keeping.filmed,
        brought_in=-_LATELY_H < case.came_h <= 0.0,
        public_source="" if inputs.coming is None else inputs.coming.source,
        chance_sweating=wetting.chance,
        chance_frosting=wetting.chance_of_frost,
        wet_early_in_h=wetting.early_h,
        room_ahead_k=wetting.room_k,
        room_band_low_k=wetting.room_band_k[0],
        room_band_high_k=wetting.room_band_k[1],
    )


def _ahead_facts(
    now: datetime, dew: DewAhead, shut: DoorsShut, inputs: DampInputs
) -> DewAheadFacts:
    """What a forecast would bring, and from when to when the doors are to be shut."""
    by, clear_at = hours_after(now, shut.from_h), hours_after(now, shut.until_h)
    return DewAheadFacts(
        source="" if inputs.coming is None else inputs.coming.source,
        begins_at=now + timedelta(hours=dew.begins_h),
        metal_c=dew.metal_c,
        point_c=dew.point_c,
        film_g_m2=dew.film_g_m2,
        first_dew_in_h=dew.begins_h,
        clear_in_h=dew.ends_h,
        shut_by=_half_hour(by) if by is not None and shut.from_h > _AT_ONCE_H else None,
        shut_until=None if clear_at is None else _half_hour(clear_at) + _HALF_HOUR,
    )


def _coming_water(course: SurfaceSeries) -> float:
    """The most water on it within the next two hours [g/m²]."""
    return float(course.film_g_m2[course.present : course.present + _SOON_STEPS + 1].max())


def _standing_of(
    slow: SurfaceSeries, metal_c: float, point_c: float, coming_g_m2: float, *, sure: bool
) -> Standing:
    # Two sensors of ±3 % RH are half a kelvin of dew point: what leaves no film is within that.
    if metal_c < point_c and coming_g_m2 > (DRY_G_M2 if sure else FILM_G_M2):
        return Standing.FROSTING if metal_c < 0.0 else Standing.SWEATING
    return Standing.WETTING if slow.air_is_wetting else Standing.DRY


def _half_hour(at: datetime) -> datetime:
    """The half hour before: so exact is no forecast, and too early does no harm."""
    return at - timedelta(seconds=at.timestamp() % _HALF_HOUR.total_seconds())
