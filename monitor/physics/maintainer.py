"""What a battery maintainer is doing, read from the history of voltage and current."""

from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.physics.arrays import Floats
from monitor.physics.battery import LEAD_CELLS
from monitor.physics.kinds import Chemistry


class Phase(IntEnum):
    """Phase of a maintainer; UNKNOWN where there is no voltage."""

    UNKNOWN = 0
    BULK = 1  # full current, voltage still rising
    ABSORPTION = 2  # voltage held high
    FLOAT = 3  # voltage held low
    IDLE = 4  # resting between top-ups
    LOST = 5  # no longer charging: unplugged, tripped, clamp off


class _Levels(NamedTuple):
    """Voltages at 25 °C between the phases, and how they move with temperature."""

    absorption_v: float
    float_v: float  # at and above: the unit holds the battery
    resting_v: float  # below: the battery stands alone; not compensated
    compensation_v_k: float


# Common practice, no source. Float of lead is 13.5 to 13.8 V at 25 °C, absorption 14.2 to 14.8.
_LEAD = _Levels(14.1, 13.2, 13.0, -0.004 * LEAD_CELLS)
_LITHIUM = _Levels(14.0, 13.45, 13.4, 0.0)

BULK_RATE = 0.02  # current over capacity, 1/h: above it a battery is taking charge
FALL_V = 0.03  # in the last hour: the surface charge leaving
_TRICKLE_A = 0.01  # below it nothing flows


def maintainer_phase(
    hours: ArrayLike,
    voltage_v: ArrayLike,
    current_a: ArrayLike | None = None,
    temperature_c: ArrayLike = 25.0,
    *,
    chemistry: Chemistry = "flooded",
    capacity_ah: float = 20.0,
    longest_pause_h: float = 12.0,
) -> NDArray[np.int8]:
    """Phase of a maintainer at each reading.

    Parameters
    ----------
    hours : array_like, shape (n,)
        Times [h], rising.
    voltage_v : array_like, shape (n,)
        At the posts [V].
    current_a : array_like, shape (n,), optional
        Into the battery [A]; NaN or None where it is not measured.
    temperature_c : array_like, scalar or shape (n,)
        Of the battery [°C]; NaN counts as 25.
    chemistry : "flooded", "agm", "gel" or "lifepo4"
    capacity_ah : float
        Tells a large current from a small one [Ah].
    longest_pause_h : float
        How long a sound unit of this kind rests between top-ups [h].

    Returns
    -------
    ndarray of int8, shape (n,)
        Values of `Phase`.

    Notes
    -----
    Common practice, no source. Absorption and float move with temperature (-4 mV a cell and
    kelvin for lead), so 14.2 V is float at 0 °C and absorption at 25. Without current the
    voltage decides alone. A battery that stands alone below 13.0 V is lost when it fell by
    0.03 V within the hour, as it does when surface charge leaves, or when the pause outlasts
    ``longest_pause_h``; lost stays lost until the unit charges again.
    """
    times = np.asarray(hours, dtype=np.float64)
    voltage = np.asarray(voltage_v, dtype=np.float64)
    if times.ndim != 1 or voltage.shape != times.shape or not np.all(np.diff(times) > 0.0):
        raise ValueError("hours and voltage must be one series (n,), hours rising")
    current = np.full(times.shape, np.nan) if current_a is None else np.asarray(current_a, float)
    warmth = np.nan_to_num(np.asarray(temperature_c, dtype=np.float64), nan=25.0) - 25.0
    levels = _LITHIUM if chemistry == "lifepo4" else _LEAD
    at_25c = voltage - levels.compensation_v_k * warmth

    flows = current > _TRICKLE_A
    silent = np.isnan(current)
    held = at_25c >= levels.float_v
    charging = flows | (silent & held)
    fell = _fall_within(times, voltage, 1.0)
    with np.errstate(invalid="ignore"):
        strong = (current > BULK_RATE * capacity_ah) & (at_25c < levels.absorption_v)

    phase = np.full(times.shape, Phase.IDLE, dtype=np.int8)
    phase[charging & held] = Phase.FLOAT
    phase[charging & ~held] = Phase.BULK
    phase[charging & strong] = Phase.BULK
    phase[charging & (at_25c >= levels.absorption_v)] = Phase.ABSORPTION
    phase[_lost(times, charging, (voltage < levels.resting_v), fell, longest_pause_h)] = Phase.LOST
    phase[np.isnan(voltage)] = Phase.UNKNOWN
    return phase


def _fall_within(times: Floats, voltage: Floats, window_h: float) -> Floats:
    """How far the voltage stands below its highest of the window before [V]; 0 without any."""
    begin = np.searchsorted(times, times - window_h - 1e-9)
    reach = np.arange(times.size) - begin  # how many readings before it each window holds
    highest = voltage.copy()
    for back in range(1, int(reach.max(initial=0)) + 1):
        # All windows at once, one reading further back each time.
        seen = np.flatnonzero(reach >= back)
        highest[seen] = np.fmax(highest[seen], voltage[seen - back])
    fall: Floats = np.nan_to_num(highest - voltage, nan=0.0, neginf=0.0, posinf=0.0)
    return fall


def _lost(
    times: Floats,
    charging: NDArray[np.bool_],
    alone: NDArray[np.bool_],
    fell: Floats,
    longest_pause_h: float,
) -> NDArray[np.bool_]:
    """Alone and falling, or alone too long; and every later reading until it charges again."""
    index = np.arange(times.size)
    last_charge = np.maximum.accumulate(np.where(charging, index, -1))
    since = times - times[np.maximum(last_charge, 0)]
    sign = alone & ~charging & ((fell >= FALL_V) | (since > longest_pause_h))
    last_sign = np.maximum.accumulate(np.where(sign, index, -1))
    lost: NDArray[np.bool_] = (last_sign > last_charge) & ~charging
    return lost
