"""Verdict on one group of identical circuits: standing, margin, deadline, urgency and facts."""

from dataclasses import dataclass
from datetime import timedelta
from math import nan
from typing import Any

from monitor.clock import hours_after
from monitor.craft.circuit import Circuit
from monitor.craft.protection import Basis, Protection
from monitor.judgement.air.ensemble import room_at
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.sky_loss import SkyPull
from monitor.judgement.frost.act import frost_act, frost_cautions
from monitor.judgement.frost.ice_so_far import Body, Cooling
from monitor.judgement.frost.slush import COMPUTED_SHORT, locked_point, short_of_glycol, slush_share
from monitor.yard.assessment import Certainty, Severity, Standing, Urgency
from monitor.yard.frost_facts import FrostFacts, PastIce, PlannedAct
from monitor.yard.losses import LIKELY, act_from, chance_of_loss, is_grave
from monitor.yard.space import Yard

_GUESS_SHARE = 0.1  # above it the start of the lag still counts

_MISREAD_K = 1.0  # a refractometer in good hands; 2 K in others' (common practice, no source)

# Sensor, gradient inside the space and the lag's own error (common practice, no source).
MARGIN_K = 2.0
SOON_H = 8.0  # an evening's work: what must be done before the night


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostCase:
    """One kind of circuit in one kind of state; many craft share it."""

    circuit: Circuit
    protection: Protection
    body: Body
    course: Cooling
    is_probed: bool
    iced: PastIce

    @property
    def is_mixed(self) -> bool:
        """See `is_mixed`."""
        return is_mixed(self.body)

    @property
    def start_is_guessed(self) -> bool:
        """Whether how cold it was before the readings began still counts."""
        return self.course.unknown_share > _GUESS_SHARE

    def ice_at(self, at_c: float) -> float:
        """Share that is ice: by the lever rule in a mix, by the latent heat in water."""
        if not self.is_mixed:
            return self.course.ice_fraction
        if at_c >= self.body.ice_point_c:
            return 0.0
        _, glycol = _counted_on(self.protection)
        return slush_share(self.body.ice_point_c, self.protection.glycol, glycol, at_c)


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
    or one that may touch its ice point.
    """
    course, body, now = case.course, case.body, air.now
    loss = yard.losses.of_circuit(case.circuit)
    chance = course.chance.third_ice
    if not case.is_mixed:
        chance = chance_of_loss(course.chance.first_ice, chance)
    from_chance = act_from(loss)
    margin_k = room_at(course.ice_rooms_k, from_chance)
    standing = _standing_of(case, exposed=chance >= from_chance, margin_k=margin_k)
    # Slush in a mix is no deadline yet: a third of it ice is.
    due_h = course.locked_h if case.is_mixed else course.first_ice_h
    deadline = hours_after(now, due_h)
    urgency, severity = _urgency_and_severity(standing, due_h, grave=is_grave(chance, loss))
    space = air.space
    cold_c = course.low_band_c[0]
    shelf = yard.shelf
    act = frost_act(standing, space, case.circuit, case.protection, shelf, deadline, cold_c)
    return {
        "standing": standing,
        "now_c": course.now_c,
        "low_c": course.low_c,
        "low_at": now + timedelta(hours=course.low_h),
        "limit_c": body.ice_point_c,
        "burst_c": case.protection.burst_point_c,
        "margin_k": margin_k,
        "deadline": deadline,
        "ends": None if case.is_mixed else hours_after(now, course.frozen_through_h),
        "urgency": urgency,
        "severity": severity,
        "certainty": _certainty_of(standing, case, chance),
        "cautions": frost_cautions(standing, space),
        "calls_for_act": act is not None,
        "facts": _facts_of(case, night, sky, act, from_chance),
    }


def _facts_of(
    case: FrostCase,
    night: Tonight,
    sky: SkyPull,
    act: PlannedAct | None,
    act_from_chance: float,
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


def _standing_of(case: FrostCase, *, exposed: bool, margin_k: float) -> Standing:
    body, course = case.body, case.course
    if case.is_mixed:
        if course.now_c <= body.locked_c:
            return Standing.ICING
        if case.iced.at is not None:
            return Standing.SUSPECT
        if exposed:
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
        if exposed:
            return Standing.EXPOSED
    return Standing.THIN if margin_k < MARGIN_K else Standing.HOLDING


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
    if standing is Standing.EXPOSED:
        return Certainty.LIKELY if chance > LIKELY else Certainty.POSSIBLE
    return Certainty.POSSIBLE if case.start_is_guessed else Certainty.LIKELY


def is_mixed(body: Body) -> bool:
    """Whether it is a mix that turns to slush before its ice counts."""
    return body.locked_c < body.ice_point_c


def body_of(circuit: Circuit, protection: Protection, since_h: float, came_from: str) -> Body:
    """What follows the air for this circuit, here and in the space that its craft came from."""
    point_c, glycol = _counted_on(protection)
    return Body(
        lag_low_h=circuit.lag_low_h,
        lag_high_h=circuit.lag_high_h,
        heat_capacity_kj_k=circuit.heat_capacity_kj_k,
        liquid_kg=circuit.volume_l,
        ice_point_c=point_c,
        locked_c=locked_point(point_c, protection.glycol, glycol),
        weaker_k=point_c - protection.ice_point_c if point_c < 0.0 else 0.0,
        misread_k=_MISREAD_K if protection.basis is Basis.MEASURED and point_c < 0.0 else 0.0,
        since_h=since_h,
        came_from=came_from,
    )


def _counted_on(protection: Protection) -> tuple[float, float | None]:
    """Ice point and share of glycol that the judgement counts on: those on record, or fewer."""
    point_c, glycol = protection.ice_point_c, protection.glycol_mass_fraction
    if protection.basis is not Basis.COMPUTED:
        return point_c, glycol
    return short_of_glycol(point_c, protection.glycol, glycol)
