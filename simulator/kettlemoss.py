"""Kettlemoss Yard at Lake Ossawin, a fictional yard: twelve craft and what is really in them.

The story: an ordinary night of light frost, then the first hard one, a heater that fails in it,
a second cold night, and a warm damp front over metal that is still cold, with a door left open.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from simulator.antifreeze import fraction_for
from simulator.battery import Battery
from simulator.building import Space
from simulator.craft import Circuit, Craft
from simulator.scenario import Scenario
from simulator.sensors import Message, Outage, SensorSpec, air_sensor, maintainer, metal_sensor
from simulator.weather import Mark, Weather, scripted
from simulator.yard import Simulation, YardPlan

ZONE = "America/Chicago"
LATITUDE, LONGITUDE = 45.6, -89.4
YEAR = 2026
TOPIC = "kettlemoss/readings/"
BASE_NAME = "urn:dev:ops:kettlemoss-"


def local(day: int, hour: int, minute: int = 0) -> datetime:
    """Tell a moment of the story's November by the yard's own clock."""
    return datetime(YEAR, 11, day, hour, minute, tzinfo=ZoneInfo(ZONE))


START, END = local(13, 14), local(17, 12)


def weather(seed: int = 14) -> Weather:
    """Weather of the story."""
    marks = [
        Mark(at=local(12, 12), air_c=6.0, rh_pct=70, cloud=0.8, wind_m_s=3.0),
        Mark(at=local(13, 7), air_c=0.5, rh_pct=88, cloud=0.6, wind_m_s=2.0),
        Mark(at=local(13, 14), air_c=5.5, rh_pct=65, cloud=0.4, wind_m_s=2.5),
        Mark(at=local(13, 17), air_c=4.0, rh_pct=72, cloud=0.7, wind_m_s=2.0),
        Mark(at=local(13, 23), air_c=2.8, rh_pct=80, cloud=1.0, wind_m_s=2.0),
        # A short dip before dawn: over before much of it reaches the water inside.
        Mark(at=local(14, 4, 30), air_c=1.5, rh_pct=86, cloud=1.0, wind_m_s=1.5),
        Mark(at=local(14, 6, 30), air_c=-3.0, rh_pct=92, cloud=0.9, wind_m_s=0.8),
        Mark(at=local(14, 8, 15), air_c=2.0, rh_pct=78, cloud=0.6, wind_m_s=3.0),
        Mark(at=local(14, 13, 30), air_c=3.0, rh_pct=60, cloud=0.2, wind_m_s=4.0),
        Mark(at=local(14, 17), air_c=0.5, rh_pct=64, cloud=0.05, wind_m_s=1.5),
        Mark(at=local(15, 7), air_c=-12.0, rh_pct=82, cloud=0.0, wind_m_s=0.5),
        Mark(at=local(15, 14), air_c=-1.5, rh_pct=55, cloud=0.0, wind_m_s=2.0),
        Mark(at=local(15, 17), air_c=-4.0, rh_pct=65, cloud=0.05, wind_m_s=1.0),
        Mark(at=local(16, 5), air_c=-10.0, rh_pct=84, cloud=0.1, wind_m_s=0.8),
        Mark(at=local(16, 9), air_c=-4.0, rh_pct=85, cloud=0.9, wind_m_s=3.0),
        Mark(at=local(16, 13), air_c=6.0, rh_pct=95, cloud=1.0, wind_m_s=3.5),
        Mark(at=local(17, 7), air_c=6.0, rh_pct=95, cloud=1.0, wind_m_s=2.5),
        Mark(at=local(17, 14), air_c=4.0, rh_pct=75, cloud=0.7, wind_m_s=3.0),
    ]
    return scripted(marks, LATITUDE, LONGITUDE, wobble_k=0.15, seed=seed)


def _spell(first: datetime, last: datetime) -> tuple[float, float]:
    return first.timestamp(), last.timestamp()


def spaces() -> tuple[Space, ...]:
    """The yard's five spaces."""
    return (
        Space(
            id="stove-barn",
            start_c=7.0,
            volume_m3=900,
            wall_w_k=250,
            air_kj_k=9000,
            floor_mj_k=30,
            floor_w_k=520,
            floor_m2=220,
            roof_m2=230,
            floor_damp=0.05,
            heater_w=15000,
            set_point_c=7.0,
            air_changes_h=0.4,
            heater_fails=(_spell(local(15, 2), local(15, 7, 20)),),
        ),
        Space(
            id="long-shed",
            start_c=1.5,
            volume_m3=1800,
            wall_w_k=350,
            air_kj_k=9500,
            floor_mj_k=28,
            floor_w_k=300,
            floor_m2=400,
            roof_m2=430,
            floor_damp=0.15,
            air_changes_h=0.5,
            door_changes_h=3.0,
            sun_m2=3.0,
            door_open=(_spell(local(16, 13), local(16, 18)),),
        ),
        Space(
            id="north-row",
            start_c=5.0,
            volume_m3=320,
            wall_w_k=420,
            air_kj_k=900,
            floor_mj_k=12,
            floor_w_k=35,
            floor_m2=140,
            roof_m2=220,
            floor_damp=0.35,
            air_changes_h=1.0,
            sun_m2=14.0,
            sky_share=0.06,
        ),
        Space(id="lee-rack", open_air=True, start_c=5.5, sky_share=0.15),
        Space(
            id="bench",
            within="stove-barn",
            start_c=8.0,
            volume_m3=30,
            wall_w_k=40,
            air_kj_k=300,
            floor_mj_k=1.5,
            floor_w_k=10,
            floor_m2=10,
            roof_m2=10,
            air_changes_h=2.0,
            heater_w=60,
            set_point_c=30.0,
        ),
    )


def _kind(liquid_kg: float, lag_h: float, metal_kj_k: float, **more: float | bool) -> Circuit:
    return Circuit(
        id="",
        liquid_kg=liquid_kg,
        lag_h=lag_h,
        metal_kj_k=metal_kj_k,
        **more,  # type: ignore[arg-type]
    )


# What a kind of circuit is like, whoever's craft it is in; `_holding` says what is in it.
_KINDS: dict[str, Circuit] = {
    "cylinder-passages": _kind(0.25, 1.2, 11.0),
    "exhaust-jacket": _kind(0.2, 0.8, 4.0),
    "water-box": _kind(1.0, 3.0, 1.5, diameter_m=0.12, fill=0.6, yields=True),
    "hoses": _kind(0.1, 0.7, 0.8, yields=True),
    "pump-housing": _kind(0.05, 1.3, 2.7, outside=True),
    "clean-out-tray": _kind(0.5, 2.0, 1.5, fill=0.5),
    "coolant": _kind(3.2, 3.0, 24.0, fill=0.95),
    "raw-side": _kind(0.4, 0.6, 3.0),
    "powerhead": _kind(0.05, 1.5, 14.0),
    "gearcase": _kind(0.12, 2.0, 5.0, outside=True),
    "propeller-hub": _kind(0.06, 1.6, 2.0, outside=True),
    "block": _kind(3.0, 9.0, 110.0),
    "manifolds": _kind(1.5, 2.0, 20.0),
    "raw-pump": _kind(0.5, 0.8, 1.5),
    "drive-passages": _kind(0.1, 3.0, 19.0, outside=True),
    "drive-lube": _kind(0.1, 3.0, 19.0, outside=True),
    "lift-muffler": _kind(5.0, 4.0, 5.0, diameter_m=0.2, fill=0.6, yields=True),
    "ballast-bags": _kind(6.0, 5.0, 1.0, fill=0.1, yields=True),
    "ballast-pumps": _kind(0.2, 0.8, 1.0),
    "shower": _kind(0.15, 0.8, 0.8, outside=True),
    "washdown-pump": _kind(0.2, 0.8, 0.8, outside=True),
    "taps": _kind(0.3, 0.8, 0.8, outside=True),
    "water-tank": _kind(12.0, 14.0, 8.0, diameter_m=0.35, fill=0.6, yields=True),
    "water-heater": _kind(8.0, 14.0, 6.0, diameter_m=0.3),
    "head-pump": _kind(0.6, 1.2, 2.0),
    "holding-tank": _kind(3.0, 2.5, 3.0, diameter_m=0.25, fill=0.5, yields=True),
}
_TWO_STROKE = ("cylinder-passages", "exhaust-jacket", "water-box", "hoses")
_STERNDRIVE = ("block", "manifolds", "raw-pump")


def _holding(kind: str, ice_point_c: float = 0.0, *, side: str = "") -> Circuit:
    """A circuit full of what ordinary draining leaves, as water or as a mix."""
    return replace(
        _KINDS[kind], id=f"{side}{kind}", glycol_mass_fraction=float(fraction_for(ice_point_c))
    )


def _all(kinds: Sequence[str], ice_point_c: float = 0.0, *, side: str = "") -> list[Circuit]:
    return [_holding(kind, ice_point_c, side=side) for kind in kinds]


def _dry(*kinds: str, side: str = "") -> list[Circuit]:
    """Circuits without water: drained, or their oil seen clear."""
    return [replace(_KINDS[kind], id=f"{side}{kind}", liquid_kg=0.0) for kind in kinds]


_BENCHED = Battery(capacity_ah=18.0, charge=1.0)
_HEAVY = {
    "compartment_lag_h": 3.0,
    "compartment_m3": 1.5,
    "engine_kj_k": 150.0,
    "engine_lag_h": 6.0,
    "engine_m2": 2.5,
}


def craft() -> tuple[Craft, ...]:
    """The twelve craft: water where it was really left.

    Names of craft and circuits are those of the demo's records, so that both can be compared.
    """

    def make(id_: str, name: str, space: str, *parts: Sequence[Circuit], **like: object) -> Craft:
        small = {"compartment_lag_h": 0.9, "engine_kj_k": 28.0, "engine_lag_h": 1.6}
        return Craft(
            id=id_,
            name=name,
            space=space,
            circuits=tuple(circuit for part in parts for circuit in part),
            **{**small, "battery": _BENCHED, **like},  # type: ignore[arg-type]
        )

    flat = Battery(capacity_ah=18.0, charge=0.012, aboard=True, lag_h=1.5, maintained=False)
    raw = ("raw-side", "water-box", "hoses")
    return (
        make("k1", "Teal", "long-shed", _all(_TWO_STROKE, -30), _dry("pump-housing")),
        # Poured into the head and nothing came out: the passage is blocked, water stands behind.
        make(
            "k2",
            "Plover",
            "long-shed",
            [_holding("cylinder-passages"), _holding("water-box", -12.5)],
            _dry("exhaust-jacket", "hoses", "pump-housing"),
        ),
        make(
            "k3",
            "Grebe",
            "north-row",
            [_holding("coolant", -37)],
            _all(raw, -5),
            _dry("pump-housing"),
        ),
        make(
            "k4",
            "Sora",
            "north-row",
            [_holding("coolant", -36)],
            _all(raw, -31),
            _dry("pump-housing"),
            battery=flat,
        ),
        make(
            "k5",
            "Pintail",
            "lee-rack",
            _all(_TWO_STROKE, -28, side="starboard-"),
            _all(_TWO_STROKE, side="port-"),
            _dry("pump-housing", side="starboard-"),
            _dry("pump-housing", side="port-"),
            _dry("clean-out-tray"),
        ),
        make("k6", "Coot", "lee-rack", _dry("powerhead", "gearcase", "propeller-hub")),
        # Milky gear oil is water; tilted, its hub gathered rain after it was drained.
        make("k7", "Dipper", "lee-rack", _dry("powerhead"), _all(("gearcase", "propeller-hub"))),
        # Pink at the exhaust of a cold engine: the thermostat kept it out of the block.
        make(
            "k8",
            "Heron",
            "long-shed",
            [_holding("block"), _holding("manifolds", -16), _holding("raw-pump", -20)],
            _dry("drive-passages", "drive-lube"),
            **_HEAVY,
        ),
        make(
            "k9",
            "Bittern",
            "north-row",
            [_holding("coolant", -37)],
            _all(("raw-side", "raw-pump", "lift-muffler"), -29),
            _all(("ballast-bags", "ballast-pumps"), -24),
            _all(("washdown-pump", "shower")),
            **_HEAVY,
        ),
        make("k10", "Loon", "stove-barn", _all(_TWO_STROKE), _dry("pump-housing")),
        make(
            "k11",
            "Osprey",
            "lee-rack",
            _all(_STERNDRIVE),
            _dry("drive-passages", "drive-lube"),
            _all(("water-tank", "water-heater", "taps", "head-pump", "holding-tank")),
            **_HEAVY,
        ),
        # Laid up well, then run on the hose on 9 November: water again.
        make("k12", "Killdeer", "north-row", _all(_TWO_STROKE), _dry("pump-housing")),
    )


def plan(seed: int = 14) -> YardPlan:
    """The yard as the simulation takes it."""
    return YardPlan(
        id="kettlemoss", zone=ZONE, spaces=spaces(), craft=craft(), weather=weather(seed)
    )


def sensors(simulation: Simulation) -> Sequence[SensorSpec]:
    """Every sensor of the yard, each with its own small faults."""

    def named(id_: str) -> tuple[str, str, str]:
        return id_, f"{BASE_NAME}{id_}:", f"{TOPIC}{id_}"

    def space(id_: str) -> int:
        return simulation.space_index(id_)

    silent = Outage(local(16, 1).timestamp(), local(16, 6, 30).timestamp())
    logged = Outage(local(14, 20).timestamp(), local(14, 21, 30).timestamp(), logged=True)
    found = [
        air_sensor(*named("stove-barn-corner"), space("stove-barn"), corner=0.12, delay_s=4),
        air_sensor(*named("stove-barn-centre"), space("stove-barn"), bias_c=0.2, delay_s=9),
        air_sensor(*named("long-shed-corner"), space("long-shed"), corner=0.06, delay_s=13,
                   bias_pct=1.0),
        air_sensor(*named("long-shed-centre"), space("long-shed"), bias_c=-0.1, delay_s=17,
                   outages=(silent,)),
        air_sensor(*named("north-row-bay"), space("north-row"), delay_s=21, bias_pct=-1.5,
                   outages=(logged,)),
        air_sensor(*named("lee-rack-screen"), space("lee-rack"), delay_s=25, clock_off_s=-40),
        metal_sensor(*named("lee-rack-metal"), space("lee-rack"), delay_s=27),
        air_sensor(*named("bench-air"), space("bench"), delay_s=30),
    ]  # fmt: skip
    owners = [simulation.fleet.craft[i] for i in simulation.battery_owner]
    for battery, owner in enumerate(owners):
        # K4's maintainer is dead: it says its voltage and no current, no mains.
        device = f"maintainer-k{int(owner.id[1:]):02d}"
        found.append(maintainer(*named(device), battery, delay_s=35 + battery))
    return found


def _oddities() -> list[Message]:
    """What a real wire carries besides readings."""
    stranger = b'[{"bn":"urn:dev:ops:kettlemoss-south-gate:","n":"temperature","u":"Cel","v":1.5}]'
    return [
        Message(local(13, 15, 7).timestamp(), f"{TOPIC}long-shed-corner", b"\x01\xfe temp=3,9;"),
        Message(local(13, 16, 22).timestamp(), f"{TOPIC}south-gate", stranger),
    ]


def scenario(seed: int = 14) -> Scenario:
    """The story, ready to be played; the seed changes the noise and the wobble of the weather."""
    return Scenario(plan(seed), START, END, sensors, extra=_oddities(), seed=seed)
