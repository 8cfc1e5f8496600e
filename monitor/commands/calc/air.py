"""Sums of ``laidup calc`` about moist air: dew and frost point, humidity, venting."""

import argparse
import math

from monitor.commands.calc.answer import (
    Answer,
    both_differences,
    c_and_f,
    need_dew_point,
    need_moist_air,
)
from monitor.physics import moist_air
from monitor.physics.ventilation import SENSOR_ERROR_G_KG, vent_effect

_SONNTAG = "Sonntag 1990, saturation vapour pressure over water and ice; RH over water (WMO-No. 8)"


def _air_values(arguments: argparse.Namespace) -> dict[str, float]:
    need_moist_air(arguments, "--temperature")
    air, rh, pressure = arguments.temperature, arguments.humidity, arguments.pressure
    dew_point = float(moist_air.dew_point(air, rh))
    need_dew_point(dew_point, rh)
    return {
        "dew_point_c": dew_point,
        "frost_point_c": float(moist_air.frost_point(air, rh)),
        "humidity_over_ice_pct": float(moist_air.relative_humidity_over_ice(air, rh)),
        "condensation_point_c": float(moist_air.condensation_point(air, rh)),
        "wet_bulb_c": float(moist_air.wet_bulb(air, rh, pressure)),
        "humidity_ratio_kg_kg": float(moist_air.humidity_ratio(air, rh, pressure)),
        "absolute_humidity_g_m3": float(moist_air.absolute_humidity(air, rh)),
        "vapour_pressure_pa": float(moist_air.vapour_pressure(air, rh)),
    }


def dew_point_answer(arguments: argparse.Namespace) -> Answer:
    """Dew point of air, and all else that its humidity comes to."""
    values = _air_values(arguments)
    air = f"Air of {c_and_f(arguments.temperature)} and {arguments.humidity:g} % RH"
    sentence = (
        f"{air} has its dew point at {c_and_f(values['dew_point_c'])} and holds"
        f" {values['absolute_humidity_g_m3']:.1f} g of water in a cubic metre."
    )
    if not math.isnan(values["frost_point_c"]):
        sentence += (
            f" On metal below 0 °C frost forms from {c_and_f(values['frost_point_c'])} down."
        )
    return _air_answer(sentence, values)


def frost_point_answer(arguments: argparse.Namespace) -> Answer:
    """Frost point of air, and all else that its humidity comes to."""
    values = _air_values(arguments)
    air = f"Air of {c_and_f(arguments.temperature)} and {arguments.humidity:g} % RH"
    if math.isnan(values["frost_point_c"]):
        sentence = (
            f"{air} has no frost point: its dew point, {c_and_f(values['dew_point_c'])}, is above"
            " 0 °C, so it leaves dew."
        )
    else:
        higher = values["frost_point_c"] - values["dew_point_c"]
        sentence = (
            f"{air} has its frost point at {c_and_f(values['frost_point_c'])},"
            f" {both_differences(higher)} above its dew point."
        )
    over_ice = values["humidity_over_ice_pct"]
    if not math.isnan(over_ice):
        sentence += f" Over ice it has {over_ice:.0f} % relative humidity: "
        if over_ice > 100.0:
            sentence += "frost grows on all that is as cold as the air."
        else:
            sentence += "frost on what is as cold as the air goes."
    return _air_answer(sentence, values)


def _air_answer(sentence: str, values: dict[str, float]) -> Answer:
    return Answer(
        sentence=sentence,
        values=values,
        basis="vapour pressure of the air set equal to saturation; ±3 % RH move it 0.6 K",
        source=_SONNTAG,
    )


def answer_humidity(arguments: argparse.Namespace) -> Answer:
    """Relative humidity from temperature and dew point."""
    need_moist_air(arguments, "--temperature", "--dew-point")
    rh = float(moist_air.relative_humidity(arguments.temperature, arguments.dew_point))
    impossible = rh > 100.0
    doubt = " More than 100 %: one of the two readings is wrong." if impossible else ""
    return Answer(
        sentence=(
            f"Air of {c_and_f(arguments.temperature)} with its dew point at"
            f" {c_and_f(arguments.dew_point)} has {rh:.1f} % relative humidity.{doubt}"
        ),
        values={"relative_humidity_pct": rh, "plausible": not impossible},
        basis="saturation pressure at the dew point over that at the air's temperature",
        source=_SONNTAG,
    )


def answer_ventilation(arguments: argparse.Namespace) -> Answer:
    """Whether opening up dries or wets a space."""
    need_moist_air(arguments, "--inside", "--outside")
    metal = math.inf if arguments.metal is None else arguments.metal
    effect = vent_effect(
        arguments.inside,
        arguments.inside_humidity,
        arguments.outside,
        arguments.outside_humidity,
        metal,
        arguments.pressure,
    )
    verdict = {1.0: "dries", -1.0: "wets", 0.0: "makes no difference that sensors can tell"}
    word = verdict[float(effect.drying)]
    more = "more" if effect.water_g_kg > 0.0 else "less"
    carried = "takes {:.2f} g out" if effect.removed_g_m3 > 0.0 else "brings {:.2f} g in"
    sentence = (
        f"Opening up {word}: outside air holds {abs(effect.water_g_kg):.2f} g of water {more} in"
        f" each kg of dry air, and each cubic metre exchanged"
        f" {carried.format(abs(effect.removed_g_m3))}."
    )
    if not math.isnan(effect.dew_point_k):  # perfectly dry air has no dew point
        side = "above" if effect.dew_point_k > 0.0 else "below"
        apart = both_differences(abs(float(effect.dew_point_k)))
        sentence += f" Its dew point is {apart} {side} that inside."
    wets_metal = bool(effect.wets_metal)
    if wets_metal:
        sentence += f" It would condense on the metal at {c_and_f(metal)}: keep shut."
    if arguments.outside < 0.0 <= arguments.inside:
        sentence += " It also brings frost in: check every circuit that relies on warmth."
    return Answer(
        sentence=sentence,
        values={
            "water_difference_g_kg": float(effect.water_g_kg),
            "removed_g_m3": float(effect.removed_g_m3),
            "dew_point_difference_k": float(effect.dew_point_k),
            "effect": word if float(effect.drying) else "none",
            "wets_metal": wets_metal,
        },
        basis=(
            f"water content, not relative humidity; below {SENSOR_ERROR_G_KG} g/kg two sensors"
            " of ±3 % cannot tell"
        ),
        source=f"{_SONNTAG}; humidity ratio of ASHRAE Fundamentals, chapter 1",
    )
