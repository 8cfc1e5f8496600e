"""Which sensors have gone quiet: the newest reading against the pace that each one keeps."""

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms, to_ms
from monitor.judgement.air import MS_PER_H, SpaceAir, Traces
from monitor.judgement.tonight import Tonight
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import SilenceFacts
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor

LATE_INTERVALS = 2.0
SILENT_INTERVALS = 3.0
PROMISED_INTERVALS = 2.0  # silent after, where the sensor itself says how long it takes at most
SILENT_S = 1800.0  # at the least: a radio's short gap is no silence
_UNLEARNT_S = 900.0  # pace of a sensor of which too little was heard
_LEARN_H = 24.0
_COLD_C = 3.0  # air at or below which a blind space cannot wait


def judge_silence(
    sensor: Sensor,
    traces: Traces,
    air: SpaceAir,
    night: Tonight | None,
    now: datetime,
) -> Assessment:
    """Judge one sensor by when it was last heard.

    Parameters
    ----------
    sensor : Sensor
    traces : mapping
        Readings by sensor and channel; any flag counts, for a bad reading is a sign of life.
    air, night
        The sensor's space: silence in a cold one is urgent.
    now : datetime

    Returns
    -------
    Assessment
        Steady, late or silent. The margin is NaN: seconds are no kelvin.
    """
    heard = heard_ms(sensor, traces, now)
    subject = Subject(air.space.id, sensor.craft or "", sensor.name)
    if not heard.size:
        return _assessment(subject, Standing.SILENT, now, SilenceFacts(mount=sensor.mount))
    promised_s = promised_interval_s(sensor, traces)
    pace_s = promised_s or interval_s(sensor, heard)
    quiet_s = (to_ms(now) - int(heard[-1])) / 1000.0
    standing = silence_standing(quiet_s, pace_s, promised=promised_s is not None)
    facts = SilenceFacts(
        mount=sensor.mount,
        heard_at=from_ms(int(heard[-1])),
        quiet_s=quiet_s,
        interval_s=pace_s,
        promised=promised_s is not None,
    )
    cold = np.isfinite(air.now_c) and air.now_c <= _COLD_C
    coming = night is not None and night.low_c <= 0.0
    return _assessment(
        subject,
        standing,
        now,
        facts,
        urgent=bool(cold or coming or not air.known),
    )


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
    told = (traces.get((sensor.name, channel)) for channel in Channel)
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
    """Times at which the sensor was heard on any channel, up to now, in order."""
    present = to_ms(now)
    told = (traces.get((sensor.name, channel)) for channel in Channel)
    heard = np.empty(0, np.int64)
    for trace in told:
        # Channels of one sensor are mostly read at the same times: then there is nothing to sort.
        if trace is None or np.array_equal(trace.at_ms, heard):
            continue
        rises = not heard.size and bool((np.diff(trace.at_ms) > 0).all())
        heard = trace.at_ms if rises else np.union1d(heard, trace.at_ms)
    return heard[: int(np.searchsorted(heard, present, side="right"))]


def _assessment(
    subject: Subject,
    standing: Standing,
    at: datetime,
    facts: SilenceFacts,
    *,
    urgent: bool = True,
) -> Assessment:
    silent = standing is Standing.SILENT
    soon = silent and (urgent or facts.mount is Mount.BATTERY)
    return Assessment(
        subject=subject,
        hazard=Hazard.SILENCE,
        standing=standing,
        at=at,
        facts=facts,
        calls_for_act=silent,
        urgency=Urgency.IMMEDIATE if soon else Urgency.EXPECTED if silent else Urgency.FUTURE,
        severity=Severity.MODERATE if soon else Severity.MINOR,
        certainty=Certainty.OBSERVED,
    )
