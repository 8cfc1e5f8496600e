"""The judgement of a whole yard as JSON: what ``assess --json`` and ``/api/assess`` hand out.

SI, the unit in the key; times are RFC 3339 in UTC. A number that does not exist is null: not
known, except where ``cannot_freeze`` is true, which says that the circuit was seen dry and so has
no ice point and an unlimited margin.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated

from pydantic import TypeAdapter, WithJsonSchema

from monitor.craft.stored import StoredCraft
from monitor.phrases.figures import figures_of
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names
from monitor.reports.picture import CraftPicture, JudgedPicture, SpacePicture
from monitor.wording import SI, Wording
from monitor.yard.assessment import Assessment

_DECIMALS = 3  # a reading has two
# Described as a list of two: fewer programs that read a description know positions of a list.
_Band = Annotated[
    tuple[float, float],
    WithJsonSchema({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceAccount:
    """The air of one space, now and tonight."""

    space: str
    name: str
    kind: str
    standing: str
    judged_at: datetime
    air_c: float | None
    rh_pct: float | None
    dew_point_c: float | None
    low_c: float | None
    low_band_c: _Band | None
    low_at: datetime | None
    chance_below_zero: float | None
    below_zero_at: datetime | None
    basis: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitAccount:
    """One circuit against frost."""

    circuit: str
    name: str
    standing: str
    judged_at: datetime
    layup: str
    circuit_c: float | None
    low_c: float | None
    low_band_c: _Band | None
    low_at: datetime | None
    ice_point_c: float | None
    burst_point_c: float | None
    cannot_freeze: bool
    margin_k: float | None
    first_ice_at: datetime | None
    frozen_through_at: datetime | None
    chance_first_ice: float | None
    chance_third_ice: float | None
    chance_frozen_through: float | None
    basis: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceAccount:
    """One metal surface against damp."""

    surface: str
    name: str
    standing: str
    judged_at: datetime
    surface_c: float | None
    dew_point_c: float | None
    margin_k: float | None
    wet_from: datetime | None
    dry_at: datetime | None
    basis: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryAccount:
    """A craft's battery; ``figures`` holds its further numbers, unit in the key."""

    standing: str
    judged_at: datetime
    battery_c: float | None
    low_c: float | None
    freezes_below_c: float | None
    margin_k: float | None
    freezes_at: datetime | None
    figures: dict[str, float | None]
    basis: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftAccount:
    """One craft, the worst circuit first."""

    craft: str
    name: str
    space: str
    berth: str
    circuits: list[CircuitAccount]
    surfaces: list[SurfaceAccount]
    battery: BatteryAccount | None
    unreadable: str | None = None  # what of its record cannot be read; then nothing of it counts


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorAccount:
    """Whether one sensor is heard."""

    sensor: str
    space: str
    standing: str
    judged_at: datetime
    basis: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class YardAccount:
    """The whole yard at one moment; craft with the worst first."""

    at: datetime
    yard: str
    spaces: list[SpaceAccount]
    craft: list[CraftAccount]
    sensors: list[SensorAccount]


_AS_JSON = TypeAdapter(YardAccount)
_CRAFT_AS_JSON = TypeAdapter(CraftAccount)
_SPACE_AS_JSON = TypeAdapter(SpaceAccount)


def account_of(picture: JudgedPicture) -> YardAccount:
    """Turn a picture of the yard into the account that leaves the house."""
    names = Names.of(picture.yard, (one.craft for one in picture.craft))
    words = Wording(zone=picture.yard.zone, now=picture.at, units=SI)
    return YardAccount(
        at=utc_of(picture.at),
        yard=picture.yard.id,
        spaces=[account_of_space(one, names, words) for one in picture.spaces],
        craft=[account_of_craft(one, names, words) for one in picture.craft],
        sensors=[account_of_sensor(one, names, words) for one in picture.sensors],
    )


def account_json(account: YardAccount, *, indent: int | None = None) -> bytes:
    """Write an account as JSON in UTF-8."""
    return _AS_JSON.dump_json(account, indent=indent)


def craft_account_json(account: CraftAccount) -> bytes:
    """Write what is told of one craft as JSON in UTF-8."""
    return _CRAFT_AS_JSON.dump_json(account)


def space_account_json(account: SpaceAccount) -> bytes:
    """Write what is told of one space as JSON in UTF-8."""
    return _SPACE_AS_JSON.dump_json(account)


def account_of_space(picture: SpacePicture, names: Names, words: Wording) -> SpaceAccount:
    """Tell of one space."""
    air = picture.air
    known = figures_of(air)
    return SpaceAccount(
        space=picture.space.id,
        name=picture.space.name,
        kind=picture.space.kind,
        standing=air.standing,
        judged_at=utc_of(air.at),
        air_c=_number(known.get("air_c", air.now_c)),
        rh_pct=_number(known.get("rh_pct")),
        dew_point_c=_number(known.get("dew_point_c")),
        low_c=_number(known.get("low_c", air.low_c)),
        low_band_c=_band(known),
        low_at=_time(air.low_at),
        chance_below_zero=_number(known.get("chance_below_zero")),
        below_zero_at=_time(air.deadline),
        basis=basis_text(air, names, words),
        act=act_text(air, names, words),
    )


def account_of_craft(picture: CraftPicture, names: Names, words: Wording) -> CraftAccount:
    """Turn the picture of one craft into what is told of it."""
    craft = picture.craft
    battery = picture.battery
    return CraftAccount(
        craft=craft.id,
        name=craft.name,
        space=craft.space,
        berth=craft.berth,
        unreadable=craft.unreadable or None,
        circuits=[account_of_circuit(craft, a, names, words) for a in picture.circuits],
        surfaces=[account_of_surface(craft, a, names, words) for a in picture.surfaces],
        battery=None if battery is None else account_of_battery(battery, names, words),
    )


def account_of_sensor(seen: Assessment, names: Names, words: Wording) -> SensorAccount:
    """Tell of one sensor."""
    return SensorAccount(
        sensor=seen.subject.part,
        space=seen.subject.space,
        standing=seen.standing,
        judged_at=utc_of(seen.at),
        basis=basis_text(seen, names, words),
        act=act_text(seen, names, words),
    )


def account_of_circuit(
    craft: StoredCraft, a: Assessment, names: Names, words: Wording
) -> CircuitAccount:
    """Tell of one circuit against frost."""
    circuit = next(circuit for circuit in craft.circuits if circuit.id == a.subject.part)
    figures = figures_of(a)
    return CircuitAccount(
        circuit=circuit.id,
        name=circuit.name,
        standing=a.standing,
        judged_at=utc_of(a.at),
        layup=craft.protection[circuit.id].state,
        circuit_c=_number(a.now_c),
        low_c=_number(a.low_c),
        low_band_c=_band(figures),
        low_at=_time(a.low_at),
        ice_point_c=_number(a.limit_c),
        burst_point_c=_number(a.burst_c),
        cannot_freeze=a.limit_c == -math.inf,
        margin_k=_number(a.margin_k),
        first_ice_at=_time(a.deadline),
        frozen_through_at=_time(a.ends),
        chance_first_ice=_number(figures.get("chance_first_ice")),
        chance_third_ice=_number(figures.get("chance_third_ice")),
        chance_frozen_through=_number(figures.get("chance_frozen_through")),
        basis=basis_text(a, names, words),
        act=act_text(a, names, words),
    )


def account_of_surface(
    craft: StoredCraft, a: Assessment, names: Names, words: Wording
) -> SurfaceAccount:
    """Tell of one metal surface against damp."""
    part = a.subject.part
    return SurfaceAccount(
        surface=part,
        name=next((one.name for one in craft.surfaces if one.id == part), part),
        standing=a.standing,
        judged_at=utc_of(a.at),
        surface_c=_number(a.now_c),
        dew_point_c=_number(a.limit_c),
        margin_k=_number(a.margin_k),
        wet_from=_time(a.deadline),
        dry_at=_time(a.ends),
        basis=basis_text(a, names, words),
        act=act_text(a, names, words),
    )


def account_of_battery(a: Assessment, names: Names, words: Wording) -> BatteryAccount:
    """Tell of a craft's battery."""
    return BatteryAccount(
        standing=a.standing,
        judged_at=utc_of(a.at),
        battery_c=_number(a.now_c),
        low_c=_number(a.low_c),
        freezes_below_c=_number(a.limit_c),
        margin_k=_number(a.margin_k),
        freezes_at=_time(a.deadline),
        figures={name: _number(value) for name, value in figures_of(a).items()},
        basis=basis_text(a, names, words),
        act=act_text(a, names, words),
    )


def _band(figures: Mapping[str, float]) -> tuple[float, float] | None:
    low, high = (_number(figures.get(f"low_band_{end}_c")) for end in ("low", "high"))
    return None if low is None or high is None else (low, high)


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, _DECIMALS)


def utc_of(at: datetime) -> datetime:
    """A time as an account tells it."""
    return at.astimezone(UTC)


def _time(at: datetime | None) -> datetime | None:
    return None if at is None else utc_of(at)
