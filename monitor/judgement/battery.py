"""Which batteries go flat or freeze: charge, maintainer and the cold where each one stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import isfinite, nan

import numpy as np

from monitor.craft.stored import Battery, BatteryPlace, Chemistry, StoredCraft
from monitor.judgement.air import Floats, SpaceAir, Traces
from monitor.judgement.charge import RECHARGE, Charge, charge_of
from monitor.judgement.course import Driver, driver
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.physics.battery import LONG_EMPTY_FREEZES_C, freezing_point_of_charge
from monitor.physics.lag import lag_response
from monitor.physics.maintainer import Phase
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
from monitor.yard.space import Sensor

PART = "battery"
MARGIN_K = 5.0  # charge from a voltage is 15 points uncertain: some 5 K of freezing point
_MAY_BE_FROZEN_K = 3.0  # half of that: so near its freezing point, nobody can say it is not
LONG_EMPTY_H = 72.0  # sulphating plates have taken acid up by then (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryView:
    """All that the batteries standing in one space are judged by."""

    air: SpaceAir
    night: Tonight | None
    traces: Traces
    sensors: dict[str, Sensor]  # by craft: its maintainer
    speech: Speech


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cold:
    """How cold one battery is and gets."""

    now_c: float = nan
    low_c: float = nan
    past_c: Floats | None = None  # as far back as the air is known, up to now
    course_c: Floats | None = None  # from now on
    drive: Driver | None = None


def judge_batteries(view: BatteryView, craft: Sequence[StoredCraft]) -> list[Assessment]:
    """Judge the batteries that stand in this space, aboard or on the bench.

    Parameters
    ----------
    view : BatteryView
    craft : sequence of StoredCraft
        Those whose battery stands here.

    Returns
    -------
    list of Assessment
        One a battery.
    """
    owned = [(each, each.battery) for each in craft if each.battery is not None]
    if not owned:
        return []
    cold: dict[float, _Cold] = {}
    if view.night is not None:
        drive = driver(view.air, view.night, view.speech.yard)
        lags = np.unique([battery.lag_low_h for _, battery in owned])
        inside = lag_response(drive.hours, drive.air_c, lags).body_c
        for lag, body_c in zip(lags, inside, strict=True):
            course = body_c[drive.present :]
            cold[float(lag)] = _Cold(
                now_c=float(course[0]),
                low_c=float(course.min()),
                past_c=body_c[: drive.present + 1],
                course_c=course,
                drive=drive,
            )
    return [
        _judge(view, each, battery, cold.get(battery.lag_low_h, _Cold())) for each, battery in owned
    ]


def _judge(view: BatteryView, each: StoredCraft, battery: Battery, cold: _Cold) -> Assessment:
    charge = charge_of(
        battery, view.sensors.get(each.id), view.air, view.traces, cold.now_c, view.speech
    )
    known = isfinite(charge.fraction)
    freezes_c = _freezes(battery, charge)
    margin_k = cold.low_c - freezes_c
    suspect = _may_be_frozen(battery, cold, freezes_c)
    standing = Standing.FREEZING if suspect else _standing(charge, margin_k)
    urgency, severity = _weight(standing, suspect)
    hour_low, hour_ice = _hours(cold, freezes_c)
    figures = {
        "charge_fraction": charge.fraction,
        "voltage_v": charge.voltage_v,
        "maintainer_phase": float(charge.phase),
        "capacity_ah": battery.capacity_ah,
        "flat_in_h": charge.flat_in_h,
    }
    return Assessment(
        subject=Subject(view.air.space.id, each.id, PART),
        hazard=Hazard.BATTERY,
        standing=standing,
        at=view.air.now,
        basis=_basis(view, battery, charge, cold, freezes_c),
        act=_act(standing, battery, charge, suspect),
        now_c=cold.now_c,
        low_c=cold.low_c,
        low_at=None if cold.drive is None else cold.drive.at(hour_low),
        limit_c=freezes_c,
        burst_c=freezes_c,
        margin_k=margin_k,
        deadline=None if cold.drive is None else cold.drive.at(hour_ice),
        urgency=urgency,
        severity=severity,
        certainty=Certainty.LIKELY if known else Certainty.UNKNOWN,
        cautions=_cautions(standing, charge),
        figures={name: value for name, value in figures.items() if isfinite(value)},
    )


def _freezes(battery: Battery, charge: Charge) -> float:
    """Freezing point of its acid; NaN: not known."""
    if not isfinite(charge.fraction):
        return nan
    by_charge_c = float(freezing_point_of_charge(charge.fraction, battery.chemistry.value))
    return LONG_EMPTY_FREEZES_C if _long_empty(battery, charge) else by_charge_c


def _long_empty(battery: Battery, charge: Charge) -> bool:
    return battery.chemistry is not Chemistry.LIFEPO4 and charge.empty_h >= LONG_EMPTY_H


def _hours(cold: _Cold, freezes_c: float) -> tuple[float, float]:
    """Hours to the low, and to the freezing point; NaN: not known, or not before the noon."""
    if cold.course_c is None or cold.drive is None:
        return nan, nan
    hours = cold.drive.hours[cold.drive.present :]
    below = np.flatnonzero(cold.course_c <= freezes_c)
    return float(hours[int(np.argmin(cold.course_c))]), float(
        hours[below[0]]
    ) if below.size else nan


def _standing(charge: Charge, margin_k: float) -> Standing:
    if isfinite(margin_k) and margin_k < MARGIN_K:
        return Standing.FREEZING
    if charge.lost:
        return Standing.LOST
    if charge.fault or charge.fraction < RECHARGE:
        return Standing.LOW
    feeding = charge.phase in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT, Phase.IDLE}
    return Standing.CHARGED if feeding or isfinite(charge.fraction) else Standing.NOT_KNOWN


def _may_be_frozen(battery: Battery, cold: _Cold, freezes_c: float) -> bool:
    """Whether it has been so cold that ice in it cannot be ruled out, and nobody tested it since.

    Looks back as far as the air is known, four days; warmth alone does not make it safe to charge.
    """
    if cold.past_c is None or cold.drive is None:
        return False
    past_c, hours = cold.past_c, cold.drive.hours[: cold.past_c.size]
    if battery.rested_at is not None:
        past_c = past_c[hours >= (battery.rested_at - cold.drive.now) / timedelta(hours=1)]
    return bool((past_c <= freezes_c + _MAY_BE_FROZEN_K).any())


def _weight(standing: Standing, suspect: bool) -> tuple[Urgency, Severity]:
    if standing is Standing.FREEZING:
        return (Urgency.IMMEDIATE if suspect else Urgency.EXPECTED), Severity.SEVERE
    if standing in {Standing.LOST, Standing.LOW}:
        return Urgency.EXPECTED, Severity.MODERATE
    if standing is Standing.NOT_KNOWN:
        return Urgency.UNKNOWN, Severity.MINOR
    return Urgency.FUTURE, Severity.MINOR


def _basis(
    view: BatteryView, battery: Battery, charge: Charge, cold: _Cold, freezes_c: float
) -> str:
    say = view.speech
    name = view.air.space.name
    where = (
        f"on the bench in {name}" if battery.place is BatteryPlace.BENCH else f"aboard in {name}"
    )
    freezing = ""
    if isfinite(freezes_c):
        freezing = f"At that charge it freezes at about {say.temperature(freezes_c)}"
        if _long_empty(battery, charge):
            freezing = (
                f"It has stood empty for {charge.empty_h / 24.0:.0f} days, which weakens the acid:"
                f" it can freeze from {say.temperature(freezes_c)} down"
            )
        if isfinite(cold.low_c):
            freezing += (
                f"; it is at {say.temperature(cold.now_c)} and gets down to"
                f" {say.temperature(cold.low_c)}"
            )
        freezing += "."
    flat = ""
    if isfinite(charge.flat_in_h) and charge.flat_in_h > 0.0:
        local = (view.air.now + timedelta(hours=charge.flat_in_h)).astimezone(say.yard.zone)
        flat = f"Left alone it wants charging by {local.day} {local:%b}."
    return sentence(f"Battery {where}:", charge.how, freezing, flat)


def _act(standing: Standing, battery: Battery, charge: Charge, suspect: bool) -> str:
    if suspect:
        return (
            "It may be frozen: do not charge it. Switch the maintainer off, carry the battery into"
            " a warm room, let it thaw, look for bulges and cracks, test it, and only then charge"
            " it."
        )
    if standing is Standing.FREEZING:
        return (
            "Carry the battery into a warm space before the night, look for bulges and cracks, and"
            " charge it there."
        )
    if battery.chemistry is Chemistry.LIFEPO4 and charge.fault:
        return "Switch the maintainer off: this chemistry is never charged below 0 °C (32 °F)."
    if standing is Standing.LOST:
        return "See to the maintainer: mains, plug, fuse, clamps; then charge the battery."
    if standing is Standing.LOW:
        if charge.fault:
            return "Take the maintainer off at the mains and test the battery under load."
        return "Charge the battery."
    if standing is Standing.NOT_KNOWN:
        return "Measure its voltage after a night's rest and enter it."
    return ""


def _cautions(standing: Standing, charge: Charge) -> tuple[Caution, ...]:
    if standing is Standing.FREEZING or (charge.fault and "freezing" in charge.fault):
        return (Caution.FROZEN_BATTERY, Caution.HYDROGEN)
    return (Caution.HYDROGEN,) if standing in {Standing.LOST, Standing.LOW} else ()
