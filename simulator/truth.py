"""What really happened: kept while a simulation runs, written out as plain JSON afterwards."""

import json
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from simulator.battery import ice_share as battery_ice_share
from simulator.yard import Simulation

Array = NDArray[np.float64]

LOCK_UP = 1.0 / 3.0  # ice share at which slush no longer moves
_FULL = 1.0 / 1.0907  # a cavity fuller than this has no room for its own ice
_WET_G_M2, _DRY_G_M2 = 1.0, 0.5


def utc_text(at_s: float) -> str | None:
    """Write a Unix time as RFC 3339 in UTC; None for NaN."""
    if not np.isfinite(at_s):
        return None
    return datetime.fromtimestamp(at_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


_Spell = tuple[float, float | None, float, bool]  # from, to, extreme, was it cold


class _Night(NamedTuple):
    """Lows from noon to noon, named by the evening."""

    evening: str
    low_c: Array  # spaces
    low_at: Array  # spaces, Unix s
    circuit_low_c: Array


class _Firsts:
    """The first time that something became true, for each of many."""

    def __init__(self, count: int) -> None:
        self.at_s = np.full(count, np.nan)

    def note(self, now: NDArray[np.bool_], at_s: float) -> None:
        new = now & np.isnan(self.at_s)
        if new.any():
            self.at_s[new] = at_s


class _Spells:
    """From when to when something held, for each of many, with an extreme on the way."""

    def __init__(self, count: int) -> None:
        self.inside = np.zeros(count, dtype=bool)
        self._since = np.full(count, np.nan)
        self._peak = np.full(count, -np.inf)
        self._cold = np.zeros(count, dtype=bool)
        self._closed: list[list[_Spell]] = [[] for _ in range(count)]

    def note(
        self,
        begins: NDArray[np.bool_],
        ends: NDArray[np.bool_],
        measure: Array,
        cold: NDArray[np.bool_],
        at_s: float,
    ) -> None:
        for i in np.flatnonzero(begins & ~self.inside):
            self._since[i], self._peak[i], self._cold[i] = at_s, measure[i], False
        for i in np.flatnonzero(ends & self.inside):
            self._closed[i].append(self._spell(int(i), at_s))
        self.inside = (self.inside | begins) & ~ends
        self._peak = np.where(self.inside, np.maximum(self._peak, measure), self._peak)
        self._cold |= self.inside & cold

    def of(self, i: int) -> list[_Spell]:
        """Every spell of one; the last has an open end if it still holds."""
        still = [self._spell(i, None)] if self.inside[i] else []
        return self._closed[i] + still

    def _spell(self, i: int, at_s: float | None) -> _Spell:
        return self._since[i], at_s, float(self._peak[i]), bool(self._cold[i])


class Recorder:
    """Looks at a simulation at every sample and keeps the truth of each yard in it."""

    def __init__(self, simulation: Simulation) -> None:
        self._sim = simulation
        fleet = simulation.fleet
        circuits, craft = len(fleet.circuits), len(fleet.craft)
        self._start_s = simulation.now_s
        self._first_ice, self._third, self._through, self._damaged = (
            _Firsts(circuits) for _ in range(4)
        )
        self._lowest_c = np.full(circuits, np.inf)
        self._most_ice = np.zeros(circuits)
        self._metal_c = np.full(craft, np.inf)
        self._wet = _Spells(craft)
        self._below_zero = _Spells(simulation.spaces.count)
        batteries = len(simulation.battery_owner)
        self._battery_ice, self._battery_third = _Firsts(batteries), _Firsts(batteries)
        self._battery_c = np.full(batteries, np.inf)
        self._battery_charge = np.full(batteries, np.inf)
        self._ice = _Spells(circuits)
        self._nights: list[_Night] = []
        self._zone = ZoneInfo(simulation.plans[0].zone)
        self._evening: str | None = None
        self._night_began_s = np.inf
        self._low_c: Array = np.empty(0)
        self._low_at: Array = np.empty(0)
        self._circuit_low_c: Array = np.empty(0)
        self._until_s = -np.inf
        # Where ice pushes: closed, hard, over-full. Water breaks a casting when nearly all is ice,
        # an antifreeze mix when its slush locks.
        fraction = np.array([c.glycol_mass_fraction for c in fleet.circuits])
        self._is_wet = np.array([c.liquid_kg > 0 for c in fleet.circuits], dtype=bool)
        holds = np.array(
            [c.fill > _FULL and not c.yields and c.liquid_kg > 0 for c in fleet.circuits]
        )
        bursts = np.interp(fraction, [0.02, 0.10], [0.9, LOCK_UP])
        self._breaks_at = np.where(holds, bursts, np.inf)

    def note(self, at_s: float) -> None:
        """Take down the state of the simulation at a sample."""
        sim = self._sim
        fleet = sim.fleet
        share = fleet.liquids.ice_shares()
        self._first_ice.note((share > 0) & self._is_wet, at_s)
        self._third.note((share >= LOCK_UP) & self._is_wet, at_s)
        self._through.note((share >= 0.95) & self._is_wet, at_s)
        self._damaged.note(share >= self._breaks_at, at_s)
        circuit_c = sim.circuit_c
        np.minimum(self._lowest_c, circuit_c, out=self._lowest_c)
        self._ice.note((share > 0) & self._is_wet, share == 0, share, share > 0, at_s)
        np.maximum(self._most_ice, share, out=self._most_ice)
        metal_c = sim.engine_c
        np.minimum(self._metal_c, metal_c, out=self._metal_c)
        film = 1000.0 * fleet.film_kg / fleet.area_m2
        self._wet.note(film > _WET_G_M2, film < _DRY_G_M2, film, metal_c < 0.0, at_s)
        air = sim.air_c
        self._below_zero.note(air < 0.0, air > 0.2, -air, air < 0.0, at_s)
        if len(sim.battery_owner):
            battery_c = sim.battery_c
            ice = battery_ice_share(sim.bank.charge, battery_c)
            self._battery_ice.note(ice > 0, at_s)
            self._battery_third.note(ice >= LOCK_UP, at_s)
            np.minimum(self._battery_c, battery_c, out=self._battery_c)
            np.minimum(self._battery_charge, sim.bank.charge, out=self._battery_charge)
        if at_s >= self._until_s:
            self._turn_night(at_s)
        lower = air < self._low_c
        self._low_c = np.where(lower, air, self._low_c)
        self._low_at = np.where(lower, at_s, self._low_at)
        np.minimum(self._circuit_low_c, circuit_c, out=self._circuit_low_c)

    def _turn_night(self, at_s: float) -> None:
        """Close the night at noon and name the next one; yards of one batch share a zone."""
        if self._evening is not None:
            self._nights.append(self._night())
        local = datetime.fromtimestamp(at_s, self._zone)
        evening = local.date() if local.hour >= 12 else local.date() - timedelta(days=1)
        self._evening = evening.isoformat()
        self._night_began_s = at_s
        noon = datetime.combine(evening + timedelta(days=1), time(12), self._zone)
        self._until_s = noon.timestamp()
        self._low_c = np.full(self._sim.spaces.count, np.inf)
        self._low_at = np.full(self._sim.spaces.count, np.nan)
        self._circuit_low_c = np.full(len(self._sim.fleet.circuits), np.inf)

    def _night(self) -> _Night:
        return _Night(self._evening or "", self._low_c, self._low_at, self._circuit_low_c)

    def truth(self, yard: int = 0) -> dict[str, Any]:
        """What happened in one yard, as plain data for JSON.

        Times are RFC 3339 in UTC or null for "never"; keys carry their units. A circuit's
        ``night_lows_c`` go along ``evenings``: noon to noon of the yard's clock.
        """
        sim = self._sim
        plan = sim.plans[yard]
        # The night that still runs counts as far as it has come.
        running = sim.now_s > self._night_began_s
        nights = [*self._nights, self._night()] if running else self._nights
        spaces = [i for i in range(sim.spaces.count) if sim.yard_of_space[i] == yard]
        craft = [i for i in range(sim.fleet.settled) if sim.yard_of_craft[i] == yard]
        return {
            "yard": plan.id,
            "zone": plan.zone,
            "from": utc_text(self._start_s),
            "to": utc_text(sim.now_s),
            "evenings": [night.evening for night in nights],
            "spaces": [self._space(i, nights) for i in spaces],
            "craft": [self._craft(i, nights) for i in craft],
        }

    def _space(self, i: int, nights: list[_Night]) -> dict[str, Any]:
        space = self._sim.spaces.spaces[i]
        return {
            "space": space.id,
            "nights": [
                {
                    "evening": night.evening,
                    "low_c": round(float(night.low_c[i]), 2),
                    "low_at": utc_text(night.low_at[i]),
                }
                for night in nights
            ],
            "below_zero": [
                {"from": utc_text(a), "to": b and utc_text(b), "low_c": round(-peak, 2)}
                for a, b, peak, _ in self._below_zero.of(i)
            ],
            "heater_lost": [
                {"from": utc_text(a), "to": utc_text(b)} for a, b in space.heater_fails
            ],
            "door_open": [{"from": utc_text(a), "to": utc_text(b)} for a, b in space.door_open],
        }

    def _craft(self, i: int, nights: list[_Night]) -> dict[str, Any]:
        fleet = self._sim.fleet
        one = fleet.craft[i]
        real = self._sim.double_of.get(i, i)  # a moved craft's double went along
        rows = np.flatnonzero(fleet.owner == real)
        plan = self._sim.plans[int(self._sim.yard_of_craft[i])]
        stays = [stay for move in plan.moves if move.craft == one.id for stay in move.stays]
        found: dict[str, Any] = {
            "craft": one.id,
            "space": one.space,
            "moved": [{"space": stay.space, "since": utc_text(stay.since_s)} for stay in stays],
            "circuits": [self._circuit(int(row), nights) for row in rows],
            "metal": {
                "lowest_c": round(float(self._metal_c[real]), 2),
                "wet": [
                    {
                        "from": utc_text(a),
                        "to": b and utc_text(b),
                        "most_g_m2": round(peak, 1),
                        "frost": cold,
                    }
                    for a, b, peak, cold in self._wet.of(real)
                ],
            },
            "battery": None,
        }
        owned = np.flatnonzero(self._sim.battery_owner == i)
        if owned.size:
            row = int(owned[0])
            found["battery"] = {
                "aboard": self._sim.bank.batteries[row].aboard,
                "lowest_charge": round(float(self._battery_charge[row]), 3),
                "lowest_c": round(float(self._battery_c[row]), 2),
                "first_ice_at": utc_text(self._battery_ice.at_s[row]),
                "third_ice_at": utc_text(self._battery_third.at_s[row]),
            }
        return found

    def _circuit(self, row: int, nights: list[_Night]) -> dict[str, Any]:
        circuit = self._sim.fleet.circuits[row]
        return {
            "circuit": circuit.id,
            "liquid_kg": circuit.liquid_kg,
            "glycol_mass_fraction": circuit.glycol_mass_fraction,
            "ice": [
                {"from": utc_text(a), "to": b and utc_text(b), "most_share": round(peak, 3)}
                for a, b, peak, _ in self._ice.of(row)
            ],
            "night_lows_c": [round(float(night.circuit_low_c[row]), 2) for night in nights],
            "first_ice_at": utc_text(self._first_ice.at_s[row]),
            "third_ice_at": utc_text(self._third.at_s[row]),
            "frozen_through_at": utc_text(self._through.at_s[row]),
            "damaged_at": utc_text(self._damaged.at_s[row]),
            "lowest_c": round(float(self._lowest_c[row]), 2),
            "most_ice_share": round(float(self._most_ice[row]), 3) if self._is_wet[row] else 0.0,
        }


def write_truth(truth: dict[str, Any], path: Path) -> None:
    """Write a truth as JSON, readable by people."""
    path.write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
