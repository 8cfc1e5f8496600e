"""What JSON says of a judgement and of a job plan: SI numbers, the unit in the key."""

from math import isfinite, nan
from typing import Any

from monitor.craft.plan.step import JobPlan, JobStep
from monitor.craft.profile import Profile
from monitor.phrases.plan import step_sentence
from monitor.wording import Wording
from monitor.yard.air_facts import AirFacts
from monitor.yard.assessment import Assessment
from monitor.yard.battery_facts import BatteryFacts
from monitor.yard.damp_facts import DampFacts, WetDayFacts
from monitor.yard.facts import (
    ChargingFacts,
    DoubtFacts,
    EarlierSentences,
    Facts,
    SensingFacts,
    SensorBatteryFacts,
    SilenceFacts,
)
from monitor.yard.frost_facts import FrostFacts, PastIce, UnreadFrostFacts


def figures_of(seen: Assessment) -> dict[str, float]:
    """Every number beyond those that all judgements have; only what is known and finite."""
    known = _of_facts(seen.facts, seen.low_c)
    if seen.turn is not None:
        known["act_order"] = float(seen.turn.order)
        known["act_minutes"] = seen.turn.minutes
        known["act_done_in_h"] = seen.turn.done_in_h
        if seen.turn.too_late:
            known["act_too_late"] = 1.0
    return {name: value for name, value in known.items() if isfinite(value)}


def _of_facts(facts: Facts, low_c: float) -> dict[str, float]:
    match facts:
        case EarlierSentences():
            return dict(facts.figures)
        case AirFacts():
            return _of_air(facts, low_c)
        case FrostFacts():
            return _of_frost(facts) | _of_past_ice(facts.past_ice)
        case UnreadFrostFacts():
            return _of_past_ice(facts.past_ice)
        case SilenceFacts():
            return {"quiet_s": facts.quiet_s, "interval_s": facts.interval_s}
        case SensingFacts():
            return {"sensors_apart_k": facts.apart_k}
        case SensorBatteryFacts():
            return {"sensor_battery_pct": facts.left_pct}
        case DoubtFacts():
            return {"doubted_h": facts.hours, "air_range_k": facts.air_range_k}
        case ChargingFacts():
            return {"voltage_v": facts.voltage_v, "highest_v": facts.highest_v}
        case BatteryFacts():
            return _of_battery(facts)
        case DampFacts():
            return _of_damp(facts)
        case WetDayFacts():
            return {"wet_hours_24h": facts.wet_h}
        case _:
            return {}


def _of_air(facts: AirFacts, low_c: float) -> dict[str, float]:
    venting = facts.venting
    return {
        "air_c": facts.air_c,
        "warmest_air_c": facts.warmest_air_c,
        "rh_pct": facts.rh_pct,
        "dew_point_c": facts.dew_point_c,
        "condensation_point_c": facts.condensation_point_c,
        "low_c": low_c,
        "low_expected_c": facts.low_expected_c,
        "low_band_low_c": facts.low_band_low_c,
        "low_band_high_c": facts.low_band_high_c,
        "chance_below_zero": facts.chance_below_zero,
        "wet_hours_24h": facts.wet_hours_24h,
        "fall_k_h": facts.fall_k_h,
        "sensors_apart_k": facts.sensors_apart_k,
        "nights_known": float(facts.low.nights),
        "nights_checked": float(facts.nights_checked),
        "coldest_24h_c": facts.coldest_24h_c,
        "degree_hours_below_zero_24h": facts.degree_hours_below_zero_24h,
        "low_error_k": facts.low.error_k,
        "persistence_error_k": facts.persistence_error_k,
        "public_share": facts.low.public_share,
        "public_error_k": facts.public_error_k,
        "reaches_5c_in_h": facts.reaches_5c_in_h,
        "reaches_0c_in_h": facts.reaches_0c_in_h,
        "zero_without_heat_h": facts.zero_without_heat_h,
        "mould_index": facts.mould_index,
        "vent_water_g_kg": nan if venting is None else venting.water_g_kg,
        "vent_drying": nan if venting is None else venting.drying,
        "building_lag_h": facts.building_lag_h,
        "building_lift_k": facts.building_lift_k,
    }


def _of_frost(facts: FrostFacts) -> dict[str, float]:
    return {
        "lag_h": facts.lag_h,
        "unknown_share": facts.unknown_share,
        "ice_fraction": facts.ice_fraction,
        "ice_fraction_at_low": facts.ice_fraction_at_low,
        "air_low_c": facts.air_low_c,
        "first_ice_in_h": facts.first_ice_in_h,
        "low_band_low_c": facts.low_band_low_c,
        "low_band_high_c": facts.low_band_high_c,
        "chance_first_ice": facts.chance_first_ice,
        "chance_third_ice": facts.chance_third_ice,
        "chance_frozen_through": facts.chance_frozen_through,
        "act_from_chance": facts.act_from_chance,
        "third_ice_c": facts.third_ice_c,
        "third_ice_in_h": facts.third_ice_in_h,
        "frozen_through_in_h": facts.frozen_through_in_h,
    }


def _of_damp(facts: DampFacts) -> dict[str, float]:
    known = {
        "air_rh_pct": facts.air_rh_pct,
        "surface_rh_pct": facts.surface_rh_pct,
        "lag_h": facts.lag_h,
        "film_g_m2": facts.film_g_m2,
        "clear_in_h": facts.clear_in_h,
        "dry_in_h": facts.dry_in_h,
        "mould_index": facts.mould_index,
        "chance_sweating": facts.chance_sweating,
        "chance_frosting": facts.chance_frosting,
        "wet_early_in_h": facts.wet_early_in_h,
        "room_ahead_k": facts.room_ahead_k,
        "room_band_low_k": facts.room_band_low_k,
        "room_band_high_k": facts.room_band_high_k,
    }
    if facts.ahead is not None:
        known |= {
            "first_dew_in_h": facts.ahead.first_dew_in_h,
            "clear_in_h": facts.ahead.clear_in_h,
            "ahead_metal_c": facts.ahead.metal_c,
            "ahead_dew_point_c": facts.ahead.point_c,
            "ahead_film_g_m2": facts.ahead.film_g_m2,
        }
    return known


def _of_battery(facts: BatteryFacts) -> dict[str, float]:
    known = {
        "charge_fraction": facts.charge_fraction,
        "charge_low_fraction": facts.charge_low_fraction if facts.load_a else nan,
        "load_a": facts.load_a or nan,
        "voltage_v": facts.voltage_v,
        "maintainer_phase": float(facts.phase),
        "capacity_ah": facts.capacity_ah,
        "flat_in_h": facts.flat_in_h,
        "test_in_h": facts.test_in_h,
        "charge_known_fraction": facts.memory.charge_known_fraction,
        "chance_freezing": facts.chance_freezing,
        "act_from_chance": facts.act_from_chance,
        "low_band_low_c": facts.low_band_low_c,
        "low_band_high_c": facts.low_band_high_c,
    }
    times = {
        "may_be_frozen_at_unix_s": facts.memory.may_be_frozen_at,
        "charge_known_at_unix_s": facts.memory.charge_known_at,
    }
    return known | {name: at.timestamp() for name, at in times.items() if at is not None}


def _of_past_ice(ice: PastIce) -> dict[str, float]:
    times = {
        "iced_at_unix_s": ice.as_water_at,
        "third_ice_at_unix_s": ice.as_mix_at,
        "maybe_iced_at_unix_s": ice.maybe_at,
    }
    return {name: at.timestamp() for name, at in times.items() if at is not None}


def plan_json(plan: JobPlan, profile: Profile, words: Wording) -> dict[str, Any]:
    """A craft's plan, its steps in working order.

    Parameters
    ----------
    plan : JobPlan
    profile : Profile
        Of the craft.
    words : Wording
        Of the sentences; the numbers beside them are SI.
    """
    return {
        "craft": plan.craft,
        "low_c": plan.low_c,
        "minutes": plan.minutes,
        "unreadable": plan.unreadable or None,
        "needs": [_step_json(step, profile, words) for step in plan.steps],
    }


def _step_json(step: JobStep, profile: Profile, words: Wording) -> dict[str, Any]:
    product = step.product
    return {
        "act": str(step.kind),
        "circuits": list(step.circuits),
        "words": step_sentence(step, profile, words),
        "quantity_l": step.quantity_l,
        "glycol_mass_fraction": product.strength if product else None,
        "product": product.name if product else None,
        "lot": product.lot if product else None,
        "on_shelf": not product.to_buy if product else None,
        "reading_c": step.reading_c,
        "minutes": step.minutes,
        "enter_as": str(step.act) if step.act else None,
        "evidence": [str(one) for one in step.asks],
        "instead": [str(one) for one in step.instead],
        "cautions": [str(one) for one in step.cautions],
    }
