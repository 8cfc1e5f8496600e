"""How a space's own air stands: its low, when it passes 0 °C, whether its heat is lost."""

from dataclasses import dataclass
from datetime import timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.judgement.air.grid import STEP_H, Floats, SpaceAir
from monitor.judgement.air.heat_loss import fall_rate
from monitor.judgement.air.sensor_disagreement import DOUBT_K, apart
from monitor.judgement.air.tonight import Tonight
from monitor.physics.wetness import is_wet
from monitor.yard.air_facts import AirFacts, UnreadFacts, Venting
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

_OPEN_DOOR = 2.0  # a space that cools so many times faster than its walls let it stands open


@dataclass(frozen=True, slots=True, kw_only=True)
class Dryness:
    """What is known of a space's damp beyond its air's own readings."""

    venting: Venting | None
    mould_index: float


def judge_space(air: SpaceAir, night: Tonight | None, dryness: Dryness) -> Assessment:
    """Judge one space's air.

    Parameters
    ----------
    air : SpaceAir
    night : Tonight or None
        None: the air now is not known.
    dryness : Dryness

    Returns
    -------
    Assessment
        Steady, falling (a heated space that loses its heat), or not known.
    """
    space = air.space
    subject = Subject(space.id)
    if night is None:
        return Assessment(
            subject=subject,
            hazard=Hazard.AIR,
            standing=Standing.NOT_KNOWN,
            at=air.now,
            facts=UnreadFacts(),
            calls_for_act=True,
            urgency=Urgency.IMMEDIATE,
            severity=Severity.MODERATE,
            certainty=Certainty.UNKNOWN,
        )
    rate = fall_rate(air)
    fall_k_h = max(rate, 0.0) if isfinite(rate) else 0.0
    lost = night.heat_is_lost
    zero_h = _passes_h(air, night, 0.0)
    return Assessment(
        subject=subject,
        hazard=Hazard.AIR,
        standing=Standing.FALLING if lost else Standing.STEADY,
        at=air.now,
        facts=_facts(air, night, dryness, fall_k_h, zero_h),
        calls_for_act=lost,
        now_c=air.now_c,
        low_c=night.low_c,
        low_at=night.low_at,
        limit_c=0.0,
        margin_k=night.low_c,
        deadline=air.now + timedelta(hours=zero_h) if isfinite(zero_h) else None,
        urgency=Urgency.IMMEDIATE if lost else Urgency.FUTURE,
        severity=Severity.SEVERE if lost else Severity.MINOR,
        certainty=Certainty.OBSERVED if lost else Certainty.LIKELY,
        cautions=(Caution.HEATERS, Caution.CARBON_MONOXIDE) if lost else (),
    )


def wet_hours(air: SpaceAir, back_h: float) -> float:
    """Hours of wetness within the last ``back_h`` hours (ISO 9223: RH > 80 %, above 0 °C)."""
    recent = air.hours > -back_h
    wet = is_wet(air.warmest_c, air.rh_pct)
    return float((wet & recent).sum()) * STEP_H


def _passes_h(air: SpaceAir, night: Tonight, limit_c: float) -> float:
    """Hours until the air passes a limit on its way down; inf if it does not before the noon."""
    if air.now_c <= limit_c:
        return 0.0
    below = np.flatnonzero(night.cold_c <= limit_c)
    if not below.size:
        return inf
    after = int(below[0])
    upper = air.now_c if after == 0 else float(night.cold_c[after - 1])
    lower = float(night.cold_c[after])
    return float(night.hours[after]) - STEP_H * (limit_c - lower) / (upper - lower)


def _facts(
    air: SpaceAir, night: Tonight, dryness: Dryness, fall_k_h: float, zero_h: float
) -> AirFacts:
    apart_k = apart(air)
    recent: Floats = air.air_c[air.hours > -24.0]
    known = recent[np.isfinite(recent)]
    forecast, building = night.forecast, night.building
    return AirFacts(
        coldest_sensor=air.coldest,
        air_c=air.now_c,
        warmest_air_c=float(air.warmest_c[-1]),
        rh_pct=float(air.rh_pct[-1]),
        dew_point_c=float(air.dew_point_c[-1]),
        condensation_point_c=float(air.condensation_c[-1]),
        coldest_24h_c=float(known.min()),
        degree_hours_below_zero_24h=float(np.maximum(-known, 0.0).sum()) * STEP_H,
        wet_hours_24h=wet_hours(air, 24.0),
        fall_k_h=fall_k_h,
        open_to_outside=fall_k_h > _OPEN_DOOR * night.loss_k_h > 0.0,
        sensors_apart_k=apart_k,
        sensors_differ=apart_k > DOUBT_K,
        low=night.basis,
        low_expected_c=night.expected_low_c,
        low_band_high_c=night.high_c,
        nights_checked=forecast.checked,
        persistence_error_k=forecast.persistence_error_k,
        public_error_k=forecast.public_error_k,
        reaches_5c_in_h=_passes_h(air, night, 5.0),
        reaches_0c_in_h=zero_h,
        zero_without_heat_h=night.zero_without_heat_h,
        building_lag_h=nan if building is None else building.lag_h,
        building_lift_k=nan if building is None else building.lift_k,
        mould_index=dryness.mould_index,
        venting=dryness.venting,
    )
