"""A yard, or several at once, brought together as one network and stepped through time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simulator.air import density_of
from simulator.battery import Bank
from simulator.building import Space, Spaces
from simulator.craft import Craft, Fleet, to_air_and_sky
from simulator.moves import Move
from simulator.network import Network, Plan
from simulator.weather import Weather

Array = NDArray[np.float64]

_CHUNK_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class YardPlan:
    """What a yard is made of, what stands in it, and the weather it gets."""

    id: str
    zone: str  # IANA name; nights are named by its evenings
    spaces: tuple[Space, ...]
    craft: tuple[Craft, ...]
    weather: Weather
    ground_c: float = 6.0
    moves: tuple[Move, ...] = ()  # at most one of a craft

    def __post_init__(self) -> None:
        known = {space.id for space in self.spaces}
        standing = [one.id for one in self.craft]
        moved = [move.craft for move in self.moves]
        for move in self.moves:
            if move.craft not in standing or moved.count(move.craft) > 1:
                raise ValueError(f"{self.id}: {move.craft} is moved, no craft or moved already")
            for stay in move.stays:
                if stay.space not in known:
                    raise ValueError(f"{self.id}: {move.craft} moved to {stay.space!r}, no space")
        for one in self.craft:
            if one.space not in known:
                raise ValueError(f"{self.id}: craft {one.id} stands in {one.space!r}, no space")
        for space in self.spaces:
            if space.within and space.within not in known:
                raise ValueError(f"{self.id}: {space.id} is within {space.within!r}, no space")


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What sensors can feel, with spaces or batteries along the last axis.

    One moment has one axis; a history has time before it.
    """

    air_c: Array
    beyond_c: Array  # what is outside each space
    vapour: Array  # kg/m3
    probe_c: Array  # dummy of bare metal in each space
    voltage_v: Array
    current_a: Array
    mains: Array


class Simulation:
    """Yards in motion. Arrays run over the spaces, craft and circuits of all yards in order.

    Parameters
    ----------
    plans : sequence of YardPlan
        Several yards share each step's work; they do not touch one another.
    start_s, end_s : float
        Unix times.
    step_s : float
        Of the physics [s], at most 60 for the quickest parts.
    sample_s : float
        How often the world is looked at [s]: readings and truth.
    """

    def __init__(
        self,
        plans: Sequence[YardPlan],
        start_s: float,
        end_s: float,
        step_s: float = 60.0,
        sample_s: float = 300.0,
    ) -> None:
        self.plans = tuple(plans)
        self.now_s, self.end_s = start_s, end_s
        self.step_s, self._steps = step_s, max(round(sample_s / step_s), 1)
        drawing = Plan()
        self.outdoor_node = np.array([drawing.boundary() for _ in plans], dtype=np.intp)
        self._sky_node = np.array([drawing.boundary() for _ in plans], dtype=np.intp)
        spaces = [space for plan in plans for space in plan.spaces]
        self.yard_of_space = np.array(
            [yard for yard, plan in enumerate(plans) for _ in plan.spaces], dtype=np.intp
        )
        self.spaces = Spaces(spaces, self.yard_of_space, self.outdoor_node, drawing)
        self._place = {
            (int(yard), space.id): i
            for i, (yard, space) in enumerate(zip(self.yard_of_space, spaces, strict=True))
        }
        craft = [one for plan in plans for one in plan.craft]
        yard_of_craft = [yard for yard, plan in enumerate(plans) for _ in plan.craft]
        number = {
            (y, one.id): i for i, (y, one) in enumerate(zip(yard_of_craft, craft, strict=True))
        }
        moves = [(yard, move) for yard, plan in enumerate(plans) for move in plan.moves]
        self.double_of = {  # each moved craft's double, by the craft
            number[yard, move.craft]: len(craft) + i for i, (yard, move) in enumerate(moves)
        }
        craft += [replace(craft[i], battery=None) for i in self.double_of]
        yard_of_craft += [yard for yard, _ in moves]
        self.yard_of_craft = np.array(yard_of_craft, dtype=np.intp)
        space_of = [self._place[y, c.space] for y, c in zip(yard_of_craft, craft, strict=True)]
        sky_of = [int(self._sky_node[yard]) for yard in yard_of_craft]
        self.fleet = Fleet(craft, space_of, yard_of_craft, self.spaces, sky_of, drawing, len(moves))
        # The last first: it is the next to come.
        self._to_come = sorted(
            (
                (stay.since_s, double, self._place[yard, stay.space])
                for double, (yard, move) in enumerate(moves, start=self.fleet.settled)
                for stay in move.stays
            ),
            reverse=True,
        )
        self._doubles_yard = np.array([yard for yard, _ in moves], dtype=np.intp)
        self.battery_owner = np.array(
            [i for i, one in enumerate(craft) if one.battery is not None], dtype=np.intp
        )
        owned = [one.battery for one in craft if one.battery is not None]
        self.bank = Bank(owned)
        battery_nodes = []
        for owner, battery in zip(self.battery_owner, owned, strict=True):
            bench = self._place.get((yard_of_craft[owner], "bench"))
            if battery.aboard or bench is None:
                around = int(self.fleet.compartment[owner])
            else:
                around = int(self.spaces.air[bench])
            node = drawing.node(battery.heat_kj_k * 1e3, drawing.start_c[around])
            drawing.connect(node, around, battery.heat_kj_k / battery.lag_h / 3.6)
            battery_nodes.append(node)
        self.battery_node = np.array(battery_nodes, dtype=np.intp)
        self.probe_node = self._draw_probes(drawing)
        self.network = Network(drawing, step_s)
        self._ground_c = np.array([plans[yard].ground_c for yard in self.yard_of_space])
        self._opened = np.flatnonzero(self.spaces.open_air)
        self._load_weather()
        self._set_boundaries(0)
        # Open-air nodes start with the weather; what stands in them starts with it too.
        self.spaces.settle_vapour(self.network.temp_c, self._vapour[0])
        self.fleet.settle_vapour()

    def _draw_probes(self, drawing: Plan) -> NDArray[np.intp]:
        """A dummy of bare metal in every space, as a surface sensor's seat."""
        nodes = []
        for i, space in enumerate(self.spaces.spaces):
            node = drawing.node(4e3, space.start_c)
            conductance = 4.0 / 0.8 / 3.6
            yard = int(self.yard_of_space[i])
            sky = int(self._sky_node[yard])
            to_air_and_sky(drawing, node, int(self.spaces.air[i]), sky, conductance, space, yard)
            nodes.append(node)
        return np.array(nodes, dtype=np.intp)

    def _load_weather(self) -> None:
        """Lay out the weather of the next day, one row a step."""
        self._row = 0
        at_s = self.now_s + np.arange(round(_CHUNK_S / self.step_s) + 1) * self.step_s
        self._chunk_end_s = self.now_s + _CHUNK_S
        days = [plan.weather.during(at_s) for plan in self.plans]
        self._air = np.stack([day.air_c for day in days], axis=1)
        self._sky = np.stack([day.sky_c for day in days], axis=1)
        self._sun = np.stack([day.sun_w_m2 for day in days], axis=1)
        self._wind = np.stack([day.wind_m_s for day in days], axis=1)
        self._vapour = np.stack([density_of(day.vapour_pa) for day in days], axis=1)

    def _set_boundaries(self, row: int) -> None:
        temp = self.network.temp_c
        temp[self.outdoor_node] = self._air[row]
        temp[self._sky_node] = self._sky[row]
        temp[self.spaces.ground] = self._ground_c
        opened = self._opened
        temp[self.spaces.air[opened]] = self._air[row][self.yard_of_space[opened]]
        if self._doubles_yard.size:
            yards = self._doubles_yard
            self.fleet.surround(temp, self._sky[row][yards], self._sun[row][yards])

    def _step(self, row: int) -> None:
        network, spaces, fleet = self.network, self.spaces, self.fleet
        temp, step_s = network.temp_c, self.step_s
        self._set_boundaries(row)
        flows = network.flows_w()
        flows[spaces.air] += spaces.heat_w(temp)
        network.add_sun(flows, self._sun[row])
        fleet.insulate_with_ice(flows, temp)
        sweat_w, drawn_kg = fleet.sweat(temp, step_s)
        flows[fleet.engine] += sweat_w
        flows[spaces.floor] += spaces.moisten(temp, self._vapour[row], drawn_kg, step_s)
        circuit_c = fleet.liquids.warm(flows[fleet.node], step_s)
        network.advance(flows)
        temp[fleet.node] = circuit_c

    def samples(self) -> Iterator[float]:
        """Step from sample to sample; yields the Unix time of each, the state stays readable."""
        while True:
            while self._to_come and self._to_come[-1][0] <= self.now_s:
                _, double, space = self._to_come.pop()
                self.fleet.space_of[double] = space
            self.spaces.look(self.now_s, self._wind[self._row])
            self.bank.step(
                self.now_s, self.network.temp_c[self.battery_node], self._steps * self.step_s
            )
            yield self.now_s
            if self.now_s >= self.end_s:
                return
            if self.now_s >= self._chunk_end_s:
                self._load_weather()
            for _ in range(self._steps):
                self._step(self._row)
                self._row += 1
            self.now_s += self._steps * self.step_s

    def space_index(self, space: str, yard: int = 0) -> int:
        """Where a space of a yard stands in the arrays; KeyError if there is none."""
        return self._place[yard, space]

    def view(self) -> View:
        """What sensors can feel now."""
        temp, spaces, bank = self.network.temp_c, self.spaces, self.bank
        return View(
            air_c=temp[spaces.air],
            beyond_c=temp[spaces.outside],
            vapour=spaces.vapour[: spaces.count].copy(),
            probe_c=temp[self.probe_node],
            voltage_v=bank.voltage_v,
            current_a=bank.current_a,
            mains=bank.mains.astype(np.float64),
        )

    @property
    def air_c(self) -> Array:
        """Air in every space [°C]."""
        return self.network.temp_c[self.spaces.air]

    @property
    def outdoor_c(self) -> Array:
        """Air outdoors, one a yard [°C]."""
        return self.network.temp_c[self.outdoor_node]

    @property
    def engine_c(self) -> Array:
        """Bare engine metal of every craft [°C]."""
        return self.network.temp_c[self.fleet.engine]

    @property
    def circuit_c(self) -> Array:
        """Every circuit of every craft [°C]."""
        return self.network.temp_c[self.fleet.node]

    @property
    def battery_c(self) -> Array:
        """Every battery [°C]."""
        return self.network.temp_c[self.battery_node]
