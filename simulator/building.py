"""Spaces of a yard: what they are made of, and the air, heat and moisture inside them.

A space has an air node and a floor node; the air loses heat to whatever is outside (the weather,
or the space it stands in) through the walls and by air change, gains it from a heater with a
thermostat that can fail and from the sun, and carries moisture in, out and onto cold floor and
roof. A space under the open sky has the weather's own air.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.air import AIR_DENSITY, AIR_HEAT, CONDENSATION_HEAT, surface_density
from simulator.network import Plan

Array = NDArray[np.float64]
Spell = tuple[float, float]  # from, to [Unix s]

_FILM_COEFFICIENT = 0.0025  # m/s, vapour to a wall in still air: 3 W/(m2 K) by the Lewis relation


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """One space of a simulated yard."""

    id: str
    open_air: bool = False  # under the sky: its air is the weather's
    within: str = ""  # the space it stands in; empty when the weather is outside
    start_c: float = 3.0
    volume_m3: float = 1000.0
    wall_w_k: float = 300.0  # walls and roof, air to outside
    air_kj_k: float = 6000.0  # air with everything light that follows it
    floor_mj_k: float = 60.0
    floor_w_k: float = 400.0  # air to floor
    ground_w_k: float = 60.0  # floor to the ground below
    floor_m2: float = 250.0
    roof_m2: float = 260.0
    floor_damp: float = 0.0  # 0 dry concrete, 1 standing water
    heater_w: float = 0.0
    set_point_c: float = 7.0
    heater_fails: tuple[Spell, ...] = ()
    air_changes_h: float = 0.3  # shut, in a light wind
    door_changes_h: float = 8.0  # on top, with the door open
    door_open: tuple[Spell, ...] = ()
    sun_m2: float = 0.0  # level ground whose sun ends up as heat inside
    sky_share: float = 0.0  # of what cools a craft's cover: the rest is the air


def _in_spell(spells: Sequence[Spell], at_s: float) -> bool:
    return any(start <= at_s < end for start, end in spells)


class Spaces:
    """All spaces of a yard, or of several yards, stepped at once.

    Moisture is a vapour density [kg/m3] per space, with one more entry per yard for outdoors, and
    a film [kg] on floor and roof. What leaves the air is found again in the film or outside.
    """

    def __init__(
        self, spaces: Sequence[Space], yard_of: Sequence[int], outdoors: Sequence[int], plan: Plan
    ) -> None:
        self.spaces = tuple(spaces)
        count = len(self.spaces)
        self.count = count
        place = {
            (yard, space.id): i for i, (yard, space) in enumerate(zip(yard_of, spaces, strict=True))
        }

        def figures(name: str) -> Array:
            return np.array([float(getattr(space, name)) for space in self.spaces])

        self.open_air = np.array([space.open_air for space in self.spaces], dtype=bool)
        self._closed = (~self.open_air).astype(np.float64)
        self.volume_m3 = figures("volume_m3")
        self.sky_share = figures("sky_share")
        self.heater_w = figures("heater_w")
        self.set_point_c = figures("set_point_c")
        self._yard_of = np.array(yard_of)
        self.outside_vapour = np.array(
            [
                place[yard, space.within] if space.within else count + yard
                for yard, space in zip(yard_of, self.spaces, strict=True)
            ]
        )
        self.air = np.zeros(count, dtype=np.intp)
        self.floor = np.zeros(count, dtype=np.intp)
        self.ground = np.zeros(count, dtype=np.intp)
        for i, space in enumerate(self.spaces):
            if space.open_air:
                self.air[i] = plan.boundary(space.start_c)
            else:
                self.air[i] = plan.node(space.air_kj_k * 1e3, space.start_c)
        outdoor_nodes = np.array(outdoors)
        self.outside = np.where(
            self.outside_vapour < count,
            self.air[np.minimum(self.outside_vapour, count - 1)],
            outdoor_nodes[self._yard_of],
        )
        for i, space in enumerate(self.spaces):
            self.ground[i] = plan.boundary(6.0)
            self.floor[i] = plan.node(space.floor_mj_k * 1e6, space.start_c)
            plan.connect(int(self.floor[i]), int(self.ground[i]), space.ground_w_k)
            plan.connect(int(self.air[i]), int(self.floor[i]), space.floor_w_k)
            if not space.open_air:
                plan.connect(int(self.air[i]), int(self.outside[i]), space.wall_w_k)
                plan.shine(int(self.air[i]), yard_of[i], space.sun_m2)
        yards = len(outdoors)
        self.vapour = np.zeros(count + yards)
        self.film_kg = np.zeros((2, count))  # floor, roof
        self._area_m2 = np.stack([figures("floor_m2"), figures("roof_m2")])
        self._area_m2[:, self.open_air] = 0.0
        # Vapour to floor and roof [1/s]; a roof that drips keeps its film until it dries.
        self._rate = _FILM_COEFFICIENT * self._area_m2 / self.volume_m3
        self._floor_damp = figures("floor_damp") * self._closed
        self._nested = np.flatnonzero(self.outside_vapour < count)
        self._trades_outdoors = self._closed * (self.outside_vapour >= count)
        self._wall_c = np.empty((3, count))
        self.heating = self.heater_w > 0
        self.heater_able = self.heater_w > 0
        self.change_h = np.zeros(count)
        self._base_h = figures("air_changes_h")
        self._door_h = figures("door_changes_h")
        # Kept so that the books of moisture can be closed from outside.
        self.from_outdoors_kg = np.zeros(count)
        self.from_ground_kg = np.zeros(count)

    def look(self, at_s: float, wind_m_s: Array) -> None:
        """Note what people and the wind do from now on: doors, heater failures, air change."""
        self.heater_able = np.array(
            [
                space.heater_w > 0 and not _in_spell(space.heater_fails, at_s)
                for space in self.spaces
            ]
        )
        doors = np.array([_in_spell(space.door_open, at_s) for space in self.spaces])
        wind = 0.6 + 0.2 * wind_m_s[self._yard_of]
        self.change_h = (self._base_h + np.where(doors, self._door_h, 0.0)) * wind

    def settle_vapour(self, temp_c: Array, outdoor_vapour: Array, rh_share: float = 0.8) -> None:
        """Start every space at a share of saturation."""
        settled = rh_share * surface_density(temp_c[self.air])
        self.vapour[: self.count] = np.where(self.open_air, outdoor_vapour[self._yard_of], settled)
        self.vapour[self.count :] = outdoor_vapour

    def heat_w(self, temp_c: Array) -> Array:
        """Heat into each space's air by air change and heater [W]; runs the thermostats."""
        air_c = temp_c[self.air]
        self.heating = np.where(
            air_c < self.set_point_c - 0.4,
            True,
            np.where(air_c > self.set_point_c + 0.4, False, self.heating),
        )
        carried = AIR_DENSITY * AIR_HEAT / 3600.0 * self.volume_m3 * self.change_h
        heat = carried * (temp_c[self.outside] - air_c)
        heat += self.heater_w * (self.heating & self.heater_able)
        return heat

    def moisten(
        self, temp_c: Array, outdoor_vapour: Array, taken_by_craft_kg: Array, step_s: float
    ) -> Array:
        """Move moisture for one step; returns the heat it brings to each floor [W].

        Parameters
        ----------
        temp_c : ndarray (nodes,)
        outdoor_vapour : ndarray (yards,)
            Vapour density outdoors [kg/m3].
        taken_by_craft_kg : ndarray (spaces,)
            What the craft drew out of each space's air during this step [kg].
        step_s : float
        """
        vapour = self.vapour
        vapour[self.count :] = outdoor_vapour
        inside = vapour[: self.count]
        floor_c, roof_c, air_c = self._wall_c
        air_c[:] = temp_c[self.air]
        floor_c[:] = temp_c[self.floor]
        roof_c[:] = air_c + 0.6 * (temp_c[self.outside] - air_c)
        saturated = surface_density(self._wall_c)
        wall = saturated[:2]
        change = step_s * self.change_h / 3600.0
        outside = vapour[self.outside_vapour]
        loss = taken_by_craft_kg / self.volume_m3
        rate = step_s * self._rate
        # Implicit in the exchange, so that a small space cannot overshoot; then the film's limit.
        guess = inside + change * outside + rate[0] * wall[0] + rate[1] * wall[1] - loss
        guess /= 1.0 + change + rate[0] + rate[1]
        wish = rate * self.volume_m3 * (guess - wall)
        dry = np.maximum(wish, -self.film_kg)
        # A damp floor gives off moisture without a film of its own: it comes from the ground.
        given = (wish[0] - dry[0]) * self._floor_damp
        self.film_kg += dry
        onto = dry[0] + dry[1] + given
        fresh = (inside + change * outside - loss - onto / self.volume_m3) / (1.0 + change)
        carried = change * (outside - fresh) * self.volume_m3
        # What the air cannot hold is fog, and settles on the floor.
        fog = np.maximum(fresh - saturated[2], 0.0) * self._closed
        fresh -= fog
        self.film_kg[0] += fog * self.volume_m3
        inside[:] = np.where(self.open_air, outdoor_vapour[self._yard_of], fresh)
        if self._nested.size:
            # A space within another trades with it, not with the weather.
            parent = self.outside_vapour[self._nested]
            lost = carried[self._nested] / self.volume_m3[parent]
            np.subtract.at(inside, parent, lost)
        self.from_outdoors_kg += carried * self._trades_outdoors
        self.from_ground_kg -= given
        return CONDENSATION_HEAT * (dry[0] + given) / step_s
