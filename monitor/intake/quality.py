"""The tests of QARTOD (US IOOS, real-time quality control) over one series: values to flags.

A reading's flag depends on the reading, the two before it, the one after it, and how long the value
has not changed; so readings get the same flags in whatever order they come.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Limits

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
GAP_MS = 6 * HOUR_MS  # readings further apart than this say nothing about speed or a stuck value
NEIGHBOUR_MS = HOUR_MS  # readings further apart than this are no neighbours of a spike

# Outside these it is no measurement of the quantity at all. Absolute zero apart, wide on purpose.
POSSIBLE = {
    Channel.TEMPERATURE: (-273.15, 2000.0),
    Channel.HUMIDITY: (-50.0, 200.0),
    Channel.VOLTAGE: (-1000.0, 1000.0),
    Channel.CURRENT: (-10_000.0, 10_000.0),
    Channel.CHARGE: (-1.0, 110.0),
    Channel.MAINS: (0.0, 1.0),
    Channel.SENSOR_BATTERY: (-1.0, 110.0),
}
# What probes say when they have nothing to say, stored as missing.
NO_VALUE = {Channel.TEMPERATURE: (-127.0,), Channel.HUMIDITY: (-127.0,)}

# Common practice, no source. A temperature probe that says 85.0 has just been switched on; an open
# or shorted one runs to the end of its scale. Air warms by a hand or the sun faster than by any
# heater, and cools fast when a door opens: a warm error hides frost, a cold one does not, so
# warming is doubted sooner. Air stands still under snow for a day, hence the long flat time. A
# maintainer's volts and amperes jump as it works, and 0 V is news, not noise.
USUAL = {
    Channel.TEMPERATURE: Limits(
        sensor_low=-60.0,
        sensor_high=84.9,
        operator_low=-50.0,
        operator_high=60.0,
        rise_per_min=1.5,
        fall_per_min=3.0,
        spike_suspect=4.0,
        spike_fail=12.0,
        flat_h=48.0,
    ),
    Channel.HUMIDITY: Limits(
        sensor_low=0.0,
        sensor_high=105.0,
        operator_low=2.0,
        operator_high=105.0,
        rise_per_min=25.0,
        fall_per_min=25.0,
        spike_suspect=20.0,
        spike_fail=50.0,
        flat_h=24.0,
    ),
    Channel.VOLTAGE: Limits(sensor_low=-1.0, sensor_high=80.0, operator_high=64.0),
    Channel.CURRENT: Limits(
        sensor_low=-100.0, sensor_high=100.0, operator_low=-60.0, operator_high=60.0
    ),
    Channel.CHARGE: Limits(sensor_low=0.0, sensor_high=100.0),
    Channel.MAINS: Limits(sensor_low=0.0, sensor_high=1.0),
    Channel.SENSOR_BATTERY: Limits(sensor_low=0.0, sensor_high=100.0),
}
_NEVER = 2**31  # in steps: a bound that no stored value passes
_NEVER_MS = 2**62


@dataclass(frozen=True, slots=True)
class Bounds:
    """Limits in whole steps of the channel's resolution, every one of them set."""

    sensor_low: int
    sensor_high: int
    operator_low: int
    operator_high: int
    rise_per_min: int
    fall_per_min: int
    spike_suspect: int
    spike_fail: int
    flat_ms: int
    no_value: tuple[int, ...]


def bounds_of(channel: Channel, own: Limits | None = None) -> Bounds:
    """Bounds of one channel: a sensor's own where it has some, else the usual ones."""
    usual = USUAL[channel]
    step = channel.resolution

    def bound_of(name: str, otherwise: int) -> int:
        value = getattr(own, name) if own is not None else None
        if value is None:
            value = getattr(usual, name)
        return otherwise if value is None else round(value / step)

    flat_h = own.flat_h if own is not None and own.flat_h is not None else usual.flat_h
    return Bounds(
        sensor_low=bound_of("sensor_low", -_NEVER),
        sensor_high=bound_of("sensor_high", _NEVER),
        operator_low=bound_of("operator_low", -_NEVER),
        operator_high=bound_of("operator_high", _NEVER),
        rise_per_min=bound_of("rise_per_min", _NEVER),
        fall_per_min=bound_of("fall_per_min", _NEVER),
        spike_suspect=bound_of("spike_suspect", _NEVER),
        spike_fail=bound_of("spike_fail", _NEVER),
        flat_ms=_NEVER_MS if flat_h is None else round(flat_h * HOUR_MS),
        no_value=tuple(round(value / step) for value in NO_VALUE.get(channel, ())),
    )


def gross_range(value: int, bounds: Bounds) -> Flag:
    """Fail outside the sensor's span, suspect outside the operator's, missing where none is."""
    if bounds.operator_low <= value <= bounds.operator_high and (
        bounds.sensor_low <= value <= bounds.sensor_high
    ):
        return Flag.PASS
    if value in bounds.no_value:
        return Flag.MISSING
    if bounds.sensor_low <= value <= bounds.sensor_high:
        return Flag.SUSPECT
    return Flag.FAIL


def quality_flags(
    at_ms: NDArray[np.int64], value: NDArray[np.int64], bounds: Bounds
) -> NDArray[np.int8]:
    """Flags of a whole series.

    Parameters
    ----------
    at_ms : ndarray of int64, shape (n,)
        Times, rising, no two alike [ms].
    value : ndarray of int64, shape (n,)
        Values in steps of the channel's resolution.
    bounds : Bounds

    Returns
    -------
    ndarray of int8, shape (n,)
        The worst flag that any test gives. A test that cannot be made, for want of neighbours,
        gives none: at least the gross range is always tested.

    Notes
    -----
    Readings that fail the gross range are no neighbours to others. A spike stands out from both
    neighbours on one side; its size is the smaller difference, so that a step to a new level, as
    when a door opens, is none. After a spike, rate of change counts from the reading before it.
    """
    flags = np.array([gross_range(int(one), bounds) for one in value], dtype=np.int8)
    good = np.flatnonzero((flags == Flag.PASS) | (flags == Flag.SUSPECT))
    if good.size == 0:
        return flags
    at, steps = at_ms[good], value[good]
    height = spike_height(at, steps)
    doubt = np.where(height > bounds.spike_suspect, np.int8(Flag.SUSPECT), np.int8(Flag.PASS))
    doubt[height > bounds.spike_fail] = Flag.FAIL
    doubt[too_fast(at, steps, height > bounds.spike_suspect, bounds) & (doubt < Flag.FAIL)] = (
        Flag.SUSPECT
    )
    doubt[(unchanged_ms(at, steps) >= bounds.flat_ms) & (doubt < Flag.FAIL)] = Flag.SUSPECT
    flags[good] = np.maximum(flags[good], doubt)
    return flags


def spike_height(at: NDArray[np.int64], value: NDArray[np.int64]) -> NDArray[np.int64]:
    """By how much each value stands out from both neighbours; 0 where it does not, or has not two.

    QARTOD's spike test in its differential form.
    """
    height = np.zeros(value.size, dtype=np.int64)
    if value.size > 2:
        step, gap = np.diff(value), np.diff(at)
        before, after = step[:-1], step[1:]
        near = (gap[:-1] <= NEIGHBOUR_MS) & (gap[1:] <= NEIGHBOUR_MS)
        opposite = (before > 0) & (after < 0) | (before < 0) & (after > 0)
        smaller = np.minimum(np.abs(before), np.abs(after))
        height[1:-1] = np.where(near & opposite, smaller, 0)
    return height


def too_fast(
    at: NDArray[np.int64],
    value: NDArray[np.int64],
    spike: NDArray[np.bool_],
    bounds: Bounds,
) -> NDArray[np.bool_]:
    """QARTOD's rate of change test: which values differ too much from the one before.

    Readings closer than a minute count as a minute apart, else noise would look like speed; after a
    gap nothing is known about speed.
    """
    fast = np.zeros(value.size, dtype=np.bool_)
    if value.size > 1:
        here = np.arange(1, value.size)
        before = np.where(spike[:-1], here - 2, here - 1)
        change = value[here] - value[before]
        gap = np.maximum(at[here] - at[before], MINUTE_MS)
        # Whole numbers throughout: the very same comparison as one reading at a time.
        per_min = np.where(change > 0, bounds.rise_per_min, bounds.fall_per_min)
        tested = gap <= GAP_MS
        fast[1:] = tested & (np.abs(change) * MINUTE_MS > per_min * np.where(tested, gap, 0))
    return fast


def unchanged_ms(at: NDArray[np.int64], value: NDArray[np.int64]) -> NDArray[np.int64]:
    """How long each value has been the very same; a gap in the readings begins anew."""
    begins = np.ones(value.size, dtype=np.bool_)
    begins[1:] = (np.diff(value) != 0) | (np.diff(at) > GAP_MS)
    since: NDArray[np.int64] = (
        at - at[np.maximum.accumulate(np.where(begins, np.arange(at.size), 0))]
    )
    return since
