"""How a space's own air stands: its low, when it passes 0 °C, whether its heat is lost."""

from datetime import timedelta
from math import inf, isfinite

import numpy as np

from monitor.judgement.air import STEP_H, Floats, SpaceAir
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
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
from monitor.yard.space import SpaceKind

LOST_K_H = 1.0  # a heated space that falls faster has lost its heat (common practice)
LOST_BELOW_C = 5.0  # and so has one that is colder than any shop is kept
_LOOK_BACK_H = 0.75
WET_RH_PCT = 80.0  # wet hour: RH above this and air above 0 °C, both strict (ISO 9223)


def judge_space(air: SpaceAir, night: Tonight | None, speech: Speech) -> Assessment:
    """Judge one space's air.

    Parameters
    ----------
    air : SpaceAir
    night : Tonight or None
        None: the air now is not known.
    speech : Speech

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
            basis=f"No air reading from {space.name} for two hours.",
            act=f"Read a thermometer in {space.name} by hand and mend its sensor.",
            urgency=Urgency.IMMEDIATE,
            severity=Severity.MODERATE,
            certainty=Certainty.UNKNOWN,
        )
    fall_k_h = falling(air)
    lost = space.kind is SpaceKind.HEATED and (fall_k_h > LOST_K_H or air.now_c < LOST_BELOW_C)
    zero_h = _zero_h(air, night, fall_k_h if lost else 0.0)
    deadline = air.now + timedelta(hours=zero_h) if isfinite(zero_h) else None
    basis = sentence(
        f"{space.name} is at {speech.temperature(air.now_c)}, coldest at {air.coldest};",
        f"down to {speech.temperature(night.low_c)} about {speech.clock(night.low_at)}:",
        f"{night.how}.",
        f"It has been falling by {speech.difference(fall_k_h)} an hour." if lost else "",
    )
    act = ""
    if lost:
        before = f" It reaches 0 °C about {speech.clock(deadline)}." if deadline else ""
        act = f"Look at the heater, its fuel and the doors of {space.name} now.{before}"
    return Assessment(
        subject=subject,
        hazard=Hazard.AIR,
        standing=Standing.FALLING if lost else Standing.STEADY,
        at=air.now,
        basis=basis,
        act=act,
        now_c=air.now_c,
        low_c=night.low_c,
        low_at=night.low_at,
        limit_c=0.0,
        margin_k=night.low_c,
        deadline=deadline,
        urgency=Urgency.IMMEDIATE if lost else Urgency.FUTURE,
        severity=Severity.SEVERE if lost else Severity.MINOR,
        certainty=Certainty.OBSERVED if lost else Certainty.LIKELY,
        cautions=(Caution.HEATERS, Caution.CARBON_MONOXIDE) if lost else (),
        figures=_figures(air, night, fall_k_h),
    )


def falling(air: SpaceAir) -> float:
    """How fast the air has been falling over the last three quarters of an hour [K/h].

    0 where it rises, and where there are not enough readings to tell.
    """
    steps = round(_LOOK_BACK_H / STEP_H)
    recent, hours = air.air_c[-steps - 1 :], air.hours[-steps - 1 :]
    known = np.isfinite(recent)
    if known.sum() < steps:
        return 0.0
    slope = float(np.polyfit(hours[known], recent[known], 1)[0])
    return max(-slope, 0.0)


def wet_hours(air: SpaceAir, back_h: float) -> float:
    """Hours of wetness within the last ``back_h`` hours (ISO 9223: RH > 80 %, above 0 °C)."""
    recent = air.hours > -back_h
    wet = (air.rh_pct > WET_RH_PCT) & (air.warmest_c > 0.0)
    return float((wet & recent).sum()) * STEP_H


def _zero_h(air: SpaceAir, night: Tonight, fall_k_h: float) -> float:
    """Hours until the air passes 0 °C; inf if it does not before the noon."""
    if air.now_c <= 0.0:
        return 0.0
    below = np.flatnonzero(night.cold_c <= 0.0)
    by_night = inf
    if below.size:
        after = int(below[0])
        upper = air.now_c if after == 0 else float(night.cold_c[after - 1])
        lower = float(night.cold_c[after])
        by_night = float(night.hours[after]) - STEP_H * -lower / (upper - lower)
    by_fall = air.now_c / fall_k_h if fall_k_h > 0.0 else inf
    return min(by_night, by_fall)


def _figures(air: SpaceAir, night: Tonight, fall_k_h: float) -> dict[str, float]:
    return {
        "air_c": air.now_c,
        "warmest_air_c": float(air.warmest_c[-1]),
        "rh_pct": float(air.rh_pct[-1]),
        "dew_point_c": float(air.dew_point_c[-1]),
        "condensation_point_c": float(air.condensation_c[-1]),
        "low_c": night.low_c,
        "low_band_low_c": night.band_low_c,
        "low_band_high_c": night.band_high_c,
        "wet_hours_24h": wet_hours(air, 24.0),
        "fall_k_h": fall_k_h,
        "nights_known": float(len(night.nights)),
        **_past(air, 24.0),
    }


def _past(air: SpaceAir, back_h: float) -> dict[str, float]:
    """Coldest and warmest air and the degree-hours below 0 °C of the last hours."""
    recent: Floats = air.air_c[air.hours > -back_h]
    known = recent[np.isfinite(recent)]
    return {
        "coldest_24h_c": float(known.min()),
        "degree_hours_below_zero_24h": float(np.maximum(-known, 0.0).sum()) * STEP_H,
    }
