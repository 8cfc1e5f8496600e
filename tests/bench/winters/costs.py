"""What a night costs by what was decided in its evening: the written loss table.

One unit is an hour of a yard hand. An act in the evening (draining, moving) is paid whenever it
is asked for; damage when ice comes to what nobody was warned of. The block is dear to lose and an
hour's work; a fitting is cheap and quick. The figures are the bench's own, the same for every
rival; nothing in the judgement reads them.
"""

from typing import NamedTuple

import numpy as np


class Loss(NamedTuple):
    act: float
    damage: float

    @property
    def worth_from(self) -> float:
        """The chance from which the act is the cheaper choice."""
        return self.act / self.damage


LOSSES = {"block": Loss(act=1.0, damage=20.0), "fitting": Loss(act=0.3, damage=2.0)}


def nightly_cost(loss: Loss, warned: np.ndarray, froze: np.ndarray) -> np.ndarray:
    """Cost of each night [h]; ``warned`` and ``froze`` are booleans of one shape."""
    cost: np.ndarray = np.where(warned, loss.act, np.where(froze, loss.damage, 0.0))
    return cost
