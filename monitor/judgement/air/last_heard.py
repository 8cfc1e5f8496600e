"""When a sensor and each of its channels was last heard, and what it last said of its mains."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.judgement.air.grid import MS_PER_H, Traces
from monitor.yard.assessment import (
    Standing,
)
from monitor.yard.reading import Channel, Trace
from monitor.yard.space import Sensor

LATE_INTERVALS = 2.0
SILENT_INTERVALS = 3.0
PROMISED_INTERVALS = 2.0  # silent after, where the sensor itself says how long it takes at most
SILENT_S = 1800.0  # at the least: a radio's short gap is no silence
_UNLEARNT_S = 900.0  # pace of a sensor of which too little was heard
_LEARN_H = 24.0
# What space, metal and battery are judged by; mains and a sensor's own battery may be sent once.
_MEASURED = (Channel.TEMPERATURE, Channel.HUMIDITY, Channel.VOLTAGE)
# A radio that still tells of its own battery is no sign that it measures.
_LIFE = tuple(each for each in Channel if each is not Channel.SENSOR_BATTERY)
# A channel that has twice paused alone and come back may do so again, half as long once more.
_USUAL_PAUSES = 1.5
_FEW_READINGS = 6  # of a channel that was never sent regularly: nothing to hold it to


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorPace:
    """When one sensor was last heard, and the interval of its readings."""

    last_ms: int
    interval_s: float
    promised: bool  # by the sensor itself, as the longest; else as set, or learnt

    def quiet_s(self, now: datetime) -> float:
        """Seconds since it was last heard."""
        return (to_ms(now) - self.last_ms) / 1000.0


def pace_of_sensor(sensor: Sensor, traces: Traces, now: datetime) -> SensorPace | None:
    """Work out a sensor's pace from all its channels; None: not heard up to now."""
    heard = heard_ms(sensor, traces, now)
    if not heard.size:
        return None
    promised_s = promised_interval_s(sensor, traces)
    return SensorPace(
        last_ms=int(heard[-1]),
        interval_s=promised_s or interval_s(sensor, heard),
        promised=promised_s is not None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelPace:
    """When one channel of a sensor was last heard, and the interval of its readings."""

    channel: Channel
    last_ms: int
    interval_s: float


def find_silent_channel(
    sensor: Sensor,
    pace: SensorPace | None,
    traces: Traces,
    now: datetime,
    before: ChannelPace | None = None,
) -> ChannelPace | None:
    """Find a measured channel that a sensor has stopped sending while it sends others.

    A broken lead or a failed element leaves a sensor that is heard and says nothing of the air.

    Parameters
    ----------
    sensor : Sensor
    pace : SensorPace or None
        Of the sensor as a whole.
    traces : mapping
        Readings of any flag by sensor and channel.
    now : datetime
    before : ChannelPace, optional
        What the round before found: a channel is not back because its last reading has grown
        too old to be looked at.

    Returns
    -------
    ChannelPace or None
        Temperature, which frost is judged by, before others, and of these the one that was silent
        first; None where all that it sent regularly still come, or
        where the sensor as a whole is silent, by which it is judged then.
    """
    if pace is None:
        return None
    # What the yard's file no longer names is missed no more.
    sent = set(sensor.labels.values()) or set(Channel)
    if before is not None and before.channel not in sent:
        before = None
    unheard = [] if before is None or (sensor.name, before.channel) in traces else [before]
    for channel in _MEASURED:
        trace = traces.get((sensor.name, channel))
        # Nothing is worked out for a channel that came with the others.
        if trace is None or _is_close(trace, pace.last_ms):
            continue
        heard = _heard_up_to(trace, now)
        silent = _silent_pace(trace, heard, heard_ms(sensor, traces, now))
        if silent is not None:
            unheard.append(silent)
        elif not heard.size and before is not None and before.channel is channel:
            unheard.append(before)
    return min(
        unheard,
        key=lambda one: (one.channel is not Channel.TEMPERATURE, one.last_ms),
        default=None,
    )


def _is_close(trace: Trace, newest_ms: int) -> bool:
    """Whether a channel's last reading came within a short gap of the sensor's newest."""
    return bool(trace.at_ms.size) and abs(newest_ms - int(trace.at_ms[-1])) <= 1000.0 * SILENT_S


def _silent_pace(
    trace: Trace, heard: NDArray[np.int64], sensor_ms: NDArray[np.int64]
) -> ChannelPace | None:
    """The pace of a channel that is silent by it; None where it is not, or was never regular.

    Held to its longer steps, for some sensors send a channel only when it changes: one in twenty
    of its steps is longer than the one taken here. A longer one that it promises goes before it.
    And to its own pauses: in a calm night humidity may stay as it is for hours, night after night.
    ``sensor_ms`` is when its sensor was heard on any channel.
    """
    if heard.size < _FEW_READINGS:
        return None
    long_step_s = float(np.quantile(np.diff(heard), 0.95)) / 1000.0
    quiet_s = (int(sensor_ms[-1]) - int(heard[-1])) / 1000.0
    if quiet_s <= _USUAL_PAUSES * _second_longest_pause_s(heard, sensor_ms):
        return None
    promised_s = trace.update_s or 0.0
    promises = promised_s > long_step_s
    pace_s = max(promised_s, long_step_s)
    if silence_standing(quiet_s, pace_s, promised=promises) is not Standing.SILENT:
        return None
    return ChannelPace(channel=trace.channel, last_ms=int(heard[-1]), interval_s=pace_s)


def _second_longest_pause_s(heard: NDArray[np.int64], sensor_ms: NDArray[np.int64]) -> float:
    """How long a channel came not while its sensor was heard, but for the longest such pause.

    What the whole sensor was silent counts in none: a radio's gap is no pause of a channel.
    """
    beside = np.searchsorted(sensor_ms, heard[1:], side="left") - 1
    last_beside = np.where(beside >= 0, sensor_ms[np.maximum(beside, 0)], heard[:-1])
    pauses = np.sort(np.maximum(last_beside - heard[:-1], 0))
    return float(pauses[-2]) / 1000.0


def _heard_up_to(trace: Trace, now: datetime) -> NDArray[np.int64]:
    """Times of a trace's readings up to now, in order."""
    return trace.at_ms[: int(np.searchsorted(trace.at_ms, to_ms(now), side="right"))]


def silence_standing(quiet_s: float, pace_s: float, *, promised: bool = False) -> Standing:
    """Late after two intervals, silent after three, but silent never before half an hour.

    A promised interval is already the longest: late when it is over, silent after two, for one
    message may be lost on its way.
    """
    late, silent = (1.0, PROMISED_INTERVALS) if promised else (LATE_INTERVALS, SILENT_INTERVALS)
    if quiet_s > max(silent * pace_s, SILENT_S):
        return Standing.SILENT
    return Standing.LATE if quiet_s > late * pace_s else Standing.STEADY


def promised_interval_s(sensor: Sensor, traces: Traces) -> float | None:
    """Longest time until its next reading, as it says itself (SenML's update time, RFC 8428, 4.3).

    The soonest of its channels; None where it says nothing, or the yard's file sets an interval.
    """
    if sensor.interval_s is not None:
        return None
    told = (traces.get((sensor.name, channel)) for channel in _LIFE)
    within = [one.update_s for one in told if one is not None and one.update_s is not None]
    return min(within, default=None)


def interval_s(sensor: Sensor, heard: NDArray[np.int64]) -> float:
    """Seconds expected between readings: as set, else the median step of the last day heard."""
    if sensor.interval_s is not None:
        return sensor.interval_s
    recent = heard[heard > heard[-1] - _LEARN_H * MS_PER_H]
    if recent.size < 3:
        return _UNLEARNT_S
    return float(np.median(np.diff(recent))) / 1000.0


def heard_ms(sensor: Sensor, traces: Traces, now: datetime) -> NDArray[np.int64]:
    """Times at which a sensor was heard on any channel that it measures, up to now, in order."""
    present = to_ms(now)
    told = (traces.get((sensor.name, channel)) for channel in _LIFE)
    heard = np.empty(0, np.int64)
    for trace in told:
        # Channels of one sensor are mostly read at the same times, and it lacks most of them: then
        # there is nothing to sort.
        if trace is None or not trace.at_ms.size or np.array_equal(trace.at_ms, heard):
            continue
        rises = not heard.size and bool((np.diff(trace.at_ms) > 0).all())
        heard = trace.at_ms if rises else np.union1d(heard, trace.at_ms)
    return heard[: int(np.searchsorted(heard, present, side="right"))]


def mains_said(sensor: Sensor, traces: Traces, now: datetime) -> tuple[int, bool] | None:
    """When mains were last told of [Unix ms], and whether they were on; None: never yet.

    Only usable readings up to ``now`` count; their order does not matter.
    """
    trace = traces.get((sensor.name, Channel.MAINS))
    if trace is None:
        return None
    told = trace.usable()
    past = told.at_ms <= to_ms(now)
    if not past.any():
        return None
    newest = int(told.at_ms[past].argmax())
    return int(told.at_ms[past][newest]), bool(told.value[past][newest] >= 0.5)
