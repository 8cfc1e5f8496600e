"""Whole seeded winters of random yards, for scoring a judge against the truth.

A winter is a yard with spaces, craft, weather, people's mistakes and failures, and besides it the
shop's records as plain data: what was written down, which is not always what was done. A judge
gets the records and the readings; the truth is kept apart.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from simulator.building import Space
from simulator.craft import Craft
from simulator.hardship import hard_weather, spoil_sensors
from simulator.moves import on_record, one_move
from simulator.scenario import Scenario
from simulator.sensors import Outage, SensorSpec, air_sensor, maintainer, metal_sensor, trace
from simulator.truth import Recorder
from simulator.weather import Weather, synthetic
from simulator.workshop import Records, Rng, spells_between, stored_craft
from simulator.yard import Simulation, View, YardPlan

Array = NDArray[np.float64]

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
    *,
    moved: bool = True,
    hard: bool = False,
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
    moved : bool
        Whether a craft is moved on the way. What else happens is the same with and without.
    hard : bool
        With fronts, mild coasts and such sensors as yards have: see `simulator.hardship`.
    """
    if craft < 1:
        raise ValueError(f"winter: {craft} craft; there must be one at least")
    zone = ZoneInfo(ZONE)
    start = start or datetime(2025, 11, 1, 12, tzinfo=zone)
    end = end or datetime(2026, 3, 31, 12, tzinfo=zone)
    rng = np.random.default_rng([seed, 7])
    # Weather goes on a little after the end: the last steps look ahead.
    make_weather = hard_weather if hard else synthetic
    weather = weather or make_weather(seed, start, end + timedelta(days=1))
    spaces, space_records = _spaces(rng, start, end, weather)
    crafts, craft_records = stored_craft(rng, craft, start, end)
    name = f"yard-{seed}"
    own = np.random.default_rng([seed, 11])
    moves = one_move(own, craft_records, weather, start, end) if moved else ()
    plan = YardPlan(id=name, zone=ZONE, spaces=spaces, craft=crafts, weather=weather, moves=moves)
    sensor_records, faults = _sensors(rng, name, spaces, crafts, start, end)
    if hard:
        sensor_records = spoil_sensors(seed, sensor_records, faults, start, end)
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
        "moves": on_record(moves),
    }
    return Winter(seed=seed, plan=plan, records=records, start=start, end=end, faults=faults)


def live(winters: Sequence[Winter], step_s: float = 60.0) -> list[Lived]:
    """Simulate winters of the same dates together; each gets its truth and its readings.

    Together they cost much less than one after another: each step's work is shared. Memory
    holds every reading: some 25 MB for a winter of 40 craft, so eight or so make a good batch.
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
        heater_fails=spells_between(rng, start, end, int(rng.integers(0, 4)), (3.0, 40.0)),
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
        spells = spells_between(rng, start, end, int(rng.poisson(0.7)), (0.5, 30.0))
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
            where = one.space if one.battery.aboard else "bench"
            labels = ("voltage", "current", "mains")
            add(f"maintainer-{one.id.lower()}", where, "battery", labels, one.id)
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
