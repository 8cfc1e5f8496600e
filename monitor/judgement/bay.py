"""How a space's own air stands: its low, when it passes 0 °C, whether its heat is lost."""

from datetime import timedelta
from math import inf, isfinite

import numpy as np

from monitor.judgement.air import STEP_H, Floats, SpaceAir
from monitor.judgement.apart import DOUBT_K, apart
from monitor.judgement.dryness import Dryness
from monitor.judgement.heater import fall_rate
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.physics.wetness import is_wet
from monitor.wording import FREEZING
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

_OPEN_DOOR = 2.0  # a space that cools so many times faster than its walls let it stands open


def judge_space(
    air: SpaceAir, night: Tonight | None, dryness: Dryness, speech: Speech
) -> Assessment:
    """Judge one space's air.

    Parameters
    ----------
    air : SpaceAir
    night : Tonight or None
        None: the air now is not known.
    dryness : Dryness
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
            facts=WrittenText(
                basis=f"No air reading from {space.name} for two hours.",
                act=f"Read a thermometer in {space.name} by hand and mend its sensor.",
            ),
            calls_for_act=True,
            urgency=Urgency.IMMEDIATE,
            severity=Severity.MODERATE,
            certainty=Certainty.UNKNOWN,
        )
    rate = fall_rate(air)
    fall_k_h = max(rate, 0.0) if isfinite(rate) else 0.0
    lost = night.heat_is_lost
    apart_k = apart(air)
    zero_h = _passes_h(air, night, 0.0)
    deadline = air.now + timedelta(hours=zero_h) if isfinite(zero_h) else None
    corner = air.coldest.rpartition(":")[2]
    basis = sentence(
        f"{space.name} is at {speech.temperature(air.now_c)}, coldest at {corner};",
        f"down to {speech.temperature(night.low_c)} about {speech.clock(night.low_at)}:",
        f"{night.how}.",
        f"It has been falling by {speech.difference(fall_k_h)} an hour." if lost else "",
        dryness.venting.advice if dryness.venting and not lost else "",
        f"Its sensors differ by {speech.difference(apart_k)}." if apart_k > DOUBT_K else "",
    )
    act = ""
    if lost:
        before = f" It reaches {FREEZING} about {speech.clock(deadline)}." if deadline else ""
        look = "heater, its fuel and the doors"
        if fall_k_h > _OPEN_DOOR * night.loss_k_h > 0.0:
            look = "doors first, for it cools faster than shut walls do, and the heater"
        act = f"Look at the {look} of {space.name} now.{before}"
    return Assessment(
        subject=subject,
        hazard=Hazard.AIR,
        standing=Standing.FALLING if lost else Standing.STEADY,
        at=air.now,
        facts=WrittenText(basis=basis, act=act),
        calls_for_act=lost,
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
        figures=_figures(air, night, dryness, fall_k_h),
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


def _figures(air: SpaceAir, night: Tonight, dryness: Dryness, fall_k_h: float) -> dict[str, float]:
    return {
        "air_c": air.now_c,
        "warmest_air_c": float(air.warmest_c[-1]),
        "rh_pct": float(air.rh_pct[-1]),
        "dew_point_c": float(air.dew_point_c[-1]),
        "condensation_point_c": float(air.condensation_c[-1]),
        "low_c": night.low_c,
        "low_expected_c": night.expected_low_c,
        "low_band_low_c": night.low_c,
        "low_band_high_c": night.high_c,
        "wet_hours_24h": wet_hours(air, 24.0),
        "fall_k_h": fall_k_h,
        "sensors_apart_k": apart(air),
        "nights_known": float(night.forecast.nights),
        "nights_checked": float(night.forecast.checked),
        **_past(air, 24.0),
        **{name: value for name, value in _further(air, night, dryness).items() if isfinite(value)},
    }


def _further(air: SpaceAir, night: Tonight, dryness: Dryness) -> dict[str, float]:
    """Skill of the forecast, how the building keeps its warmth, what opening it up would do."""
    known = {
        "low_error_k": night.forecast.error_k,
        "persistence_error_k": night.forecast.persistence_error_k,
        "public_share": night.forecast.public_share,
        "public_error_k": night.forecast.public_error_k,
        "reaches_5c_in_h": _passes_h(air, night, 5.0),
        "reaches_0c_in_h": _passes_h(air, night, 0.0),
        "zero_without_heat_h": night.zero_without_heat_h,
    }
    known["mould_index"] = dryness.mould_index
    if dryness.venting is not None:
        known["vent_water_g_kg"] = dryness.venting.water_g_kg
        known["vent_drying"] = dryness.venting.drying
    if night.building is not None:
        known["building_lag_h"] = night.building.lag_h
        known["building_lift_k"] = night.building.lift_k
    return known


def _past(air: SpaceAir, back_h: float) -> dict[str, float]:
    """Coldest and warmest air and the degree-hours below 0 °C of the last hours."""
    recent: Floats = air.air_c[air.hours > -back_h]
    known = recent[np.isfinite(recent)]
    return {
        "coldest_24h_c": float(known.min()),
        "degree_hours_below_zero_24h": float(np.maximum(-known, 0.0).sum()) * STEP_H,
    }
