"""Seeded winters of the simulator, lived through the judgement hour by hour."""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from math import inf
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.stored import Battery, BatteryPlace, Chemistry, StoredCraft, Surface
from monitor.judgement.air import MS_PER_H
from monitor.judgement.judge import judge
from monitor.judgement.memory import Memory
from monitor.judgement.recent import SPAN_H
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.reading import Channel, Flag, Trace
from monitor.yard.space import Mount, Sensor, Space, SpaceKind, Yard
from simulator.winter import Lived, Winter

Key = tuple[Hazard, str, str]  # hazard, craft (or space), part


class Said(NamedTuple):
    """What one round said of one subject."""

    at: datetime
    standing: Standing
    low_c: float
    figures: Mapping[str, float]


def yard_of(records: Mapping[str, Any]) -> Yard:
    """The shop's records of its yard as the project's own nouns."""
    yard = records["yard"]
    return Yard(
        id=yard["id"],
        name=yard["name"],
        zone=ZoneInfo(yard["zone"]),
        latitude=yard["latitude"],
        longitude=yard["longitude"],
        temperature_unit="C",
        volume_unit="L",
        spaces=tuple(
            Space(id=each["space"], name=each["space"], kind=SpaceKind(each["kind"]))
            for each in records["spaces"]
        ),
        sensors=tuple(
            Sensor(
                name=each["sensor"],
                space=each["space"],
                mount=Mount(each["mount"]),
                craft=each["craft"],
                labels={label: Channel(label) for label in each["labels"]},
                interval_s=each["interval_s"],
            )
            for each in records["sensors"]
        ),
        people=(),
    )


def craft_of(records: Mapping[str, Any]) -> list[StoredCraft]:
    """The shop's records of its craft: what was written down, not what is true."""
    return [_craft(each) for each in records["craft"]]


def lived_through(
    winter: Winter, lived: Lived, days: float | None = None, every_h: float = 1.0
) -> dict[Key, list[Said]]:
    """Judge a winter round by round, as a daemon would; the truth stays out of it."""
    yard, craft = yard_of(winter.records), craft_of(winter.records)
    memory, earlier = Memory(), list[Assessment]()
    heard: dict[Key, list[Said]] = {}
    end = winter.end if days is None else winter.start + timedelta(days=days)
    for now, readings in _rounds(winter, lived, end, every_h):
        earlier = judge(yard, craft, readings, now, earlier, memory)
        for each in earlier:
            subject = each.subject
            key = (each.hazard, subject.craft or subject.space, subject.part)
            said = Said(now, each.standing, each.low_c, each.figures)
            heard.setdefault(key, []).append(said)
    return heard


def _rounds(
    winter: Winter, lived: Lived, end: datetime, every_h: float
) -> Iterator[tuple[datetime, dict[tuple[str, Channel], Trace]]]:
    whole = {
        (name, Channel(label)): (
            np.round(np.asarray(at_s) * 1000.0).astype(np.int64),
            np.asarray(values, dtype=np.float64),
        )
        for name, (at_s, channels) in lived.readings.items()
        for label, values in channels.items()
    }
    now = winter.start.astimezone(UTC) + timedelta(hours=every_h)
    while now <= end:
        until = round(now.timestamp() * 1000.0)
        begin = until - int(SPAN_H * MS_PER_H)
        readings = {}
        for (name, channel), (at_ms, values) in whole.items():
            span = slice(*(int(i) for i in np.searchsorted(at_ms, [begin, until + 1])))
            known = np.isfinite(values[span])
            readings[name, channel] = Trace(
                sensor=name,
                channel=channel,
                at_ms=at_ms[span][known],
                value=values[span][known],
                flag=np.full(int(known.sum()), Flag.PASS, dtype=np.int8),
            )
        yield now, readings
        now += timedelta(hours=every_h)


def _craft(record: Mapping[str, Any]) -> StoredCraft:
    battery = record["battery"]
    return StoredCraft(
        id=record["craft"],
        name=record["craft"],
        profile=record["kind"],
        owner="",
        space=record["space"],
        berth="",
        circuits=tuple(
            Circuit(
                id=each["circuit"],
                name=each["circuit"],
                volume_l=each["volume_l"],
                lag_low_h=each["lag_low_h"],
                lag_high_h=each["lag_high_h"],
                heat_capacity_kj_k=each["heat_capacity_kj_k"],
                material=each["material"],
                drainage=Drainage(each["drainage"]),
            )
            for each in record["circuits"]
        ),
        protection={each["circuit"]: _protection(each) for each in record["circuits"]},
        surfaces=tuple(
            Surface(
                id=each["surface"],
                name=each["surface"],
                lag_low_h=each["lag_low_h"],
                lag_high_h=each["lag_high_h"],
                length_m=each["length_m"],
            )
            for each in record["surfaces"]
        ),
        battery=None
        if battery is None
        else Battery(
            chemistry=Chemistry(battery["chemistry"]),
            capacity_ah=battery["capacity_ah"],
            lag_low_h=battery["lag_low_h"],
            lag_high_h=battery["lag_high_h"],
            place=BatteryPlace(battery["place"]),
            space=battery["space"],
            maintained=battery["maintained"],
            rested_v=battery["rested_v"],
            rested_at=battery["rested_at"] and datetime.fromisoformat(battery["rested_at"]),
        ),
    )


def _protection(record: Mapping[str, Any]) -> Protection:
    points = (record["ice_point_c"], record["burst_point_c"])
    ice_c, burst_c = (-inf if point is None else point for point in points)
    proven = record["state"] == LayupState.PROVEN
    return Protection(
        circuit=record["circuit"],
        state=LayupState(record["state"]),
        ice_point_c=ice_c,
        burst_point_c=burst_c,
        basis=Basis(record["basis"]),
        why="as the shop has it",
        liquid="propylene glycol and water" if proven and ice_c > -inf else "water",
    )
