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
        Mark(at=local(13, 23), air_c=2.5, rh_pct=80, cloud=1.0, wind_m_s=2.0),
        Mark(at=local(14, 3, 30), air_c=0.5, rh_pct=86, cloud=1.0, wind_m_s=1.5),
        Mark(at=local(14, 6, 30), air_c=-3.0, rh_pct=90, cloud=0.9, wind_m_s=1.0),
        Mark(at=local(14, 9), air_c=1.5, rh_pct=75, cloud=0.5, wind_m_s=3.0),
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
            start_c=4.0,
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


# What a kind of circuit is like, whoever's craft it is in; `_holding` says what is in it.
_KINDS: dict[str, Circuit] = {
    "cylinder-passages": Circuit(id="", liquid_kg=0.25, lag_h=1.2, metal_kj_k=11.0),
    "exhaust-manifold": Circuit(id="", liquid_kg=0.2, lag_h=0.8, metal_kj_k=4.0),
    "water-box": Circuit(
        id="", liquid_kg=1.0, lag_h=3.0, metal_kj_k=1.5, diameter_m=0.12, fill=0.6, yields=True
    ),
    "coolant-loop": Circuit(id="", liquid_kg=3.2, lag_h=3.0, metal_kj_k=24.0, fill=0.95),
    "raw-side": Circuit(id="", liquid_kg=0.4, lag_h=0.6, metal_kj_k=3.0),
    "powerhead": Circuit(id="", liquid_kg=0.05, lag_h=1.5, metal_kj_k=14.0),
    "gearcase": Circuit(id="", liquid_kg=0.12, lag_h=2.0, metal_kj_k=5.0, outside=True),
    "propeller-hub": Circuit(id="", liquid_kg=0.06, lag_h=1.6, metal_kj_k=2.0, outside=True),
    "block": Circuit(id="", liquid_kg=3.0, lag_h=9.0, metal_kj_k=110.0),
    "manifolds-and-risers": Circuit(id="", liquid_kg=1.5, lag_h=3.0, metal_kj_k=25.0),
    "ballast-pump": Circuit(id="", liquid_kg=0.05, lag_h=0.8, metal_kj_k=1.0, fill=0.2),
    "shower-pump": Circuit(id="", liquid_kg=0.15, lag_h=0.8, metal_kj_k=0.8, outside=True),
    "washdown-pump": Circuit(id="", liquid_kg=0.2, lag_h=0.8, metal_kj_k=0.8, outside=True),
    "fresh-water-fittings": Circuit(id="", liquid_kg=0.3, lag_h=0.8, metal_kj_k=0.8, outside=True),
}


def _holding(kind: str, ice_point_c: float = 0.0, *, side: str = "") -> Circuit:
    """A circuit full of what ordinary draining leaves, as water or as a mix."""
    return replace(
        _KINDS[kind], id=f"{side}{kind}", glycol_mass_fraction=float(fraction_for(ice_point_c))
    )


def _dry(kind: str) -> Circuit:
    return replace(_KINDS[kind], id=kind, liquid_kg=0.0)


_BENCHED = Battery(capacity_ah=18.0, charge=1.0)


def craft() -> tuple[Craft, ...]:
    """The twelve craft: water where it was really left."""
    hold, dry = _holding, _dry
    small = {"compartment_lag_h": 0.9, "engine_kj_k": 28.0, "engine_lag_h": 1.6}
    heavy = {
        "compartment_lag_h": 3.0, "compartment_m3": 1.5, "engine_kj_k": 150.0,
        "engine_lag_h": 6.0, "engine_m2": 2.5,
    }  # fmt: skip

    def make(id_: str, name: str, space: str, *circuits: Circuit, **like: object) -> Craft:
        like = {**small, "battery": _BENCHED, **like}
        return Craft(id=id_, name=name, space=space, circuits=circuits, **like)  # type: ignore[arg-type]

    return (
        make("K1", "Teal", "long-shed", hold("cylinder-passages", -30),
             hold("exhaust-manifold", -30), hold("water-box", -30)),
        # Poured into the head and nothing came out: the passage is blocked, water stands behind.
        make("K2", "Plover", "long-shed", hold("cylinder-passages"), hold("exhaust-manifold", -7),
             hold("water-box", -9)),
        make("K3", "Grebe", "north-row", hold("coolant-loop", -37), hold("raw-side", -5),
             hold("water-box", -5)),
        make("K4", "Sora", "north-row", hold("coolant-loop", -37), hold("raw-side", -30),
             hold("water-box", -30),
             battery=Battery(capacity_ah=18.0, charge=0.012, aboard=True, lag_h=1.5,
                             maintained=False)),
        make("K5", "Pintail", "lee-rack", hold("raw-side", -28, side="starboard-"),
             hold("water-box", -28, side="starboard-"), hold("raw-side", side="port-"),
             hold("water-box", side="port-")),
        make("K6", "Coot", "lee-rack", dry("powerhead"), dry("gearcase"), dry("propeller-hub")),
        make("K7", "Dipper", "lee-rack", dry("powerhead"), hold("gearcase"), hold("propeller-hub")),
        # Pink at the exhaust of a cold engine: the thermostat kept it out of the block.
        make("K8", "Heron", "long-shed", hold("block"), hold("manifolds-and-risers", -16), **heavy),
        make("K9", "Bittern", "north-row", hold("coolant-loop", -37), hold("raw-side", -29),
             hold("ballast-pump"), hold("shower-pump"), hold("washdown-pump"), **heavy),
        make("K10", "Loon", "stove-barn", hold("cylinder-passages"), hold("exhaust-manifold"),
             hold("water-box")),
        make("K11", "Osprey", "lee-rack", hold("block"), hold("manifolds-and-risers"),
             hold("fresh-water-fittings"), **heavy),
        # Laid up well, then run on the hose on 9 November: water again.
        make("K12", "Killdeer", "north-row", hold("cylinder-passages"), hold("exhaust-manifold"),
             hold("water-box")),
    )  # fmt: skip


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
