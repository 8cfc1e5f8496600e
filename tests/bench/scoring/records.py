"""What a simulated shop has on record, as the project's own nouns; the truth stays out of it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from math import inf
from typing import Any
from zoneinfo import ZoneInfo

from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.layup import Liquid
from monitor.craft.profile import Chemistry, Surface
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Person, Role, Sensor, Space, SpaceKind, Yard

CRAFT_AN_OWNER = 2
_HEATED = {"shop"}


def yard_of(records: Mapping[str, Any]) -> Yard:
    """The yard with its sensors, an operator, a mechanic, and an owner for every two craft."""
    yard = records["yard"]
    owners = sorted({_owner(number) for number in range(len(records["craft"]))})
    people = [_person("operator", Role.OPERATOR), _person("mechanic", Role.MECHANIC)]
    people += [_person(owner, Role.OWNER) for owner in owners]
    return Yard(
        id=yard["id"],
        name=yard["name"],
        zone=ZoneInfo(yard["zone"]),
        latitude=yard["latitude"],
        longitude=yard["longitude"],
        temperature_unit="C",
        volume_unit="L",
        spaces=tuple(
            Space(
                id=each["space"],
                name=each["space"],
                kind=SpaceKind(each["kind"]),
                thermostat_c=each["set_point_c"],
            )
            for each in records["spaces"]
        ),
        sensors=tuple(_sensor(each) for each in records["sensors"]),
        people=tuple(people),
    )


def craft_of(records: Mapping[str, Any], at: datetime) -> list[StoredCraft]:
    """The craft as the shop had them written down then, which is not always how they are."""
    return [
        _moved(_craft(number, each), records["moves"], at)
        for number, each in enumerate(records["craft"])
    ]


def _moved(craft: StoredCraft, moves: Sequence[Mapping[str, Any]], at: datetime) -> StoredCraft:
    """Stand a craft where it was moved to; out of the heat, what only heat kept safe is void."""
    for move in moves:
        since = datetime.fromisoformat(move["since"])
        if move["craft"] != craft.id or since > at:
            continue
        protection = {
            name: replace(one, state=LayupState.VOID)
            if one.state is LayupState.HEAT_ONLY and craft.space in _HEATED
            else one
            for name, one in craft.protection.items()
        }
        craft = replace(
            craft, space=move["space"], since=since, came_from=craft.space, protection=protection
        )
    return craft


def _owner(number: int) -> str:
    return f"owner-{number // CRAFT_AN_OWNER:02d}"


def _person(id_: str, role: Role) -> Person:
    return Person(id=id_, name=id_, mail=f"{id_}@yard.example", roles=frozenset({role}))


def _sensor(record: Mapping[str, Any]) -> Sensor:
    return Sensor(
        name=record["sensor"],
        space=record["space"],
        mount=Mount(record["mount"]),
        craft=record["craft"],
        labels={label: Channel(label) for label in record["labels"]},
        interval_s=record["interval_s"],
    )


def _craft(number: int, record: Mapping[str, Any]) -> StoredCraft:
    return StoredCraft(
        id=record["craft"],
        name=record["craft"],
        profile=record["kind"],
        owner=_owner(number),
        space=record["space"],
        berth="",
        circuits=tuple(_circuit(each) for each in record["circuits"]),
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
        battery=None if record["battery"] is None else _battery(record["battery"]),
    )


def _circuit(record: Mapping[str, Any]) -> Circuit:
    return Circuit(
        id=record["circuit"],
        name=record["circuit"],
        volume_l=record["volume_l"],
        lag_low_h=record["lag_low_h"],
        lag_high_h=record["lag_high_h"],
        heat_capacity_kj_k=record["heat_capacity_kj_k"],
        material=record["material"],
        drainage=Drainage(record["drainage"]),
    )


def _protection(record: Mapping[str, Any]) -> Protection:
    ice_c, burst_c = (
        -inf if point is None else point
        for point in (record["ice_point_c"], record["burst_point_c"])
    )
    mixed = record["state"] == LayupState.PROVEN and ice_c > -inf
    return Protection(
        circuit=record["circuit"],
        state=LayupState(record["state"]),
        ice_point_c=ice_c,
        burst_point_c=burst_c,
        basis=Basis(record["basis"]),
        why="as the shop has it",
        liquid="propylene glycol and water" if mixed else "water",
        glycol=Liquid.PROPYLENE if mixed else None,
    )


def _battery(record: Mapping[str, Any]) -> Battery:
    return Battery(
        chemistry=Chemistry(record["chemistry"]),
        capacity_ah=record["capacity_ah"],
        lag_low_h=record["lag_low_h"],
        lag_high_h=record["lag_high_h"],
        place=BatteryPlace(record["place"]),
        space=record["space"],
        maintained=record["maintained"],
        rested_v=record["rested_v"],
        rested_at=record["rested_at"] and datetime.fromisoformat(record["rested_at"]),
        disconnected=record["disconnected"],
    )
