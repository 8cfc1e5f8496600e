"""Faults of a battery or its maintainer, seen in voltage and current."""

from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

from monitor.craft.stored import Battery
from monitor.judgement.air.grid import STEP_H, Floats
from monitor.physics.battery import FLOAT_BAND_V, float_band, float_voltage
from monitor.physics.maintainer import Phase
from monitor.yard.battery_facts import BatteryFault, FaultKind

DEAD_CELL_V = (9.5, 10.9)  # rested: one cell of six is gone (common practice, no source)
_LONGEST_ABSORPTION_H = 24.0  # a sound small battery takes far less (common practice, no source)
# Charge that a flat battery takes, over its capacity (common practice, no source).
_MOST_FILLINGS = 1.2
# Alone and unloaded: a bad cell, or something draws (common practice, no source).
_FALLS_TOO_FAST_V_DAY = 0.3
# What meter, leads and a battery's guessed temperature may be off; below the band a cool room is
# not told of: a unit that does not follow temperature is common, and in the frost it matters.
_ABOVE_V, _BELOW_V = 0.2, 0.3
_TOO_HIGH_V = 14.8  # at 25 °C: gassing; compensated like float
_SETTLED_H = 12.0  # after charge ends, before a voltage tells of charge
_HELD_V = 0.1  # a voltage that moves less in half a day is held by a charger
_FLOAT_DAYS_H = 72.0  # of floating, before its current is held against what it was
# Times: a cell that leaks through takes more and more (common practice, no source).
_FLOAT_RISES = 3.0
# Over capacity, 1/h: a sound battery floats at a fifth of it (common practice, no source).
_FLOAT_RATE = 0.005


def find_fault(
    battery: Battery,
    hours: Floats,
    volts: Floats,
    amps: Floats,
    phases: NDArray[np.int8],
    battery_c: float,
) -> BatteryFault | None:
    """The fault that its readings show; None: none.

    Parameters
    ----------
    battery : Battery
    hours, volts, amps, phases : ndarray, shape (n,)
        What the maintainer told and does [h], [V], [A]; NaN where it told nothing.
    battery_c : float
        Temperature of the battery [°C].
    """
    volt, phase = float(volts[-1]), Phase(int(phases[-1]))
    if not battery.has_lead_cells:
        charging = phase in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT}
        cold = charging and battery_c < 0.0
        return BatteryFault(kind=FaultKind.CHARGED_BELOW_ZERO) if cold else None
    high_v = _TOO_HIGH_V + float(float_voltage(battery_c) - float_voltage(25.0))
    if volt > high_v:
        return BatteryFault(kind=FaultKind.GASSING, high_v=high_v)
    if phase in {Phase.LOST, Phase.IDLE} and DEAD_CELL_V[0] <= volt <= DEAD_CELL_V[1]:
        return BatteryFault(kind=FaultKind.DEAD_CELL)
    if phase is Phase.LOST:
        return _falls_too_fast(hours, volts, phases)
    found: BatteryFault | None = None
    if phase in {Phase.BULK, Phase.ABSORPTION}:
        found = _never_full(battery, hours, amps, phases)
    elif phase is Phase.FLOAT:
        found = _takes_more(battery, hours, amps, phases)
    if found is not None or phase is Phase.ABSORPTION:
        return found
    return _float_voltage_off(battery, hours, volts, amps, battery_c)


def _falls_too_fast(hours: Floats, volts: Floats, phases: NDArray[np.int8]) -> BatteryFault | None:
    settled = (hours > hours[-1] - 24.0 - 1e-6) & (phases == Phase.LOST) & np.isfinite(volts)
    span_h = float(np.ptp(hours[settled])) if settled.any() else 0.0
    fed = np.flatnonzero((phases < Phase.IDLE) & (phases != Phase.UNKNOWN))
    since_h = hours[-1] - hours[fed[-1]] if fed.size else inf
    if span_h > 20.0 and since_h > 24.0 + _SETTLED_H:
        fell = float(volts[settled][0] - volts[-1])
        if fell > _FALLS_TOO_FAST_V_DAY:
            return BatteryFault(kind=FaultKind.FALLS_FAST)
    return None


def _never_full(
    battery: Battery, hours: Floats, amps: Floats, phases: NDArray[np.int8]
) -> BatteryFault | None:
    """A shorted cell, or a load as large as the maintainer: it charges on and on."""
    stretch = hours >= _in_phases_since(hours, phases, frozenset({Phase.BULK, Phase.ABSORPTION}))
    current = np.nan_to_num(amps[stretch])
    taken_ah = float((0.5 * (current[1:] + current[:-1]) * np.diff(hours[stretch])).sum())
    if taken_ah > _MOST_FILLINGS * battery.capacity_ah:
        return BatteryFault(kind=FaultKind.NEVER_FULL, taken_ah=taken_ah)
    held_h = _in_phases_since(hours, phases, frozenset({Phase.ABSORPTION}))
    if hours[-1] - held_h > _LONGEST_ABSORPTION_H:
        return BatteryFault(kind=FaultKind.LONG_ABSORPTION)
    return None


def _takes_more(
    battery: Battery, hours: Floats, amps: Floats, phases: NDArray[np.int8]
) -> BatteryFault | None:
    begun_h = _in_phases_since(hours, phases, frozenset({Phase.FLOAT}))
    if hours[-1] - begun_h < _FLOAT_DAYS_H:
        return None
    first = _mean_known(amps[(hours >= begun_h + 12.0) & (hours < begun_h + 36.0)])
    last = _mean_known(amps[hours > hours[-1] - 24.0])
    rises = isfinite(first) and last > _FLOAT_RISES * max(first, 1e-3)
    if rises and last > _FLOAT_RATE * battery.capacity_ah:
        return BatteryFault(kind=FaultKind.TAKES_MORE)
    return None


def _float_voltage_off(
    battery: Battery, hours: Floats, volts: Floats, amps: Floats, battery_c: float
) -> BatteryFault | None:
    """Float voltage held outside the band for its temperature.

    In the cold a unit that does not compensate stands so low that by its voltage alone it seems
    to be charging, or resting; but no battery that is, holds one voltage for half a day.
    """
    lately = hours > hours[-1] - _SETTLED_H - 1e-6
    recent = volts[lately & np.isfinite(volts)]
    whole = recent.size * STEP_H > 0.5 * _SETTLED_H  # not a few readings out of a gap
    if not whole or np.ptp(recent) > _HELD_V or recent.min() < FLOAT_BAND_V[0] - 2.0 * _ABOVE_V:
        return None
    if _mean_known(amps[lately]) > _FLOAT_RATE * battery.capacity_ah:  # False where not told
        return None
    low_v, high_v = (float(edge) for edge in float_band(battery_c))
    held_v = float(np.median(recent))
    if low_v - _BELOW_V <= held_v <= high_v + _ABOVE_V:
        return None
    return BatteryFault(kind=FaultKind.FLOAT_OFF, held_v=held_v, low_v=low_v, high_v=high_v)


def _in_phases_since(hours: Floats, phases: NDArray[np.int8], these: frozenset[Phase]) -> float:
    """Hour since which it has been in these phases; gaps in the readings do not end them."""
    others = np.flatnonzero(~np.isin(phases, [*these, Phase.UNKNOWN]))
    return float(hours[others[-1]] if others.size else hours[0])


def _mean_known(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")
