"""Judges what else is watched: silent sensors, lost mains, and what records leave open."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import SpaceAir, Traces
from monitor.judgement.air.last_heard import pace_of_sensor
from monitor.judgement.air.tonight import Tonight
from monitor.judgement.watch.open_matters import judge_record
from monitor.judgement.watch.power import judge_power
from monitor.judgement.watch.silence import judge_silence
from monitor.yard.assessment import Assessment
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchInputs:
    """What silence, mains and records are judged by."""

    yard: Yard
    airs: Mapping[str, SpaceAir]  # by space
    nights: Mapping[str, Tonight | None]  # by space
    traces: Traces
    craft: Mapping[str, Sequence[StoredCraft]]  # by space
    now: datetime


def judge_watch(inputs: WatchInputs) -> list[Assessment]:
    """Judge every sensor's silence, the mains of warm spaces, and what records leave open."""
    paces = {
        sensor.name: pace_of_sensor(sensor, inputs.traces, inputs.now)
        for sensor in inputs.yard.sensors
    }
    silence = [
        judge_silence(
            sensor,
            paces[sensor.name],
            inputs.airs[space.id],
            inputs.nights[space.id],
            inputs.now,
        )
        for space in inputs.yard.spaces
        for sensor in inputs.yard.sensors
        if sensor.space == space.id
    ]
    power = judge_power(inputs.yard, inputs.craft, inputs.traces, paces, inputs.now)
    records = [
        judged
        for space in inputs.yard.spaces
        for craft in inputs.craft.get(space.id, ())
        for judged in judge_record(craft, inputs.now)
    ]
    return [*silence, *power, *records]
