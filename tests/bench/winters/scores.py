"""Proper scores and reliability of what was said, over arrays; checked against `scoringrules`."""

from typing import NamedTuple

import numpy as np

LEVELS = np.array([0.1, 0.5, 0.9])  # cold end, expected, warm end
_TENTHS = 10


def brier(said: np.ndarray, happened: np.ndarray) -> float:
    """Mean squared distance of chances from what happened (Brier 1950)."""
    return float(np.mean((said - happened) ** 2)) if said.size else np.nan


def skill(score: float, reference: float) -> float:
    """1 is perfect, 0 no better than the reference; NaN where the reference is perfect."""
    return 1.0 - score / reference if reference > 0.0 else np.nan


def quantile_crps(values: np.ndarray, happened: np.ndarray) -> np.ndarray:
    """CRPS as it is approached by quantiles: twice the mean pinball loss over LEVELS.

    ``values`` (n, 3) at the levels, ``happened`` (n,); both in one unit, which is the result's.
    """
    off = happened[:, None] - values
    pinball: np.ndarray = np.maximum(LEVELS * off, (LEVELS - 1.0) * off)
    return 2.0 * pinball.mean(axis=1)


class Tenth(NamedTuple):
    """What was said within one tenth, and how often it happened."""

    low: float
    count: int
    said: float
    happened: float
    fewest: float  # share, ends of what 90 % of such nights would give if the chances are true
    most: float

    @property
    def consistent(self) -> bool:
        return self.fewest - 1e-9 <= self.happened <= self.most + 1e-9


def reliability(said: np.ndarray, happened: np.ndarray) -> list[Tenth]:
    """Said against happened by tenths; the last one includes 1. Empty tenths are left out."""
    tenth = np.minimum((said * _TENTHS + 1e-9).astype(int), _TENTHS - 1)
    found = []
    for n in range(_TENTHS):
        here = tenth == n
        if here.any():
            low, high = consistency(said[here])
            found.append(
                Tenth(
                    n / _TENTHS, int(here.sum()), float(said[here].mean()),
                    float(happened[here].mean()), low, high,
                )
            )  # fmt: skip
    return found


def consistency(chances: np.ndarray, inside: float = 0.9) -> tuple[float, float]:
    """Share of events that independent nights with these chances give, but for 5 % either side.

    The count follows the Poisson binomial distribution, made here by convolution.
    """
    law = np.ones(1)
    for one in chances:
        law = np.convolve(law, [1.0 - one, one])
    below = np.cumsum(law)
    tail = (1.0 - inside) / 2.0
    fewest = int(np.searchsorted(below, tail))
    most = int(np.searchsorted(below, 1.0 - tail))
    return fewest / chances.size, most / chances.size


def weibull_quantiles(members: np.ndarray, levels: np.ndarray = LEVELS) -> np.ndarray:
    """Quantiles of equally likely members by the rank k / (n + 1)."""
    return np.quantile(members, levels, method="weibull")
