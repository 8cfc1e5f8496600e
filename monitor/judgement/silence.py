"""Which sensors have gone quiet: the newest reading against the pace that each one keeps."""

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms, to_ms
from monitor.judgement.air import MS_PER_H, SpaceAir, Traces
from monitor.judgement.speech import Speech, sentence
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
    speech: Speech,
) -> Assessment:
    """Judge one sensor by when it was last heard.

    Parameters
    ----------
    sensor : Sensor
    traces : mapping
        Readings by sensor and channel; any flag counts, for a bad reading is a sign of life.
    air, night
        The sensor's space: silence in a cold one is urgent.
    speech : Speech

    Returns
    -------
    Assessment
        Steady, late or silent. The margin is NaN: seconds are no kelvin.
    """
    now = speech.now
    heard = heard_ms(sensor, traces, now)
    space = air.space
    subject = Subject(space.id, sensor.craft or "", sensor.name)
    if not heard.size:
        return _assessment(
            subject, Standing.SILENT, now, f"{sensor.name} has sent nothing in four days.", sensor
        )
    promised_s = promised_interval_s(sensor, traces)
    pace_s = promised_s or interval_s(sensor, heard)
    quiet_s = (to_ms(now) - int(heard[-1])) / 1000.0
    standing = silence_standing(quiet_s, pace_s, promised=promised_s is not None)
    says = "promises to send at least" if promised_s else "usually sends"
    basis = sentence(
        f"{sensor.name} in {space.name} was last heard at {speech.clock(from_ms(int(heard[-1])))},",
        f"{_span(quiet_s)} ago; it {says} every {_span(pace_s)}.",
    )
    cold = np.isfinite(air.now_c) and air.now_c <= _COLD_C
    coming = night is not None and night.low_c <= 0.0
    return _assessment(
        subject,
        standing,
        now,
        basis,
        sensor,
        urgent=bool(cold or coming or not air.known),
        figures={"quiet_s": quiet_s, "interval_s": pace_s},
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
    basis: str,
    sensor: Sensor,
    *,
    urgent: bool = True,
    figures: dict[str, float] | None = None,
) -> Assessment:
    silent = standing is Standing.SILENT
    soon = silent and (urgent or sensor.mount is Mount.BATTERY)
    what = {
        Mount.AIR: "read a thermometer there by hand",
        Mount.SURFACE: "feel that its lead still touches the metal",
        Mount.BATTERY: "look at its lamp, plug and fuse: the battery may be without charge",
    }[sensor.mount]
    return Assessment(
        subject=subject,
        hazard=Hazard.SILENCE,
        standing=standing,
        at=at,
        basis=basis,
        act=f"Go and look at {sensor.name}: {what}." if silent else "",
        urgency=Urgency.IMMEDIATE if soon else Urgency.EXPECTED if silent else Urgency.FUTURE,
        severity=Severity.MODERATE if soon else Severity.MINOR,
        certainty=Certainty.OBSERVED,
        figures=figures or {},
    )


def _span(seconds: float) -> str:
    """Write ``45 s``, ``15 min`` or ``3 h``."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.0f} h"
