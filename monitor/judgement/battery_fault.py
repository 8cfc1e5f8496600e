"""What a battery or its maintainer does that a sound one does not, and what to do about it."""

from math import inf, isfinite
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.craft.stored import Battery
from monitor.judgement.air import STEP_H, Floats
from monitor.physics.battery import FLOAT_BAND_V, float_band, float_voltage
from monitor.physics.maintainer import Phase

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


class Fault(NamedTuple):
    """What is wrong, as the end of a sentence, and what to do."""

    words: str
    act: str


NO_FAULT = Fault("", "")
_LOAD_TEST = "Take the maintainer off at the mains, let the battery rest, and test it under load."
DEAD_CELL = Fault("reads as if one cell were dead", _LOAD_TEST)


def fault_of(
    battery: Battery,
    hours: Floats,
    volts: Floats,
    amps: Floats,
    phases: NDArray[np.int8],
    battery_c: float,
) -> Fault:
    """Find what is wrong; ``NO_FAULT`` where nothing shows.

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
        return _COLD_LITHIUM if charging and battery_c < 0.0 else NO_FAULT
    high_v = _TOO_HIGH_V + float(float_voltage(battery_c) - float_voltage(25.0))
    if volt > high_v:
        return Fault(f"stands at more than {high_v:.1f} V, and so gasses", _OFF_AND_AIR)
    if phase in {Phase.LOST, Phase.IDLE} and DEAD_CELL_V[0] <= volt <= DEAD_CELL_V[1]:
        return DEAD_CELL
    if phase is Phase.LOST:
        return _falling(hours, volts, phases)
    found = NO_FAULT
    if phase in {Phase.BULK, Phase.ABSORPTION}:
        found = _never_full(battery, hours, amps, phases)
    elif phase is Phase.FLOAT:
        found = _takes_more(battery, hours, amps, phases)
    return (
        found
        if found.words or phase is Phase.ABSORPTION
        else _float_off(battery, hours, volts, amps, battery_c)
    )


_COLD_LITHIUM = Fault(
    "is being charged below freezing",
    "Switch the maintainer off: this chemistry is never charged below 0 °C (32 °F).",
)
_OFF_AND_AIR = "Take the maintainer off at the mains, air the place, and test unit and battery."


def _falling(hours: Floats, volts: Floats, phases: NDArray[np.int8]) -> Fault:
    settled = (hours > hours[-1] - 24.0 - 1e-6) & (phases == Phase.LOST) & np.isfinite(volts)
    span_h = float(np.ptp(hours[settled])) if settled.any() else 0.0
    fed = np.flatnonzero((phases < Phase.IDLE) & (phases != Phase.UNKNOWN))
    since_h = hours[-1] - hours[fed[-1]] if fed.size else inf
    if span_h > 20.0 and since_h > 24.0 + _SETTLED_H:
        fell = float(volts[settled][0] - volts[-1])
        if fell > _FALLS_TOO_FAST_V_DAY:
            return Fault(
                "falls faster than a sound battery that nothing draws from",
                "Take its negative lead off, let it rest, and test it under load.",
            )
    return NO_FAULT


def _never_full(battery: Battery, hours: Floats, amps: Floats, phases: NDArray[np.int8]) -> Fault:
    """A shorted cell, or a load as large as the maintainer: it charges on and on."""
    stretch = hours >= _since(hours, phases, frozenset({Phase.BULK, Phase.ABSORPTION}))
    current = np.nan_to_num(amps[stretch])
    taken_ah = float((0.5 * (current[1:] + current[:-1]) * np.diff(hours[stretch])).sum())
    if taken_ah > _MOST_FILLINGS * battery.capacity_ah:
        return Fault(
            f"took {taken_ah:.0f} Ah without getting full, more than it can hold", _LOAD_TEST
        )
    held_h = _since(hours, phases, frozenset({Phase.ABSORPTION}))
    if hours[-1] - held_h > _LONGEST_ABSORPTION_H:
        return Fault("has been charged for more than a day without reaching float", _LOAD_TEST)
    return NO_FAULT


def _takes_more(battery: Battery, hours: Floats, amps: Floats, phases: NDArray[np.int8]) -> Fault:
    begun_h = _since(hours, phases, frozenset({Phase.FLOAT}))
    if hours[-1] - begun_h < _FLOAT_DAYS_H:
        return NO_FAULT
    first = _mean(amps[(hours >= begun_h + 12.0) & (hours < begun_h + 36.0)])
    last = _mean(amps[hours > hours[-1] - 24.0])
    rises = isfinite(first) and last > _FLOAT_RISES * max(first, 1e-3)
    if rises and last > _FLOAT_RATE * battery.capacity_ah:
        return Fault("takes more and more current at float, as a bad cell does", _LOAD_TEST)
    return NO_FAULT


def _float_off(
    battery: Battery, hours: Floats, volts: Floats, amps: Floats, battery_c: float
) -> Fault:
    """Held, but not at what its temperature wants.

    In the cold a unit that does not compensate stands so low that by its voltage alone it seems
    to be charging, or resting; but no battery that is, holds one voltage for half a day.
    """
    lately = hours > hours[-1] - _SETTLED_H - 1e-6
    recent = volts[lately & np.isfinite(volts)]
    whole = recent.size * STEP_H > 0.5 * _SETTLED_H  # not a few readings out of a gap
    if not whole or np.ptp(recent) > _HELD_V or recent.min() < FLOAT_BAND_V[0] - 2.0 * _ABOVE_V:
        return NO_FAULT
    if _mean(amps[lately]) > _FLOAT_RATE * battery.capacity_ah:  # False where not told
        return NO_FAULT
    low_v, high_v = (float(edge) for edge in float_band(battery_c))
    held_v = float(np.median(recent))
    if low_v - _BELOW_V <= held_v <= high_v + _ABOVE_V:
        return NO_FAULT
    then = "it never gets full" if held_v < low_v else "it dries out"
    return Fault(
        f"floats at {held_v:.1f} V where {low_v:.1f} to {high_v:.1f} V are right for its"
        f" temperature: so {then}",
        "Set the maintainer's float to the battery's kind, or use one that follows temperature.",
    )


def _since(hours: Floats, phases: NDArray[np.int8], these: frozenset[Phase]) -> float:
    """From when on it has been in these phases; a time that it told nothing does not end them."""
    others = np.flatnonzero(~np.isin(phases, [*these, Phase.UNKNOWN]))
    return float(hours[others[-1]] if others.size else hours[0])


def _mean(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")
