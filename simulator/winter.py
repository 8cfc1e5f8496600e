"""Whole seeded winters of random yards, for scoring a judge against the truth.

A winter is a yard with spaces, craft, weather, people's mistakes and failures, and besides it the
shop's records as plain data: what was written down, which is not always what was done. A judge
gets the records and the readings; the truth is kept apart.

The records never state evidence for work that was not done: `proven` is true within the error of
the instrument. What was said but not shown, or not written at all, may be water or may be fine.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from simulator.antifreeze import fraction_for, ice_point
from simulator.battery import Battery, rested_voltage
from simulator.building import Space
from simulator.craft import Circuit, Craft
from simulator.kinds import KINDS, CircuitKind, CraftKind
from simulator.scenario import Scenario
from simulator.sensors import Outage, SensorSpec, air_sensor, maintainer, metal_sensor, trace
from simulator.truth import Recorder
from simulator.weather import Weather, synthetic
from simulator.yard import Simulation, View, YardPlan

Array = NDArray[np.float64]
Records = dict[str, Any]
Rng = np.random.Generator

ZONE = "America/Chicago"
LATITUDE, LONGITUDE = 44.5, -88.0
SAMPLE_S = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Winter:
    """One random winter: what is, and what the shop wrote down about it."""

    seed: int
    plan: YardPlan
    records: Records
    start: datetime
    end: datetime
    faults: dict[str, dict[str, Any]] = field(default_factory=dict)  # by sensor


@dataclass(frozen=True, slots=True, kw_only=True)
class Lived:
    """A winter after it was simulated."""

    truth: dict[str, Any]
    readings: dict[str, tuple[Array, dict[str, Array]]]  # base name -> times, values by label


def make(
    seed: int,
    craft: int = 40,
    start: datetime | None = None,
    end: datetime | None = None,
    weather: Weather | None = None,
) -> Winter:
    """Make up a winter; the same seed makes the same one.

    Parameters
    ----------
    seed : int
    craft : int
        How many craft, at least 1.
    start, end : aware datetime, optional
        Noon of 1 November to noon of 31 March by default.
    weather : Weather, optional
        Instead of a synthetic one: see `simulator.weather.from_hourly_file`.
    """
    if craft < 1:
        raise ValueError(f"winter: {craft} craft; there must be one at least")
    zone = ZoneInfo(ZONE)
    start = start or datetime(2025, 11, 1, 12, tzinfo=zone)
    end = end or datetime(2026, 3, 31, 12, tzinfo=zone)
    rng = np.random.default_rng([seed, 7])
    # Weather goes on a little after the end: the last steps look ahead.
    weather = weather or synthetic(seed, start, end + timedelta(days=1))
    spaces, space_records = _spaces(rng, start, end, weather)
    crafts, craft_records = _crafts(rng, craft, spaces, start, end)
    name = f"yard-{seed}"
    plan = YardPlan(id=name, zone=ZONE, spaces=spaces, craft=crafts, weather=weather)
    sensor_records, faults = _sensors(rng, name, spaces, crafts, start, end)
    records: Records = {
        "yard": {
            "id": name,
            "name": f"Yard {seed}",
            "zone": ZONE,
            "latitude": LATITUDE,
            "longitude": LONGITUDE,
        },
        "spaces": space_records,
        "sensors": sensor_records,
        "craft": craft_records,
    }
    return Winter(seed=seed, plan=plan, records=records, start=start, end=end, faults=faults)


def live(winters: Sequence[Winter], step_s: float = 60.0) -> list[Lived]:
    """Simulate winters of the same dates together; each gets its truth and its readings.

    Together they cost much less than one after another: each step's work is shared.
    """
    first = winters[0]
    if any((one.start, one.end) != (first.start, first.end) for one in winters):
        raise ValueError("winters that are lived together must have the same start and end")
    start_s, end_s = first.start.timestamp(), first.end.timestamp()
    plans = [one.plan for one in winters]
    simulation = Simulation(plans, start_s, end_s, step_s=step_s, sample_s=SAMPLE_S)
    recorder = Recorder(simulation)
    at = start_s + SAMPLE_S * np.arange(round((end_s - start_s) / SAMPLE_S) + 1)
    kept: dict[str, NDArray[np.float32]] = {}
    for moment, at_s in enumerate(simulation.samples()):
        recorder.note(at_s)
        view = simulation.view()
        for name in View.__slots__:
            now = getattr(view, name)
            if moment == 0:
                kept[name] = np.empty((len(at), len(now)), dtype=np.float32)
            kept[name][moment] = now
    history = View(**kept)  # type: ignore[arg-type]
    lived = []
    for yard, winter in enumerate(winters):
        readings = {}
        for spec in _specs(winter, simulation, yard):
            stamps, values = trace(spec, history, at, winter.seed)
            labels = [channel.label for channel in spec.channels]
            readings[spec.base_name.rstrip(":")] = stamps, dict(zip(labels, values, strict=True))
        lived.append(Lived(truth=recorder.truth(yard), readings=readings))
    return lived


def scenario(winter: Winter) -> Scenario:
    """The same winter as a stream of packs, for a broker or a file."""
    return Scenario(
        winter.plan,
        winter.start,
        winter.end,
        lambda simulation: _specs(winter, simulation, 0),
        seed=winter.seed,
        sample_s=SAMPLE_S,
    )


def write_records(winter: Winter, path: Path) -> None:
    """Write the shop's records as JSON."""
    path.write_text(json.dumps(winter.records, indent=1) + "\n", encoding="utf-8")


def _span(rng: Rng, limits: tuple[float, float]) -> float:
    """A figure within limits, as many below the geometric middle as above."""
    low, high = np.log(limits[0]), np.log(limits[1])
    return float(np.exp(rng.uniform(low, high)))


def _moments(
    rng: Rng, start: datetime, end: datetime, count: int, hours: tuple[float, float]
) -> tuple[tuple[float, float], ...]:
    """Some spells that do not touch, in order."""
    spells: list[tuple[float, float]] = []
    for begin in np.sort(rng.uniform(start.timestamp(), end.timestamp(), count)):
        length = _span(rng, hours) * 3600.0
        if not spells or begin > spells[-1][1] + 86400.0:
            spells.append((float(begin), float(begin + length)))
    return tuple(spells)


def _doors(
    rng: Rng, start: datetime, end: datetime, weather: Weather
) -> tuple[tuple[float, float], ...]:
    """Doors opened by day for work; left open now and then, gladly on mild days."""
    spells = []
    day = start.replace(hour=9, minute=0)
    while day < end:
        begin = day.timestamp() + float(rng.uniform(0.0, 7.0)) * 3600.0
        mild = float(np.interp(begin, weather.at_s, weather.air_c)) > 4.0
        if rng.random() < (0.25 if mild else 0.01):
            spells.append((begin, begin + float(rng.uniform(2.0, 8.0)) * 3600.0))
        elif rng.random() < 0.4:
            spells.append((begin, begin + float(rng.uniform(0.1, 0.5)) * 3600.0))
        day += timedelta(days=1)
    return tuple(spells)


def _spaces(
    rng: Rng, start: datetime, end: datetime, weather: Weather
) -> tuple[tuple[Space, ...], list[Records]]:
    def around(value: float, share: float = 0.25) -> float:
        return value * float(rng.uniform(1.0 - share, 1.0 + share))

    shop = Space(
        id="shop",
        start_c=8.0,
        volume_m3=around(900),
        wall_w_k=around(260),
        air_kj_k=around(9000),
        floor_mj_k=around(30),
        floor_w_k=around(500),
        floor_m2=220,
        roof_m2=230,
        floor_damp=0.05,
        heater_w=around(22000, 0.15),
        set_point_c=float(rng.uniform(6.0, 10.0)),
        heater_fails=_moments(rng, start, end, int(rng.integers(0, 4)), (3.0, 40.0)),
        air_changes_h=around(0.4),
        door_changes_h=2.5,
        door_open=_doors(rng, start, end, weather),
    )
    sheds = [
        Space(
            id=name,
            start_c=6.0,
            volume_m3=around(1600),
            wall_w_k=around(360),
            air_kj_k=around(9500, 0.35),
            floor_mj_k=around(28),
            floor_w_k=around(300),
            floor_m2=380,
            roof_m2=400,
            floor_damp=float(rng.uniform(0.05, 0.3)),
            air_changes_h=around(0.6),
            door_changes_h=3.0,
            door_open=_doors(rng, start, end, weather),
            sun_m2=3.0,
        )
        for name in ("long-shed", "far-shed")
    ]
    row = Space(
        id="row",
        start_c=6.0,
        volume_m3=320,
        wall_w_k=around(420),
        air_kj_k=around(900),
        floor_mj_k=12,
        floor_w_k=around(35),
        floor_m2=140,
        roof_m2=220,
        floor_damp=0.35,
        air_changes_h=around(1.0),
        sun_m2=around(12.0),
        sky_share=0.06,
    )
    rack = Space(id="rack", open_air=True, start_c=6.0, sky_share=float(rng.uniform(0.1, 0.18)))
    bench = Space(
        id="bench",
        within="shop",
        start_c=8.0,
        volume_m3=30,
        wall_w_k=40,
        air_kj_k=300,
        floor_mj_k=1.5,
        floor_w_k=10,
        floor_m2=10,
        roof_m2=10,
        air_changes_h=2.0,
    )
    kinds = {"shop": "heated", "row": "wrapped", "rack": "open", "bench": "bench"}
    spaces = (shop, *sheds, row, rack, bench)
    records = [
        {
            "space": space.id,
            "kind": kinds.get(space.id, "cold"),
            "set_point_c": round(space.set_point_c, 1) if space.heater_w else None,
        }
        for space in spaces
    ]
    return spaces, records


def _crafts(
    rng: Rng, count: int, spaces: tuple[Space, ...], start: datetime, end: datetime
) -> tuple[tuple[Craft, ...], list[Records]]:
    shares = np.array([kind.share for kind in KINDS])
    places = ["shop", "long-shed", "far-shed", "row", "rack"]
    del spaces
    crafts, records = [], []
    for number in range(1, count + 1):
        kind = KINDS[int(rng.choice(len(KINDS), p=shares / shares.sum()))]
        place = str(rng.choice(places, p=[0.2, 0.25, 0.2, 0.2, 0.15]))
        craft, record = _one_craft(rng, f"C{number:02d}", kind, place, start, end)
        crafts.append(craft)
        records.append(record)
    return tuple(crafts), records


def _one_craft(
    rng: Rng, id_: str, kind: CraftKind, place: str, start: datetime, end: datetime
) -> tuple[Craft, Records]:
    lags = {circuit.id: _span(rng, circuit.lag_h) for circuit in kind.circuits}
    engine_lag_h = _span(rng, kind.engine_lag_h)
    inner = [lags[c.id] for c in kind.circuits if not c.outside]
    compartment_lag_h = 0.4 * min([engine_lag_h, *inner])
    careless = rng.random() < 0.15  # a craft whose whole lay-up is in doubt
    circuits, circuit_records = [], []
    for circuit in kind.circuits:
        lag_h = lags[circuit.id] - (0.0 if circuit.outside else compartment_lag_h)
        inside, record = _lay_up(rng, circuit, lag_h, place, careless)
        circuits.append(inside)
        circuit_records.append(record)
    battery, battery_record = _battery(rng, kind, place, start, end)
    craft = Craft(
        id=id_,
        name=id_,
        space=place,
        circuits=tuple(circuits),
        compartment_lag_h=compartment_lag_h,
        compartment_m3=0.4 if kind.engine_kj_k < 100 else 1.5,
        air_changes_h=_span(rng, (1.0, 6.0)),
        engine_kj_k=kind.engine_kj_k,
        engine_lag_h=engine_lag_h - compartment_lag_h,
        engine_m2=kind.engine_m2,
        battery=battery,
    )
    record = {
        "craft": id_,
        "kind": kind.id,
        "space": place,
        "circuits": circuit_records,
        "surfaces": [
            {
                "surface": "engine",
                "lag_low_h": kind.engine_lag_h[0],
                "lag_high_h": kind.engine_lag_h[1],
                "length_m": 0.4,
            }
        ],
        "battery": battery_record,
    }
    return craft, record


# What was done and how it was written down: share, state and basis on record.
_WORK = (
    ("measured", 0.55),
    ("drained", 0.16),
    ("computed", 0.07),
    ("said", 0.08),
    ("blank", 0.06),
    ("undone", 0.04),
    ("label", 0.04),
)
_DOUBTFUL = (("said", 0.5), ("blank", 0.3), ("undone", 0.2))


def _lay_up(
    rng: Rng, kind: CircuitKind, lag_h: float, place: str, careless: bool
) -> tuple[Circuit, Records]:
    works = _DOUBTFUL if careless else _WORK
    shares = np.array([share for _, share in works])
    work = works[int(rng.choice(len(works), p=shares / shares.sum()))][0]
    if kind.coolant:
        work = "measured"
    elif work == "measured" and place == "shop" and rng.random() < 0.35:
        work = "heat"
    volume_l = _span(rng, kind.volume_l)
    water = {"state": "unknown", "basis": "unknown", "ice_point_c": 0.0, "burst_point_c": 0.0}
    fraction, liquid_kg, fill = 0.0, volume_l, 1.0
    if work == "measured":
        true_c = float(rng.uniform(-38.0, -28.0) if kind.coolant else rng.uniform(-35.0, -11.0))
        fraction = float(fraction_for(true_c))
        read_c = min(true_c + float(rng.normal(0.0, 0.8)), -1.0)
        # A reading is good to 2 K, so a careful shop writes the warmer end.
        stated = round(min(read_c + 1.0, -0.5), 1)
        record = _proven("measured with a refractometer", stated)
    elif work == "drained":
        liquid_kg, fill = 0.0, 0.0
        if rng.random() < 0.1:
            liquid_kg, fill = 0.2 * volume_l, 0.2  # a puddle that has room to freeze
        record = {
            **_proven("drained and seen dry", 0.0),
            "ice_point_c": None,
            "burst_point_c": None,
        }
    elif work == "computed":
        poured = float(rng.uniform(0.6, 2.0)) * volume_l
        strength = float(rng.choice([0.30, 0.35, 0.50]))
        mixed = strength * poured / (poured + volume_l)
        fraction = mixed * float(rng.uniform(0.92, 1.05))
        record = _proven("computed from the mix", round(float(ice_point(mixed)), 1))
    elif work == "label":
        fraction = float(rng.uniform(0.10, 0.26))
        record = {**water, "state": "unproven", "basis": "none"}
    elif work == "said":
        fraction = float(rng.choice([0.0, rng.uniform(0.05, 0.4)]))
        record = {**water, "state": "unproven", "basis": "none"}
    elif work == "heat":
        record = {**water, "state": "heat-only", "basis": "none"}
    elif work == "undone":
        record = {**water, "state": "void", "basis": "none"}
    else:
        fraction = float(rng.choice([0.0, 0.0, 0.0, rng.uniform(0.1, 0.4)]))
        record = water
    circuit = Circuit(
        id=kind.id,
        liquid_kg=liquid_kg,
        lag_h=lag_h,
        metal_kj_k=kind.metal_kj_k,
        glycol_mass_fraction=fraction,
        fill=0.95 if kind.coolant else fill,
        outside=kind.outside,
        diameter_m=kind.diameter_m,
        supercooling_k=float(rng.exponential(0.4)),
        yields=kind.yields,
    )
    nominal_l = float(np.sqrt(kind.volume_l[0] * kind.volume_l[1]))
    return circuit, {
        "circuit": kind.id,
        "volume_l": round(nominal_l, 3),
        "lag_low_h": kind.lag_h[0],
        "lag_high_h": kind.lag_h[1],
        "heat_capacity_kj_k": round(kind.metal_kj_k + 4.19 * nominal_l, 2),
        "material": kind.material,
        "drainage": kind.drainage,
        **record,
    }


def _proven(basis: str, ice_point_c: float) -> Records:
    return {
        "state": "proven",
        "basis": basis,
        "ice_point_c": ice_point_c,
        "burst_point_c": ice_point_c,
    }


def _battery(
    rng: Rng, kind: CraftKind, place: str, start: datetime, end: datetime
) -> tuple[Battery, Records]:
    aboard = rng.random() < 0.3
    maintained = not aboard or rng.random() < 0.4
    charge = 1.0 if maintained else float(rng.beta(4.0, 1.8))
    lag_range = (1.5, 3.0) if kind.battery_ah < 50 else (4.0, 8.0)
    lost = _moments(rng, start, end, int(rng.random() < 0.1), (24.0, 1000.0)) if maintained else ()
    battery = Battery(
        capacity_ah=kind.battery_ah,
        charge=charge,
        aboard=aboard,
        lag_h=_span(rng, lag_range) * (0.6 if aboard else 1.0),
        heat_kj_k=0.33 * kind.battery_ah,
        loss_month=float(rng.uniform(0.03, 0.12)),
        parasitic_a=float(rng.choice([0.0, 0.0, rng.uniform(0.002, 0.02)])) if aboard else 0.0,
        maintained=maintained,
        mains_lost=lost,
        tells=maintained,
    )
    return battery, {
        "chemistry": "flooded",
        "capacity_ah": kind.battery_ah,
        "lag_low_h": lag_range[0],
        "lag_high_h": lag_range[1],
        "place": "aboard" if aboard else "bench",
        "space": place if aboard else "bench",
        "maintained": maintained,
        "rested_v": round(float(rested_voltage(charge)) + float(rng.normal(0, 0.02)), 2),
        "rested_at": start.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
    }


def _sensors(
    rng: Rng,
    yard: str,
    spaces: tuple[Space, ...],
    crafts: tuple[Craft, ...],
    start: datetime,
    end: datetime,
) -> tuple[list[Records], dict[str, dict[str, Any]]]:
    """The sensor list on record, and what is wrong with each."""
    records: list[Records] = []
    faults: dict[str, dict[str, Any]] = {}

    def add(id_: str, space: str, mount: str, labels: tuple[str, ...], craft: str | None) -> None:
        records.append(
            {
                "sensor": f"urn:dev:ops:{yard}-{id_}",
                "space": space,
                "mount": mount,
                "craft": craft,
                "labels": list(labels),
                "interval_s": SAMPLE_S,
            }
        )
        spells = _moments(rng, start, end, int(rng.poisson(0.7)), (0.5, 30.0))
        faults[id_] = {
            "lost_share": float(rng.choice([0.0, 0.002, 0.02])),
            "clock_off_s": float(rng.choice([0.0, 0.0, 0.0, rng.normal(0.0, 60.0)])),
            "delay_s": float(rng.uniform(0.0, 60.0)),
            "outages": tuple(Outage(*spell, logged=rng.random() < 0.5) for spell in spells),
        }

    air = ("temperature", "humidity")
    for space in spaces:
        spots = ("corner", "centre") if not space.open_air and not space.within else ("air",)
        for spot in ("bay",) if space.id == "row" else spots:
            id_ = f"{space.id}-{spot}"
            add(id_, space.id, "air", air, None)
            faults[id_] |= {
                "bias_c": float(rng.normal(0.0, 0.2)),
                "bias_pct": float(rng.normal(0.0, 1.5)),
                "drift_pct_day": float(rng.normal(0.0, 0.01)),
                "corner": float(rng.uniform(0.04, 0.14)) if spot == "corner" else 0.0,
            }
    add("rack-metal", "rack", "surface", ("temperature",), None)
    for one in crafts:
        if one.battery is not None and one.battery.tells:
            space = one.space if one.battery.aboard else "bench"
            labels = ("voltage", "current", "mains")
            add(f"maintainer-{one.id.lower()}", space, "battery", labels, one.id)
    return records, faults


def _specs(winter: Winter, simulation: Simulation, yard: int) -> list[SensorSpec]:
    """The sensors of one yard of a simulation."""
    rows = {
        simulation.fleet.craft[owner].id: row
        for row, owner in enumerate(simulation.battery_owner)
        if simulation.yard_of_craft[owner] == yard
    }
    name = winter.plan.id
    specs = []
    for record in winter.records["sensors"]:
        id_ = record["sensor"].removeprefix(f"urn:dev:ops:{name}-")
        base, topic, ways = f"{record['sensor']}:", f"{name}/readings/{id_}", winter.faults[id_]
        if record["mount"] == "battery":
            specs.append(maintainer(id_, base, topic, rows[record["craft"]], **ways))
            continue
        space = simulation.space_index(record["space"], yard)
        make_sensor = metal_sensor if record["mount"] == "surface" else air_sensor
        specs.append(make_sensor(id_, base, topic, space, **ways))
    return specs
