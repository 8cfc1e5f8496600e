"""Judges what else is watched: silent sensors, lost mains, and what records leave open."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.craft_condition import Unsettled, UnsettledKind
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import SpaceAir, Traces
from monitor.judgement.air.last_heard import (
    ChannelPace,
    find_silent_channel,
    pace_of_sensor,
)
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.watch.power import judge_power
from monitor.judgement.watch.sensor_battery import judge_sensor_batteries
from monitor.judgement.watch.silence import judge_silence
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import RecordFacts
from monitor.yard.space import Yard

# Parts of a craft that a record speaks of.
LAY_UP, COVER, WRAP, WHOLE = "lay-up", "cover", "snow load", "record"

_STANDING = {
    UnsettledKind.UNDONE: Standing.VOIDED,
    UnsettledKind.OUT_OF_HEAT: Standing.OUT_OF_HEAT,
    UnsettledKind.SNOW: Standing.SNOWED,
    UnsettledKind.TORN: Standing.TORN,
    UnsettledKind.UNREADABLE: Standing.UNREADABLE,
}
_PART = {
    UnsettledKind.UNDONE: LAY_UP,
    UnsettledKind.OUT_OF_HEAT: LAY_UP,
    UnsettledKind.SNOW: WRAP,
    UnsettledKind.TORN: COVER,
    UnsettledKind.UNREADABLE: WHOLE,
}
_WEIGHT = {
    UnsettledKind.UNDONE: (Urgency.EXPECTED, Severity.MODERATE, Certainty.OBSERVED),
    UnsettledKind.OUT_OF_HEAT: (Urgency.IMMEDIATE, Severity.SEVERE, Certainty.OBSERVED),
    UnsettledKind.SNOW: (Urgency.EXPECTED, Severity.MODERATE, Certainty.POSSIBLE),
    UnsettledKind.TORN: (Urgency.EXPECTED, Severity.MINOR, Certainty.OBSERVED),
    UnsettledKind.UNREADABLE: (Urgency.EXPECTED, Severity.SEVERE, Certainty.OBSERVED),
}
_CAUTIONS = {
    UnsettledKind.UNDONE: (Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR, Caution.GLYCOL),
    UnsettledKind.OUT_OF_HEAT: (Caution.GLYCOL, Caution.FUEL_VAPOUR),
    UnsettledKind.SNOW: (Caution.SNOW_LOAD,),
    UnsettledKind.TORN: (Caution.SNOW_LOAD,),
    UnsettledKind.UNREADABLE: (),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchInputs:
    """What silence, mains and records are judged by."""

    yard: Yard
    airs: Mapping[str, SpaceAir]  # by space
    nights: Mapping[str, Tonight | None]  # by space
    traces: Traces
    craft: Mapping[str, Sequence[StoredCraft]]  # by space
    silent_channels: Mapping[str, ChannelPace]  # of the round before, by sensor
    now: datetime


def judge_watch(inputs: WatchInputs) -> list[Assessment]:
    """Judge every sensor's silence and battery, warm spaces' mains, and what records leave open."""
    paces = {
        sensor.name: pace_of_sensor(sensor, inputs.traces, inputs.now)
        for sensor in inputs.yard.sensors
    }
    silence = [
        judge_silence(
            sensor,
            paces[sensor.name],
            find_silent_channel(
                sensor,
                paces[sensor.name],
                inputs.traces,
                inputs.now,
                inputs.silent_channels.get(sensor.name),
            ),
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
    batteries = judge_sensor_batteries(inputs.yard.sensors, inputs.traces, inputs.now)
    return [*silence, *power, *batteries, *records]


def judge_record(craft: StoredCraft, now: datetime) -> list[Assessment]:
    """Judge what the record of one craft leaves open.

    Parameters
    ----------
    craft : StoredCraft
    now : datetime

    Returns
    -------
    list of Assessment
        One for each open matter; a record that is in order is not judged at all. A person's
        entry has no margin. It is taken at its word, and says whose word it is.
    """
    return [
        _assess_matter(each, craft, now)
        # Of two that concern one part the later in `Kind` is the graver.
        for each in {_PART[one.kind]: one for one in craft.unsettled}.values()
    ]


def _assess_matter(matter: Unsettled, craft: StoredCraft, now: datetime) -> Assessment:
    urgency, severity, certainty = _WEIGHT[matter.kind]
    return Assessment(
        subject=Subject(craft.space, craft.id, _PART[matter.kind]),
        hazard=Hazard.RECORD,
        standing=_STANDING[matter.kind],
        at=now,
        facts=RecordFacts(
            matter=matter.kind,
            entered_at=matter.at,
            entered_by=matter.by,
            act=matter.act,
            circuits=matter.circuits,
            unreadable=matter.words,
        ),
        calls_for_act=True,
        urgency=urgency,
        severity=severity,
        certainty=certainty,
        cautions=_CAUTIONS[matter.kind],
    )
