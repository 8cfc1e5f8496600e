"""A small yard for these tests: spaces, sensors, craft, and air whose course is known exactly."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from monitor.clock import to_ms
from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.layup import Liquid
from monitor.craft.protection import Basis, LayupState, Protection, plain_water
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import SpaceAir, Traces, space_airs
from monitor.wording import SI, Units
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.reading import Channel, Flag, Trace
from monitor.yard.space import Sensor, Space, SpaceKind, Yard
from tests.written import act_said, basis_said

ZONE = ZoneInfo("America/Chicago")
SHED = Space(id="long-shed", name="Long Shed", kind=SpaceKind.COLD)
ROW = Space(id="north-row", name="North Row", kind=SpaceKind.WRAPPED)
RACK = Space(id="lee-rack", name="Lee Rack", kind=SpaceKind.OPEN)
BARN = Space(id="stove-barn", name="Stove Barn", kind=SpaceKind.HEATED, lag_h=12.0)
BENCH = Space(id="bench", name="Bench", kind=SpaceKind.BENCH)


def air_sensor(space: Space, name: str = "") -> Sensor:
    labels = {"temperature": Channel.TEMPERATURE, "humidity": Channel.HUMIDITY}
    return Sensor(name=name or f"air-{space.id}", space=space.id, labels=labels)


def yard_of(
    *spaces: Space,
    sensors: tuple[Sensor, ...] = (),
    latitude: float = 45.0,
    longitude: float = -97.5,  # puts the sunset of 14 November on 17:00 of the zone's clocks
    zone: str = "America/Chicago",
) -> Yard:
    return Yard(
        id="kettlemoss",
        name="Kettlemoss Yard",
        zone=ZoneInfo(zone),
        latitude=latitude,
        longitude=longitude,
        temperature_unit="C",
        volume_unit="L",
        spaces=spaces,
        sensors=(*(air_sensor(space) for space in spaces), *sensors),
        people=(),
    )


def local(day: int, hour: int, minute: int = 0) -> datetime:
    """A moment of November 2026 by the yard's clocks."""
    return datetime(2026, 11, day, hour, minute, tzinfo=ZONE).astimezone(UTC)


def trace(
    sensor: str,
    channel: Channel,
    value: Callable[[np.ndarray], np.ndarray] | float,
    since: datetime,
    until: datetime,
    every_s: float = 600.0,
) -> dict[tuple[str, Channel], Trace]:
    """Readings of one channel; ``value`` is a number or a function of hours after ``since``."""
    seconds = np.arange(0.0, (until - since).total_seconds() + 1.0, every_s)
    values = value(seconds / 3600.0) if callable(value) else np.full(seconds.size, float(value))
    return {
        (sensor, channel): Trace(
            sensor=sensor,
            channel=channel,
            at_ms=to_ms(since) + np.round(seconds * 1000).astype(np.int64),
            value=values,
            flag=np.full(seconds.size, Flag.PASS, dtype=np.int8),
        )
    }


def circuit(lag_h: float = 2.5, **changes: object) -> Circuit:
    made = Circuit(
        id="head",
        name="Head passages",
        volume_l=0.2,
        lag_low_h=lag_h,
        lag_high_h=2 * lag_h,
        heat_capacity_kj_k=20.0,
        material="aluminium",
        drainage=Drainage.PARTLY,
    )
    return replace(made, **changes)


def water(circuit_id: str = "head", state: LayupState = LayupState.UNKNOWN) -> Protection:
    return plain_water(circuit_id, state, "nothing on record")


def mix(ice_point_c: float, circuit_id: str = "head", fraction: float | None = None) -> Protection:
    return Protection(
        circuit=circuit_id,
        state=LayupState.PROVEN,
        ice_point_c=ice_point_c,
        burst_point_c=ice_point_c,
        basis=Basis.MEASURED,
        why="read from a sample on 1 Nov 2026 by Ada",
        liquid="propylene glycol and water",
        glycol=Liquid.PROPYLENE,
        glycol_mass_fraction=fraction,
    )


def stored(
    space: Space,
    *pairs: tuple[Circuit, Protection],
    craft_id: str = "k1",
    **more: object,
) -> StoredCraft:
    return StoredCraft(
        id=craft_id,
        name=craft_id.title(),
        profile="two-stroke",
        owner="",
        space=space.id,
        berth="1",
        circuits=tuple(circuit for circuit, _ in pairs),
        protection={circuit.id: protection for circuit, protection in pairs},
        **more,
    )


def pick(judged: list[Assessment], hazard: Hazard, part: str = "", craft: str = "") -> Assessment:
    """The one judgement of a hazard over a part of a craft."""
    found = [
        each
        for each in judged
        if each.hazard is hazard and each.subject.part == part and each.subject.craft == craft
    ]
    assert len(found) == 1, f"{len(found)} judgements of {hazard} over {craft} {part}"
    return found[0]


def lagged_ramp(
    hours: np.ndarray, lag_h: float, start_c: float, from_c: float, slope_k_h: float
) -> np.ndarray:
    """Closed form of a first-order lag behind air that runs straight from ``from_c``."""
    straight = from_c + slope_k_h * (hours - lag_h)
    return straight + (start_c - from_c + slope_k_h * lag_h) * np.exp(-hours / lag_h)


def basis_words(judged: Assessment, *craft: StoredCraft, units: Units = SI) -> str:
    """What a judgement rests on, with the names of these spaces and craft."""
    return basis_said(judged, _ALL, *craft, units=units)


def act_words(judged: Assessment, *craft: StoredCraft) -> str:
    """What a judgement asks for, in SI, with the names of these spaces and craft."""
    return act_said(judged, _ALL, *craft)


_ALL = yard_of(SHED, ROW, RACK, BARN, BENCH)


def space_air(space: Space, sensors: tuple[Sensor, ...], traces: Traces, now: datetime) -> SpaceAir:
    """One space's readings on the grid."""
    return space_airs((space,), sensors, traces, now)[space.id]
