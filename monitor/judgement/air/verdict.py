"""How a space's own air stands: its low, when it passes 0 °C, whether its heat is lost."""

from dataclasses import dataclass, replace
from math import isfinite, nan

import numpy as np

from monitor.clock import hours_after
from monitor.judgement.air.grid import STEP_H, Floats, SpaceAir
from monitor.judgement.air.heat_loss import LOST_BELOW_C, fall_rate
from monitor.judgement.air.night_members import hours_to_pass
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.sensor_disagreement import DOUBT_K, disagreement_k
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
        None: the air now is not known. It is neither where only a stuck thermometer is heard.
    dryness : Dryness

    Returns
    -------
    Assessment
        Steady, falling (a heated space that loses its heat), or not known. A fall is of the
        future where even the coldest course of the night stays as warm as shops are kept.
    """
    space = air.space
    subject = Subject(space.id)
    if night is None or air.unfollowed:
        return Assessment(
            subject=subject,
            hazard=Hazard.AIR,
            standing=Standing.NOT_KNOWN,
            at=air.now,
            facts=UnreadFacts(stays=air.coldest if air.unfollowed else ""),
            calls_for_act=True,
            urgency=Urgency.IMMEDIATE,
            severity=Severity.MODERATE,
            certainty=Certainty.UNKNOWN,
        )
    rate = fall_rate(air)
    fall_k_h = max(rate, 0.0) if isfinite(rate) else 0.0
    lost = night.heat_is_lost
    harms = lost and not float(night.lows_c[0]) >= LOST_BELOW_C
    zero_h, below_zero = hours_to_pass(0.0, air.now_c, night.hours, night.courses_c)
    return Assessment(
        subject=subject,
        hazard=Hazard.AIR,
        standing=Standing.FALLING if lost else Standing.STEADY,
        at=air.now,
        facts=replace(
            _facts_of(air, night, dryness, fall_k_h),
            reaches_0c_in_h=zero_h,
            chance_below_zero=below_zero,
        ),
        calls_for_act=lost,
        now_c=air.now_c,
        low_c=night.low_c,
        low_at=night.low_at,
        limit_c=0.0,
        margin_k=night.band_c[0],
        deadline=hours_after(air.now, zero_h),
        urgency=Urgency.IMMEDIATE if harms else Urgency.FUTURE,
        severity=Severity.SEVERE if harms else Severity.MODERATE if lost else Severity.MINOR,
        certainty=Certainty.OBSERVED if lost else Certainty.LIKELY,
        cautions=(Caution.HEATERS, Caution.CARBON_MONOXIDE) if lost else (),
    )


def wet_hours(air: SpaceAir, back_h: float) -> float:
    """Hours of wetness within the last ``back_h`` hours (ISO 9223: RH > 80 %, above 0 °C)."""
    recent = air.hours > -back_h
    wet = is_wet(air.warmest_c, air.rh_pct)
    return float((wet & recent).sum()) * STEP_H


def _facts_of(air: SpaceAir, night: Tonight, dryness: Dryness, fall_k_h: float) -> AirFacts:
    apart_k = disagreement_k(air)
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
        low_band_low_c=night.band_c[0],
        low_band_high_c=night.band_c[1],
        nights_checked=forecast.checked,
        persistence_error_k=forecast.persistence_error_k,
        public_error_k=forecast.public_error_k,
        reaches_5c_in_h=hours_to_pass(5.0, air.now_c, night.hours, night.courses_c)[0],
        zero_without_heat_h=night.zero_without_heat_h,
        building_lag_h=nan if building is None else building.lag_h,
        building_lift_k=nan if building is None else building.lift_k,
        mould_index=dryness.mould_index,
        venting=dryness.venting,
    )
