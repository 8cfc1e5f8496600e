"""Judges the sensors' own batteries: one that runs out takes its readings with it."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from monitor.clock import from_ms, to_ms
from monitor.judgement.air.grid import Traces
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import SensorBatteryFacts
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor

LOW_PCT = 15.0  # what a lithium cell shows some weeks before its end: common practice, no source


def judge_sensor_batteries(
    sensors: Sequence[Sensor], traces: Traces, now: datetime
) -> list[Assessment]:
    """Judge what each sensor last said of its own battery.

    Parameters
    ----------
    sensors : sequence of Sensor
    traces : mapping
        Readings by sensor and channel; only usable flags count, their order does not matter.
    now : datetime

    Returns
    -------
    list of Assessment
        One for each sensor with 15 % or less left. Who says nothing of a battery is not judged.
    """
    return [
        judged for sensor in sensors if (judged := _judge_battery(sensor, traces, now)) is not None
    ]


def _judge_battery(sensor: Sensor, traces: Traces, now: datetime) -> Assessment | None:
    trace = traces.get((sensor.name, Channel.SENSOR_BATTERY))
    if trace is None:
        return None
    said = trace.usable()
    past = np.flatnonzero(said.at_ms <= to_ms(now))
    if not past.size:
        return None
    newest = int(past[said.at_ms[past].argmax()])
    left_pct = float(said.value[newest])
    if left_pct > LOW_PCT:
        return None
    return Assessment(
        subject=Subject(sensor.space, sensor.craft or "", sensor.name),
        hazard=Hazard.SENSOR_BATTERY,
        standing=Standing.LOW,
        at=now,
        facts=SensorBatteryFacts(left_pct=left_pct, said_at=from_ms(int(said.at_ms[newest]))),
        calls_for_act=True,
        urgency=Urgency.FUTURE,
        severity=Severity.MINOR,
        certainty=Certainty.OBSERVED,
    )
