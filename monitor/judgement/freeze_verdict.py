"""How a kind of circuit stands against the coming cold, how bad and how soon."""

from dataclasses import replace
from datetime import timedelta
from math import isfinite, nan
from typing import Any

from monitor.craft.protection import Basis
from monitor.judgement.air import SpaceAir
from monitor.judgement.freeze_act import frost_act, frost_cautions
from monitor.judgement.freeze_case import FrostCase
from monitor.judgement.slush import COMPUTED_SHORT
from monitor.judgement.speech import Speech
from monitor.judgement.tonight import Tonight
from monitor.yard.assessment import Certainty, Severity, Standing, Urgency
from monitor.yard.frost_facts import FrostFacts

# Sensor, gradient inside the space and the lag's own error (common practice, no source).
MARGIN_K = 2.0
SOON_H = 8.0  # an evening's work: what must be done before the night


# What an assessment says of one kind of circuit, wherever such a one stands: all of its fields but
# subject, hazard and time.
Verdict = dict[str, Any]


def verdict_on(
    case: FrostCase, air: SpaceAir, night: Tonight, speech: Speech, sky_k: float
) -> Verdict:
    """Hold what a kind of circuit can stand against what is coming.

    Parameters
    ----------
    case : FrostCase
    air : SpaceAir
        Of the space where it stands.
    night : Tonight
    speech : Speech
    sky_k : float
        The most that a clear sky takes there [K].
    """
    course, body, now = case.course, case.body, air.now
    standing = _standing(case)
    # Slush in a mix is no deadline yet: a third of it ice is.
    due_h = course.locked_h if case.mixed else course.first_ice_h
    deadline = now + timedelta(hours=due_h) if isfinite(due_h) else None
    through = isfinite(course.frozen_through_h) and not case.mixed
    urgency, severity = _weight(standing, due_h)
    space = air.space
    act = frost_act(standing, space, case.circuit, case.protection, speech, deadline, course.low_c)
    return {
        "standing": standing,
        "now_c": course.now_c,
        "low_c": course.low_c,
        "low_at": now + timedelta(hours=course.low_h),
        "limit_c": body.ice_point_c,
        "burst_c": case.protection.burst_point_c,
        "margin_k": course.low_c - body.ice_point_c,
        "deadline": deadline,
        "ends": now + timedelta(hours=course.frozen_through_h) if through else None,
        "urgency": urgency,
        "severity": severity,
        "certainty": _certainty(standing, case),
        "cautions": frost_cautions(standing, space),
        "calls_for_act": bool(act),
        "facts": replace(_facts(case, night, sky_k), act=act),
    }


def _facts(case: FrostCase, night: Tonight, sky_k: float) -> FrostFacts:
    course, body, mixed = case.course, case.body, case.mixed
    return FrostFacts(
        layup=case.protection.state,
        basis=case.protection.basis,
        past_ice=case.iced,
        glycol_allowed_for=COMPUTED_SHORT if case.protection.basis is Basis.COMPUTED else 0.0,
        mixed=mixed,
        third_ice_c=body.locked_c if mixed else nan,
        probed=case.is_probed,
        lag_h=body.lag_h,
        start_is_guessed=case.start_is_guessed,
        unknown_share=course.unknown_share,
        ice_fraction=case.ice_at(course.now_c),
        ice_fraction_at_low=case.ice_at(course.low_c),
        first_ice_in_h=course.first_ice_h,
        third_ice_in_h=course.locked_h if mixed else nan,
        frozen_through_in_h=nan if mixed else course.frozen_through_h,
        air_low_c=night.low_c,
        sky_k=0.0 if case.is_probed else max(sky_k, 0.0),
        low=night.basis,
        zero_without_heat_h=night.zero_without_heat_h,
    )


def _standing(case: FrostCase) -> Standing:
    body, course = case.body, case.course
    if case.mixed:
        if course.now_c <= body.locked_c:
            return Standing.ICING
        if case.iced.at is not None:
            return Standing.SUSPECT
        if course.low_c <= body.locked_c:
            return Standing.EXPOSED
        if course.now_c <= body.ice_point_c:
            return Standing.SLUSH
    else:
        if course.ice_fraction >= 1.0:
            return Standing.SOLID
        if course.now_c <= body.ice_point_c or course.ice_fraction > 0.0:
            return Standing.ICING
        if case.iced.at is not None:
            return Standing.SUSPECT
        if course.low_c <= body.ice_point_c:
            return Standing.EXPOSED
    near = min(course.low_c - MARGIN_K, course.guessed_low_c)
    return Standing.THIN if near < body.ice_point_c else Standing.HOLDING


def _weight(standing: Standing, due_h: float) -> tuple[Urgency, Severity]:
    if standing in {Standing.ICING, Standing.SOLID}:
        return Urgency.IMMEDIATE, Severity.SEVERE
    if standing is Standing.SUSPECT:
        return Urgency.EXPECTED, Severity.SEVERE
    if standing is Standing.EXPOSED:
        soon = due_h <= SOON_H
        return (Urgency.EXPECTED if soon else Urgency.FUTURE), Severity.SEVERE
    return Urgency.FUTURE, Severity.MINOR


def _certainty(standing: Standing, case: FrostCase) -> Certainty:
    if case.is_probed and standing in {Standing.ICING, Standing.SOLID}:
        return Certainty.OBSERVED
    return Certainty.POSSIBLE if case.start_is_guessed else Certainty.LIKELY
