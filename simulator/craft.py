"""Craft in the cold: a compartment's air, the engine's metal, circuits that freeze, a wet film.

The compartment stands between the space's air and everything in it, so the engine lags twice.
Circuits outside the compartment (pump, hub, fittings) feel the space's air themselves. Under an
open sky, cover and outside parts see the sky as well as the air.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.air import CONDENSATION_HEAT, surface_density
from simulator.battery import Battery
from simulator.building import Space, Spaces
from simulator.ice import LIQUID_J_KG_K, Liquids, layer_resistance
from simulator.network import Plan

Array = NDArray[np.float64]

_FILM_COEFFICIENT = 0.0026  # m/s, vapour to metal in still air
_SUN_K_M2_W = 0.012  # sun warms a cover above the air by so much for each W/m2: half shaded
_FILM_LIMIT_KG_M2 = 0.1  # more than this runs off


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """What really is in one water-bearing volume of a craft."""

    id: str
    liquid_kg: float  # 0: dry
    lag_h: float  # of the circuit behind what surrounds it
    metal_kj_k: float
    glycol_mass_fraction: float = 0.0
    fill: float = 1.0  # share of the cavity that the liquid takes; over 0.917 ice has no room
    outside: bool = False  # of the compartment
    diameter_m: float = 0.0  # of a round wall that ice grows in from; 0: ice spreads through
    supercooling_k: float = 0.3
    yields: bool = False  # soft walls or air above: takes up the growth of the ice


@dataclass(frozen=True, slots=True, kw_only=True)
class Craft:
    """One craft as it really is. A circuit with a lag of h lags its compartment by that much."""

    id: str
    name: str
    space: str
    circuits: tuple[Circuit, ...]
    compartment_lag_h: float = 1.0  # with all that is in it
    compartment_m3: float = 0.4
    air_changes_h: float = 3.0  # compartment with its space
    engine_kj_k: float = 30.0
    engine_lag_h: float = 2.0  # behind the compartment
    engine_m2: float = 1.0  # bare metal that can sweat
    battery: Battery | None = None


class Fleet:
    """All craft of a yard, or of several yards, as nodes of the one network."""

    def __init__(
        self,
        craft: Sequence[Craft],
        space_of: Sequence[int],
        yard_of: Sequence[int],
        spaces: Spaces,
        sky_of: Sequence[int],
        plan: Plan,
        doubles: int = 0,
    ) -> None:
        """Draw all craft; the last ``doubles`` of them go from space to space: see `moves`."""
        self.craft = tuple(craft)
        self.settled = len(self.craft) - doubles
        surroundings: list[int] = []  # of each double: air and sky of where it stands, as one
        self.space_of = np.array(space_of, dtype=np.intp)
        self._spaces = spaces
        owner: list[int] = []
        around: list[int] = []
        wall_w_k: list[float] = []
        nodes: list[int] = []
        compartments: list[int] = []
        engines: list[int] = []
        circuits: list[Circuit] = []
        start = []
        for i, one in enumerate(self.craft):
            space = spaces.spaces[self.space_of[i]]
            air = int(spaces.air[self.space_of[i]])
            if i >= self.settled:
                air = plan.boundary(space.start_c)
                surroundings.append(air)
            inner = [circuit for circuit in one.circuits if not circuit.outside]
            load = one.engine_kj_k + sum(_heat_capacity(circuit) for circuit in inner)
            light = max(6.0, 0.25 * load)
            compartment = plan.node(light * 1e3, space.start_c)
            wall = (load + light) / one.compartment_lag_h / 3.6
            if i < self.settled:
                to_air_and_sky(plan, compartment, air, sky_of[i], wall, space, yard_of[i])
            else:
                plan.connect(compartment, air, wall)
            engine = plan.node(one.engine_kj_k * 1e3, space.start_c)
            plan.connect(compartment, engine, one.engine_kj_k / one.engine_lag_h / 3.6)
            compartments.append(compartment)
            engines.append(engine)
            for circuit in one.circuits:
                capacity = _heat_capacity(circuit)
                node = plan.node(capacity * 1e3, space.start_c)
                conductance = capacity / circuit.lag_h / 3.6
                if not circuit.outside:
                    plan.connect(node, compartment, conductance)
                elif i < self.settled:
                    to_air_and_sky(plan, node, air, sky_of[i], conductance, space, yard_of[i])
                else:
                    plan.connect(node, air, conductance)
                owner.append(i)
                around.append(air if circuit.outside else compartment)
                wall_w_k.append(conductance)
                nodes.append(node)
                circuits.append(circuit)
                start.append(space.start_c)
        self.circuits = tuple(circuits)
        self.owner = np.array(owner, dtype=np.intp)
        self.node = np.array(nodes, dtype=np.intp)
        self.compartment = np.array(compartments, dtype=np.intp)
        self._surroundings = np.array(surroundings, dtype=np.intp)
        self.engine = np.array(engines, dtype=np.intp)
        self._around = np.array(around, dtype=np.intp)
        self._wall_w_k = np.array(wall_w_k)
        self._diameter_m = np.array([circuit.diameter_m for circuit in circuits])
        self.liquids = Liquids(
            np.array([circuit.metal_kj_k * 1e3 for circuit in circuits]),
            np.array([max(circuit.liquid_kg, 1e-4) for circuit in circuits]),
            np.array([circuit.glycol_mass_fraction for circuit in circuits]),
            np.array(start),
            np.array([circuit.supercooling_k for circuit in circuits]),
        )
        # Wall area from the mass: a round body of that diameter has 4 m / (density D) of wall.
        diameter = np.maximum(self._diameter_m, 1e-3)
        self._wall_m2 = 4.0 * self.liquids.mass_kg / (1000.0 * diameter)
        self._layered = (self._diameter_m > 0) & self.liquids.pure
        self.film_kg = np.zeros(len(self.craft))
        self.ran_off_kg = np.zeros(len(self.craft))
        self.area_m2 = np.array([one.engine_m2 for one in self.craft])
        self.volume_m3 = np.array([one.compartment_m3 for one in self.craft])
        self._change_s = np.array([one.air_changes_h / 3600.0 for one in self.craft])
        self._rate = _FILM_COEFFICIENT * self.area_m2 / self.volume_m3
        self.vapour = np.zeros(len(self.craft))

    def settle_vapour(self) -> None:
        """Start every compartment with its space's air."""
        self.vapour = self._spaces.vapour[self.space_of].copy()

    def surround(self, temp_c: Array, sky_c: Array, sun_w_m2: Array) -> None:
        """Set what each double feels: the sol-air temperature of where it stands now.

        Parameters
        ----------
        temp_c : ndarray (nodes,)
            Changed where the doubles' surroundings stand.
        sky_c, sun_w_m2 : ndarray (doubles,)
            Of the yard of each.
        """
        space = self.space_of[self.settled :]
        air_c, share = temp_c[self._spaces.air[space]], self._spaces.sky_share[space]
        sun_k = _SUN_K_M2_W * sun_w_m2 * self._spaces.open_air[space]
        temp_c[self._surroundings] = air_c + share * (sky_c - air_c) + sun_k

    def insulate_with_ice(self, flows_w: Array, temp_c: Array) -> None:
        """Slow the flows of circuits in which ice has grown from the wall; changes `flows_w`."""
        rows = np.flatnonzero(self.liquids.icing & self._layered)
        if not rows.size:
            return
        share = self.liquids.ice_share_of(rows)
        ice = layer_resistance(share, self._wall_m2[rows], self._diameter_m[rows])
        node, around, wall = self.node[rows], self._around[rows], self._wall_w_k[rows]
        held = wall * (temp_c[around] - temp_c[node]) * (1.0 - 1.0 / (1.0 + wall * ice))
        flows_w[node] -= held
        np.add.at(flows_w, around, held)

    def sweat(self, temp_c: Array, step_s: float) -> tuple[Array, Array]:
        """Move moisture between space, compartment and metal for one step.

        Returns
        -------
        heat_w : ndarray (craft,)
            Heat that condensing brings to each engine [W], negative while it dries.
        taken_kg : ndarray (spaces,)
            What the craft drew out of each space's air [kg].
        """
        space = self._spaces.vapour[self.space_of]
        metal = surface_density(temp_c[self.engine])
        change = step_s * self._change_s
        film_rate = step_s * self._rate
        guess = (self.vapour + change * space + film_rate * metal) / (1.0 + change + film_rate)
        onto = np.maximum(film_rate * self.volume_m3 * (guess - metal), -self.film_kg)
        self.vapour = (self.vapour + change * space - onto / self.volume_m3) / (1.0 + change)
        taken = change * (space - self.vapour) * self.volume_m3
        taken[self.settled :] = 0.0  # doubles only feel
        film = self.film_kg + onto
        self.film_kg = np.minimum(film, _FILM_LIMIT_KG_M2 * self.area_m2)
        self.ran_off_kg += film - self.film_kg
        drawn = np.bincount(self.space_of, taken, self._spaces.count)
        return CONDENSATION_HEAT * onto / step_s, drawn


def _heat_capacity(circuit: Circuit) -> float:
    """Metal and liquid together [kJ/K]."""
    return circuit.metal_kj_k + max(circuit.liquid_kg, 1e-4) * LIQUID_J_KG_K / 1e3


def to_air_and_sky(
    plan: Plan,
    node: int,
    air: int,
    sky: int,
    conductance_w_k: float,
    space: Space,
    yard: int,
) -> None:
    """Couple a cover or a bare part to its space's air and, as far as it sees it, to the sky."""
    plan.connect(node, air, conductance_w_k * (1.0 - space.sky_share))
    plan.connect(node, sky, conductance_w_k * space.sky_share)
    if space.open_air:
        plan.shine(node, yard, conductance_w_k * _SUN_K_M2_W)
