"""Which batteries go flat or freeze: charge, maintainer and the cold where each one stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import isfinite, nan

import numpy as np

from monitor.clock import from_ms
from monitor.craft.stored import Battery, BatteryPlace, Chemistry, StoredCraft
from monitor.judgement.air import SpaceAir, Traces, on_grid
from monitor.judgement.course import Driver, driver
from monitor.judgement.silence import heard_ms, interval_s, silence_standing
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.physics.battery import (
    SELF_DISCHARGE_PER_MONTH,
    charge_from_rested_voltage,
    freezing_point_of_charge,
    self_discharge,
)
from monitor.physics.battery import (
    Chemistry as ChemistryName,
)
from monitor.physics.lag import lag_response
from monitor.physics.maintainer import Phase, maintainer_phase
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
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor

PART = "battery"
MARGIN_K = 5.0  # charge from a voltage is 15 points uncertain: some 5 K of freezing point
RECHARGE = 0.69  # 12.4 V rested: below it plates sulphate (common practice)
_HOURS_A_MONTH = 730.5


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryView:
    """All that the batteries standing in one space are judged by."""

    air: SpaceAir
    night: Tonight | None
    traces: Traces
    sensors: dict[str, Sensor]  # by craft: its maintainer
    speech: Speech


@dataclass(frozen=True, slots=True, kw_only=True)
class _Charge:
    """What is known of one battery's charge and of its maintainer."""

    fraction: float
    phase: Phase
    lost: str  # why the maintainer counts as lost; empty if it does not
    how: str
    voltage_v: float = nan


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
    drive = driver(view.air, view.night, view.speech.yard) if view.night else None
    owned = [(each, each.battery) for each in craft if each.battery is not None]
    courses_c: dict[float, np.ndarray] = {}
    if drive is not None and owned:
        lags = np.unique([battery.lag_low_h for _, battery in owned])
        inside = lag_response(drive.hours, drive.air_c, lags).body_c
        courses_c = {float(lag): inside[row] for row, lag in enumerate(lags)}
    return [
        _judge(view, drive, each, battery, courses_c.get(battery.lag_low_h))
        for each, battery in owned
    ]


def _judge(
    view: BatteryView,
    drive: Driver | None,
    each: StoredCraft,
    battery: Battery,
    course_c: np.ndarray | None,
) -> Assessment:
    now = view.air.now
    now_c, low_c, low_at = nan, nan, None
    if drive is not None and course_c is not None:
        ahead = course_c[drive.present :]
        low = int(np.nanargmin(ahead))
        now_c, low_c = float(ahead[0]), float(ahead[low])
        low_at = drive.at(float(drive.hours[drive.present + low]))
    known = _charge(view, each, battery, now_c)
    freezes_c = (
        float(freezing_point_of_charge(known.fraction, battery.chemistry.value))
        if isfinite(known.fraction)
        else nan
    )
    margin_k = low_c - freezes_c
    standing = _standing(known, margin_k)
    deadline = None
    if drive is not None and course_c is not None and isfinite(freezes_c):
        passes = np.flatnonzero(course_c[drive.present :] <= freezes_c)
        if passes.size:
            deadline = drive.at(float(drive.hours[drive.present + passes[0]]))
    say = view.speech
    where = f"aboard in {view.air.space.name}"
    if battery.place is BatteryPlace.BENCH:
        where = f"on the bench in {view.air.space.name}"
    freezing = ""
    if isfinite(freezes_c):
        freezing = f"it freezes at about {say.temperature(freezes_c)}"
        if isfinite(low_c):
            freezing += f" and gets down to {say.temperature(low_c)}"
        freezing += "."
    basis = sentence(f"Battery {where}:", known.how, freezing)
    urgency, severity = _weight(standing)
    return Assessment(
        subject=Subject(battery.space or each.space, each.id, PART),
        hazard=Hazard.BATTERY,
        standing=standing,
        at=now,
        basis=basis,
        act=_act(standing, battery, now_c, freezes_c, known),
        now_c=now_c,
        low_c=low_c,
        low_at=low_at,
        limit_c=freezes_c,
        burst_c=freezes_c,
        margin_k=margin_k,
        deadline=deadline,
        urgency=urgency,
        severity=severity,
        certainty=Certainty.LIKELY if isfinite(known.fraction) else Certainty.UNKNOWN,
        cautions=_cautions(standing),
        figures={
            name: value
            for name, value in {
                "charge_fraction": known.fraction,
                "voltage_v": known.voltage_v,
                "maintainer_phase": float(known.phase),
                "capacity_ah": battery.capacity_ah,
            }.items()
            if isfinite(value)
        },
    )


def _charge(view: BatteryView, each: StoredCraft, battery: Battery, now_c: float) -> _Charge:
    sensor = view.sensors.get(each.id)
    if sensor is None:
        return _by_record(view, battery)
    heard = heard_ms(sensor, view.traces, view.air.now)
    voltage = on_grid(view.traces.get((sensor.name, Channel.VOLTAGE)), view.air.hours, view.air.now)
    last = np.flatnonzero(np.isfinite(voltage))
    if not heard.size or not last.size:
        return _Charge(
            fraction=nan,
            phase=Phase.UNKNOWN,
            lost=f"its maintainer {sensor.name} is not heard" if battery.maintained else "",
            how=f"nothing heard of its maintainer {sensor.name}, so its charge is not known.",
        )
    known = slice(0, int(last[-1]) + 1)
    current = on_grid(view.traces.get((sensor.name, Channel.CURRENT)), view.air.hours, view.air.now)
    hours, volts, amps = view.air.hours[known], voltage[known], current[known]
    phases = maintainer_phase(
        hours,
        volts,
        None if np.isnan(amps).all() else amps,
        now_c if isfinite(now_c) else 25.0,
        chemistry=battery.chemistry.value,
        capacity_ah=battery.capacity_ah,
    )
    phase = Phase(int(phases[-1]))
    volt = float(volts[-1])
    quiet_s = (view.speech.now.timestamp() * 1000.0 - float(heard[-1])) / 1000.0
    gone = silence_standing(quiet_s, interval_s(sensor, heard))
    mains = view.traces.get((sensor.name, Channel.MAINS))
    off = mains is not None and mains.value.size > 0 and mains.usable().value[-1:].sum() == 0.0
    lost = ""
    if gone is Standing.SILENT:
        lost = f"its maintainer was last heard at {view.speech.clock(from_ms(int(heard[-1])))}"
    elif off:
        lost = "its maintainer has no mains"
    elif phase is Phase.LOST:
        lost = "its maintainer no longer charges it"
    fraction = 1.0 if phase is Phase.FLOAT and not lost else nan
    if phase in {Phase.LOST, Phase.IDLE} or lost:
        fraction = float(charge_from_rested_voltage(volt, battery.chemistry.value).fraction)
    what = lost or f"maintainer in {phase.name.lower()}"
    said = f", about {fraction:.0%} charged" if isfinite(fraction) else ""
    return _Charge(
        fraction=fraction,
        phase=Phase.LOST if lost else phase,
        lost=lost,
        how=f"{what}, {volt:.2f} V{said};" if isfinite(fraction) else f"{what}, {volt:.2f} V.",
        voltage_v=volt,
    )


def _by_record(view: BatteryView, battery: Battery) -> _Charge:
    """No maintainer that we hear: the last rested voltage on record, less self-discharge."""
    if battery.rested_v is None or battery.rested_at is None:
        how = "no maintainer heard and no rested voltage on record, so its charge is not known."
        return _Charge(fraction=nan, phase=Phase.UNKNOWN, lost="", how=how)
    chemistry: ChemistryName = battery.chemistry.value
    fraction = float(charge_from_rested_voltage(battery.rested_v, chemistry).fraction)
    months = max((view.air.now - battery.rested_at) / timedelta(hours=_HOURS_A_MONTH), 0.0)
    known = view.air.warmest_c[np.isfinite(view.air.warmest_c)]
    mean_c = float(known.mean()) if known.size else 25.0
    rate = SELF_DISCHARGE_PER_MONTH[chemistry]
    fraction -= float(self_discharge(rate, mean_c)) * months
    local = battery.rested_at.astimezone(view.speech.yard.zone)
    return _Charge(
        fraction=max(fraction, 0.0),
        phase=Phase.UNKNOWN,
        lost="",
        how=(
            f"{battery.rested_v:.2f} V at rest on {local.day} {local:%b}, by now about"
            f" {max(fraction, 0.0):.0%} charged;"
        ),
        voltage_v=battery.rested_v,
    )


def _standing(known: _Charge, margin_k: float) -> Standing:
    if isfinite(margin_k) and margin_k < MARGIN_K:
        return Standing.FREEZING
    if known.lost:
        return Standing.LOST
    if known.phase in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT, Phase.IDLE}:
        flat = isfinite(known.fraction) and known.fraction < RECHARGE
        return Standing.LOW if flat else Standing.CHARGED
    if not isfinite(known.fraction):
        return Standing.NOT_KNOWN
    return Standing.LOW if known.fraction < RECHARGE else Standing.CHARGED


def _weight(standing: Standing) -> tuple[Urgency, Severity]:
    if standing is Standing.FREEZING:
        return Urgency.EXPECTED, Severity.SEVERE
    if standing in {Standing.LOST, Standing.LOW}:
        return Urgency.EXPECTED, Severity.MODERATE
    if standing is Standing.NOT_KNOWN:
        return Urgency.UNKNOWN, Severity.MINOR
    return Urgency.FUTURE, Severity.MINOR


def _act(
    standing: Standing, battery: Battery, now_c: float, freezes_c: float, known: _Charge
) -> str:
    if standing is Standing.FREEZING:
        if isfinite(now_c) and now_c <= freezes_c + 1.0:
            return (
                "It may be frozen: switch the maintainer off, carry the battery into a warm room,"
                " let it thaw, look for bulges and cracks, and only then charge it."
            )
        return "Carry the battery into a warm space before the night and charge it there."
    if standing is Standing.LOST:
        return "See to the maintainer: mains, plug, fuse, clamps; then charge the battery."
    if standing is Standing.LOW:
        return "Charge the battery."
    lithium = battery.chemistry is Chemistry.LIFEPO4
    if lithium and now_c < 0.0 and known.phase in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT}:
        return "Switch the maintainer off: this chemistry is never charged below 0 °C (32 °F)."
    if standing is Standing.NOT_KNOWN:
        return "Measure its voltage after a night's rest and enter it."
    return ""


def _cautions(standing: Standing) -> tuple[Caution, ...]:
    if standing is Standing.FREEZING:
        return (Caution.FROZEN_BATTERY, Caution.HYDROGEN)
    return (Caution.HYDROGEN,) if standing in {Standing.LOST, Standing.LOW} else ()
