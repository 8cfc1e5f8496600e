"""Heat between lumps: nodes with capacity, conductances between them, boundaries that are given.

Every space, slab, compartment, engine, circuit and battery of a yard is a node of one network,
so that one sparse product a step moves all heat, and what leaves one node enters another.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array

Array = NDArray[np.float64]


@dataclass
class Plan:
    """A network while it is being drawn up."""

    capacity_j_k: list[float] = field(default_factory=list)  # 0 marks a boundary
    start_c: list[float] = field(default_factory=list)
    edges: list[tuple[int, int, float]] = field(default_factory=list)
    sunlit: list[tuple[int, int, float]] = field(default_factory=list)

    def node(self, capacity_j_k: float, start_c: float) -> int:
        """Add a lump with heat capacity [J/K]; returns its index."""
        if not capacity_j_k > 0:
            raise ValueError(f"node {len(self.capacity_j_k)}: capacity {capacity_j_k} J/K, not > 0")
        self.capacity_j_k.append(capacity_j_k)
        self.start_c.append(start_c)
        return len(self.capacity_j_k) - 1

    def boundary(self, start_c: float = 0.0) -> int:
        """Add a node whose temperature is given from outside: weather, sky, ground."""
        self.capacity_j_k.append(0.0)
        self.start_c.append(start_c)
        return len(self.capacity_j_k) - 1

    def connect(self, one: int, other: int, conductance_w_k: float) -> None:
        """Let heat pass between two nodes, in proportion to their difference [W/K]."""
        if not conductance_w_k >= 0:
            raise ValueError(f"edge {one}-{other}: conductance {conductance_w_k} W/K is negative")
        if conductance_w_k > 0:
            self.edges.append((one, other, conductance_w_k))

    def shine(self, node: int, yard: int, gain_m2: float) -> None:
        """Let a yard's sun fall on a node, once: W for each W/m2 on level ground."""
        if any(node == lit for lit, *_ in self.sunlit):
            raise ValueError(f"node {node}: the sun shines on it already")
        if gain_m2 > 0:
            self.sunlit.append((node, yard, gain_m2))


class Network:
    """A network that can be stepped.

    Raises
    ------
    ValueError
        If the step is too long for the quickest node: explicit steps would swing.
    """

    def __init__(self, plan: Plan, step_s: float) -> None:
        count = len(plan.capacity_j_k)
        one, other, conductance = (np.array(part) for part in zip(*plan.edges, strict=True))
        total = np.bincount(one, conductance, count) + np.bincount(other, conductance, count)
        rows = np.concatenate([one, other, np.arange(count)])
        columns = np.concatenate([other, one, np.arange(count)])
        values = np.concatenate([conductance, conductance, -total])
        self._flow = coo_array((values, (rows, columns)), shape=(count, count)).tocsr()
        self.capacity_j_k = np.array(plan.capacity_j_k)
        self.free = self.capacity_j_k > 0
        self.step_s = step_s
        self._k_per_w = np.zeros(count)
        self._k_per_w[self.free] = step_s / self.capacity_j_k[self.free]
        share = total * self._k_per_w
        if share.max() > 0.5:
            worst = int(share.argmax())
            limit_s = 0.5 * step_s / share[worst]
            raise ValueError(f"node {worst} needs steps of {limit_s:.0f} s or less, not {step_s} s")
        self.temp_c = np.array(plan.start_c)
        self._sunlit = np.array([node for node, *_ in plan.sunlit], dtype=np.intp)
        self._sun_of = np.array([yard for _, yard, _ in plan.sunlit], dtype=np.intp)
        self._gain_m2 = np.array([gain for *_, gain in plan.sunlit])

    def flows_w(self) -> Array:
        """Heat that flows into each node now [W]; for a boundary, what it takes up."""
        return np.asarray(self._flow @ self.temp_c)

    def add_sun(self, flows_w: Array, sun_w_m2: Array) -> None:
        """Add the sun of each yard [W/m2] to the flows of what it shines on."""
        flows_w[self._sunlit] += self._gain_m2 * sun_w_m2[self._sun_of]

    def advance(self, flows_w: Array) -> None:
        """Warm or cool every free node by one step of the given flows."""
        self.temp_c += flows_w * self._k_per_w
