"""What a night costs by what was decided in its evening: the losses that the yard is told.

One unit is an evening of needless work. The work of an evening is paid whenever it is asked for;
damage, where nobody was warned, by the ice that came: a third of a circuit ice, in full; less, a
tenth of it. The same figures stand in the bench's yard under ``[losses]`` and are charged to every
rival, and each decides by them with all that it knows.
"""

from typing import NamedTuple

import numpy as np

FIRST_ICE_SHARE = 0.1  # of the damage, while less than a third is ice


class Loss(NamedTuple):
    act: float
    damage: float

    @property
    def worth_from(self) -> float:
        """The chance from which the act is the cheaper choice."""
        return self.act / self.damage


LOSSES = {"block": Loss(act=1.0, damage=20.0), "fitting": Loss(act=1.0, damage=10.0)}


def chance_of_loss(first: np.ndarray, third: np.ndarray) -> np.ndarray:
    """Chance of losing a circuit, from those of any ice and of a third of it ice."""
    chance: np.ndarray = third + FIRST_ICE_SHARE * (first - third)
    return chance


def nightly_cost(
    loss: Loss, warned: np.ndarray, froze: np.ndarray, third: np.ndarray
) -> np.ndarray:
    """Cost of each night [evenings of work]; the rest are booleans of one shape."""
    lost = chance_of_loss(froze.astype(float), third.astype(float))
    cost: np.ndarray = np.where(warned, loss.act, loss.damage * lost)
    return cost
