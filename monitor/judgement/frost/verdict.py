"""Verdict on one group of identical circuits: standing, margin, deadline, urgency and facts."""

from dataclasses import replace
from datetime import timedelta
from math import nan
from typing import Any

from monitor.clock import hours_after
from monitor.craft.protection import Basis
from monitor.judgement.air.ensemble import room_at
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.sky_loss import SkyPull
from monitor.judgement.frost.act import frost_act, frost_cautions
from monitor.judgement.frost.frost_case import FrostCase
from monitor.judgement.frost.slush import COMPUTED_SHORT
from monitor.yard.assessment import Certainty, Severity, Standing, Urgency
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.losses import LIKELY, act_from, chance_of_loss, is_grave
from monitor.yard.space import Yard

SOON_H = 8.0  # an evening's work: what must be done before the night


# What an assessment says of one kind of circuit, wherever such a one stands: all of its fields but
# subject, hazard and time.
Verdict = dict[str, Any]


def verdict_on(case: FrostCase, air: SpaceAir, night: Tonight, yard: Yard, sky: SkyPull) -> Verdict:
    """Compare what a circuit can stand with the coming low.

    Parameters
    ----------
    case : FrostCase
    air : SpaceAir
        Of the space where it stands.
    night : Tonight
    yard : Yard
    sky : SkyPull
        What the sky takes there.

    Notes
    -----
    `exposed` where the chance of losing it is worth an act: one over what is lost
    (`monitor.yard.losses`). `margin_k` is the room over the first crystals that is left at that
    very chance, so that an exposed circuit never has any; `thin` is one with less than 2 K of it,
    or one that may touch its ice point. Ice that is there only if it began as cold as the air
    leaves a circuit `exposed` (`monitor.judgement.frost.known_ice`): chance and priority are those
    of the ice, certainty is CAP's possible, and the act looks first whether water still runs.
    """
    course, body, now = case.course, case.body, air.now
    loss = yard.losses.of_circuit(case.circuit)
    chance = course.chance.third_ice
    if not case.is_mixed:
        chance = chance_of_loss(course.chance.first_ice, chance)
    from_chance = act_from(loss)
    margin_k = room_at(course.ice_rooms_k, from_chance)
    standing = case.standing_of(exposed=chance >= from_chance, margin_k=margin_k)
    # Slush in a mix is no deadline yet: a third of it ice is.
    due_h = course.locked_h if case.is_mixed else course.first_ice_h
    ends_h = course.frozen_through_h
    if standing in {Standing.ICING, Standing.SOLID}:
        due_h, ends_h = case.ice_since_h(due_h), case.solid_since_h(ends_h)
    deadline = hours_after(now, due_h)
    urgency, severity = _urgency_and_severity(standing, due_h, grave=is_grave(chance, loss))
    space = air.space
    cold_c = course.low_band_c[0]
    shelf = yard.shelf
    act = frost_act(standing, space, case.circuit, case.protection, shelf, deadline, cold_c)
    if act is not None and case.ice_is_assumed and standing is Standing.EXPOSED:
        act = replace(act, occasion=Occasion.IF_IT_RUNS)
    return {
        "standing": standing,
        "now_c": course.now_c,
        "low_c": course.low_c,
        "low_at": now + timedelta(hours=course.low_h),
        "limit_c": body.ice_point_c,
        "burst_c": case.protection.burst_point_c,
        "margin_k": margin_k,
        "deadline": deadline,
        "ends": None if case.is_mixed else hours_after(now, ends_h),
        "urgency": urgency,
        "severity": severity,
        "certainty": _certainty_of(standing, case, chance),
        "cautions": frost_cautions(standing, space),
        "calls_for_act": act is not None,
        "facts": _facts_of(case, night, sky, act, from_chance, standing),
    }


def _facts_of(
    case: FrostCase,
    night: Tonight,
    sky: SkyPull,
    act: PlannedAct | None,
    act_from_chance: float,
    standing: Standing,
) -> FrostFacts:
    course, body, mixed = case.course, case.body, case.is_mixed
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
        start_at=case.start_at,
        came_then=case.came_at_start,
        ice_is_assumed=case.ice_is_assumed and standing is Standing.EXPOSED,
        unknown_share=course.unknown_share,
        ice_fraction=case.ice_at(course.now_c),
        ice_fraction_at_low=case.ice_at(course.low_c),
        first_ice_in_h=course.first_ice_h,
        third_ice_in_h=course.locked_h if mixed else nan,
        frozen_through_in_h=nan if mixed else course.frozen_through_h,
        air_low_c=night.low_c,
        sky_k=0.0 if case.is_probed else sky.most_k,
        chance_first_ice=course.chance.first_ice,
        chance_third_ice=course.chance.third_ice,
        chance_frozen_through=nan if mixed else course.chance.frozen_through,
        low_band_low_c=course.low_band_c[0],
        low_band_high_c=course.low_band_c[1],
        low=night.basis,
        zero_without_heat_h=night.zero_without_heat_h,
        act=act,
        act_from_chance=act_from_chance,
    )


def _urgency_and_severity(
    standing: Standing, due_h: float, *, grave: bool
) -> tuple[Urgency, Severity]:
    if standing in {Standing.ICING, Standing.SOLID}:
        return Urgency.IMMEDIATE, Severity.SEVERE
    if standing is Standing.SUSPECT:
        return Urgency.EXPECTED, Severity.SEVERE
    if standing is Standing.EXPOSED:
        soon = due_h <= SOON_H
        severity = Severity.SEVERE if grave else Severity.MODERATE
        return (Urgency.EXPECTED if soon else Urgency.FUTURE), severity
    return Urgency.FUTURE, Severity.MINOR


def _certainty_of(standing: Standing, case: FrostCase, chance: float) -> Certainty:
    if case.is_probed and standing in {Standing.ICING, Standing.SOLID}:
        return Certainty.OBSERVED
    if standing is Standing.EXPOSED and not case.ice_is_assumed:
        return Certainty.LIKELY if chance > LIKELY else Certainty.POSSIBLE
    return Certainty.POSSIBLE if case.start_is_guessed else Certainty.LIKELY
