"""The workshop of a random yard: what was done to each craft, and what was written down.

The records never state evidence for work that was not done: `proven` is true within the error of
the instrument. What was said but not shown, or not written at all, may be water or may be fine.
"""

from datetime import UTC, datetime
from typing import Any

import numpy as np

from simulator.antifreeze import fraction_for, ice_point
from simulator.battery import Battery, rested_voltage
from simulator.craft import Circuit, Craft
from simulator.kinds import KINDS, CircuitKind, CraftKind

Records = dict[str, Any]
Rng = np.random.Generator


def span(rng: Rng, limits: tuple[float, float]) -> float:
    """A figure within limits, as many below the geometric middle as above."""
    low, high = np.log(limits[0]), np.log(limits[1])
    return float(np.exp(rng.uniform(low, high)))


def spells_between(
    rng: Rng, start: datetime, end: datetime, count: int, hours: tuple[float, float]
) -> tuple[tuple[float, float], ...]:
    """Some spells that do not touch, in order."""
    spells: list[tuple[float, float]] = []
    for begin in np.sort(rng.uniform(start.timestamp(), end.timestamp(), count)):
        length = span(rng, hours) * 3600.0
        if not spells or begin > spells[-1][1] + 86400.0:
            spells.append((float(begin), float(begin + length)))
    return tuple(spells)


def stored_craft(
    rng: Rng, count: int, start: datetime, end: datetime
) -> tuple[tuple[Craft, ...], list[Records]]:
    """Craft as they really are, and the records that the shop keeps of them."""
    shares = np.array([kind.share for kind in KINDS])
    places = ["shop", "long-shed", "far-shed", "row", "rack"]
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
    lags = {circuit.id: span(rng, circuit.lag_h) for circuit in kind.circuits}
    engine_lag_h = span(rng, kind.engine_lag_h)
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
        air_changes_h=span(rng, (1.0, 6.0)),
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
    volume_l = span(rng, kind.volume_l)
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
    lost = (
        spells_between(rng, start, end, int(rng.random() < 0.1), (24.0, 1000.0))
        if maintained
        else ()
    )
    battery = Battery(
        capacity_ah=kind.battery_ah,
        charge=charge,
        aboard=aboard,
        lag_h=span(rng, lag_range) * (0.6 if aboard else 1.0),
        heat_kj_k=0.33 * kind.battery_ah,
        loss_month=float(rng.uniform(0.03, 0.12)),
        parasitic_a=float(rng.choice([0.0, 0.0, rng.uniform(0.002, 0.02)])) if aboard else 0.0,
        maintained=maintained,
        mains_lost=lost,
        tells=maintained,
    )
    # Where nothing draws, about half of the shops took the lead off and noted it. No draw of the
    # generator: winters stay what they were.
    idle = aboard and not maintained and not battery.parasitic_a
    return battery, {
        "chemistry": "flooded",
        "capacity_ah": kind.battery_ah,
        "lag_low_h": lag_range[0],
        "lag_high_h": lag_range[1],
        "place": "aboard" if aboard else "bench",
        "space": place if aboard else "bench",
        "maintained": maintained,
        "disconnected": idle and int(battery.lag_h * 1000.0) % 2 == 0,
        "rested_v": round(float(rested_voltage(charge)) + float(rng.normal(0, 0.02)), 2),
        "rested_at": start.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
    }
