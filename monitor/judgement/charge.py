"""What is known of a battery's charge and of what its maintainer does."""

from dataclasses import dataclass
from datetime import timedelta
from math import inf, isfinite, nan

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms, to_ms
from monitor.craft.stored import Battery, Chemistry
from monitor.judgement.air import Floats, SpaceAir, Traces, on_grid
from monitor.judgement.silence import heard_ms, interval_s, silence_standing
from monitor.judgement.speech import Speech
from monitor.physics.battery import (
    HOURS_A_MONTH,
    SELF_DISCHARGE_PER_MONTH,
    charge_from_rested_voltage,
    float_voltage,
    hours_until_charge,
    self_discharge,
)
from monitor.physics.battery import (
    Chemistry as ChemistryName,
)
from monitor.physics.maintainer import Phase, maintainer_phase
from monitor.yard.assessment import Standing
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor

RECHARGE = 0.69  # 12.4 V rested: below it plates sulphate (common practice)
EMPTY = 0.1  # a maintainer tells volts to some 0.05, a tenth of the charge down there
_LONGEST_ABSORPTION_H = 24.0  # a sound small battery takes far less (common practice)
_DEAD_CELL_V = (9.5, 10.9)  # rested: one cell of six is gone (common practice)
_FALLS_TOO_FAST_V_DAY = 0.3  # alone and unloaded: a bad cell, or something draws (common practice)
_FLOAT_OFF_V = 0.5  # from the temperature's right float voltage
_TOO_HIGH_V = 14.8  # at 25 °C: gassing; compensated like float
_SETTLED_H = 12.0  # after charge ends, before a voltage tells of charge


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """One battery's charge, with the sentence that says how it is known."""

    fraction: float  # 0 to 1; NaN: not known
    phase: Phase
    lost: str  # why the maintainer counts as lost; empty if it does not
    how: str
    voltage_v: float = nan
    fault: str = ""  # what the battery or its maintainer does that a sound one does not
    flat_in_h: float = inf  # until it must be charged, if nothing feeds it
    empty_h: float = 0.0  # for how long it is known to have stood empty


def charge_of(
    battery: Battery,
    sensor: Sensor | None,
    air: SpaceAir,
    traces: Traces,
    battery_c: float,
    speech: Speech,
) -> Charge:
    """Read a battery's charge off its maintainer, or off the record.

    Parameters
    ----------
    battery : Battery
    sensor : Sensor or None
        Its maintainer.
    air : SpaceAir
        Of the place where it stands.
    traces : mapping
    battery_c : float
        Its temperature now [°C]; NaN if not known.
    speech : Speech
    """
    if sensor is None:
        return _by_record(battery, air, speech)
    volts = on_grid(traces.get((sensor.name, Channel.VOLTAGE)), air.hours, air.now)
    last = np.flatnonzero(np.isfinite(volts))
    heard = heard_ms(sensor, traces, air.now)
    if not last.size:
        lost = f"its maintainer {sensor.name} is not heard" if battery.maintained else ""
        how = f"nothing heard of its maintainer {sensor.name}, so its charge is not known."
        return Charge(fraction=nan, phase=Phase.UNKNOWN, lost=lost, how=how)
    known = slice(0, int(last[-1]) + 1)
    amps = on_grid(traces.get((sensor.name, Channel.CURRENT)), air.hours, air.now)[known]
    warm_c = battery_c if isfinite(battery_c) else 25.0
    phases = maintainer_phase(
        air.hours[known],
        volts[known],
        None if np.isnan(amps).all() else amps,
        warm_c,
        chemistry=battery.chemistry.value,
        capacity_ah=battery.capacity_ah,
    )
    volt, phase = float(volts[last[-1]]), Phase(int(phases[-1]))
    quiet_s = (to_ms(air.now) - int(heard[-1])) / 1000.0
    lost = ""
    if silence_standing(quiet_s, interval_s(sensor, heard)) is Standing.SILENT:
        lost = f"its maintainer was last heard at {speech.clock(from_ms(int(heard[-1])))}"
    elif _mains_off(sensor, traces):
        lost = "its maintainer has no mains"
    elif phase is Phase.LOST:
        lost = "its maintainer no longer charges it"
    fraction = _fraction(battery, phase, lost, volt)
    fault = _fault(battery, air.hours[known], volts[known], phases, warm_c)
    what = lost or f"maintainer in {phase.name.lower()}"
    said = f", about {fraction * 100:.0f} % charged" if isfinite(fraction) else ""
    alone = bool(lost) or phase is Phase.LOST
    return Charge(
        fraction=fraction,
        phase=Phase.LOST if lost else phase,
        lost=lost,
        how=f"{what}, {volt:.2f} V{said}." + (f" It {fault}." if fault else ""),
        voltage_v=volt,
        fault=fault,
        flat_in_h=_flat_in(battery, fraction, warm_c) if alone else inf,
        empty_h=_empty_for(battery, air.hours[known], volts[known]),
    )


def _fraction(battery: Battery, phase: Phase, lost: str, volt: float) -> float:
    """Full while it floats; by the voltage when it stands alone; else not known yet."""
    if phase is Phase.FLOAT and not lost:
        return 1.0
    if lost or phase in {Phase.LOST, Phase.IDLE}:
        # Surface charge reads too full for half a day; a full battery freezes at no yard's low.
        return float(charge_from_rested_voltage(volt, battery.chemistry.value).fraction)
    return nan


def _empty_for(battery: Battery, hours: Floats, volts: Floats) -> float:
    """Hours since it was last seen with charge in it; 0 if the last voltage says there is.

    A pause between two empty readings counts as empty: nothing filled it for long.
    """
    charge = charge_from_rested_voltage(volts, battery.chemistry.value).fraction
    told = np.isfinite(volts)
    # No number for the charge of a voltage: a charger is on, so it is not standing empty.
    empty = (charge <= EMPTY)[told]
    filled = np.flatnonzero(~empty)
    first = int(filled[-1]) + 1 if filled.size else 0
    return 0.0 if first == empty.size else float(-hours[told][first])


def _mains_off(sensor: Sensor, traces: Traces) -> bool:
    mains = traces.get((sensor.name, Channel.MAINS))
    if mains is None:
        return False
    told = mains.usable()
    return bool(told.value.size and told.value[int(np.argmax(told.at_ms))] < 0.5)


def _fault(
    battery: Battery,
    hours: Floats,
    volts: Floats,
    phases: NDArray[np.int8],
    battery_c: float,
) -> str:
    """What a sound battery on a sound maintainer would not do."""
    if battery.chemistry is Chemistry.LIFEPO4:
        charging = phases[-1] in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT}
        return "is being charged below freezing" if charging and battery_c < 0.0 else ""
    right_v = float(float_voltage(battery_c))
    volt, phase = float(volts[-1]), phases[-1]
    high_v = _TOO_HIGH_V + right_v - float(float_voltage(25.0))
    if volt > high_v:
        return f"stands at more than {high_v:.1f} V, and so gasses"
    resting = phase in {Phase.LOST, Phase.IDLE}
    if resting and _DEAD_CELL_V[0] <= volt <= _DEAD_CELL_V[1]:
        return "reads as if one cell were dead"
    if phase == Phase.LOST:
        settled = (hours > hours[-1] - 24.0 - 1e-6) & (phases == Phase.LOST)
        span_h = float(np.ptp(hours[settled])) if settled.any() else 0.0
        fed = np.flatnonzero(phases < Phase.IDLE)
        since_h = hours[-1] - hours[fed[-1]] if fed.size else inf
        if span_h > 20.0 and since_h > 24.0 + _SETTLED_H:
            fell = float(volts[settled][0] - volt)
            if fell > _FALLS_TOO_FAST_V_DAY:
                return "falls faster than a sound battery that nothing draws from"
    if phase == Phase.ABSORPTION:
        others = np.flatnonzero(phases != Phase.ABSORPTION)
        begun = hours[others[-1]] if others.size else hours[0]
        if hours[-1] - begun > _LONGEST_ABSORPTION_H:
            return "has been charged for more than a day without reaching float"
    if phase == Phase.FLOAT and abs(volt - right_v) > _FLOAT_OFF_V:
        return f"floats at {volt:.1f} V where {right_v:.1f} V is right for its temperature"
    return ""


def _flat_in(battery: Battery, fraction: float, battery_c: float) -> float:
    if not isfinite(fraction):
        return inf
    rate = SELF_DISCHARGE_PER_MONTH[battery.chemistry.value]
    return float(hours_until_charge(fraction, RECHARGE, battery_c, rate))


def _by_record(battery: Battery, air: SpaceAir, speech: Speech) -> Charge:
    """No maintainer that we hear: the last rested voltage on record, less self-discharge."""
    if battery.rested_v is None or battery.rested_at is None:
        how = "no maintainer heard and no rested voltage on record, so its charge is not known."
        return Charge(fraction=nan, phase=Phase.UNKNOWN, lost="", how=how)
    name: ChemistryName = battery.chemistry.value
    rested = float(charge_from_rested_voltage(battery.rested_v, name).fraction)
    months = max((air.now - battery.rested_at) / timedelta(hours=HOURS_A_MONTH), 0.0)
    known = air.warmest_c[np.isfinite(air.warmest_c)]
    mean_c = float(known.mean()) if known.size else 25.0
    lost = float(self_discharge(SELF_DISCHARGE_PER_MONTH[name], mean_c)) * months
    fraction = rested if battery.maintained else max(rested - lost, 0.0)
    empty_h = max(months * HOURS_A_MONTH - _until_empty_h(battery, rested, mean_c), 0.0)
    local = battery.rested_at.astimezone(speech.yard.zone)
    fed = " and on a maintainer that nobody hears" if battery.maintained else ""
    return Charge(
        fraction=fraction,
        phase=Phase.UNKNOWN,
        lost="",
        how=(
            f"{battery.rested_v:.2f} V at rest on {local.day} {local:%b}{fed}, by now about"
            f" {fraction * 100:.0f} % charged."
        ),
        voltage_v=battery.rested_v,
        flat_in_h=inf if battery.maintained else _flat_in(battery, fraction, mean_c),
        empty_h=empty_h,
    )


def _until_empty_h(battery: Battery, rested: float, mean_c: float) -> float:
    """Hours from the voltage on record until it was empty; on a maintainer it stays as it was."""
    if not isfinite(rested):
        return inf
    if battery.maintained:
        return 0.0 if rested <= EMPTY else inf
    rate = SELF_DISCHARGE_PER_MONTH[battery.chemistry.value]
    return float(hours_until_charge(rested, EMPTY, mean_c, rate))
