"""What will freeze: every circuit of a space against the coming low, from its lay-up record."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from math import inf, isfinite, nan

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.stored import StoredCraft
from monitor.judgement.air import SpaceAir
from monitor.judgement.course import Body, Course, courses, driver, probed
from monitor.judgement.freeze_act import frost_act, frost_cautions
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.physics.antifreeze import (
    HIGHEST_MASS_FRACTION,
    LOCKED_ICE_SHARE,
    Glycol,
    ice_point,
    ice_share,
    mass_fraction_for,
)
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.space import SpaceKind

MARGIN_K = 2.0  # sensor, gradient inside the space and the lag's own error (common practice)
SOON_H = 8.0  # an evening's work: what must be done before the night
_GUESS_SHARE = 0.1  # above it the start of the lag still counts
ICED = frozenset({Standing.ICING, Standing.SOLID, Standing.SUSPECT})

Part = tuple[str, str]  # a craft's id and one of its circuits'


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostView:
    """All that one space's circuits are judged by."""

    air: SpaceAir
    night: Tonight | None
    speech: Speech
    probes_c: dict[Part, float]  # what a probe in the circuit reads now
    iced: Collection[Part]  # circuits that an earlier round found in ice


def judge_frost(view: FrostView, craft: Sequence[StoredCraft]) -> list[Assessment]:
    """Judge every circuit of the craft that stand in this space.

    Parameters
    ----------
    view : FrostView
    craft : sequence of StoredCraft
        Those of this space.

    Returns
    -------
    list of Assessment
        One a circuit, in the craft's order.
    """
    if view.night is None:
        return [_not_known(view, each, circuit) for each in craft for circuit in each.circuits]
    wanted = [
        (each, circuit, each.protection[circuit.id]) for each in craft for circuit in each.circuits
    ]
    bodies = [_body(circuit, protection) for _, circuit, protection in wanted]
    drive = driver(view.air, view.night, view.speech.yard)
    found = courses(drive, [body for body in bodies if body.ice_point_c > -inf])
    judged = []
    for (each, circuit, protection), body in zip(wanted, bodies, strict=True):
        if protection.basis is Basis.DRAINED:
            judged.append(_drained(view, each, circuit, protection))
            continue
        probe_c = view.probes_c.get((each.id, circuit.id))
        course = found[body] if probe_c is None else probed(drive, body, probe_c)
        judged.append(_judge(view, view.night, each, circuit, protection, body, course))
    return judged


def _body(circuit: Circuit, protection: Protection) -> Body:
    point = protection.ice_point_c
    return Body(
        lag_h=circuit.lag_low_h,
        heat_capacity_kj_k=circuit.heat_capacity_kj_k,
        liquid_kg=circuit.volume_l,
        ice_point_c=point,
        locked_c=locked_point(point, protection.liquid, protection.glycol_mass_fraction),
    )


@lru_cache(maxsize=4096)
def locked_point(point_c: float, liquid: str, fraction: float | None) -> float:
    """Temperature at which ice counts [°C]: at once in water, at a third of it in glycol."""
    strength = _strength(point_c, liquid, fraction)
    if not (isfinite(point_c) and point_c < 0.0 and isfinite(strength)):
        return point_c
    left = min(strength / (1.0 - LOCKED_ICE_SHARE), HIGHEST_MASS_FRACTION)
    return min(float(ice_point(left, _glycol(liquid))), point_c)


def _glycol(liquid: str) -> Glycol:
    return "ethylene" if liquid.startswith("ethylene") else "propylene"


def _strength(point_c: float, liquid: str, fraction: float | None) -> float:
    """Mass fraction of glycol; NaN where the liquid is none (water, or an ethanol blend)."""
    if fraction is not None:
        return fraction
    if liquid.startswith(("propylene", "ethylene")):
        return float(mass_fraction_for(point_c, _glycol(liquid)))
    return nan


def _judge(
    view: FrostView,
    night: Tonight,
    each: StoredCraft,
    circuit: Circuit,
    protection: Protection,
    body: Body,
    course: Course,
) -> Assessment:
    part = (each.id, circuit.id)
    is_probed = part in view.probes_c
    was_iced = protection.suspect_since is not None or part in view.iced
    standing = _standing(body, course, protection, was_iced=was_iced)
    drive_at = view.air.now
    low_at = drive_at + timedelta(hours=course.low_h)
    deadline = (
        drive_at + timedelta(hours=course.first_ice_h) if isfinite(course.first_ice_h) else None
    )
    mixed = body.locked_c < body.ice_point_c
    ends = (
        drive_at + timedelta(hours=course.frozen_through_h)
        if isfinite(course.frozen_through_h) and not mixed
        else None
    )
    urgency, severity = _weight(standing, course)
    figures = {
        "lag_h": body.lag_h,
        "unknown_share": course.unknown_share,
        "ice_fraction": _ice_now(body, course, protection, course.now_c),
        "ice_fraction_at_low": _ice_now(body, course, protection, course.low_c),
        "air_low_c": night.low_c,
    }
    if mixed:
        figures["third_ice_c"] = body.locked_c
        if isfinite(course.locked_h):
            figures["third_ice_in_h"] = course.locked_h
    return Assessment(
        subject=Subject(each.space, each.id, circuit.id),
        hazard=Hazard.FROST,
        standing=standing,
        at=view.air.now,
        basis=_basis(view, night, circuit, protection, body, course, is_probed, standing),
        act=frost_act(standing, view.air.space, circuit, protection, view.speech, deadline),
        now_c=course.now_c,
        low_c=course.low_c,
        low_at=low_at,
        limit_c=body.ice_point_c,
        burst_c=protection.burst_point_c,
        margin_k=course.low_c - body.ice_point_c,
        deadline=deadline,
        ends=ends,
        urgency=urgency,
        severity=severity,
        certainty=_certainty(standing, course, is_probed=is_probed),
        cautions=frost_cautions(standing, view.air.space),
        figures=figures,
    )


def _standing(body: Body, course: Course, protection: Protection, *, was_iced: bool) -> Standing:
    mixed = body.locked_c < body.ice_point_c
    if mixed:
        if course.now_c <= body.locked_c:
            return Standing.ICING
        if course.low_c <= body.locked_c:
            return Standing.EXPOSED
    else:
        if course.ice_fraction >= 1.0:
            return Standing.SOLID
        if course.now_c <= body.ice_point_c or course.ice_fraction > 0.0:
            return Standing.ICING
        if was_iced and protection.state is not LayupState.PROVEN:
            return Standing.SUSPECT
        if course.low_c <= body.ice_point_c:
            return Standing.EXPOSED
    near = min(course.low_c - MARGIN_K, course.guessed_low_c)
    return Standing.THIN if near < body.ice_point_c else Standing.HOLDING


def _ice_now(body: Body, course: Course, protection: Protection, at_c: float) -> float:
    strength = _strength(body.ice_point_c, protection.liquid, protection.glycol_mass_fraction)
    if body.locked_c < body.ice_point_c:
        return float(ice_share(strength, at_c, _glycol(protection.liquid)))
    return course.ice_fraction


def _weight(standing: Standing, course: Course) -> tuple[Urgency, Severity]:
    if standing in {Standing.ICING, Standing.SOLID}:
        return Urgency.IMMEDIATE, Severity.SEVERE
    if standing is Standing.SUSPECT:
        return Urgency.EXPECTED, Severity.SEVERE
    if standing is Standing.EXPOSED:
        soon = course.first_ice_h <= SOON_H
        return (Urgency.EXPECTED if soon else Urgency.FUTURE), Severity.SEVERE
    return Urgency.FUTURE, Severity.MINOR


def _certainty(standing: Standing, course: Course, *, is_probed: bool) -> Certainty:
    if is_probed and standing in {Standing.ICING, Standing.SOLID}:
        return Certainty.OBSERVED
    return Certainty.POSSIBLE if course.unknown_share > _GUESS_SHARE else Certainty.LIKELY


def _basis(
    view: FrostView,
    night: Tonight,
    circuit: Circuit,
    protection: Protection,
    body: Body,
    course: Course,
    is_probed: bool,
    standing: Standing,
) -> str:
    say = view.speech
    holds = (
        f"judged as plain water, ice at {say.temperature(0.0)}"
        if protection.state is not LayupState.PROVEN
        else f"first ice at {say.temperature(body.ice_point_c)} ({protection.basis})"
    )
    if body.locked_c < body.ice_point_c:
        holds += f", a third of it ice at {say.temperature(body.locked_c)}"
    how = (
        "its own probe"
        if is_probed
        else f"computed with a lag of {body.lag_h:g} h behind the coldest air"
    )
    low_at = view.air.now + timedelta(hours=course.low_h)
    inside = (
        f"Inside {say.temperature(course.now_c)} now, {say.temperature(course.low_c)} at the"
        f" lowest about {say.clock(low_at)} ({how})."
    )
    air = f"{view.air.space.name} to {say.temperature(night.low_c)}: {night.how}."
    guess = ""
    if course.unknown_share > _GUESS_SHARE:
        guess = "How cold it was before the readings began is not known."
    if standing is Standing.SUSPECT:
        guess = "It has been through ice; warmth does not undo that."
    why = protection.why.rstrip(". ")
    return sentence(f"{circuit.name}: {why}; {holds}.", inside, air, guess)


def _drained(
    view: FrostView, each: StoredCraft, circuit: Circuit, protection: Protection
) -> Assessment:
    return Assessment(
        subject=Subject(each.space, each.id, circuit.id),
        hazard=Hazard.FROST,
        standing=Standing.HOLDING,
        at=view.air.now,
        basis=sentence(f"{circuit.name}: {protection.why.rstrip('. ')}; nothing in it can freeze."),
        limit_c=-inf,
        burst_c=-inf,
        margin_k=inf,
        urgency=Urgency.FUTURE,
        severity=Severity.MINOR,
        certainty=Certainty.LIKELY,
    )


def _not_known(view: FrostView, each: StoredCraft, circuit: Circuit) -> Assessment:
    protection = each.protection[circuit.id]
    if protection.basis is Basis.DRAINED:
        return _drained(view, each, circuit, protection)
    part = (each.id, circuit.id)
    proven = protection.state is LayupState.PROVEN
    suspect = not proven and (protection.suspect_since is not None or part in view.iced)
    standing = Standing.SUSPECT if suspect else Standing.NOT_KNOWN
    space = view.air.space
    risk = Severity.MODERATE if space.kind is not SpaceKind.HEATED else Severity.SEVERE
    return Assessment(
        subject=Subject(each.space, each.id, circuit.id),
        hazard=Hazard.FROST,
        standing=standing,
        at=view.air.now,
        basis=sentence(
            f"{circuit.name}: {protection.why.rstrip('. ')}.",
            f"No air reading from {space.name} for two hours, so nobody knows how cold it is.",
        ),
        act=f"Read a thermometer in {space.name} by hand and mend its sensor.",
        limit_c=protection.ice_point_c,
        burst_c=protection.burst_point_c,
        urgency=Urgency.UNKNOWN,
        severity=Severity.MINOR if proven else risk,
        certainty=Certainty.UNKNOWN,
        cautions=frost_cautions(standing, space),
    )
