"""What sweats: every bare metal surface of a yard against what the air would leave on it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf, isfinite, nan, sqrt
from typing import Any

from monitor.craft.keeping import Keeping
from monitor.craft.layup import Cover
from monitor.craft.stored import StoredCraft, Surface
from monitor.judgement.air import SpaceAir
from monitor.judgement.arrival import stood
from monitor.judgement.front import DewAhead
from monitor.judgement.metal import OPEN_HULL, Course, Hull, Kind, courses
from monitor.judgement.outlook import ComingAir
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.physics.moist_air import surface_humidity
from monitor.physics.wetness import WET_HUMIDITY_PCT
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
from monitor.yard.facts import WrittenText
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

    slow: Kind  # the long end of its time constant: it stays cold, and so wet, for longest
    usual: Kind
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
                key = (space, arrival, each.keeping, *_figures(surface), probe_c)
                if key not in cases:
                    cases[key] = _case(air, each, surface, probe_c)
                wanted.append((each, surface, key))
    kinds = dict.fromkeys(kind for case in cases.values() for kind in (case.slow, case.usual))
    nights = {space: night for space, night in view.nights.items() if night is not None}
    found = courses(view.airs, nights, list(kinds), view.speech, view.coming)
    dews = {
        key: _dew_ahead(view.airs[case.slow.space], found[case.slow], found[case.usual])
        for key, case in cases.items()
    }
    shut: dict[str, _Shut] = {}
    for key, dew in dews.items():
        if dew is not None:
            space = cases[key].slow.space
            before = shut.get(space, _Shut(inf, 0.0))
            shut[space] = _Shut(min(before.from_h, dew.outdoors_h), max(before.until_h, dew.ends_h))
    verdicts = {
        key: _verdict(
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


def _figures(surface: Surface) -> tuple[object, ...]:
    return (surface.name, surface.lag_low_h, surface.lag_high_h, surface.length_m)


def _case(air: SpaceAir, each: StoredCraft, surface: Surface, probe_c: float | None) -> _Case:
    place = stood(air, surface.lag_high_h, each.since, each.came_from)
    hull = Hull.of(each.keeping)
    slow = Kind(each.space, place, surface.length_m, hull, _OPEN_M_H, probe_c)
    usual_h = sqrt(surface.lag_low_h * surface.lag_high_h)
    return _Case(
        slow=slow,
        usual=replace(slow, stood=replace(place, lag_h=usual_h), brought_m_h=_USUAL_M_H),
        surface=surface,
        keeping=each.keeping,
        came_h=place.since_h,
        probe_c=probe_c,
    )


def _dew_ahead(air: SpaceAir, slow: Course, usual: Course) -> DewAhead | None:
    """What a forecast would wet, whatever end of its lag; under the sky dew is the weather's."""
    if slow.front is None or air.space.kind in OUTDOORS:
        return None
    if usual.front is None or usual.front.dew(_FILM_G_M2, _DRY_G_M2) is None:
        return None
    return slow.front.dew(_FILM_G_M2, _DRY_G_M2)


def _verdict(
    air: SpaceAir,
    case: _Case,
    both: tuple[Course, Course],
    ahead: tuple[DewAhead, _Shut] | None,
    view: DampView,
) -> dict[str, Any]:
    slow, usual = both
    speech, present, surface = view.speech, slow.present, case.surface
    probed = case.probe_c is not None
    metal_c = float(slow.metal_c[present]) if case.probe_c is None else case.probe_c
    point_c, air_c = float(slow.point_c[present]), float(air.mean_c[-1])
    film = float(slow.film_g_m2[present])
    coming = _coming(slow)
    sure = probed or _coming(usual) > _DRY_G_M2
    standing = _standing(air, slow.rh_pct, metal_c, point_c, coming, sure=sure)
    wet = standing in {Standing.SWEATING, Standing.FROSTING}
    clear_h, dry_h, first_h = (slow.front or slow).ahead(_DRY_G_M2)
    told = None if wet else ahead
    if told is not None:
        standing = Standing.DEW_AHEAD
    surface_rh = min(float(surface_humidity(air_c, slow.rh_pct, metal_c)), 200.0)
    name = "frost point" if point_c < 0.0 else "dew point"
    how = "by its probe" if probed else f"by a lag of {surface.lag_high_h:g} h"
    hull = case.slow.hull
    mould = view.mould.get((case.slow.space, hull), nan)
    of = f"in {air.space.name}" if hull is OPEN_HULL else f"inside it in {air.space.name}"
    basis = sentence(
        f"{surface.name} at {speech.temperature(metal_c)} {how};",
        f"{name} of the air {of} {speech.temperature(point_c)}",
        f"(air {speech.temperature(air_c)}, {slow.rh_pct:.0f} % RH).",
        f"About {film:.0f} g of water on each square metre." if film > _DRY_G_M2 else "",
        _forecast(told[0], view) if told is not None else "",
        *_why(case, mould, wet=wet),
    )
    deadline = air.now if wet else _after(air.now, first_h)
    guess = 0.0 if probed else slow.share
    likely = Certainty.POSSIBLE if guess > _GUESS_SHARE or not sure else Certainty.LIKELY
    figures = {
        "air_rh_pct": slow.rh_pct,
        "surface_rh_pct": surface_rh,
        "lag_h": surface.lag_high_h,
        "film_g_m2": film,
        "clear_in_h": clear_h if wet else inf,
        "dry_in_h": dry_h if film > _DRY_G_M2 else inf,
        "mould_index": nan if hull is OPEN_HULL else mould,
        **(_figures_ahead(told[0]) if told is not None else {}),
    }
    # Film does not keep dew off; it keeps the dew off the metal, so less of it corrodes.
    lies = film if wet else told[0].film_g_m2 if told is not None else 0.0
    harmful = lies > _FILM_G_M2 and not case.keeping.filmed
    if told is not None:
        dew, shut = told
        trusted = view.coming is not None and view.coming.error_k < _SURE_K
        return {
            "standing": standing,
            "facts": WrittenText(basis=basis, act=_act_ahead(air, case.keeping, shut, speech)),
            "calls_for_act": True,
            "now_c": metal_c,
            "limit_c": dew.point_c,
            "margin_k": dew.metal_c - dew.point_c,
            "deadline": _after(air.now, dew.begins_h),
            "ends": _after(air.now, dew.dry_h),
            "urgency": Urgency.EXPECTED,
            "severity": Severity.MODERATE if harmful else Severity.MINOR,
            "certainty": Certainty.LIKELY if trusted else Certainty.POSSIBLE,
            "cautions": (Caution.HEATERS,),
            "figures": {key: value for key, value in figures.items() if isfinite(value)},
        }
    act = _act(standing, air, case.keeping, _until(air, clear_h, view))
    return {
        "standing": standing,
        "facts": WrittenText(basis=basis, act=act),
        "calls_for_act": bool(act),
        "now_c": metal_c,
        "limit_c": point_c,
        "margin_k": metal_c - point_c,
        "deadline": deadline,
        "ends": _after(air.now, dry_h) if wet or film > _DRY_G_M2 else None,
        "urgency": Urgency.IMMEDIATE if wet else Urgency.FUTURE,
        "severity": Severity.MODERATE if harmful else Severity.MINOR,
        "certainty": Certainty.OBSERVED if probed else likely,
        "cautions": (Caution.HEATERS,) if wet else (),
        "figures": {key: value for key, value in figures.items() if isfinite(value)},
    }


def _forecast(dew: DewAhead, view: DampView) -> str:
    """The sentence that says what a forecast would bring, and whose it is."""
    if view.coming is None:
        return ""
    speech, now = view.speech, next(iter(view.airs.values())).now
    name = "frost point" if dew.point_c < 0.0 else "dew point"
    return (
        f"By the forecast of {view.coming.source} it lies below the {name} from about"
        f" {speech.clock(now + timedelta(hours=dew.begins_h))} on, even with the doors shut: at"
        f" {speech.temperature(dew.metal_c)} against {speech.temperature(dew.point_c)}, and about"
        f" {dew.film_g_m2:.0f} g of water come to lie on each square metre."
    )


def _figures_ahead(dew: DewAhead) -> dict[str, float]:
    return {
        "first_dew_in_h": dew.begins_h,
        "clear_in_h": dew.ends_h,
        "ahead_metal_c": dew.metal_c,
        "ahead_dew_point_c": dew.point_c,
        "ahead_film_g_m2": dew.film_g_m2,
    }


def _coming(course: Course) -> float:
    """The most water on it within the next two hours [g/m²]."""
    return float(course.film_g_m2[course.present : course.present + _SOON_STEPS + 1].max())


def _why(case: _Case, mould: float, *, wet: bool) -> tuple[str, ...]:
    """What of the record raises or lowers it."""
    keeping = case.keeping
    said = []
    if -_LATELY_H < case.came_h <= 0.0:
        said.append("It still has the temperature that it was brought in with.")
    if case.slow.hull is not OPEN_HULL:
        water = "Water stands in its bilge" if keeping.bilge_wet else "What is damp in it"
        kept = (
            " under film that lets no vapour out"
            if keeping.cover is Cover.SHRINK_WRAP and not keeping.torn
            else " with hatches and lockers shut"
            if keeping.closed
            else ""
        )
        damper = "and makes its air damper" if keeping.bilge_wet else "stays, and its air is damper"
        said.append(f"{water}{kept} {damper} than the space's.")
        if mould >= _MOULD_SEEN:
            said.append(
                f"Kept so for weeks, upholstery had conditions for mould: index {mould:.0f} of 6."
            )
    if wet and keeping.filmed:
        said.append(
            "It was sprayed with corrosion film: that keeps no dew off, but it corrodes less."
        )
    return tuple(said)


def _standing(
    air: SpaceAir, rh_pct: float, metal_c: float, point_c: float, coming_g_m2: float, *, sure: bool
) -> Standing:
    # Two sensors of ±3 % RH are half a kelvin of dew point: what leaves no film is within that.
    if metal_c < point_c and coming_g_m2 > (_DRY_G_M2 if sure else _FILM_G_M2):
        return Standing.FROSTING if metal_c < 0.0 else Standing.SWEATING
    if max(air.rh_pct[-1], rh_pct) > WET_HUMIDITY_PCT and air.warmest_c[-1] > 0.0:
        return Standing.WETTING
    return Standing.DRY


def _after(now: datetime, hours: float) -> datetime | None:
    return now + timedelta(hours=hours) if isfinite(hours) else None


def _until(air: SpaceAir, clear_h: float, view: DampView) -> str:
    """About when wet metal has passed the dew point, and if what; empty: not foreseen."""
    clear_at = _after(air.now, clear_h)
    if clear_at is None:
        return ""
    coming = view.coming
    given = "the air stays as it is" if coming is None else f"the forecast of {coming.source} holds"
    return f", about {view.speech.clock(clear_at)} if {given}"


def _act(standing: Standing, air: SpaceAir, keeping: Keeping, until: str) -> str:
    if standing not in {Standing.SWEATING, Standing.FROSTING}:
        return ""
    bilge = _pump(keeping)
    if air.space.kind is SpaceKind.OPEN:
        return bilge.strip()  # dew and rime under the sky are the weather's: nothing to do
    if air.space.kind in OUTDOORS:
        return (
            "Keep covers vented and their lee side open; dry and spray bare metal when it is over."
            f"{bilge}"
        )
    return (
        f"Keep the doors of {air.space.name} shut until the metal has passed the dew point"
        f"{until}; move the air with fans or warm the metal, do not air the space.{bilge}"
    )


def _act_ahead(air: SpaceAir, keeping: Keeping, shut: _Shut, speech: Speech) -> str:
    """What to do before the damp air comes."""
    by = _after(air.now, shut.from_h)
    when = "now"
    if by is not None and shut.from_h > _AT_ONCE_H:
        when = f"by {speech.clock(_half_hour(by))}"
    clear_at = _after(air.now, shut.until_h)
    until = (
        "the metal has passed the dew point"
        if clear_at is None
        else f"about {speech.clock(_half_hour(clear_at) + _HALF_HOUR)}"
    )
    return (
        f"Shut the doors of {air.space.name} {when} and keep them shut until {until}; run the fans"
        f" and warm the metal before the damp air comes, do not air the space.{_pump(keeping)}"
    )


def _half_hour(at: datetime) -> datetime:
    """The half hour before: so exact is no forecast, and too early does no harm."""
    return at - timedelta(seconds=at.timestamp() % _HALF_HOUR.total_seconds())


def _pump(keeping: Keeping) -> str:
    return " Pump the bilge out and dry it." if keeping.bilge_wet else ""


def _not_known(air: SpaceAir, each: StoredCraft, surface: Surface) -> Assessment:
    missing = "humidity" if air.known else "air"
    return Assessment(
        subject=Subject(each.space, each.id, surface.id),
        hazard=Hazard.DAMP,
        standing=Standing.NOT_KNOWN,
        at=air.now,
        facts=WrittenText(
            basis=f"{surface.name}: no {missing} reading from {air.space.name} for two hours."
        ),
        severity=Severity.MINOR,
    )
