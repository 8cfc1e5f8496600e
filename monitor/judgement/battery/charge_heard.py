"""Charge of a battery from its maintainer's voltage and current."""

from datetime import datetime, timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.clock import from_ms
from monitor.craft.stored import Battery
from monitor.judgement.air.grid import Floats, SpaceAir, Traces, on_grid
from monitor.judgement.air.last_heard import (
    SensorPace,
    find_silent_channel,
    mains_said,
    pace_of_sensor,
    silence_standing,
)
from monitor.judgement.battery.charge_by_record import (
    EMPTY,
    RECHARGE,
    BatteryCharge,
    LastKnown,
    charge_by_record,
)
from monitor.judgement.battery.faults import find_fault
from monitor.physics.battery import (
    SELF_DISCHARGE_PER_MONTH,
    charge_from_rested_voltage,
    hours_until_charge,
)
from monitor.physics.maintainer import Phase, maintainer_phase
from monitor.yard.assessment import Standing
from monitor.yard.battery_facts import LossKind, MaintainerLoss
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor


def charge_heard(
    battery: Battery,
    sensor: Sensor | None,
    air: SpaceAir,
    traces: Traces,
    battery_c: float,
    heard_before: LastKnown | None = None,
) -> BatteryCharge:
    """Charge by its maintainer's readings; by the record where there are none.

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
    heard_before : LastKnown, optional
        What its maintainer told before the readings begin.
    """
    if sensor is None:
        return charge_by_record(battery, heard_before, None, air)
    volts = on_grid(traces.get((sensor.name, Channel.VOLTAGE)), air.hours, air.now)
    last = np.flatnonzero(np.isfinite(volts))
    if not last.size:
        never = MaintainerLoss(kind=LossKind.NEVER_HEARD, sensor=sensor.name)
        return charge_by_record(battery, heard_before, never if battery.maintained else None, air)
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
    loss = _find_loss(sensor, traces, air.now, phase)
    fraction = _charge_fraction(battery, phase, volt, lost=loss is not None)
    fault = find_fault(battery, air.hours[known], volts[known], amps, phases, warm_c)
    alone = loss is not None or phase is Phase.LOST
    empty_h = _hours_empty(battery, air.hours[known], volts[known])
    return BatteryCharge(
        fraction=fraction,
        phase=phase if loss is None else Phase.LOST,
        loss=loss,
        known=None,
        heard=True,
        voltage_v=volt,
        fault=fault,
        low=fraction,
        flat_in_h=_hours_to_flat(battery, fraction, warm_c) if alone else inf,
        empty_h=empty_h,
        low_empty_h=empty_h,
        known_at=air.now + timedelta(hours=float(air.hours[last[-1]])),
        # What it held when it was last heard, whatever ended it then.
        known_fraction=1.0 if phase is Phase.FLOAT else fraction,
    )


def _find_loss(
    sensor: Sensor, traces: Traces, now: datetime, phase: Phase
) -> MaintainerLoss | None:
    """Why a maintainer that was heard does not count as feeding its battery; None: it does."""
    pace = pace_of_sensor(sensor, traces, now)
    mains = mains_said(sensor, traces, now)
    unheard = find_silent_channel(sensor, pace, traces, now)
    if pace is None or _is_silent(pace, now):
        kind = LossKind.SILENT
    elif unheard is not None and unheard.channel is Channel.VOLTAGE:
        # Other channels still come, but nothing shows any more that it charges.
        return MaintainerLoss(
            kind=LossKind.SILENT, sensor=sensor.name, heard_at=from_ms(unheard.last_ms)
        )
    elif mains is not None and not mains[1]:
        kind = LossKind.NO_MAINS
    elif phase is Phase.LOST:
        kind = LossKind.NOT_CHARGING
    else:
        return None
    heard_at = None if pace is None else from_ms(pace.last_ms)
    return MaintainerLoss(kind=kind, sensor=sensor.name, heard_at=heard_at)


def _is_silent(pace: SensorPace, now: datetime) -> bool:
    standing = silence_standing(pace.quiet_s(now), pace.interval_s, promised=pace.promised)
    return standing is Standing.SILENT


def _charge_fraction(battery: Battery, phase: Phase, volt: float, *, lost: bool) -> float:
    """Full while it floats; by the voltage when it stands alone; else not known yet."""
    if phase is Phase.FLOAT and not lost:
        return 1.0
    if lost or phase in {Phase.LOST, Phase.IDLE}:
        # Surface charge reads too full for half a day; a full battery freezes at no yard's low.
        return float(charge_from_rested_voltage(volt, battery.chemistry.value).fraction)
    return nan


def _hours_empty(battery: Battery, hours: Floats, volts: Floats) -> float:
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


def _hours_to_flat(battery: Battery, fraction: float, battery_c: float) -> float:
    if not isfinite(fraction):
        return inf
    rate = SELF_DISCHARGE_PER_MONTH[battery.chemistry.value]
    return float(hours_until_charge(fraction, RECHARGE, battery_c, rate))
