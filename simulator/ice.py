"""Water and weak mixes that freeze in a circuit, by enthalpy: heat is the state, not temperature.

The liquid's heat is counted from the first-crystal point. Above it temperature follows at once;
below, a table made once per circuit from the lever rule tells temperature and ice share. Until
ice has nucleated the liquid supercools along the liquid line.
"""

import numpy as np
from numpy.typing import NDArray

from simulator.antifreeze import ice_point, ice_share

Array = NDArray[np.float64]

FUSION_J_KG = 333.5e3  # IAPWS, at 0 °C
LIQUID_J_KG_K = 4190.0
ICE_J_KG_K = 2100.0
ICE_CONDUCTIVITY = 2.2  # W/(m K)

_CELLS = 256
_COLDEST_K = 55.0  # the tables reach this far below the ice point
_PURE = 0.005  # below this glycol fraction the liquid freezes at one temperature


def _cooling_curve(metal_j_k: float, mass_kg: float, fraction: float) -> tuple[Array, Array, Array]:
    """Temperature, ice share and heat [J] below the first crystals, in falling order."""
    first = float(ice_point(fraction))
    if fraction < _PURE:
        plateau = np.linspace(0.0, 1.0, 40)
        colder = np.linspace(0.0, _COLDEST_K, 40)[1:]
        temp = np.concatenate([np.full(40, first), first - colder])
        share = np.concatenate([plateau, np.ones(39)])
        solid_j_k = metal_j_k + mass_kg * ICE_J_KG_K
        heat = np.concatenate([-mass_kg * FUSION_J_KG * plateau, np.zeros(39)])
        heat[40:] = -mass_kg * FUSION_J_KG - solid_j_k * colder
        return temp, share, heat
    temp = first - np.linspace(0.0, _COLDEST_K, 1200)
    share = ice_share(fraction, temp)
    specific = LIQUID_J_KG_K * (1.0 - share) + ICE_J_KG_K * share
    capacity = metal_j_k + mass_kg * specific
    sensible = np.diff(temp) * 0.5 * (capacity[1:] + capacity[:-1])
    heat = np.concatenate([[0.0], np.cumsum(sensible - mass_kg * FUSION_J_KG * np.diff(share))])
    return temp, share, heat


class Liquids:
    """What stands in every circuit of a yard, all circuits at once.

    Parameters
    ----------
    metal_j_k : ndarray (n,)
        Heat capacity of each circuit's metal [J/K].
    mass_kg : ndarray (n,)
        Liquid in it [kg], above 0; a dry circuit carries a trace.
    glycol_mass_fraction : ndarray (n,)
        0 to 0.6.
    start_c : ndarray (n,)
        Temperature at the start [°C], above the ice point.
    supercooling_k : ndarray (n,)
        How far below its ice point the liquid goes before the first ice [K].
    """

    def __init__(
        self,
        metal_j_k: Array,
        mass_kg: Array,
        glycol_mass_fraction: Array,
        start_c: Array,
        supercooling_k: Array,
    ) -> None:
        self.first_c = ice_point(glycol_mass_fraction)
        self.mass_kg = mass_kg
        self.liquid_j_k = metal_j_k + mass_kg * LIQUID_J_KG_K
        self.pure = glycol_mass_fraction < _PURE
        self.heat_j = (start_c - self.first_c) * self.liquid_j_k
        self.icing = np.zeros(len(mass_kg), dtype=bool)
        self._nucleates_j = -supercooling_k * self.liquid_j_k
        self._temp = np.empty((len(mass_kg), _CELLS + 2))
        self._share = np.empty((len(mass_kg), _CELLS + 2))
        self._cells_per_j = np.empty(len(mass_kg))
        made: dict[tuple[float, float, float], int] = {}
        for row, key in enumerate(zip(metal_j_k, mass_kg, glycol_mass_fraction, strict=True)):
            if key in made:
                twin = made[key]
                self._temp[row], self._share[row] = self._temp[twin], self._share[twin]
                self._cells_per_j[row] = self._cells_per_j[twin]
                continue
            made[key] = row
            temp, share, heat = _cooling_curve(*key)
            grid = np.linspace(0.0, heat[-1], _CELLS + 1)
            self._temp[row, :-1] = np.interp(-grid, -heat, temp)
            self._share[row, :-1] = np.interp(-grid, -heat, share)
            self._temp[row, -1], self._share[row, -1] = self._temp[row, -2], self._share[row, -2]
            self._cells_per_j[row] = _CELLS / -heat[-1]

    def warm(self, flow_w: Array, step_s: float) -> Array:
        """Take up heat flows [W] for one step; returns the temperatures [°C]."""
        heat = self.heat_j
        heat += flow_w * step_s
        temp = self.first_c + heat / self.liquid_j_k
        below = heat < 0.0
        if below.any():
            self.icing &= below
            self.icing |= heat < self._nucleates_j
            rows = self.icing.nonzero()[0]
            if rows.size:
                temp[rows] = self._look_up(self._temp, rows)
        else:
            self.icing[:] = False
        return temp

    def ice_shares(self) -> Array:
        """Share of each liquid's mass that is ice now, 0 to 1."""
        share = np.zeros(len(self.heat_j))
        rows = self.icing.nonzero()[0]
        share[rows] = self.ice_share_of(rows)
        return share

    def ice_share_of(self, rows: NDArray[np.intp]) -> Array:
        """Ice shares of some icing circuits alone."""
        return self._look_up(self._share, rows)

    def _look_up(self, table: Array, rows: NDArray[np.intp]) -> Array:
        place = np.minimum(-self.heat_j[rows] * self._cells_per_j[rows], float(_CELLS))
        cell = place.astype(np.intp)
        low = table[rows, cell]
        return low + (place - cell) * (table[rows, cell + 1] - low)


def layer_resistance(ice_share_now: Array, wall_area_m2: Array, diameter_m: Array) -> Array:
    """Resistance [K/W] of ice that has grown inward from a round wall.

    Notes
    -----
    Conduction through a cylinder's shell, ln(R/r)/(2 pi k l) with 1 - (r/R)^2 of it frozen. Its
    mean over the freezing is D/(4 k A), the term of Plank's formula for cylinders.
    """
    shell = -np.log1p(-np.minimum(ice_share_now, 0.98))
    return shell * diameter_m / (4.0 * ICE_CONDUCTIVITY * wall_area_m2)
