"""Proper scores and reliability of what was said, over arrays.

The tests hold them against the package `scoringrules`.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEVELS: Floats = np.array([0.1, 0.5, 0.9])  # cold end, expected, warm end
_TENTHS = 10
_ROUNDING = 1e-9


def brier(said: Floats, happened: Floats) -> float:
    """Mean squared distance of chances from what happened, 0 or 1 (Brier 1950); NaN of none."""
    return float(np.mean((said - happened) ** 2)) if said.size else float("nan")


def skill_over(score: float, reference: float) -> float:
    """How much better a score is: 1 perfect, 0 like the reference; NaN if that is perfect."""
    return 1.0 - score / reference if reference > 0.0 else float("nan")


def quantile_crps(values: Floats, happened: Floats) -> Floats:
    """CRPS as quantiles approach it: twice the mean pinball loss over LEVELS.

    Parameters
    ----------
    values : ndarray, shape (n, 3)
        What was said at the levels, in any one unit.
    happened : ndarray, shape (n,)
        In the same unit.

    Returns
    -------
    ndarray, shape (n,)
        In that unit; of a single certain value it is the absolute error.
    """
    off = happened[:, None] - values
    pinball: Floats = np.maximum(LEVELS * off, (LEVELS - 1.0) * off)
    loss: Floats = 2.0 * pinball.mean(axis=1)
    return loss


class Tenth(NamedTuple):
    """What was said within one tenth of all chances, and how often it happened."""

    low: float  # where the tenth begins
    nights: int
    said: float  # mean
    happened: float  # share
    fewest: float  # ends of the share that 90 % of samples give if the chances are true
    most: float

    @property
    def consistent(self) -> bool:
        """Whether what happened may well come of the chances said."""
        return self.fewest - _ROUNDING <= self.happened <= self.most + _ROUNDING


def reliability(said: Floats, happened: Floats) -> list[Tenth]:
    """Said against happened by tenths; the last one includes 1, and empty ones are left out.

    Both of shape (n,), events of one night each: what hangs together counts once only.
    """
    tenth = np.minimum((said * _TENTHS + _ROUNDING).astype(int), _TENTHS - 1)
    found = []
    for n in range(_TENTHS):
        here = tenth == n
        if here.any():
            fewest, most = consistency(said[here])
            share = float(happened[here].mean())
            mean = float(said[here].mean())
            found.append(Tenth(n / _TENTHS, int(here.sum()), mean, share, fewest, most))
    return found


def consistency(chances: Floats, inside: float = 0.9) -> tuple[float, float]:
    """Ends of the share of events that independent nights with these chances give.

    Parameters
    ----------
    chances : ndarray, shape (n,)
        Of one night each, 0 to 1.
    inside : float
        How often the share lies between the ends.

    Notes
    -----
    The count follows the Poisson binomial distribution, made here by convolution.
    """
    law: Floats = np.ones(1)
    for one in chances:
        law = np.convolve(law, [1.0 - one, one])
    below = np.cumsum(law)
    tail = (1.0 - inside) / 2.0
    fewest = int(np.searchsorted(below, tail))
    most = int(np.searchsorted(below, 1.0 - tail))
    return fewest / chances.size, min(most, chances.size) / chances.size


def rank_quantiles(members: Floats) -> Floats:
    """Quantiles at LEVELS of members that are equally likely, by the rank k / (n + 1)."""
    found: Floats = np.quantile(members, LEVELS, method="weibull")
    return found
